"""Push on the wire, and from it lag and barrel of each pass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.process.technology import Pass
from kerfwright.process.wire import barrel_um, static_bow_um, tension_n
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.material import Wire


@dataclass(frozen=True, slots=True, kw_only=True)
class PassShape:
    """The wire in one pass at its usual feed.

    Attributes
    ----------
    pass_number : int
    push_n_per_m : float
        Against the travel, per height of work.
    lag_um : float
        By which the wire trails at mid-height, where it trails most.
    face_lag_um : float
        The same at the faces of the work.
    barrel_um : float
        By which the wire, pushed off the wall, leaves it fuller at mid-height than at the faces,
        on one side.
    tension_n : float
    reasons : tuple of Reason
    """

    pass_number: int
    push_n_per_m: float
    lag_um: float
    face_lag_um: float
    barrel_um: float
    tension_n: float
    reasons: tuple[Reason, ...]


def relative_energy(this: Pass, *, rough: Pass) -> float:
    """Return the pulse energy of a pass over that of the rough pass: ``(Ra / Ra_1)^3``.

    References
    ----------
    Crater depth as the cube root of energy; fits to published tables give Ra as a power 0.28 to
    0.33 of it (computed from an Inconel 825 table, PROCESS section 3.2).
    """
    return (this.ra_um / rough.ra_um) ** 3


def push_n_per_m(
    this: Pass, *, rough: Pass, wire: Wire, height_mm: float, physics: WirePhysics
) -> float:
    """Return the push on the wire at the usual feed of a pass.

    ``q = p d (H_0/H)^k`` in a rough pass; ``q = q_0 / (1 + y_0/w)`` with ``q_0 = p d (E/E_1)^m``
    in a skim of the stock ``w``: pushed off the wall by ``y``, the wire takes ``w - y`` and is
    pushed in proportion, so ``y = y_0 / (1 + y_0/w)`` with ``y_0`` the bow under ``q_0``.

    Parameters
    ----------
    this, rough : Pass
    wire : Wire
    height_mm : float
    physics : WirePhysics
        Pressure ``p`` on the front of the wire, and the powers ``k`` and ``m``.

    Returns
    -------
    float
        N per metre of height.

    Notes
    -----
    All constants are common practice, no source; agreed is only that skims push less, and so does
    a slower feed.
    """
    law = physics.push
    full = law.pressure_kpa * wire.diameter_mm
    if this.is_rough:
        return float(full * (law.height_mm / height_mm) ** law.height_exponent)
    free = full * relative_energy(this, rough=rough) ** law.energy_exponent
    off_um = law.side_share_skim * static_bow_um(
        free,
        height_mm=height_mm,
        span_mm=physics.tension.span_mm(height_mm),
        tension_n=tension_n(wire, share=physics.tension.share),
    )
    return float(free / (1 + off_um / this.stock_um))


def pass_shapes(
    passes: Sequence[Pass], *, wire: Wire, height_mm: float, physics: WirePhysics
) -> tuple[PassShape, ...]:
    """Return push, lag and barrel of each pass.

    Parameters
    ----------
    passes : sequence of Pass
        The rough pass first.
    wire : Wire
    height_mm : float
    physics : WirePhysics

    Raises
    ------
    RangeError
        If the height is not above 0.

    Notes
    -----
    A string without stiffness: with the bending stiffness of 0.25 mm brass at 15 N the wire leaves
    the string's shape only within ``sqrt(EI/T)``, about 1 mm, of guides and faces.
    """
    return tuple(
        _shape(p, rough=passes[0], wire=wire, height_mm=height_mm, physics=physics) for p in passes
    )


def _shape(
    this: Pass, *, rough: Pass, wire: Wire, height_mm: float, physics: WirePhysics
) -> PassShape:
    law = physics.push
    span = physics.tension.span_mm(height_mm)
    tension = tension_n(wire, share=physics.tension.share)
    push = push_n_per_m(this, rough=rough, wire=wire, height_mm=height_mm, physics=physics)
    lag = static_bow_um(push, height_mm=height_mm, span_mm=span, tension_n=tension)
    side = law.side_share_rough if this.is_rough else law.side_share_skim
    reasons = (
        Reason(
            quantity="push_n_per_m",
            value=push,
            formula=(
                "q = p d (H_0/H)^k"
                if this.is_rough
                else "q = q_0 / (1 + y_0/w), q_0 = p d (Ra/Ra_1)^(3 m)"
            ),
            inputs=(
                ("p_kpa", law.pressure_kpa),
                ("d_mm", wire.diameter_mm),
                ("H_mm", height_mm),
                *(
                    (("H_0_mm", law.height_mm), ("k", law.height_exponent))
                    if this.is_rough
                    else (
                        ("Ra_um", this.ra_um),
                        ("Ra_1_um", rough.ra_um),
                        ("m", law.energy_exponent),
                        ("w_um", this.stock_um),
                    )
                ),
            ),
            source=law.sources["pressure_kpa"],
        ),
        Reason(
            quantity="lag_um",
            value=lag,
            formula="delta = q h (2L - h) / (8 T)",
            inputs=(
                ("q_n_per_m", push),
                ("h_mm", height_mm),
                ("L_mm", span),
                ("T_n", tension),
            ),
            source=Source(tag=SourceTag.COMPUTED, citation="equilibrium of a string"),
        ),
    )
    return PassShape(
        pass_number=this.number,
        push_n_per_m=push,
        lag_um=lag,
        face_lag_um=lag - barrel_um(push, height_mm=height_mm, tension_n=tension),
        barrel_um=barrel_um(push * side, height_mm=height_mm, tension_n=tension),
        tension_n=tension,
        reasons=reasons,
    )
