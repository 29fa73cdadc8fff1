"""One pass of the wire against the wall: exact clearances and the distance along the wall.

What is exact and what is sampled:

* The clearance of a segment of the path from a segment of the wall is exact: it is the least of
  the distances of the four ends and of the interior stationary points (the foot of an arc's
  centre on a line, the line through two arcs' centres); crossing segments have clearance 0.
* The distance of a point of the wall from the path is exact.  It is evaluated at the ends and
  middle of every segment of the wall, at the stationary points of every line/arc pair, where a
  path segment begins or ends beside the wall, and half way between such neighbours.  Between
  these points the distance to one path segment has no further maximum, so the maximum over a
  segment is met exactly except where three or more path segments without a tangent joint face
  one wall segment; there it is a sample.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from kerfwright.geometry.box_tree import BoxTree, boxes_touch
from kerfwright.geometry.nearest import NearestIndex, project
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments

INSIDE_MM = 1e-3
"""Stations nearer than this to a segment's end or to one another are one: over 1 µm of wall the
distance to a smooth path changes by far less than 0.1 µm."""
LONG_REACHES = 4.0
"""A path segment this many limits long may leave the wall between two ends beside it."""
_BLOCK = 1 << 14
"""Pairs worked on at a time: measured 1.4 to 3 times as fast as 400 000 at once."""
_CROSSING_CHORDS = 32
"""Chords per arc in the crossing test; crossing segments cut to the full radius either way."""


def blocks(count: int) -> Iterator[slice]:
    """Yield slices over `count` items, small enough for the processor's cache."""
    for begin in range(0, count, _BLOCK):
        yield slice(begin, begin + _BLOCK)


def paired_distances(segments: Segments, index: Indices, points: Floats) -> Floats:
    """Return :meth:`Segments.distances`, block by block."""
    result = np.empty(len(index))
    for part in blocks(len(index)):
        result[part] = segments.distances(index[part], points[part])
    return result


