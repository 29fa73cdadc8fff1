"""From a plan to canonical moves, cut by cut."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property, partial
from types import MappingProxyType

import numpy as np

from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Segments
from kerfwright.motion.moves import Cut, CutKind, Moves, Stop, WirePath
from kerfwright.planning.led import led_of
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import (
    ContourPlan,
    Operation,
    OperationKind,
    Plan,
    RoughAttendance,
    Span,
)
from kerfwright.planning.string_plan import string_of
from kerfwright.process.feed_advice import FeedLimit
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.wirepath.contour_cuts import ContourCuts, Drawn, removal
from kerfwright.wirepath.feeds import BesideEdge, SlowEntry, slowed
from kerfwright.wirepath.late_pieces import with_stops_within
from kerfwright.wirepath.leaning_cuts import Leaning, LeaningCuts
from kerfwright.wirepath.round_clamps import round_clamps
from kerfwright.wirepath.runs import with_feeds
from kerfwright.wirepath.string_ways import strung
from kerfwright.wirepath.trailing import limits_of

_KINDS = {
    OperationKind.ROUGH: CutKind.ROUGH,
    OperationKind.CUT_OFF: CutKind.CUT_OFF,
    OperationKind.SKIM: CutKind.SKIM,
}
_SAME_PLACE_MM = 1e-6
_OFFSETS_ABOUT = 8.0
"""Straight runs of two and a half offsets, tips of corners, the offset to be kept: with room."""
_BEYOND_MM = 2.0
"""Slants onto a skim, overlaps and steps between samples, with room."""


def build_path(
    plan: Plan,
    *,
    physics: WirePhysics | None = None,
    memory: Memory | None = None,
    leaning: Mapping[str, Leaning] = MappingProxyType({}),
    programs_wall: bool = True,
) -> WirePath:
    """Return the wire path of a plan.

    The wire stays threaded from one cut to the next where the next begins at the place the last
    one ended; otherwise it is cut and threaded anew.

    Parameters
    ----------
    plan : Plan
    physics : WirePhysics, optional
        Constants of the running wire, by which the feed is taken back at corners and arcs; None
        for one feed a pass.
    memory : Memory, optional
        Where to keep, and find, cuts that other plans of the same part have too.
    leaning : mapping of str to Leaning
        Contours whose wall leans.
    programs_wall : bool
        Whether to draw the programmed wall of each cut too; a control that follows the wire
        centre needs none.

    Raises
    ------
    InputError
        If a leaning wire finds no way along its wall.
    """
    if not plan.contours:
        return WirePath(cuts=())
    memory = Memory() if memory is None else memory
    makers = _Makers(plan, leaning, programs_wall=programs_wall)
    led = _led_operations(plan, memory)
    drawn = _drawn(plan, makers, memory, led)
    targets = {c.target.id: c for c in plan.walls}
    if plan.strings:
        names = [name for one in plan.strings for name in one.contour_ids]
        frames = {name: makers.of(name).frame for name in names}
        drawn = strung(plan.strings, plan.operations, drawn, frames)
    stays = [_stays_threaded(plan, k, drawn) for k in range(len(drawn))]
    limits = {} if physics is None else limits_of(plan, physics=physics)

    def slow(k: int) -> tuple[Moves, Moves | None]:
        if k in led:
            first, by_mm = slow(led[k].first), led[k].by_mm
            return memory.once(partial(_slow_moved, *first, by_mm, memory), "moved", first, by_mm)
        operation, one = plan.operations[k], drawn[k]
        target = targets[operation.contour_id]
        offset_mm = target.passes[operation.pass_number - 1].offset_mm
        limit = limits.get(operation.pass_number)
        entry, beside = _entry(plan, target, operation), _beside(target, one)
        make = partial(_slowed, one, offset_mm=offset_mm, limit=limit, entry=entry, beside=beside)
        held = None if limit is None else (limit.lag_um, limit.allowed_um)
        return memory.once(make, "slowed", one, held, entry, beside)

    cuts = [
        _cut(
            operation,
            drawn[k],
            offset_mm=targets[operation.contour_id].passes[operation.pass_number - 1].offset_mm,
            threads=not stays[k],
            cuts_wire=not _at(stays, k + 1),
            moved=slow(k),
        )
        for k, operation in enumerate(plan.operations)
    ]
    cuts = [
        with_stops_within(cut, targets[cut.contour_id], rules=plan.rules)
        if operation.span is Span.BODY and _comes_in_pieces(targets[cut.contour_id], cut)
        else cut
        for operation, cut in zip(plan.operations, cuts, strict=True)
    ]
    planes = [(one.wall.lower_mm, one.wall.upper_mm) for one in leaning.values()]
    return WirePath(cuts=round_clamps(cuts, plan.clamps), planes_mm=planes[0] if planes else None)


def _comes_in_pieces(target: ContourPlan, cut: Cut) -> bool:
    """Return whether a cut is the rough one of a slug that it parts."""
    parted = RoughAttendance.PIECES_COME_FREE
    return cut.kind is CutKind.ROUGH and target.rough_attendance is parted


class _Makers:
    """What draws the cuts of each contour of a plan, made when something of it is to be drawn."""

    def __init__(self, plan: Plan, leaning: Mapping[str, Leaning], *, programs_wall: bool) -> None:
        self._plan = plan
        self._targets = {c.target.id: c for c in plan.walls}
        self._made: dict[str, ContourCuts] = {}
        self.leaning = leaning
        self.programs_wall = programs_wall

    @cached_property
    def _walls(self) -> tuple[Segments, tuple[Floats, Floats, Floats, Floats]]:
        walls = Segments.joined([c.contour.segments for c in self._plan.part.contours])
        return walls, walls.boxes()

    @cached_property
    def _every(self) -> NearestIndex:
        return NearestIndex(self._walls[0])

    def _walls_with(self, c: ContourPlan) -> tuple[Segments, tuple[Floats, Floats, Floats, Floats]]:
        """Return the walls with what is cut second in the place of what is cut first."""
        assert c.follows is not None
        first = c.follows.wall.first_id
        walls = Segments.joined(
            [
                (c.target.contour if one.id == first else one.contour).segments
                for one in self._plan.part.contours
            ]
        )
        return walls, walls.boxes()

    def of(self, contour_id: str) -> ContourCuts:
        """Return what draws the cuts of a contour."""
        if contour_id not in self._made:
            self._made[contour_id] = self._make(self._targets[contour_id])
        return self._made[contour_id]

    def _make(self, c: ContourPlan) -> ContourCuts:
        leaning = self.leaning.get(c.target.id)
        if leaning is not None:
            return LeaningCuts(self._plan, c, self._every, leaning)
        walls = self._walls if c.follows is None else self._walls_with(c)
        near = _walls_about(self._plan, c, *walls)
        return ContourCuts(self._plan, c, near, programs_wall=self.programs_wall)


@dataclass(frozen=True, slots=True, kw_only=True)
class _LedOperation:
    """Of which operation one is the same at another place.

    Attributes
    ----------
    first : int
        Place of that operation among those of the plan.
    by_mm : (float, float)
    """

    first: int
    by_mm: tuple[float, float]


def _led_operations(plan: Plan, memory: Memory) -> dict[int, _LedOperation]:
    """Return the operations of contours that are cut as another is, by their places in the plan."""
    led = led_of(plan, memory)
    if not led:
        return {}
    places: dict[str, list[int]] = {}
    for k, operation in enumerate(plan.operations):
        places.setdefault(operation.contour_id, []).append(k)
    found: dict[int, _LedOperation] = {}
    for name, one in led.items():
        ours, theirs = places.get(name, []), places.get(one.first.target.id, [])
        if [_kind(plan, k) for k in ours] == [_kind(plan, k) for k in theirs]:
            pairs = zip(ours, theirs, strict=True)
            found |= {k: _LedOperation(first=first, by_mm=one.by_mm) for k, first in pairs}
    return found


def _kind(plan: Plan, k: int) -> tuple[Hashable, ...]:
    """Return what is done in an operation, and whether it goes on with the one before."""
    one = plan.operations[k]
    return one.kind, one.span, one.pass_number, k > 0 and not _ends_contour(plan, k)


def _drawn(
    plan: Plan, makers: _Makers, memory: Memory, led: Mapping[int, _LedOperation]
) -> list[Drawn]:
    """Return the cuts of a plan as drawn, those of other plans where they are the same.

    The lines of an upright cut know no feed: plans by another material, height or kind of wire
    with the same offsets have them in common, and only lay other feeds on them.  What is cut as
    another contour is has that one's lines, at that one's place.
    """
    common = memory.shapes
    part = common.once(object, "part", plan.part.contours)
    shapes = {c.target.id: (part, makers.programs_wall, *_shape(c)) for c in plan.walls}
    feeds = {c.target.id: _feeds(plan, c) for c in plan.walls}
    drawn: dict[int, Drawn] = {}
    before: Drawn | None = None
    for k, operation in enumerate(plan.operations):
        if k in led:
            continue
        name = operation.contour_id
        leaning = makers.leaning.get(name)
        if k == 0 or _ends_contour(plan, k):
            before = None
        which = operation.kind, operation.span, operation.pass_number
        draw = partial(_draw, makers, operation, before)
        if leaning is not None or operation.span is Span.INSIDE:
            # Feeds differ along what leans, and along loops that leave no slug.
            before = drawn[k] = memory.once(
                draw, "cut", shapes[name], feeds[name], leaning, *which, before
            )
            continue
        before = line = common.once(draw, "line", shapes[name], *which, before)
        fed = partial(_fed, line, makers, operation)
        drawn[k] = memory.once(fed, "fed", line, feeds[name], *which)
    for k, one in led.items():
        first = drawn[one.first]
        stops = first.stop_after is not None
        name = plan.operations[k].contour_id
        drawn[k] = replace(first, stop_after=removal(name, is_part=False) if stops else None)
    return [drawn[k] for k in range(len(plan.operations))]


def _slow_moved(
    moves: Moves, nominal: Moves | None, by_mm: tuple[float, float], memory: Memory
) -> tuple[Moves, Moves | None]:
    """Return slowed moves at another place; where they come from is kept with them."""
    moved = moves.moved(by_mm)
    memory.once(lambda: moves, "moved from", moved)
    return moved, None if nominal is None else nominal.moved(by_mm)


def _fed(line: Drawn, makers: _Makers, operation: Operation) -> Drawn:
    """Return a cut with the feeds of a plan."""
    feeds = makers.of(operation.contour_id).feeds(
        operation.pass_number, is_cut_off=operation.kind is OperationKind.CUT_OFF
    )
    wall = line.nominal
    return replace(
        line,
        moves=with_feeds(line.moves, feeds=feeds),
        nominal=None if wall is None else with_feeds(wall, feeds=feeds),
    )


def _walls_about(
    plan: Plan, c: ContourPlan, walls: Segments, boxes: tuple[Floats, Floats, Floats, Floats]
) -> NearestIndex:
    """Return the walls that any way of the wire to a contour may come near, all others far off.

    Ways stay within the box about contour and start, but for arcs on and off, their straight runs
    and corners run past: a few offsets and the arc's diameter.
    """
    x0, y0, x1, y1 = c.target.contour.bounds_mm
    reach = _OFFSETS_ABOUT * max(p.offset_mm for p in c.passes)
    reach += 2 * plan.rules.approach_radius_mm + _BEYOND_MM
    low_x, low_y = min(x0, c.start.x_mm) - reach, min(y0, c.start.y_mm) - reach
    high_x, high_y = max(x1, c.start.x_mm) + reach, max(y1, c.start.y_mm) + reach
    is_near = (boxes[0] <= high_x) & (boxes[2] >= low_x) & (boxes[1] <= high_y)
    is_near &= boxes[3] >= low_y
    return NearestIndex(walls.taken(np.flatnonzero(is_near)))


def _shape(c: ContourPlan) -> tuple[Hashable, ...]:
    """Return all that the lines of the cuts of a contour follow from, beyond the rules."""
    passes = tuple((p.number, p.offset_mm) for p in c.passes)
    start = c.start.kind, c.start.x_mm, c.start.y_mm, c.start.diameter_mm
    tab = None if c.tab is None else (c.tab.start_station_mm, c.tab.end_station_mm)
    slug = c.slug.is_part, c.rough_attendance, c.coreless
    return (c.target, passes, start, c.flushing.beside, c.lead_station_mm, tab, *slug)


def _feeds(plan: Plan, c: ContourPlan) -> tuple[Hashable, ...]:
    """Return what beside its lines the feeds of the cuts of a contour follow from."""
    passes = tuple(c.feed_mm_per_min(p) for p in c.passes)
    wire = plan.choice.wire.name, plan.choice.wire.diameter_mm
    return (wire, plan.height_mm, passes, c.slug, c.flushing.beside_factor)


def _draw(makers: _Makers, operation: Operation, before: Drawn | None) -> Drawn:
    maker = makers.of(operation.contour_id)
    match operation.kind:
        case OperationKind.ROUGH:
            if operation.span is Span.WHOLE:
                return maker.skim_whole(operation.pass_number)
            return maker.inside() if operation.span is Span.INSIDE else maker.rough()
        case OperationKind.CUT_OFF:
            return maker.cut_off()
        case OperationKind.SKIM:
            if operation.span is Span.WHOLE:
                return maker.skim_whole(operation.pass_number)
            if operation.span is Span.BODY:
                return maker.skim_body(operation.pass_number, before)
            return maker.skim_tab(operation.pass_number, before)


def _ends_contour(plan: Plan, number: int) -> bool:
    """Return whether operation `number` is the last before another contour's."""
    here, after = plan.operations[number - 1], plan.operations[number]
    return here.contour_id != after.contour_id


