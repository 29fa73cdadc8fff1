"""What the narrowing of a hole does: to a tolerance over its whole depth, and to the hole."""

from __future__ import annotations

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sizes import both_lengths
from kerfwright.foundation.units import UM_PER_MM
from kerfwright.foundation.zones import zone_asked, zone_held


def taper_finding(
    asked_um: float | None, *, depth_mm: float, taper_mm_per_mm: float
) -> Finding | None:
    """Return what to say where a hole leaves its zone by its taper alone; else None.

    A hole at its nominal diameter at the mouth is smaller by ``c L`` at the exit.  A tolerance is
    answered for the mouth, as the hole is set up; over the whole depth it holds at best where
    ``c L <= 2 t``, with the mouth set to the upper limit.

    Parameters
    ----------
    asked_um : float or None
        Half zone of the diameter, µm, less what the size of the tube takes.
    depth_mm, taper_mm_per_mm : float
        Taper of the diameter.

    References
    ----------
    The taper is common practice, no source; see ``holes.toml``.

    Examples
    --------
    >>> taper_finding(50.0, depth_mm=25.0, taper_mm_per_mm=0.0014) is None
    True
    >>> taper_finding(20.0, depth_mm=25.0, taper_mm_per_mm=0.0014).code
    'hole-taper-beyond-tolerance'
    """
    narrows_um = taper_mm_per_mm * depth_mm * UM_PER_MM
    if asked_um is None or asked_um <= 0 or narrows_um <= asked_um:
        return None
    fits = narrows_um <= 2 * asked_um
    return Finding(
        code="hole-taper-beyond-tolerance",
        severity=Severity.WARNING,
        message=f"±{zone_asked(asked_um)} is answered for the mouth; over {depth_mm:.4g} mm the "
        f"hole narrows by about {zone_held(narrows_um)}, so that its exit is below the zone"
        + (" unless the mouth is set high." if fits else ", wherever the mouth is set."),
        remedy="Ask whether the limits hold over the whole depth. Then "
        + ("set the mouth to the upper limit, or " if fits else "")
        + "drill from both sides, or cut to size with the wire, ream or hone.",
        data={
            "asked_um": asked_um,
            "narrows_um": narrows_um,
            "depth_mm": depth_mm,
            "excess": narrows_um / asked_um,
        },
    )


def closing_finding(
    depth_mm: float, *, diameter_mm: float, taper_mm_per_mm: float
) -> Finding | None:
    """Return the refusal of a hole that has narrowed to nothing before its depth; else None.

    The law ``D - c L`` leaves nothing from ``L = D / c`` on.

    Parameters
    ----------
    depth_mm, diameter_mm : float
    taper_mm_per_mm : float
        Taper of the diameter.

    References
    ----------
    The taper is common practice, no source; see ``holes.toml``.

    Examples
    --------
    >>> closing_finding(40.0, diameter_mm=0.3, taper_mm_per_mm=0.0014) is None
    True
    >>> closing_finding(220.0, diameter_mm=0.3, taper_mm_per_mm=0.0014).code
    'hole-narrows-to-nothing'
    """
    narrows_mm = taper_mm_per_mm * depth_mm
    if diameter_mm - narrows_mm > 0:
        return None
    closes_mm = diameter_mm / taper_mm_per_mm
    return Finding(
        code="hole-narrows-to-nothing",
        severity=Severity.REFUSAL,
        message=f"A hole of {both_lengths(diameter_mm)} that is to go {both_lengths(depth_mm)} "
        f"deep narrows by {both_lengths(narrows_mm)}, to nothing: at {taper_mm_per_mm:g} mm for "
        f"each mm of depth it ends at {both_lengths(closes_mm)}.",
        remedy=f"Correct the depth or the diameter; drill it from both sides or larger than "
        f"{both_lengths(narrows_mm)}, or gun-drill it.",
        data={"depth_mm": depth_mm, "closes_mm": closes_mm, "excess": narrows_mm / diameter_mm},
    )
