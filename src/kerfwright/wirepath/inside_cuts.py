"""The rough cut that takes the whole inside of an opening away, from the start hole outward.

Each loop is cut after all loops inside it: what is solid then always hangs together with the
plate, and no piece comes free.  Between loops the wire steps square from one to the next; where it
has to get to another part of a branching inside it cuts a way there, straight if that keeps off
the walls, else along the loops.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.intersect import cross
from kerfwright.geometry.nearest import project
from kerfwright.geometry.nested_loops import NestedLoop
from kerfwright.geometry.regions import nearest_station
from kerfwright.geometry.segments import Flags, Floats
from kerfwright.motion.moves import Moves, Purpose
from kerfwright.planning.coreless_loops import Coreless
from kerfwright.wirepath.contour_frame import ContourFrame
from kerfwright.wirepath.runs import Run, along, joined, straight

_SAME_MM = 1e-6
_SMOOTH_RAD = 0.01
"""A joint that turns by less is no corner: half a micrometre on a kerf."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Node:
    """A loop, the one around it, and those inside."""

    loop: NestedLoop
    around: _Node | None
    inner: list[_Node]

    @property
    def contour(self) -> Contour:
        return self.loop.contour

    def outward(self) -> list[_Node]:
        """Return this loop and all around it, the outermost last."""
        found, here = [self], self.around
        while here is not None:
            found.append(here)
            here = here.around
        return found


