"""Start holes by tube electrode: time to drill and tube used up."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason
from kerfwright.process.technology import SmallHoleLaw, read_curve
from kerfwright.trade.material import Material


@dataclass(frozen=True, slots=True, kw_only=True)
class DrilledHole:
    """One through hole.

    Attributes
    ----------
    minutes : Range
        Sparking time, without handling.
    tube_diameter_mm : float
    tube_used_mm : float
        Length of tube worn away.
    is_too_deep : bool
        Whether depth over diameter is above what is practical.
    reason : Reason
    """

    minutes: Range
    tube_diameter_mm: float
    tube_used_mm: float
    is_too_deep: bool
    reason: Reason


def drill(
    depth_mm: float, *, diameter_mm: float, material: Material, law: SmallHoleLaw
) -> DrilledHole:
    """Compute time and tube for one through hole.

    ``t = (L + b d) / (v(d) K / (1 + (L/D)/s))`` with the depth L, the hole D, the tube
    d = D - 2 overcut, the breakthrough b, the feed v in steel, the material factor K and the
    depth scale s; the tube used is ``wear * L``.

    Parameters
    ----------
    depth_mm, diameter_mm : float
        Depth and diameter of the hole, mm.
    material : Material
    law : SmallHoleLaw

    Raises
    ------
    RangeError
        If the depth is not above 0 or the hole is no wider than twice the overcut.

    Notes
    -----
    Validity: holes of 0.3 to 3 mm; beyond the ends of the table the feed of the end is used.

    References
    ----------
    Common practice, no source.
    """
    tube_mm = diameter_mm - 2 * law.overcut_mm
    if not depth_mm > 0 or not tube_mm > 0:
        raise RangeError(
            f"a hole of {diameter_mm:g} mm through {depth_mm:g} mm cannot be drilled; the overcut "
            f"alone takes {2 * law.overcut_mm:g} mm",
            code="small-hole-out-of-range",
        )
    slenderness = depth_mm / diameter_mm
    factor = law.feed_factor[material.family]
    steel_feed = read_curve(law.feed_mm_per_min, diameter_mm)
    feed = steel_feed * factor / (1 + slenderness / law.depth_scale)
    travel_mm = depth_mm + law.breakthrough_diameters * tube_mm
    minutes = travel_mm / feed
    reason = Reason(
        quantity="drilling_min",
        value=minutes,
        formula="(L + b d) (1 + (L/D)/s) / (v K)",
        inputs=(
            ("L_mm", depth_mm),
            ("D_mm", diameter_mm),
            ("d_mm", tube_mm),
            ("b", law.breakthrough_diameters),
            ("s", law.depth_scale),
            ("v_mm_per_min", steel_feed),
            ("K", factor),
        ),
        source=law.sources["feed_mm_per_min"],
    )
    return DrilledHole(
        minutes=Range.lognormal(minutes, sigma_log=law.feed_sigma_log),
        tube_diameter_mm=tube_mm,
        tube_used_mm=law.wear_ratio[material.family] * depth_mm,
        is_too_deep=slenderness > read_curve(law.depth_to_diameter, diameter_mm),
        reason=reason,
    )
