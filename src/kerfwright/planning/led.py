"""Contours of a plan that are cut as another of their shape is: the same cuts at another place."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass

from kerfwright.planning.alike import Alike, alike_of
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import ContourPlan, Plan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Led:
    """Which contour of a plan another is cut as.

    Attributes
    ----------
    first : ContourPlan
    by_mm : (float, float)
        From there to the contour.
    """

    first: ContourPlan
    by_mm: tuple[float, float]


def led_of(plan: Plan, memory: Memory) -> Mapping[str, Led]:
    """Return the contours of a plan that are cut as an earlier one of the drawing, by id.

    Their walls, starts, tabs and passes are those of the first, moved, and so are all their lines:
    nothing but the wall of an opening decides them.  Openings that are cut away whole, that lean,
    that are strung together or made in two cuts are led by none.

    Parameters
    ----------
    plan : Plan
    memory : Memory
    """
    alike = alike_of(plan.part.contours, memory)
    if not alike:
        return {}
    planned = {c.target.id: c for c in plan.contours}
    tied = {name for one in plan.strings for name in one.contour_ids}
    tied |= {name for c in plan.seconds if c.follows for name in c.follows.wall.ids}
    firsts: dict[Hashable, tuple[ContourPlan, tuple[float, float]]] = {}
    found: dict[str, Led] = {}
    leaders = {a.first.id for a in alike.values()}
    for target in plan.part.contours:
        name = target.id
        c = planned.get(name)
        if c is None or (name not in alike and name not in leaders):
            continue
        if c.target is not target or c.coreless is not None or name in tied:
            continue
        like = alike.get(name, Alike(first=target, by_mm=(0.0, 0.0)))
        first, at = firsts.setdefault((like.first.id, *_cut_as(c)), (c, like.by_mm))
        by = like.by_mm[0] - at[0], like.by_mm[1] - at[1]
        if first is not c and _starts_at(c, first, by):
            found[name] = Led(first=first, by_mm=by)
    return found


def _cut_as(c: ContourPlan) -> tuple[Hashable, ...]:
    """Return all but its place that the lines of a contour and their feeds follow from."""
    tab = None if c.tab is None else (c.tab.start_station_mm, c.tab.end_station_mm)
    state = c.flushing
    return (
        tuple((p.number, p.offset_mm, c.feed_mm_per_min(p)) for p in c.passes),
        (c.start.kind, c.start.diameter_mm, c.lead_station_mm, tab),
        (c.slug, c.rough_attendance, c.lean.lean_deg, c.placed),
        (state.beside, state.beside_factor, state.along_factor, state.slow_entry_mm),
        state.enters_from_edge,
    )


def _starts_at(c: ContourPlan, first: ContourPlan, by_mm: tuple[float, float]) -> bool:
    """Return whether a contour starts where the first does, moved."""
    off = (
        abs(c.start.x_mm - first.start.x_mm - by_mm[0]),
        abs(c.start.y_mm - first.start.y_mm - by_mm[1]),
    )
    return max(off) <= _START_SAME_MM


_START_SAME_MM = 2e-6
"""A start within a millionth of an axis of the drawing is set onto it."""
