"""The ways of the wire from part to part of a string.

Kerfs and channels of a string form a tree, so that there is one way from any place to any other.
All of it is open but the channel ahead while the string is roughed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from kerfwright.geometry.regions import contains_points, nearest_station
from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Moves, Purpose
from kerfwright.planning.plan import Operation, OperationKind
from kerfwright.planning.string_plan import PartString, string_of
from kerfwright.wirepath.contour_cuts import Drawn
from kerfwright.wirepath.contour_frame import ContourFrame
from kerfwright.wirepath.runs import Run, joined, straight

_SAME_MM = 1e-6
_ROOM_MM = 0.75
"""From the wall of a part that was taken out to where the wire is threaded: as in the middle of the
usual start hole of 1.5 mm."""
_DEEPEST_MM = 15.0
_ANGLES_RAD = np.radians([0.0, 20.0, -20.0, 40.0, -40.0, 60.0, -60.0])
"""Ways into the part from its lead-in, against square."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _At:
    """Where the wire stands: at a part of a string, at its start or on its rough path."""

    number: int
    point: Floats


def strung(
    strings: tuple[PartString, ...],
    operations: Sequence[Operation],
    drawn: Sequence[Drawn],
    frames: Mapping[str, ContourFrame],
) -> list[Drawn]:
    """Return the cuts of a job with the ways of its strings before them.

    A cut of a string begins where the last of that string ended; in the room of the part that was
    taken out there; or, after cuts of other contours, at the start of the string.
    """
    found: list[Drawn] = []
    before: tuple[PartString, _At] | None = None
    for operation, one in zip(operations, drawn, strict=True):
        mine = string_of(strings, operation.contour_id)
        if mine is None:
            found.append(one)
            before = None
            continue
        ways = StringWays(mine, frames)
        number = mine.contour_ids.index(operation.contour_id)
        begin = one.moves.start_mm
        here = ways.at_start(0)
        if before is not None and before[0] is mine:
            here = before[1]
        is_rough = operation.kind is OperationKind.ROUGH
        stands = _is_same(here.point, begin)
        way = [] if stands else ways.to_start(here, number, is_rough=is_rough)
        found.append(_after(one, way, frames[operation.contour_id]) if way else one)
        before = (mine, _At(number=number, point=one.moves.end_mm[-1]))
        if one.stop_after is not None:
            # The part is out: the next threading is in the room that it leaves.
            before = mine, ways.in_opening(number)
    return found


def _is_same(a: Floats, b: Floats) -> bool:
    return bool(np.abs(a - b).max() <= _SAME_MM)


def _after(one: Drawn, way: list[Run], frame: ContourFrame) -> Drawn:
    """Return a cut with a way before it."""
    feeds = frame.feeds(1)
    feeds[Purpose.RETURN] = frame.plan.rules.return_feed_mm_per_min
    first = joined(way, feeds=feeds)
    assert _is_same(first.end_mm[-1], one.moves.start_mm), (first.end_mm[-1], one.moves.start_mm)
    length = float(first.lengths_mm().sum())
    return replace(
        one,
        moves=_appended(first, one.moves),
        nominal=None,
        beside=tuple((a + length, b + length) for a, b in one.beside),
    )


def _appended(first: Moves, then: Moves) -> Moves:
    return Moves(
        start_mm=first.start_mm,
        end_mm=np.vstack([first.end_mm, then.end_mm]),
        centre_mm=np.vstack([first.centre_mm, then.centre_mm]),
        turn=np.concatenate([first.turn, then.turn]),
        purpose=np.concatenate([first.purpose, then.purpose]),
        feed_mm_per_min=np.concatenate([first.feed_mm_per_min, then.feed_mm_per_min]),
    )