def _stays_threaded(plan: Plan, k: int, drawn: list[Drawn]) -> bool:
    """Return whether cut `k` begins with the wire where the cut before left it."""
    if k == 0:
        return False
    last, this = (plan.operations[n].contour_id for n in (k - 1, k))
    if any(c.follows and c.follows.wall.ids == (last, this) for c in plan.seconds):
        # One opening: its second cut begins at the start to which the first went back.
        last = this
    mine = string_of(plan.strings, this)
    if last != this and (mine is None or last not in mine.contour_ids):
        return False
    if drawn[k - 1].stop_after is not None:
        # The attendant takes a piece out: the wire is cut for that.
        return False
    before, after = drawn[k - 1].moves, drawn[k].moves
    gap = abs(after.start_mm - before.end_mm[-1]).max()
    if before.second_end_mm is not None and after.second_start_mm is not None:
        gap = max(gap, abs(after.second_start_mm - before.second_end_mm[-1]).max())
    return bool(gap <= _SAME_PLACE_MM)


def _entry(plan: Plan, target: ContourPlan, operation: Operation) -> SlowEntry | None:
    """Return the slow beginning of a rough cut that comes in from the edge of the stock."""
    length_mm = target.flushing.slow_entry_mm
    if operation.kind is not OperationKind.ROUGH or length_mm == 0:
        return None
    state = target.flushing
    return SlowEntry(
        length_mm=length_mm,
        factor=plan.rules.lead_feed_factor,
        most=min(1.0, state.beside_factor / state.along_factor),
    )


