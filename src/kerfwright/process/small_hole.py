"""Small holes by rotating tube electrode, in one pass: time, tube, size, place and limits."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Reason
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.process.held import two_digits_up
from kerfwright.process.hole_depth import known_to, size_findings
from kerfwright.process.hole_misses import (
    above_by,
    chance_above,
    chance_off_place,
    of_holes,
    place_held_um,
)
from kerfwright.process.hole_ranges import hole_reasons, size_sigma_mm
from kerfwright.process.hole_taper import taper_finding
from kerfwright.process.misses import chance_outside
from kerfwright.process.technology import SmallHoleLaw, read_curve
from kerfwright.trade.material import Material


@dataclass(frozen=True, slots=True, kw_only=True)
class DrilledHole:
    """One through hole.

    Attributes
    ----------
    minutes : Range
        Sparking time, without handling.
    sigma_log : float
        Deviation of its logarithm, at this depth.
    tube_diameter_mm : float
    tube_used_mm : float
        Length of tube worn away, and the way through the lower face.
    reason : Reason
    """

    minutes: Range
    sigma_log: float
    tube_diameter_mm: float
    tube_used_mm: float
    reason: Reason


def drill(
    depth_mm: float, *, diameter_mm: float, material: Material, law: SmallHoleLaw
) -> DrilledHole:
    """Compute time and tube for one through hole.

    ``t = (L + b d) / (v(d) K / (1 + (L/D)/s))`` with the depth L, the hole D, the tube
    d = D - 2 overcut, the breakthrough b, the feed v in steel, the material factor K and the
    depth scale s; the tube used is ``k L + b d`` with the wear k: it is worn over the depth and
    then runs through the lower face until the whole section has broken through.

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
    reason = _drilling_reason(
        depth_mm, diameter_mm=diameter_mm, tube_mm=tube_mm, family=material.family, law=law
    )
    breakthrough_mm = law.breakthrough_diameters * tube_mm
    law = known_to(depth_mm, diameter_mm=diameter_mm, law=law)
    return DrilledHole(
        minutes=Range.lognormal(reason.value, sigma_log=law.feed_sigma_log),
        sigma_log=law.feed_sigma_log,
        tube_diameter_mm=tube_mm,
        tube_used_mm=law.wear_ratio[material.family] * depth_mm + breakthrough_mm,
        reason=reason,
    )