@dataclass(frozen=True, eq=False)
class PassSweep:
    """The path of one pass and its neighbours on the wall.

    Parameters
    ----------
    path, wall : Segments
    wall_tree : BoxTree
    limit_mm : float
        Distances up to this are known; farther ones are ``inf``.
    """

    path: Segments
    wall: Segments
    wall_tree: BoxTree
    limit_mm: float

    @cached_property
    def index(self) -> NearestIndex:
        """Search on the path."""
        return NearestIndex(self.path)

    @cached_property
    def pairs(self) -> tuple[Indices, Indices]:
        """Path and wall segments within the limit, sorted by wall segment."""
        path, wall = self.index.tree.pairs_within(self.wall_tree, self.limit_mm)
        order = np.argsort(wall, kind="stable")
        return path[order], wall[order]

    @cached_property
    def wall_rows(self) -> Indices:
        """Start of each wall segment's pairs, (wall + 1,)."""
        return np.searchsorted(self.pairs[1], np.arange(len(self.wall) + 1))

    @cached_property
    def path_rows(self) -> tuple[Indices, Indices]:
        """Order of the pairs by path segment, and the start of each path segment's."""
        order = np.argsort(self.pairs[0], kind="stable")
        return order, np.searchsorted(self.pairs[0][order], np.arange(len(self.path) + 1))

    @cached_property
    def _open_ends(self) -> Indices:
        """Pairs whose path segment has no next one that begins where it ends."""
        follows = np.zeros(len(self.path), dtype=bool)
        follows[:-1] = (self.path.end[:-1] == self.path.start[1:]).all(axis=1)
        return np.flatnonzero(~follows[self.pairs[0]])

    @cached_property
    def _start_distances(self) -> tuple[Floats, Floats]:
        """Distance of each pair's wall start from the path segment, and the reverse.

        Ends need no evaluation: the wall is closed and a path mostly goes on, so an end is the
        start of the next segment, which is a pair as well wherever the distance matters.
        """
        path, wall = self.pairs
        return (
            paired_distances(self.path, path, self.wall.start.take(wall, axis=0)),
            paired_distances(self.wall, wall, self.path.start.take(path, axis=0)),
        )

    @cached_property
    def _stationary(self) -> tuple[Indices, Floats, Floats]:
        """Pair, fraction on the wall segment and distance of each stationary point."""
        path, wall = self.pairs
        curved = np.flatnonzero(self.path.is_arc[path] | self.wall.is_arc[wall])
        found = [
            (
                curved[part],
                *stationary_points(self.wall, wall[curved[part]], self.path, path[curved[part]]),
            )
            for part in blocks(len(curved))
        ]
        pair = np.concatenate([np.zeros(0, dtype=np.intp), *(p[rows] for p, rows, _ in found)])
        places = np.concatenate([np.zeros((0, 2)), *(points for _, _, points in found)])
        fraction = np.clip(project(self.wall, wall[pair], places), 0.0, 1.0)
        points = self.wall.points_at(wall[pair], fraction)
        return pair, fraction, paired_distances(self.path, path[pair], points)

    @cached_property
    def clearances(self) -> Floats:
        """Least distance of each pair, mm, exact but for ends that belong to the next pair."""
        path, wall = self.pairs
        gap = np.minimum(*self._start_distances)
        last = self._open_ends
        ends = paired_distances(self.wall, wall[last], self.path.end.take(path[last], axis=0))
        gap[last] = np.minimum(gap[last], ends)
        pair, _, distance = self._stationary
        np.minimum.at(gap, pair, distance)
        gap[self._crossing(gap)] = 0.0
        return gap

    @cached_property
    def leaves_wall(self) -> Flags:
        """Whether a path segment begins or ends farther from the wall than the limit.

        Of segments longer than :data:`LONG_REACHES` limits the middle is asked as well.
        """
        path, wall = self.pairs
        begins = np.zeros(len(self.path), dtype=bool)
        begins[path[self._start_distances[1] <= self.limit_mm]] = True
        ends = np.zeros(len(self.path), dtype=bool)
        ends[:-1] = begins[1:] & (self.path.end[:-1] == self.path.start[1:]).all(axis=1)
        last = self._open_ends
        away = paired_distances(self.wall, wall[last], self.path.end.take(path[last], axis=0))
        ends[path[last[away <= self.limit_mm]]] = True
        long = self.path.length > LONG_REACHES * self.limit_mm
        rows = np.flatnonzero(long[path])
        middle = self.path.points_at(path[rows], np.full(len(rows), 0.5))
        away = paired_distances(self.wall, wall[rows], middle)
        long[path[rows[away <= self.limit_mm]]] = False
        return ~(begins & ends) | long

    def _crossing(self, gap: Floats) -> Indices:
        path, wall = self.pairs
        # The start of a segment is at most its length from the crossing.
        reach = np.minimum(self.path.length[path], self.wall.length[wall])
        maybe = np.flatnonzero((gap > 0) & (gap <= reach))
        boxes = self.index.tree.levels[0][path[maybe]], self.wall_tree.levels[0][wall[maybe]]
        maybe = maybe[boxes_touch(*boxes)]
        if not len(maybe):
            return maybe
        rows = path[maybe], wall[maybe]
        hit = shapely.intersects(_chords(self.path, rows[0]), _chords(self.wall, rows[1]))
        crossed: Indices = maybe[hit]
        return crossed

    @cached_property
    def path_clearances(self) -> tuple[Floats, Indices]:
        """Clearance of each path segment and the wall segment it comes from; inf and -1."""
        path, wall = self.pairs
        gap = np.full(len(self.path), np.inf)
        nearest = np.full(len(self.path), -1, dtype=np.intp)
        order = np.argsort(-self.clearances, kind="stable")
        gap[path[order]] = self.clearances[order]
        nearest[path[order]] = wall[order]
        return gap, nearest

    @cached_property
    def start_distances(self) -> Floats:
        """Distance from each wall segment's start to the path, mm; inf beyond the limit."""
        return self._least(self._start_distances[0])

    @cached_property
    def middle_distances(self) -> Floats:
        """Distance from each wall segment's middle to the path, mm; inf beyond the limit."""
        path, wall = self.pairs
        middle = self.wall.points_at(np.arange(len(self.wall)), np.full(len(self.wall), 0.5))
        return self._least(paired_distances(self.path, path, middle.take(wall, axis=0)))

    def _least(self, per_pair: Floats) -> Floats:
        result = np.full(len(self.wall), np.inf)
        rows = self.wall_rows[:-1]
        filled = np.flatnonzero(np.diff(self.wall_rows))
        if len(filled):
            result[filled] = np.minimum.reduceat(per_pair, rows[filled])
        result[result > self.limit_mm] = np.inf
        return result

    def distances(self, index: Indices, points: Floats) -> Floats:
        """Return distances of wall points to the path, mm; inf beyond the limit.

        Parameters
        ----------
        index : (m,) int
            Wall segment on which each point lies.
        points : (m, 2) float
        """
        begin = self.wall_rows[index]
        count = self.wall_rows[index + 1] - begin
        row = np.repeat(np.arange(len(index)), count)
        first = np.cumsum(count) - count
        pair = np.arange(len(row)) - np.repeat(first - begin, count)
        each = paired_distances(self.path, self.pairs[0].take(pair), points.take(row, axis=0))
        result = np.full(len(index), np.inf)
        filled = np.flatnonzero(count)
        if len(filled):
            result[filled] = np.minimum.reduceat(each, first[filled])
        result[result > self.limit_mm] = np.inf
        return result

    def further_stations(self, threshold_mm: float) -> tuple[Indices, Floats]:
        """Return where else than at ends and middles the distance may have a maximum.

        Parameters
        ----------
        threshold_mm : float
            Stationary points no farther than this from their own path segment are left out:
            they cannot be a larger deviation.

        Returns
        -------
        (m,) int, (m,) float
            Wall segments and fractions of their length.
        """
        path, wall = self.pairs
        pair, fraction, distance = self._stationary
        far = distance > threshold_mm
        index = [wall[pair[far]]]
        where = [fraction[far]]
        every = np.arange(len(path))
        for rows, ends in ((every, self.path.start), (self._open_ends, self.path.end)):
            inside = [
                is_beside(self.wall, wall[rows[part]], ends[path[rows[part]]])
                for part in blocks(len(rows))
            ]
            beside = rows[np.concatenate([np.zeros(0, dtype=bool), *inside])]
            place = project(self.wall, wall[beside], ends[path[beside]])
            room = INSIDE_MM / np.maximum(self.wall.length[wall[beside]], INSIDE_MM)
            inner = (place > room) & (place < 1 - room)
            index.append(wall[beside[inner]])
            where.append(place[inner])
        return _with_midpoints(np.concatenate(index), np.concatenate(where), self.wall.length)