def _beside(target: ContourPlan, one: Drawn) -> BesideEdge | None:
    """Return where a cut is slower for the edge of the stock, and by how much."""
    if not one.beside:
        return None
    state = target.flushing
    return BesideEdge(zones=one.beside, factor=state.beside_factor / state.along_factor)


def _at(flags: list[bool], k: int) -> bool:
    return flags[k] if k < len(flags) else False


def _slowed(
    one: Drawn,
    *,
    offset_mm: float,
    limit: FeedLimit | None,
    entry: SlowEntry | None,
    beside: BesideEdge | None,
) -> tuple[Moves, Moves | None]:
    """Return the moves of a cut, and of its programmed wall, with the feed taken back."""
    return slowed(
        one.moves,
        nominal=one.nominal,
        offset_mm=offset_mm,
        offset_on_left=one.offset_on_left,
        limit=limit,
        entry=entry,
        beside=beside,
    )


def _cut(
    operation: Operation,
    one: Drawn,
    *,
    offset_mm: float,
    threads: bool,
    cuts_wire: bool,
    moved: tuple[Moves, Moves | None],
) -> Cut:
    moves, nominal = moved
    return Cut(
        contour_id=operation.contour_id,
        pass_number=operation.pass_number,
        kind=_KINDS[operation.kind],
        offset_mm=offset_mm,
        condition=operation.pass_number,
        threads=threads,
        cuts_wire=cuts_wire,
        stop_before=Stop(instruction=operation.instruction) if operation.instruction else None,
        stop_after=one.stop_after,
        moves=moves,
        nominal=nominal,
        offset_on_left=one.offset_on_left,
    )