class InsideCut:
    """Draws the rough cut of an opening that leaves no slug.

    Parameters
    ----------
    frame : ContourFrame
    coreless : Coreless
    """

    def __init__(self, frame: ContourFrame, coreless: Coreless) -> None:
        self._frame = frame
        self._coreless = coreless
        self._root = _node(coreless.loops, None)
        self._runs: list[Run] = []
        self._factors: list[Floats] = []
        self._here = frame.start
        self._on: _Node | None = None
        self._station = 0.0
        self._is_convex = _is_convex(self._root.contour)
        # Arc length of the rough path opposite the lead-in.
        self._lead_mm = frame.station_on(1, frame.target.lead_station_mm)

    def moves(self) -> Moves:
        """Return the moves from the start through all loops and home."""
        for inner in self._nearest_first(self._root.inner):
            self._cut_away(inner)
        self._come_to_lead()
        self._cut_wall()
        drawn = joined(self._runs, feeds=self._frame.feeds(1))
        factors = np.concatenate([f for f in self._factors if len(f)])
        return replace(drawn, feed_mm_per_min=drawn.feed_mm_per_min * factors)

    # -- loops -----------------------------------------------------------------------------

    def _cut_away(self, node: _Node) -> None:
        """Cut all that is inside a loop, then the loop."""
        for inner in self._nearest_first(node.inner):
            self._cut_away(inner)
        if node.inner:
            self._step_to(node)
        else:
            self._go_to(node)
        begin = self._station
        in_hole = self._is_in_hole(node.contour)
        run = along(
            node.contour,
            begin_mm=begin,
            length_mm=node.contour.length_mm,
            purpose=Purpose.RETURN if in_hole else Purpose.INSIDE,
        )
        run = replace(run, start=self._here)
        step = max((one.loop.step_mm for one in node.inner), default=0.0)
        if in_hole or not step or self._coreless.feed_factor(step) == 1:
            self._add(run)
            return
        paced, is_steady = _paced(run, step, self._coreless.kerf_mm / 2)
        self._add(paced)
        self._factors[-1] = np.where(is_steady, self._coreless.feed_factor(step), 1.0)

    def _nearest_first(self, nodes: list[_Node]) -> Iterator[_Node]:
        """Yield loops, each time the one nearest to where the wire is then."""
        left = list(nodes)
        while len(left) > 1:
            best = min(left, key=lambda n: nearest_station(n.contour, _pair(self._here))[1])
            left.remove(best)
            yield best
        yield from left

    def _is_in_hole(self, contour: Contour) -> bool:
        """Return whether a loop takes nothing: its kerf lies where the start hole surely is."""
        room = self._coreless.sure_hole_mm - self._coreless.kerf_mm / 2
        if room <= 0:
            return False
        s, start = contour.segments, self._frame.start
        ends = np.hypot(*(s.start - start).T)
        # No point of an arc is farther than its circle's farthest.
        arcs = np.hypot(*(s.centre[s.is_arc] - start).T) + s.radius[s.is_arc]
        return float(np.concatenate([ends, arcs]).max()) <= room

    # -- ways ------------------------------------------------------------------------------

    def _step_to(self, node: _Node) -> None:
        """Step square from a loop to the one around it."""
        across = None if self._on is None else self._across(self._on, node)
        self._straight_to(self._foot(node.contour) if across is None else across)
        self._on = node

    def _go_to(self, node: _Node) -> None:
        """Cut a way to an innermost loop."""
        onto = self._foot(node.contour)
        first = self._on is None
        if self._is_clear([self._here, onto]):
            self._straight_to(onto, Purpose.LEAD_IN if first else Purpose.INSIDE)
            self._on = node
            return
        here = self._on if self._on is not None else self._enter()
        inward = node.outward()
        inward = inward[: inward.index(self._root) + 1]
        for one in here.outward():
            if one is not here:
                self._step_to(one)
            if one in inward:
                break
        for one in reversed(inward[: inward.index(self._on or self._root)]):
            self._step_into(one)

    def _enter(self) -> _Node:
        """Come from the start to the nearest loop that a straight way reaches."""
        nodes = sorted(_every(self._root), key=lambda n: self._away(n.contour))
        for node in nodes:
            onto = _nearest(node.contour, self._here)
            if self._is_clear([self._here, onto]):
                self._straight_to(onto, Purpose.LEAD_IN)
                self._on = node
                return node
        # The lead-in was found clear when it was placed.
        self._add(self._lead_line())
        self._on = self._root
        return self._root

    def _step_into(self, node: _Node) -> None:
        """Go along the loop around one to where that is nearest, and step onto it."""
        assert node.around is not None
        onto = _nearest(node.contour, self._here)
        self._along_to(node.around.contour, _nearest(node.around.contour, onto), Purpose.INSIDE)
        self._straight_to(self._foot(node.contour))
        self._on = node

    def _come_to_lead(self) -> None:
        """Come to the wire's path along the wall where the lead-in is planned."""
        contour = self._frame.loop(1).contour
        lead = contour.points_at(np.array([self._lead_mm]))[0]
        if self._on is None:
            self._add(self._lead_line())
            return
        # Along a loop that is open, then across what is left.
        self._along_to(self._on.contour, _nearest(self._on.contour, lead), Purpose.RETURN)
        if not self._is_clear([self._here, lead]):
            self._straight_to(_nearest(contour, self._here))
            self._along_to(contour, lead, Purpose.INSIDE)
        self._straight_to(lead)

    def _cut_wall(self) -> None:
        """Cut along the wall, all round and a little over, and go home through the open."""
        frame, loop = self._frame, self._frame.loop(1)
        body = frame.along_loop(
            loop, begin_mm=self._lead_mm, length_mm=loop.contour.length_mm, purpose=Purpose.WALL
        )
        over = min(frame.plan.rules.overlap_mm, loop.contour.length_mm / 8)
        rest = along(loop.contour, begin_mm=self._lead_mm, length_mm=over, purpose=Purpose.OVERLAP)
        self._add(replace(body, start=self._here), rest)
        if self._is_clear([self._here, frame.start]):
            self._straight_to(frame.start, Purpose.RETURN)
            return
        for run in (rest, self._lead_line()):
            self._add(run.reversed().returning())

    def _lead_line(self) -> Run:
        onto = self._frame.loop(1).contour.points_at(np.array([self._lead_mm]))[0]
        return self._frame.lead_onto(onto, purpose=Purpose.LEAD_IN)

    # -- pieces ----------------------------------------------------------------------------

    def _across(self, inner: _Node, node: _Node) -> Floats | None:
        """Return the point square across on the same segment of a loop of the same shape, if so.

        Much quicker than a search through all segments.
        """
        s, n = node.contour.segments, len(inner.contour)
        if inner.around is not node or len(s) != n:
            return None
        segment, _ = inner.contour.locate(np.array([self._station]))
        share = np.clip(project(s, segment, self._here[None, :]), 0.0, 1.0)
        foot: Floats = s.points_at(segment, share)[0]
        if abs(math.dist(foot, self._here) - inner.loop.step_mm) > _SAME_MM:
            return None
        k = int(segment[0])
        self._station = float(node.contour.stations_mm[k] + share[0] * s.length[k])
        return foot

    def _foot(self, contour: Contour) -> Floats:
        """Return the point of a loop nearest to the wire, and keep its arc length."""
        self._station, _ = nearest_station(contour, _pair(self._here))
        foot: Floats = contour.points_at(np.array([self._station]))[0]
        return foot

    def _away(self, contour: Contour) -> float:
        return nearest_station(contour, _pair(self._here))[1]

    def _is_clear(self, points: list[Floats]) -> bool:
        if self._is_convex:
            # Both ends lie in the path along the wall, or on it.
            return True
        way = straight(points, purpose=Purpose.INSIDE)
        return not len(way.turn) or self._frame.is_clear(way, offset_mm=self._frame.offset(1))

    def _straight_to(self, onto: Floats, purpose: Purpose = Purpose.INSIDE) -> None:
        self._add(straight([self._here, onto], purpose=purpose))

    def _along_to(self, contour: Contour, onto: Floats, purpose: Purpose) -> None:
        """Go along a loop, the shorter way round."""
        begin, end = (nearest_station(contour, _pair(p))[0] for p in (self._here, onto))
        ahead = (end - begin) % contour.length_mm
        if min(ahead, contour.length_mm - ahead) <= _SAME_MM:
            return
        if ahead <= contour.length_mm / 2:
            run = along(contour, begin_mm=begin, length_mm=ahead, purpose=purpose)
        else:
            back = contour.length_mm - ahead
            run = along(contour, begin_mm=end, length_mm=back, purpose=purpose).reversed()
        self._add(replace(run, start=self._here))

    def _add(self, *runs: Run) -> None:
        for run in runs:
            if len(run.turn):
                self._runs.append(run)
                self._factors.append(np.ones(len(run.turn)))
                self._here = run.last


