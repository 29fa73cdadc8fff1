"""Whether one kerf could serve two outlines that face each other, told by the numbers.

A common kerf is one rough path: both walls lie two rough offsets apart and neither can be skimmed
with the other still to be finished, so one pass has to do for both.  None is made; see decision
0021.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.foundation.units import minutes_text
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.geometry.segments import Floats
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.trade.part import Role

_LEAST_MM = 5.0
"""Shorter stretches are not worth a common wall (common practice, no source)."""
_PARALLEL = 1e-3
"""Sine of the angle between walls that count as parallel: 1 µm over a millimetre."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facing:
    """Two straight walls of different outlines, face to face.

    Attributes
    ----------
    first, second : ContourPlan
    length_mm : float
        Over which they face each other.
    gap_mm : float
    at_mm : (float, float)
        On the first.
    """

    first: ContourPlan
    second: ContourPlan
    length_mm: float
    gap_mm: float
    at_mm: tuple[float, float]


def longest_facing(plan: Plan) -> Facing | None:
    """Return the longest pair of walls face to face within the longest channel, if any."""
    outer = [
        c for c in plan.contours if c.target.role is Role.OUTLINE and c.target.parent_id is None
    ]
    most = plan.rules.string_channel_most_mm
    lines = {c.target.id: _straight(c) for c in outer}
    found = [
        one
        for a, b in combinations(outer, 2)
        if _boxes_apart_mm(a, b) <= most
        and (one := _facing(a, b, lines[a.target.id], lines[b.target.id], most)) is not None
    ]
    return max(found, key=lambda one: one.length_mm, default=None)


def common_wall_finding(plan: Plan) -> Finding | None:
    """Return whether one kerf could serve the two walls that face each other longest."""
    one = longest_facing(plan)
    if one is None:
        return None
    a, b = one.first, one.second
    rough = plan.passes[0]
    needed = a.passes[0].offset_mm + b.passes[0].offset_mm
    spared = one.length_mm / a.feed_mm_per_min(a.passes[0])
    does = len(a.passes) == len(b.passes) == 1
    asked = [plan.requirement.demand_on(c.target.id).tolerance_um for c in (a, b)]
    tightest = min((um for um in asked if um is not None), default=None)
    wish = "no tolerance is asked" if tightest is None else f"±{zone_asked(tightest)} is asked"
    holds = f"±{zone_held(rough.tolerance_um)}"
    names = f"{a.target.id} and {b.target.id}"
    verdict = (
        f"would do: one pass holds {holds}, {wish}; they would have to lie "
        f"{both_sizes(needed)} apart, and {minutes_text(spared)} of rough cut were spared"
        if does
        else f"would not do: it is one pass, which holds {holds}, {wish}, and "
        f"{max(len(a.passes), len(b.passes))} passes are planned; a skim of one wall finds no "
        "metal behind the other"
    )
    return Finding(
        code="common-wall",
        severity=Severity.NOTE,
        message=f"{names} face each other over {both_sizes(one.length_mm)}, "
        f"{both_sizes(one.gap_mm)} apart. One kerf for both {verdict}.",
        where=Place(contour_id=a.target.id, x_mm=one.at_mm[0], y_mm=one.at_mm[1]),
        remedy="Common walls are not made: each wall has a kerf of its own.",
        data={
            "length_mm": one.length_mm,
            "gap_mm": one.gap_mm,
            "needed_mm": needed,
            "spared_min": spared,
            "does": float(does),
        },
    )


def _straight(c: ContourPlan) -> tuple[Floats, Floats]:
    """Return begins and ends of the long straight walls of an outline."""
    s = c.target.contour.segments
    long = ~s.is_arc & (s.length >= _LEAST_MM)
    return s.start[long], s.end[long]


def _boxes_apart_mm(a: ContourPlan, b: ContourPlan) -> float:
    ax0, ay0, ax1, ay1 = a.target.contour.bounds_mm
    bx0, by0, bx1, by1 = b.target.contour.bounds_mm
    return float(np.hypot(max(bx0 - ax1, ax0 - bx1, 0.0), max(by0 - ay1, ay0 - by1, 0.0)))


def _facing(
    a: ContourPlan,
    b: ContourPlan,
    of_a: tuple[Floats, Floats],
    of_b: tuple[Floats, Floats],
    most_mm: float,
) -> Facing | None:
    """Return the longest stretch over which walls of two outlines face each other."""
    best: Facing | None = None
    for begin, end in zip(*of_a, strict=True):
        length = float(np.hypot(*(end - begin)))
        along = (end - begin) / length
        out = np.array([along[1], -along[0]])
        for p, q in zip(*of_b, strict=True):
            other = (q - p) / float(np.hypot(*(q - p)))
            # Outlines run round their metal on the left: walls face where they run against.
            if abs(along[0] * other[1] - along[1] * other[0]) > _PARALLEL or along @ other > 0:
                continue
            gap = float((p - begin) @ out)
            low, high = (
                max(float((q - begin) @ along), 0.0),
                min(float((p - begin) @ along), length),
            )
            if not 0 < gap <= most_mm or high - low < _LEAST_MM:
                continue
            if best is None or high - low > best.length_mm:
                x, y = begin + along * (low + high) / 2
                best = Facing(
                    first=a,
                    second=b,
                    length_mm=high - low,
                    gap_mm=gap,
                    at_mm=(float(x), float(y)),
                )
    return best
