"""Exact distance between two contours of lines and arcs."""

from __future__ import annotations

import math

import numpy as np

from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.box_tree import BoxTree
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import crossings_between
from kerfwright.geometry.intersect import meet_pairs
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Indices, Segments

Point = tuple[float, float]


def separation(one: Contour, other: Contour) -> tuple[float, Point]:
    """Return the least distance between two contours and where it is met.

    Two segments are nearest at an end of one of them, or where a common normal stands on both:
    that normal passes through the centre of every arc it stands on.  So the candidates are all
    ends, the feet of each arc's centre on the other's lines, and the points in which the line of
    two centres meets their circles; of each the exact distance to the other contour is taken.

    Parameters
    ----------
    one, other : Contour
        One inside the other counts as apart: only the lines themselves are compared.

    Returns
    -------
    distance_mm : float
        0 where they cross, touch or overlap.
    point_mm : (float, float)
        On ``other``, where the distance is met.

    Examples
    --------
    >>> disc = Contour.circle((0.0, 0.0), radius_mm=2.0)
    >>> bar = Contour.from_rows([(5, -9), (7, -9), (7, 9), (5, 9)])
    >>> separation(disc, bar)
    (3.0, (5.0, 0.0))
    """
    met = crossings_between((one, other))
    if met:
        return 0.0, (met[0].x_mm, met[0].y_mm)
    a, b = one.segments, other.segments
    near_b, _ = NearestIndex(a).query(_ends(b))
    near_a, which = NearestIndex(b).query(_ends(a))
    k, j = int(np.argmin(near_b)), int(np.argmin(near_a))
    best, place = float(near_b[k]), _ends(b)[k]
    if near_a[j] < best:
        best = float(near_a[j])
        place, _ = NearestIndex(b).closest_points(_ends(a)[j : j + 1], which[j : j + 1])
        place = place[0]
    first, second = BoxTree.from_segments(a).pairs_within(BoxTree.from_segments(b), best)
    for index, points in _normals(a, b, first, second):
        distance = _to_both(a, b, index, points)
        if len(distance) and distance.min() < best:
            k = int(np.argmin(distance))
            best, place = float(distance[k]), points[k]
    return best, (float(place[0]), float(place[1]))


Boxes = tuple[Floats, Floats, Floats, Floats]
_MEETING_MM = 1e-3
"""Segments whose boxes are farther apart than this do not meet, whatever slack they have."""


def nearness(
    a: Segments, b: Segments, *, limit_mm: float, boxes: Boxes | None = None
) -> tuple[float, float]:
    """Return how near segments of one set come to those of another, as far as a limit asks.

    Exact, by the candidates of :func:`separation`: ends, common normals, meetings.  Meant for few
    segments against some hundreds: the pairs are found by comparing all boxes.

    Parameters
    ----------
    a, b : Segments
        In any order, joined or not.
    limit_mm : float
        Above 0.
    boxes : tuple of (n,) float, optional
        Those of ``b``, where they are known already.

    Returns
    -------
    ends_mm : float
        Least distance of the ends of ``a``; infinite, or any value not below the limit, where
        they keep it.
    least_mm : float
        Least distance of all, likewise.  Where the ends are below the limit it is that of the
        ends, and of segments that cross it may be any value below the limit.

    Examples
    --------
    >>> bar = Contour.from_rows([(5, -9), (7, -9), (7, 9), (5, 9)]).segments
    >>> disc = Contour.circle((0.0, 0.0), radius_mm=2.0).segments
    >>> nearness(disc, bar, limit_mm=3.5)
    (3.0, 3.0)
    """
    theirs = b.boxes() if boxes is None else boxes
    x0, y0, x1, y1 = theirs
    mine = a.boxes()
    low_x, low_y = (side[:, None] - limit_mm for side in mine[:2])
    high_x, high_y = (side[:, None] + limit_mm for side in mine[2:])
    first, second = np.nonzero((low_x <= x1) & (high_x >= x0) & (low_y <= y1) & (high_y >= y0))
    if not len(first):
        return math.inf, math.inf
    ends = _from_ends(b, second, a, first)
    if ends < limit_mm:
        return ends, ends
    least = _from_ends(a, first, b, second)
    for index, points in _normals(a, b, first, second):
        if len(points):
            least = min(least, float(_to_both(a, b, index, points).min()))
    if least >= limit_mm and _meet(a, b, first, second, mine, theirs):
        least = 0.0
    return ends, min(ends, least)


def _from_ends(to: Segments, which: Indices, of: Segments, whose: Indices) -> float:
    """Return the least distance of the ends of some segments to those they are paired with."""
    points = np.concatenate([of.start[whose], of.end[whose]])
    return float(to.distances(np.concatenate([which, which]), points).min())


def _meet(
    a: Segments, b: Segments, first: Indices, second: Indices, mine: Boxes, theirs: Boxes
) -> bool:
    """Return whether any pair of segments meets; only those are asked whose boxes do."""
    near = (mine[0][first] <= theirs[2][second] + _MEETING_MM) & (
        mine[2][first] >= theirs[0][second] - _MEETING_MM
    )
    near &= (mine[1][first] <= theirs[3][second] + _MEETING_MM) & (
        mine[3][first] >= theirs[1][second] - _MEETING_MM
    )
    if not near.any():
        return False
    every = Segments.joined([a, b])
    return len(meet_pairs(every, first[near], second[near] + len(a))) > 0


def _ends(s: Segments) -> Floats:
    return np.concatenate([s.start, s.end[-1:]])


def _normals(
    a: Segments, b: Segments, first: Indices, second: Indices
) -> list[tuple[tuple[Indices, Indices], Floats]]:
    """Return for each kind of pair the points on b's carriers where a common normal may stand."""
    found = []
    arc_a, arc_b = a.is_arc[first], b.is_arc[second]
    i, j = first[arc_a & ~arc_b], second[arc_a & ~arc_b]
    found.append(((i, j), _feet(b, j, a.centre[i])))
    i, j = first[~arc_a & arc_b], second[~arc_a & arc_b]
    found.append(((i, j), _toward(b, j, _feet(a, i, b.centre[j]), 1.0)))
    i, j = first[arc_a & arc_b], second[arc_a & arc_b]
    found += [((i, j), _toward(b, j, a.centre[i], sign)) for sign in (1.0, -1.0)]
    return found


def _feet(lines: Segments, index: Indices, points: Floats) -> Floats:
    """Return where perpendiculars from points meet the lines they are paired with, or beyond."""
    start = lines.start[index]
    along = lines.end[index] - start
    share = ((points - start) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), TINY)
    feet: Floats = start + along * share[:, None]
    return feet


def _toward(arcs: Segments, index: Indices, points: Floats, sign: float) -> Floats:
    """Return the points of circles on the side of points, or opposite to them."""
    centre = arcs.centre[index]
    away = points - centre
    unit = away / np.maximum(np.hypot(away[:, 0], away[:, 1]), TINY)[:, None]
    found: Floats = centre + sign * unit * arcs.radius[index][:, None]
    return found


def _to_both(a: Segments, b: Segments, pairs: tuple[Indices, Indices], points: Floats) -> Floats:
    """Return the distance of each point to its segment of a, plus how far it lies off that of b.

    A point off its segment of b is no candidate; its sum is never below the true distance.
    """
    i, j = pairs
    if not len(i):
        return np.empty(0)
    sums: Floats = a.distances(i, points) + b.distances(j, points)
    return sums