def _paced(run: Run, step_mm: float, radius_mm: float) -> tuple[Run, Flags]:
    """Return a closed run cut where its front is steadily as wide as the step, and where it is so.

    Towards a corner of the inside, and away from it, more of the front is in metal: from where the
    loop inside turns, and a kerf radius before.
    """
    begin = run.begins()
    first, last = _tangents(run, begin)
    heading, onward = last, np.roll(first, -1, axis=0)
    turn = np.arctan2(cross(heading, onward), (heading * onward).sum(axis=1))
    sharp = np.maximum(-turn, 0.0)
    zone = np.where(sharp > _SMOOTH_RAD, step_mm * np.tan(sharp / 2) + radius_mm, 0.0)
    length = np.hypot(*(run.end - begin).T)
    head, tail = np.roll(zone, 1), zone
    splits = (run.turn == 0) & (length - head - tail > radius_mm)
    whole = (head == 0) & (tail == 0)
    ends, source, steady = [], [], []
    for k in range(len(run.turn)):
        along_mm = (run.end[k] - begin[k]) / max(length[k], TINY)
        if splits[k] and head[k] > 0:
            ends.append(begin[k] + along_mm * head[k])
            source.append(k)
            steady.append(False)
        if splits[k] and tail[k] > 0:
            ends.append(run.end[k] - along_mm * tail[k])
            source.append(k)
            steady.append(True)
        ends.append(run.end[k])
        source.append(k)
        steady.append(bool(whole[k] or (splits[k] and tail[k] == 0)))
    at = np.array(source, dtype=np.intp)
    cut = Run(
        start=run.start,
        end=np.array(ends),
        centre=run.centre[at],
        turn=run.turn[at],
        purpose=run.purpose[at],
        source=run.source[at],
    )
    return cut, np.array(steady)


def _tangents(run: Run, begin: Floats) -> tuple[Floats, Floats]:
    """Return the directions of travel at the begin and the end of each piece."""
    chord = run.end - begin
    found = []
    for points in (begin, run.end):
        spoke = points - run.centre
        round_ = np.column_stack([-spoke[:, 1], spoke[:, 0]]) * run.turn[:, None]
        found.append(np.where((run.turn == 0)[:, None], chord, round_))
    return found[0], found[1]


def _is_convex(path: Contour) -> bool:
    """Return whether a path with its inside on the right turns right only."""
    s = path.segments
    heading, onward = s.end_tangent, np.roll(s.start_tangent, -1, axis=0)
    return bool((s.sweep <= 0).all() and (cross(heading, onward) <= 0).all())


def _node(loop: NestedLoop, around: _Node | None) -> _Node:
    node = _Node(loop=loop, around=around, inner=[])
    node.inner.extend(_node(one, node) for one in loop.inner)
    return node


def _every(node: _Node) -> Iterator[_Node]:
    yield node
    for one in node.inner:
        yield from _every(one)


def _pair(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _nearest(contour: Contour, point: Floats) -> Floats:
    """Return the point of a loop nearest to another."""
    station, _ = nearest_station(contour, _pair(point))
    near: Floats = contour.points_at(np.array([station]))[0]
    return near