def _with_midpoints(index: Indices, where: Floats, length: Floats) -> tuple[Indices, Floats]:
    """Sort stations, drop doubles, and add the points half way between neighbours."""
    if not len(index):
        return index, where
    touched = np.flatnonzero(np.bincount(index))
    index = np.concatenate([index, touched, touched])
    where = np.concatenate([where, np.zeros(len(touched)), np.ones(len(touched))])
    order = np.lexsort((where, index))
    index, where = index[order], where[order]
    same = index[1:] == index[:-1]
    apart = (where[1:] - where[:-1]) * length[index[1:]] > INSIDE_MM
    middle = (where[1:] + where[:-1]) / 2
    gap = same & apart
    keep = np.concatenate([[True], ~same | apart])
    return (
        np.concatenate([index[keep], index[1:][gap]]),
        np.concatenate([where[keep], middle[gap]]),
    )


def stationary_points(on: Segments, i: Indices, to: Segments, j: Indices) -> tuple[Indices, Floats]:
    """Return points of the segments `on` where the distance to the carrier of `to` is stationary.

    Parameters
    ----------
    on, to : Segments
    i, j : (m,) int
        Segments paired; at least one of each pair an arc.

    Returns
    -------
    (k,) int, (k, 2) float
        Positions in `i`, and points mm; on a line or in the range of an arc.
    """
    here, there = on.is_arc[i], to.is_arc[j]
    lines = np.flatnonzero(~here & there)
    feet = to.centre[j[lines]]
    inside = is_beside(on, i[lines], feet)
    rows, points = [lines[inside]], [feet[inside]]
    arcs = np.flatnonzero(here)
    centre = on.centre[i[arcs]]
    chord = to.end[j[arcs]] - to.start[j[arcs]]
    across = np.column_stack([-chord[:, 1], chord[:, 0]])
    # The common normal of two circles, or of a circle and a line, runs through the centre.
    toward = np.where(there[arcs][:, None], to.centre[j[arcs]] - centre, across)
    for spoke in (toward, -toward):
        inside = is_beside(on, i[arcs], centre + spoke)
        rows.append(arcs[inside])
        points.append((centre + spoke)[inside])
    return np.concatenate(rows), np.concatenate(points)


def is_beside(segments: Segments, index: Indices, points: Floats) -> Flags:
    """Return whether the foot of each point lies within the segment paired with it, ends too.

    Cross products only: many times quicker than an angle, and right for arcs of any smallness.
    """
    start, end = segments.start.take(index, axis=0), segments.end.take(index, axis=0)
    arcs = segments.is_arc[index]
    along = end - start
    reach = ((points - start) * along).sum(axis=1)
    inside = (reach >= 0) & (reach <= (along * along).sum(axis=1))
    which = np.flatnonzero(arcs)
    if len(which):
        centre = segments.centre[index[which]]
        first, last, spoke = start[which] - centre, end[which] - centre, points[which] - centre
        bulge = segments.bulge[index[which]]
        sign = np.sign(bulge)
        after = (first[:, 0] * spoke[:, 1] - first[:, 1] * spoke[:, 0]) * sign >= 0
        before = (spoke[:, 0] * last[:, 1] - spoke[:, 1] * last[:, 0]) * sign >= 0
        inside[which] = np.where(np.abs(bulge) <= 1, after & before, after | before)
    result: Flags = inside
    return result


def _chords(segments: Segments, index: Indices) -> shapely.Geometry:
    steps = np.linspace(0.0, 1.0, _CROSSING_CHORDS + 1)
    which = np.repeat(index, len(steps))
    points = segments.points_at(which, np.tile(steps, len(index)))
    return shapely.linestrings(points.reshape(len(index), len(steps), 2))
