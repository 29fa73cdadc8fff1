"""Push on the wire, and from it lag and barrel of each pass."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.process.technology import Pass
from kerfwright.process.wire import barrel_um, engaged_arc_rad, static_bow_um, tension_n
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.material import Wire


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """The push on the wire in one pass, per height of work.

    Attributes
    ----------
    whole_n_per_m : float
        Its size; in the full kerf of a rough pass the part against the travel.
    along_n_per_m, side_n_per_m : float
        Against the travel, and off the wall.
    """

    whole_n_per_m: float
    along_n_per_m: float
    side_n_per_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PassShape:
    """The wire in one pass at its usual feed.

    Attributes
    ----------
    pass_number : int
    push_n_per_m : float
        Per height of work.
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


ENERGY_PER_RA: Final = 3.0
"""Power of the roughness by which the pulse energy goes, see :func:`relative_energy`."""


def relative_energy(this: Pass, *, rough: Pass) -> float:
    """Return the pulse energy of a pass over that of the rough pass: ``(Ra / Ra_1)^3``.

    By the roughness of the tables: a surface that a shop measures rougher is cut by the same
    sparks.

    References
    ----------
    Crater depth as the cube root of energy; fits to published tables give Ra as a power 0.28 to
    0.33 of it (computed from an Inconel 825 table, PROCESS section 3.2).
    """
    return float((this.tables_ra_um / rough.tables_ra_um) ** ENERGY_PER_RA)


def push_on_wire(
    this: Pass, *, rough: Pass, wire: Wire, height_mm: float, physics: WirePhysics
) -> Push:
    """Return the push on the wire at the usual feed of a pass, along and sideways.

    ``q = p d (H_0/H)^k`` against the travel in a rough pass, a small part of it sideways.  In a
    skim of the stock ``w``, ``q = q_0 / (1 + y_0/w)`` with ``q_0 = p d (E/E_1)^m``: pushed off the
    wall by ``y``, the wire takes ``w - y`` and is pushed in proportion, so
    ``y = y_0 / (1 + y_0/w)`` with ``y_0`` the bow off the wall under ``q_0``.  It acts along the
    bisector of the arc ``theta`` of the wire that sparks: ``q sin(theta/2)`` against the travel,
    ``q cos(theta/2)`` off the wall.

    Parameters
    ----------
    this, rough : Pass
    wire : Wire
    height_mm : float
    physics : WirePhysics
        Pressure ``p`` on the front of the wire, and the powers ``k`` and ``m``.

    Notes
    -----
    All constants are common practice, no source; agreed is only that skims push less, and so does
    a slower feed.  The arc is that of the whole stock: what the wire gives way shortens it, so the
    lag of skims is a little on the large side.
    """
    law = physics.push
    full = law.pressure_kpa * wire.diameter_mm
    if this.is_rough:
        whole = float(full * (law.height_mm / height_mm) ** law.height_exponent)
        return Push(
            whole_n_per_m=whole, along_n_per_m=whole, side_n_per_m=whole * law.side_share_rough
        )
    free = full * relative_energy(this, rough=rough) ** law.energy_exponent
    bisector = skim_arc_rad(this, wire=wire) / 2
    off_um = static_bow_um(
        free * math.cos(bisector),
        height_mm=height_mm,
        span_mm=physics.tension.span_mm(height_mm),
        tension_n=tension_n(wire, share=physics.tension.share),
    )
    whole = float(free / (1 + off_um / this.stock_um))
    return Push(
        whole_n_per_m=whole,
        along_n_per_m=whole * math.sin(bisector),
        side_n_per_m=whole * math.cos(bisector),
    )


def skim_arc_rad(this: Pass, *, wire: Wire) -> float:
    """Return the arc of the wire that sparks in a skim, see :func:`engaged_arc_rad`."""
    return engaged_arc_rad(this.stock_um, radius_um=wire.diameter_mm / 2 * 1000 + this.gap_um)


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
    span = physics.tension.span_mm(height_mm)
    tension = tension_n(wire, share=physics.tension.share)
    push = push_on_wire(this, rough=rough, wire=wire, height_mm=height_mm, physics=physics)
    lag = static_bow_um(push.along_n_per_m, height_mm=height_mm, span_mm=span, tension_n=tension)
    barrel = barrel_um(push.side_n_per_m, height_mm=height_mm, tension_n=tension)
    string = (("q_n_per_m", push.whole_n_per_m), ("h_mm", height_mm), ("T_n", tension))
    computed = Source(tag=SourceTag.COMPUTED, citation="equilibrium of a string")
    arc: tuple[tuple[str, float], ...] = ()
    if not this.is_rough:
        arc = (("w_um", this.stock_um), ("d_mm", wire.diameter_mm), ("g_um", this.gap_um))
    reasons = (
        _push_reason(this, push, rough=rough, wire=wire, height_mm=height_mm, physics=physics),
        Reason(
            quantity="lag_um",
            value=lag,
            formula="delta = q h (2L - h) / (8 T)"
            if this.is_rough
            else f"delta = q sin(theta/2) h (2L - h) / (8 T), {_ARC}",
            inputs=(*string, ("L_mm", span), *arc),
            source=computed,
        ),
        Reason(
            quantity="barrel_um",
            value=barrel,
            formula="s q h^2 / (8 T), s the part of the push off the wall"
            if this.is_rough
            else f"q cos(theta/2) h^2 / (8 T), {_ARC}",
            inputs=(("s", physics.push.side_share_rough), *string)
            if this.is_rough
            else (*string, *arc),
            source=physics.push.sources["side_share_rough"] if this.is_rough else computed,
        ),
    )
    return PassShape(
        pass_number=this.number,
        push_n_per_m=push.whole_n_per_m,
        lag_um=lag,
        face_lag_um=lag - barrel_um(push.along_n_per_m, height_mm=height_mm, tension_n=tension),
        barrel_um=barrel,
        tension_n=tension,
        reasons=reasons,
    )


_ARC: Final = "cos theta = 1 - w/(d/2 + g)"


def _push_reason(
    this: Pass, push: Push, *, rough: Pass, wire: Wire, height_mm: float, physics: WirePhysics
) -> Reason:
    law = physics.push
    front = (("p_kpa", law.pressure_kpa), ("d_mm", wire.diameter_mm), ("H_mm", height_mm))
    if this.is_rough:
        return Reason(
            quantity="push_n_per_m",
            value=push.whole_n_per_m,
            formula="q = p d (H_0/H)^k",
            inputs=(*front, ("H_0_mm", law.height_mm), ("k", law.height_exponent)),
            source=law.sources["pressure_kpa"],
        )
    return Reason(
        quantity="push_n_per_m",
        value=push.whole_n_per_m,
        formula="q = q_0 / (1 + y_0/w), q_0 = p d (Ra/Ra_1)^(3 m), "
        f"y_0 = q_0 cos(theta/2) H (2L - H) / (8 T), {_ARC}; Ra of the tables",
        inputs=(
            *front,
            ("Ra_um", this.tables_ra_um),
            ("Ra_1_um", rough.tables_ra_um),
            ("m", law.energy_exponent),
            ("w_um", this.stock_um),
            ("g_um", this.gap_um),
            ("L_mm", physics.tension.span_mm(height_mm)),
            ("T_n", tension_n(wire, share=physics.tension.share)),
        ),
        source=law.sources["pressure_kpa"],
    )
