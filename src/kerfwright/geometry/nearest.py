"""Exact nearest line or arc of a set of segments, and the side on which a point lies.

A k-d tree over end and middle points gives a first distance; the box tree then finds every
segment that could be nearer, so the answer is that of a search through all segments.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from scipy.spatial import cKDTree

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.box_tree import BoxTree, point_gaps_squared
from kerfwright.geometry.segments import Floats, Indices, Segments

_BLOCK = 1 << 15
"""Points answered at a time: bounds the memory of a search, measured fastest of 2^13 … 2^18."""
_SLACK_MM = 1e-12
"""Rounding of a box distance; without it a box exactly at the bound could be dropped."""


class NearestIndex:
    """Answers which segment is nearest to each of many points, exactly.

    Parameters
    ----------
    segments : Segments
        At least one.

    Raises
    ------
    InputError
        If there are no segments.
    """

    def __init__(self, segments: Segments) -> None:
        if not len(segments):
            raise InputError("a search for the nearest needs segments", code="nearest-empty")
        self.segments = segments

    @cached_property
    def boxes(self) -> tuple[Floats, Floats, Floats, Floats]:
        """The box of each segment."""
        return self.segments.boxes()

    @cached_property
    def tree(self) -> BoxTree:
        """The boxes of the segments."""
        return BoxTree.from_segments(self.segments)

    @cached_property
    def _guide(self) -> cKDTree:
        n = len(self.segments)
        index = np.tile(np.arange(n), 2)
        fraction = np.repeat([0.0, 0.5], n)
        points = self.segments.points_at(index, fraction)
        return cKDTree(np.concatenate([points, self.segments.end]), balanced_tree=False)

    def query(self, points: Floats) -> tuple[Floats, Indices]:
        """Return distance and index of the nearest segment of each point.

        Parameters
        ----------
        points : (m, 2) float
            Points, mm.

        Returns
        -------
        (m,) float, (m,) int
            Exact distances in mm and indices; of equally near segments any one.
        """
        points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        distance = np.empty(len(points))
        index = np.empty(len(points), dtype=np.intp)
        for begin in range(0, len(points), _BLOCK):
            part = slice(begin, begin + _BLOCK)
            distance[part], index[part] = self._query_block(points[part])
        return distance, index

    def _query_block(self, points: Floats) -> tuple[Floats, Indices]:
        n = len(self.segments)
        _, sample = self._guide.query(points)
        guess = np.asarray(sample, dtype=np.intp) % n
        bound = self.segments.distances(guess, points)
        who, node = self._candidates(points, bound + _SLACK_MM)
        exact = self.segments.distances(node, points.take(who, axis=0))
        best, index = bound.copy(), guess.copy()
        # Of the candidates of a point the last one written wins; farthest first, nearest last.
        order = np.argsort(-exact, kind="stable")
        order = order[exact[order] < bound[who[order]]]
        best[who[order]], index[who[order]] = exact[order], node[order]
        return best, index

    def _candidates(self, points: Floats, bound: Floats) -> tuple[Indices, Indices]:
        levels, squared = self.tree.levels, bound * bound
        top = len(levels[-1])
        who = np.repeat(np.arange(len(points)), top)
        node = np.tile(np.arange(top), len(points))
        for depth in range(len(levels) - 1, -1, -1):
            if depth < len(levels) - 1:
                who = np.concatenate([who, who])
                node = np.concatenate([2 * node, 2 * node + 1])
                exists = np.flatnonzero(node < len(levels[depth]))
                who, node = who.take(exists), node.take(exists)
            gaps = point_gaps_squared(levels[depth].take(node, axis=0), points.take(who, axis=0))
            near = np.flatnonzero(gaps <= squared.take(who))
            who, node = who.take(near), node.take(near)
        return who, node

    def closest_points(self, points: Floats, index: Indices) -> tuple[Floats, Floats]:
        """Return the nearest point on the segment paired with each point, and its fraction.

        Parameters
        ----------
        points : (m, 2) float
        index : (m,) int

        Returns
        -------
        (m, 2) float, (m,) float
            Points in mm and fractions 0..1 of the segments' length.
        """
        fraction = np.clip(project(self.segments, index, points), 0.0, 1.0)
        return self.segments.points_at(index, fraction), fraction


def project(segments: Segments, index: Indices, points: Floats) -> Floats:
    """Return where each point falls on the line or circle of the segment paired with it.

    Parameters
    ----------
    segments : Segments
    index : (m,) int
    points : (m, 2) float

    Returns
    -------
    (m,) float
        Fraction of the segment's length, below 0 before its start and above 1 after its end; on
        an arc the nearer side of the gap decides which.
    """
    start = segments.start.take(index, axis=0)
    along = segments.end.take(index, axis=0) - start
    squared = (along * along).sum(axis=1)
    fraction = ((points - start) * along).sum(axis=1) / np.maximum(squared, TINY)
    arcs = np.flatnonzero(segments.is_arc.take(index))
    if len(arcs):
        which = index.take(arcs)
        centre = segments.centre.take(which, axis=0)
        first = segments.start.take(which, axis=0) - centre
        spoke = points.take(arcs, axis=0) - centre
        turn = np.arctan2(
            first[:, 0] * spoke[:, 1] - first[:, 1] * spoke[:, 0], (first * spoke).sum(axis=1)
        )
        sweep = np.abs(segments.sweep[which])
        turn = turn * np.sign(segments.sweep[which]) - sweep / 2
        # Angles measured from the middle of the arc: the cut lies opposite, outside the arc.
        turn = np.mod(turn + np.pi, 2 * np.pi) - np.pi
        fraction[arcs] = (turn + sweep / 2) / sweep
    result: Floats = fraction
    return result


def sides(
    segments: Segments, index: Indices, points: Floats, *, before: Indices, after: Indices
) -> Floats:
    """Return on which side of its nearest segment each point lies.

    Inside a segment the side is exact.  At a joint it is decided by the sum of the normals of the
    two segments that meet (the angle-weighted pseudo-normal of Baerentzen and Aanaes, IEEE
    Transactions on Visualization and Computer Graphics 11(3), 2005, from memory; in the plane
    both weights are equal).

    Parameters
    ----------
    segments : Segments
    index : (m,) int
        Nearest segment of each point.
    points : (m, 2) float
    before, after : (n,) int
        The segment that comes before and after each segment on its contour.

    Returns
    -------
    (m,) float
        +1 right of travel, −1 left of travel, 0 on the segment.
    """
    fraction = project(segments, index, points)
    clipped = np.clip(fraction, 0.0, 1.0)
    foot = segments.points_at(index, clipped)
    tangent = segments.tangents_at(index, clipped)
    at_start, at_end = fraction <= 0.0, fraction >= 1.0
    tangent[at_start] = (
        segments.start_tangent[index[at_start]] + segments.end_tangent[before[index[at_start]]]
    )
    tangent[at_end] = (
        segments.end_tangent[index[at_end]] + segments.start_tangent[after[index[at_end]]]
    )
    away = points - foot
    result: Floats = np.sign(tangent[:, 1] * away[:, 0] - tangent[:, 0] * away[:, 1])
    return result