class StringWays:
    """The ways within one string.

    Parameters
    ----------
    string : PartString
    frames : mapping of str to ContourFrame
        Of its contours, by id.
    """

    def __init__(self, string: PartString, frames: Mapping[str, ContourFrame]) -> None:
        self._string = string
        self._frames = [frames[name] for name in string.contour_ids]

    def at_start(self, number: int) -> _At:
        """Return the place at the start of a part."""
        return _At(number=number, point=self._frames[number].start)

    def in_opening(self, number: int) -> _At:
        """Return the place for threading where a part was taken out, beside its lead-in.

        The start of the string, where the part is too narrow there.
        """
        frame = self._frames[number]
        return (
            _At(number=number, point=room)
            if (room := _room(frame)) is not None
            else (self.at_start(0))
        )

    def to_start(self, here: _At, number: int, *, is_rough: bool) -> list[Run]:
        """Return the way from a place to the start of a part.

        Parameters
        ----------
        here : _At
        number : int
            Of the part in the string.
        is_rough : bool
            Whether the last channel ahead is still to be cut.
        """
        runs: list[Run] = []
        at = here
        opened = self.in_opening(here.number)
        if _is_same(here.point, opened.point) and opened.number == here.number:
            at = self.at_start(here.number)
            lead = self._frames[here.number].lead.point
            runs.append(straight([here.point, lead, at.point], purpose=Purpose.RETURN))
        while at.number < number:
            last = at.number + 1 == number
            runs += self._onwards(at, cuts=is_rough and last)
            at = self.at_start(at.number + 1)
        while True:
            runs += self._home(at)
            if at.number == number:
                return runs
            runs += self._back_to_lead(at.number)
            at = self.at_start(at.number - 1)

    def _onwards(self, at: _At, *, cuts: bool) -> list[Run]:
        """Return the way from a part to the start of the next."""
        channel, frame = self._string.channels[at.number], self._frames[at.number]
        runs = []
        begin = self._lead_mm(at.number)
        if _is_same(at.point, frame.start):
            runs.append(self._slot(at.number))
        else:
            begin = frame.on_rough(at.point)
        runs.append(self._along(at.number, begin, channel.branch_station_mm))
        purpose = Purpose.LEAD_IN if cuts else Purpose.RETURN
        ends = [np.array(channel.branch_mm), np.array(channel.end_mm)]
        runs.append(straight(ends, purpose=purpose))
        return _from(at.point, runs)

    def _home(self, at: _At) -> list[Run]:
        """Return the way from the rough path of a part to its start; none from there."""
        frame = self._frames[at.number]
        if _is_same(at.point, frame.start):
            return []
        along = self._along(at.number, frame.on_rough(at.point), self._lead_mm(at.number))
        return _from(at.point, [along, self._slot(at.number).reversed()])

    def _back_to_lead(self, number: int) -> list[Run]:
        """Return the way from the start of a part to that of the one before it."""
        channel = self._string.channels[number - 1]
        ends = straight(
            [np.array(channel.end_mm), np.array(channel.branch_mm)], purpose=Purpose.RETURN
        )
        lead = self._lead_mm(number - 1)
        along = self._along(number - 1, channel.branch_station_mm, lead)
        return [ends, along, self._slot(number - 1).reversed()]

    def _lead_mm(self, number: int) -> float:
        frame = self._frames[number]
        return frame.station_on(1, frame.target.lead_station_mm)

    def _slot(self, number: int) -> Run:
        frame = self._frames[number]
        onto = frame.point_on(1, frame.target.lead_station_mm)
        return frame.lead_onto(onto, purpose=Purpose.RETURN)

    def _along(self, number: int, begin_mm: float, end_mm: float) -> Run:
        """Return the way along the rough path of a part, never over its tab."""
        frame = self._frames[number]
        loop, lead = frame.loop(1), self._lead_mm(number)
        total = loop.contour.length_mm
        here, there = ((s - lead + _SAME_MM) % total for s in (begin_mm, end_mm))
        low = begin_mm if here <= there else end_mm
        run = frame.along_loop(
            loop, begin_mm=low, length_mm=abs(there - here), purpose=Purpose.RETURN
        ).returning()
        return run if here <= there else run.reversed()


def _from(point: Floats, runs: list[Run]) -> list[Run]:
    """Return runs with the step onto the first from where the wire stands.

    An arc off a curved wall ends a micrometre or two beside the rough path.
    """
    return [straight([point, runs[0].start], purpose=Purpose.RETURN), *runs]


def _room(frame: ContourFrame) -> Floats | None:
    """Return the nearest place inside a part, straight in from its lead-in, with room to thread.

    What was inside the part is as open as the part itself; beyond its far wall is metal.
    """
    depth = np.arange(_ROOM_MM, _DEEPEST_MM, _ROOM_MM / 4)
    found: list[tuple[float, Floats]] = []
    for angle in _ANGLES_RAD:
        cos, sin = np.cos(angle), np.sin(angle)
        inwards = -np.array([[cos, -sin], [sin, cos]]) @ frame.lead.normal
        points = frame.lead.point + inwards * depth[:, None]
        near = frame.lead.point + inwards * np.linspace(_SAME_MM, _ROOM_MM, 8)[:, None]
        if not contains_points(frame.wall, near).all():
            continue
        is_inside = np.logical_and.accumulate(contains_points(frame.wall, points))
        for way, point in zip(depth[is_inside], points[is_inside], strict=True):
            _, away = nearest_station(frame.wall, (float(point[0]), float(point[1])))
            if away >= _ROOM_MM - _SAME_MM:
                found.append((float(way), point))
                break
    return min(found, key=lambda one: one[0])[1] if found else None