def _drilling_reason(
    depth_mm: float, *, diameter_mm: float, tube_mm: float, family: str, law: SmallHoleLaw
) -> Reason:
    """Return the sparking time with its formula and inputs."""
    factor = law.feed_factor[family]
    steel_feed = read_curve(law.feed_mm_per_min, diameter_mm)
    feed = steel_feed * factor / (1 + depth_mm / diameter_mm / law.depth_scale)
    travel_mm = depth_mm + law.breakthrough_diameters * tube_mm
    return Reason(
        quantity="drilling_min",
        value=travel_mm / feed,
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


def wander_mm(depth_mm: float, *, diameter_mm: float, law: SmallHoleLaw) -> float:
    """Return how far a hole may drift sideways over its depth: ``w(D) L``.

    References
    ----------
    About 0.1 mm in 100 mm, more for small tubes: common practice, no source.
    """
    return read_curve(law.wander_mm_per_mm, diameter_mm) * depth_mm


def reach_mm(depth_mm: float, *, diameter_mm: float, law: SmallHoleLaw) -> float:
    """Return how far from its meant axis the wall of a drilled hole may lie.

    ``D/2 + mouth + w(D) L``: the radius, the widening at the mouth, and the wander.  Walls and
    edges must keep clear of it.
    """
    return (
        diameter_mm / 2
        + law.entry_growth_mm
        + wander_mm(depth_mm, diameter_mm=diameter_mm, law=law)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One demand beside what the process does.

    Attributes
    ----------
    name, what : str
        ``tolerance``, ``position`` or ``recast``, and the words for it.
    asked_um, best_um, usual_um : float
    held_um : float
        What all but the allowed share hold.
    chance : float
        Of a miss.
    taken_um : float
        What of the demand the size of the tube took.
    given : str
        What is presumed.
    """

    name: str
    what: str
    asked_um: float
    best_um: float
    usual_um: float
    held_um: float
    chance: float
    taken_um: float = 0.0
    given: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallHole:
    """What one hole by tube electrode takes and becomes.

    Attributes
    ----------
    drilled : DrilledHole
        Time and tube.
    feed_mm_per_min : Range
        Mean over the depth.
    tube_used_mm : Range
        For one hole, ``k L + b d``; only the wear has a spread.
    tube_travel_mm : float
        Depth and the way beyond it until the whole section has broken through.
    overcut_mm : float
        On one side.
    entry_diameter_mm, exit_diameter_mm : float
    wander_mm : float
        How far the exit may lie from below the entry.
    tolerance_um, position_um : float
        Half zones of the diameter and of the place at the entry.
    recast_um : Range
    findings : tuple of Finding
    reasons : tuple of Reason
        Of every figure, with range and shares.
    size_range_mm, entry_range_mm, exit_range_mm, wander_range_mm : Range
        Diameter on the whole, at the mouth and at the exit, and the wander.
    judged : tuple of Judged
        What is asked of it, with the chance of a miss.
    """

    drilled: DrilledHole
    feed_mm_per_min: Range
    tube_used_mm: Range
    tube_travel_mm: float
    overcut_mm: float
    entry_diameter_mm: float
    exit_diameter_mm: float
    wander_mm: float
    tolerance_um: float
    position_um: float
    recast_um: Range
    findings: tuple[Finding, ...]
    reasons: tuple[Reason, ...]
    size_range_mm: Range
    entry_range_mm: Range
    exit_range_mm: Range
    wander_range_mm: Range
    judged: tuple[Judged, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleDemand:
    """What a drawing asks of a small hole; None where it asks nothing.

    Attributes
    ----------
    tolerance_um : float or None
        Half zone of the diameter, or what of it is left.
    taken_um : float
        What of that half zone the size of the tube took.
    exit_position_um : float or None
        Half zone of the place at the exit.
    max_recast_um : float or None
    setting_um : float or None
        Half zone in which the mouth is set; None for what is usual.
    """

    tolerance_um: float | None = None
    taken_um: float = 0.0
    exit_position_um: float | None = None
    max_recast_um: float | None = None
    setting_um: float | None = None


NO_DEMAND = HoleDemand()


def predict_hole(
    depth_mm: float,
    *,
    diameter_mm: float,
    material: Material,
    law: SmallHoleLaw,
    demand: HoleDemand = NO_DEMAND,
) -> SmallHole:
    """Predict one through hole by rotating tube, which has no finishing pass.

    Time and tube are those of :func:`drill`, their spread that of
    :func:`kerfwright.process.hole_depth.known_to`.  The mouth is ``D + 2 mouth``, the exit
    ``D - taper L``, and wear and time are lognormal about their table values.

    Parameters
    ----------
    depth_mm, diameter_mm : float
        Depth along the axis, which may be slanted, and diameter.
    material : Material
    law : SmallHoleLaw
    demand : HoleDemand

    Returns
    -------
    SmallHole
        With findings ``hole-too-deep``, ``hole-depth-unproved``, ``hole-diameter-untabled``,
        ``hole-tolerance-beyond-process``, ``hole-position-beyond-process``,
        ``hole-recast-beyond-process``, ``hole-position-may-be-missed`` and
        ``hole-recast-may-be-missed``.

    Raises
    ------
    RangeError
        If the depth is not above 0, or overcut or taper take the whole hole.

    Notes
    -----
    Validity: 0.3 to 3 mm, brass tube in water, through holes.  Debris at the bottom of a deep
    hole widens it by secondary sparks (Materials 2022, 15, 1152, read), in a degree nobody
    gives; ratios of depth to diameter up to 600 are quoted there, with no effective routine
    method above 100.

    References
    ----------
    Figures: common practice, no source.
    """
    drilled = drill(depth_mm, diameter_mm=diameter_mm, material=material, law=law)
    known_law = known_to(depth_mm, diameter_mm=diameter_mm, law=law)
    travel = depth_mm + law.breakthrough_diameters * drilled.tube_diameter_mm
    leaves_mm = diameter_mm - law.taper_mm_per_mm * depth_mm
    if not leaves_mm > 0:
        raise RangeError(
            f"a hole of {diameter_mm:g} mm through {depth_mm:g} mm narrows by "
            f"{law.taper_mm_per_mm * depth_mm:g} mm, to nothing",
            code="small-hole-out-of-range",
        )
    minutes = drilled.minutes
    reasons = hole_reasons(
        depth_mm,
        diameter_mm=diameter_mm,
        tube_mm=drilled.tube_diameter_mm,
        material=material,
        law=known_law,
        drilling=drilled.reason,
    )
    known = {r.quantity: r.range for r in reasons if r.range is not None}
    hole = SmallHole(
        drilled=drilled,
        feed_mm_per_min=Range(
            low=travel / minutes.high, likely=travel / minutes.likely, high=travel / minutes.low
        ),
        tube_used_mm=known["tube_used_mm"],
        tube_travel_mm=travel,
        overcut_mm=law.overcut_mm,
        entry_diameter_mm=known["entry_diameter_mm"].likely,
        exit_diameter_mm=leaves_mm,
        wander_mm=known["wander_mm"].likely,
        tolerance_um=law.tolerance_um,
        position_um=law.position_um if demand.setting_um is None else demand.setting_um,
        recast_um=known["recast_um"],
        size_range_mm=known["diameter_mm"],
        entry_range_mm=known["entry_diameter_mm"],
        exit_range_mm=known["exit_diameter_mm"],
        wander_range_mm=known["wander_mm"],
        findings=(),
        reasons=reasons,
    )
    tapered = taper_finding(
        demand.tolerance_um, depth_mm=depth_mm, taper_mm_per_mm=law.taper_mm_per_mm
    )
    judged = tuple(_asked(demand, hole=hole, law=law))
    return replace(
        hole,
        judged=judged,
        findings=(
            *size_findings(depth_mm, diameter_mm=diameter_mm, law=law),
            *(() if tapered is None else (tapered,)),
            *_demand_findings(judged, law=law),
        ),
    )


def _demand_findings(judged: tuple[Judged, ...], *, law: SmallHoleLaw) -> list[Finding]:
    found: list[Finding] = []
    for one in judged:
        often = one.chance > law.allowed_miss * _ROUNDING
        if one.asked_um < one.usual_um and (often or one.name == "tolerance"):
            found.append(_beyond(one))
        elif often and one.name != "tolerance":
            # A tolerance is held by two deviations, as a wall's is, and needs no word then.
            found.append(_may_miss(one, law=law))
    return found


_ROUNDING: Final = 1 + 1e-6
"""A limit that is the end of the range itself must not fail on its rounding."""


def _asked(demand: HoleDemand, *, hole: SmallHole, law: SmallHoleLaw) -> list[Judged]:
    every: list[Judged] = []
    if (asked := demand.tolerance_um) is not None:
        sigma = size_sigma_mm(law) * 1000
        every.append(
            Judged(
                name="tolerance",
                what="diameter within ±",
                asked_um=asked,
                best_um=law.best_tolerance_um,
                usual_um=law.tolerance_um,
                held_um=law.tolerance_um,
                chance=chance_outside(max(asked, 0.0), bias=0.0, sigma=sigma),
                taken_um=demand.taken_um,
            )
        )
    if (asked := demand.exit_position_um) is not None:
        # The exit may be off by the setting and the wander, which do not know each other.
        wander, setting = hole.wander_range_mm * 1000, hole.position_um
        # Beyond what is known the wander is less sure, but no better where it goes well.
        good = math.exp(-Z_10_90 * law.wander_sigma_log)
        every.append(
            Judged(
                name="position",
                what="place of the exit within ±",
                asked_um=asked,
                best_um=math.hypot(setting, wander.likely * good),
                usual_um=math.hypot(setting, wander.likely),
                held_um=place_held_um(law.allowed_miss, setting_um=setting, wander_um=wander),
                chance=chance_off_place(asked, setting_um=setting, wander_um=wander),
                given=f"with the mouth set within ±{zone_held(setting)} ",
            )
        )
    if (asked := demand.max_recast_um) is not None:
        layer = hole.recast_um
        every.append(
            Judged(
                name="recast",
                what="recast layer of at most ",
                asked_um=asked,
                best_um=layer.low,
                usual_um=layer.likely,
                held_um=above_by(law.allowed_miss, layer),
                chance=chance_above(asked, layer),
            )
        )
    return every


def _what(one: Judged) -> str:
    """Say what is asked, and what of it a tube of another size leaves."""
    asked = f"A {one.what}{zone_asked(one.asked_um + one.taken_um)} is asked"
    if not one.taken_um:
        return asked
    left = f"leaves ±{zone_asked(one.asked_um)}" if one.asked_um > 0 else "leaves nothing"
    return f"{asked}, of which the size of the tube takes {zone_held(one.taken_um)} and {left},"


def _beyond(one: Judged) -> Finding:
    refused = one.asked_um < one.best_um
    would = "" if refused else f" At what is usual {of_holes(one.chance)} would miss."
    return Finding(
        code=f"hole-{one.name}-beyond-process",
        severity=Severity.REFUSAL if refused else Severity.WARNING,
        message=f"{_what(one)} of a hole by tube; "
        f"{one.given}about {zone_held(one.usual_um)} is usual, {zone_held(one.best_um)} "
        f"{'with care' if one.name == 'tolerance' else 'where it goes well'}, and there is no "
        f"finishing pass.{would}",
        remedy="Drill it from both sides, make it shorter, or allow more at the exit."
        if one.name == "position"
        else "Use it as a start hole and cut to size with the wire, or ream or hone it.",
        data={
            "asked_um": one.asked_um,
            "usual_um": one.usual_um,
            "best_um": one.best_um,
            "chance": one.chance,
        },
    )


def _may_miss(one: Judged, *, law: SmallHoleLaw) -> Finding:
    held_um = two_digits_up(one.held_um)
    return Finding(
        code=f"hole-{one.name}-may-be-missed",
        severity=Severity.WARNING,
        message=f"A {one.what}{zone_asked(one.asked_um)} is asked of a hole by tube; "
        f"{one.given}about {zone_held(one.usual_um)} is usual, but it scatters, and "
        f"{of_holes(one.chance)} would miss.",
        remedy="Do not promise it before a first hole is measured; "
        f"{zone_held(held_um)} is missed by {of_holes(law.allowed_miss)}.",
        data={
            "asked_um": one.asked_um,
            "usual_um": one.usual_um,
            "held_um": held_um,
            "chance": one.chance,
        },
    )
