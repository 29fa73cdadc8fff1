"""Which outlines are cut as a string, and where the channels between them run.

A string goes one way: no part lies behind the one before it, so that the waste beside it never
becomes a tongue.  Kerfs and channels form a tree; each channel meets the kerfs of its two parts
once and no other, so that no waste comes loose and every part hangs on its tab in one frame.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from kerfwright.planning import frame
from kerfwright.planning.feasibility import chords
from kerfwright.planning.order import order_operations
from kerfwright.planning.plan import ContourPlan, Plan, RoughAttendance, StartKind
from kerfwright.planning.starts import Walls
from kerfwright.planning.string_links import Link, Yard
from kerfwright.planning.string_plan import PartString, string_of
from kerfwright.process.choice import JobPasses
from kerfwright.process.flushing import skim_advice
from kerfwright.process.technology import Technology
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Role

_AXES = ((1.0, 0.0), (0.0, 1.0))
"""Ways in which a string may go."""
_AHEAD_MM = 1e-6
_LEAST = 2
"""Parts of the shortest string."""
_HOLE_FINDINGS = frozenset({"start-hole-close-to-wall"})
"""What a plan says of start holes that a string does without."""


@dataclass(slots=True, kw_only=True)
class _Strung:
    """A string in the making."""

    contours: list[ContourPlan]
    links: list[Link]


def hindrance(plan: Plan) -> str:
    """Return why nothing of a job can be strung, in words; empty where something may."""
    if plan.requirement.machine.dialect.offset_form is OffsetForm.CONTROLLER:
        return "the control applies the offset, and could not follow the wire from part to part"
    if plan.requirement.walls:
        return "walls lean"
    if plan.rules.string_most_parts < _LEAST:
        return "the figures that the job is planned with know no strings of two parts"
    if sum(_is_outer(c) for c in plan.contours) < _LEAST:
        return "fewer than two outlines are cut"
    if len(_able(plan)) < _LEAST:
        return (
            "fewer than two outlines have a start hole that the plan places, a tab that holds "
            f"and {plan.rules.string_frame_mm:g} mm of frame to the edge of the stock"
        )
    return ""


def with_strings(plan: Plan, *, technology: Technology) -> Plan | None:
    """Return a plan with its outlines strung wherever that can be done; None where it cannot.

    Parameters
    ----------
    plan : Plan
        With a start for each contour.
    technology : Technology
    """
    if hindrance(plan):
        return None
    yard = Yard(plan, technology=technology)
    able = _able(plan)
    ways = [_strung(yard, able, axis) for axis in _AXES]
    best = max(ways, key=lambda way: (_count(way), -_length_mm(way)))
    if not _count(best):
        return None
    return _finished(plan, best, technology=technology)


def _count(way: Sequence[_Strung]) -> int:
    return sum(len(one.links) for one in way)


def _length_mm(way: Sequence[_Strung]) -> float:
    return math.fsum(link.channel.length_mm for one in way for link in one.links)


def _is_outer(c: ContourPlan) -> bool:
    return c.target.role is Role.OUTLINE and c.target.parent_id is None


def _able(plan: Plan) -> list[ContourPlan]:
    """Return the outlines that may be parts of a string."""
    if plan.stock is None:
        return []
    walls, least = Walls(plan.part.contours, plan.stock), plan.rules.string_frame_mm
    return [c for c in plan.contours if _fits(c) and _frame_mm(c, walls) >= least]


def _fits(c: ContourPlan) -> bool:
    return (
        _is_outer(c)
        and c.tab is not None
        and not c.has_tab_apart
        and not c.placed
        and c.rough_attendance is RoughAttendance.NONE
        and c.start.kind in {StartKind.DRILLED, StartKind.GIVEN}
        # Beside the edge the rough feed, and the frame, are others.
        and not c.flushing.beside
    )


def _frame_mm(c: ContourPlan, walls: Walls) -> float:
    """Return how much frame stands between the rough kerf of an outline and the stock's edge."""
    kerf = c.choice.wire.radius_mm + c.passes[0].gap_um / 1000
    return float(walls.stock_clearance_mm(chords(c.loops[0].contour)).min()) - kerf


def _strung(yard: Yard, able: Sequence[ContourPlan], axis: tuple[float, float]) -> list[_Strung]:
    """Return strings that go along an axis, from each part to the nearest ahead of it."""
    place = {c.target.id: _place_mm(c, axis) for c in able}
    left = sorted(able, key=lambda c: (place[c.target.id], c.target.id))
    found: list[_Strung] = []
    while left:
        one = _Strung(contours=[left.pop(0)], links=[])
        while (link := _next(yard, one, left, place)) is not None:
            left = [c for c in left if c.target.id != link.contour.target.id]
            one.contours.append(link.contour)
            one.links.append(link)
        found.append(one)
    return [one for one in found if one.links]


def _place_mm(c: ContourPlan, axis: tuple[float, float]) -> float:
    x0, y0, x1, y1 = c.target.contour.bounds_mm
    return (x0 + x1) / 2 * axis[0] + (y0 + y1) / 2 * axis[1]


def _next(
    yard: Yard, one: _Strung, left: Sequence[ContourPlan], place: dict[str, float]
) -> Link | None:
    """Return the link to the nearest part ahead that can be had, if any."""
    last, rules = one.contours[-1], yard.plan.rules
    way_mm = math.fsum(c.loops[0].contour.length_mm for c in one.contours)
    if len(one.contours) >= rules.string_most_parts or way_mm > rules.string_way_most_mm:
        return None
    at = place[last.target.id]
    ahead = [
        c
        for c in left
        if place[c.target.id] > at + _AHEAD_MM
        and c.start.kind is StartKind.DRILLED
        and yard.gap_mm(last, c) <= rules.string_channel_most_mm
        and _extent_mm([*one.contours, c]) <= rules.string_longest_mm
    ]
    ahead.sort(key=lambda c: (yard.gap_mm(last, c), c.target.id))
    links = (yard.link(last, c) for c in ahead)
    return next((link for link in links if link is not None), None)


def _extent_mm(contours: Sequence[ContourPlan]) -> float:
    """Return the diagonal of the box about some contours."""
    boxes = np.array([c.target.contour.bounds_mm for c in contours])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(np.hypot(*(high - low)))


def _finished(plan: Plan, way: Sequence[_Strung], *, technology: Technology) -> Plan | None:
    """Return the plan with starts, order and operations of the strings."""
    strings = tuple(
        PartString(
            contour_ids=tuple(c.target.id for c in one.contours),
            channels=tuple(link.channel for link in one.links),
        )
        for one in way
    )
    strung = [c for one in way for c in one.contours]
    alone = [c for c in plan.contours if string_of(strings, c.target.id) is None]
    ordered = tuple(
        replace(c, start=replace(c.start, id=f"S{n}")) for n, c in enumerate([*alone, *strung], 1)
    )
    passes = JobPasses(most=plan.choice, by_contour={c.target.id: c.choice for c in ordered})
    if frame.loose_piece_refusals(ordered, plan.stock, choice=passes):
        return None
    dropped = {c.target.id for c in strung if c.start.kind is StartKind.CHANNEL}
    return replace(
        plan,
        contours=ordered,
        operations=order_operations(
            ordered, skim_flushing=skim_advice(law=technology.flushing), strings=strings
        ),
        findings=tuple(
            f
            for f in plan.findings
            if not (f.code in _HOLE_FINDINGS and f.where.contour_id in dropped)
        ),
        strings=strings,
    )
