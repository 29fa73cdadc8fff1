"""Regions bounded by contours: what lies inside, how far off, and where a circle fits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.intersect import cross, fractions_of
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments

_PAIRS_AT_ONCE = 1 << 21
"""Point-segment pairs up to which no index is worth building."""
_COARSEST_STEP_RAD = math.pi / 8
_WITHIN_MM = 1e-3
"""How near the largest circle is sought: a tenth of a usual wire tolerance."""
_FEASIBLE_SHARE = 1e-3
"""Share of a step by which a corner of the linear programme may miss a plane: rounding."""
_SEED_MM = 1e-3
"""Tolerance of the polygon search that starts the exact one."""
_SEED_CHORD_MM = 1e-4
"""Chord error of that polygon: thin webs between holes must not close."""
_SETTLED_MM = 1e-7
"""Step at which the search for a circle ends."""
_STEPS = 200
_SECTORS = 12
"""Walls kept for a step, one for each direction; three decide a circle."""


def flattened(contour: Contour, *, chord_error_mm: float) -> Floats:
    """Return points on a contour whose chords leave it by at most an error.

    Parameters
    ----------
    contour : Contour
    chord_error_mm : float
        Largest distance between chord and arc, mm.

    Returns
    -------
    (m, 2) float
        The start of every chord, mm; of an open chain also the last end.
    """
    s = contour.segments
    count = np.ones(len(s), dtype=np.intp)
    arcs = s.is_arc
    # The sagitta by half the angle: 1 - e/r is exactly 1 on arcs that are all but straight.
    step = 4 * np.arcsin(np.sqrt(np.minimum(chord_error_mm / (2 * s.radius[arcs]), 1.0)))
    step = np.minimum(step, 2 * _COARSEST_STEP_RAD)
    count[arcs] = np.ceil(np.abs(s.sweep[arcs]) / step).astype(np.intp)
    count = np.maximum(count, 1)
    index = np.repeat(np.arange(len(s)), count)
    within = np.arange(len(index)) - np.repeat(np.cumsum(count) - count, count)
    points = s.points_at(index, within / count[index])
    return points if contour.is_closed else np.vstack([points, s.end[-1:]])


def _require_closed(contour: Contour) -> None:
    if not contour.is_closed:
        x, y = contour.vertices[0, :2]
        raise InputError(
            "an open chain has no inside.",
            code="region-open",
            where=f"chain from {place_words(x, y)}",
            remedy="Close the contour.",
        )


def _flips(s: Segments, segment: Indices, point: Floats) -> Flags:
    """Tell for each pair whether the segment changes "inside" for the point.

    A ray to +X flips at the chord, and the cap between chord and arc flips once more.  Both
    ask on which side of the chord the point lies and take the same answer, so no rounding
    lets them disagree.
    """
    start, end = s.start[segment], s.end[segment]
    side = cross(end - start, point - start)
    is_upward = end[:, 1] > start[:, 1]
    # On the line of a level chord a point counts as above it, as the half-open test has it.
    level_left = (end[:, 1] == start[:, 1]) & (end[:, 0] > start[:, 0])
    is_left = (side > 0) | ((side == 0) & level_left)
    spans = (start[:, 1] > point[:, 1]) != (end[:, 1] > point[:, 1])
    flips = spans & (is_left == is_upward)
    arcs = np.flatnonzero(s.is_arc[segment])
    which = segment[arcs]
    spoke = point[arcs] - s.centre[which]
    in_circle = np.hypot(spoke[:, 0], spoke[:, 1]) < s.radius[which]
    flips[arcs] ^= in_circle & (is_left[arcs] != (s.bulge[which] > 0))
    return np.asarray(flips)


def contains_points(contour: Contour, points: Floats) -> Flags:
    """Tell which points lie inside a closed contour, arcs taken exactly.

    Parameters
    ----------
    contour : Contour
        Closed, travelled either way.
    points : (m, 2) float
        Points, mm.

    Returns
    -------
    (m,) bool
        A point on the contour itself may go either way.

    Raises
    ------
    InputError
        ``region-open``.

    Examples
    --------
    >>> circle = Contour.circle((0.0, 0.0), radius_mm=1.0)
    >>> contains_points(circle, np.array([[0.99, 0.0], [0.8, 0.8]])).tolist()
    [True, False]
    """
    _require_closed(contour)
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    s = contour.segments
    x0, y0, x1, y1 = s.boxes()
    inside = np.zeros(len(points), dtype=bool)
    if len(points) * len(s) <= _PAIRS_AT_ONCE:
        px, py = points[:, :1], points[:, 1:]
        row, segment = np.nonzero((y0 <= py) & (py <= y1) & (x1 >= px))
    else:
        tree = shapely.STRtree(shapely.box(x0, y0, x1, y1))
        far = np.maximum(points[:, 0], x1.max())
        row, segment = tree.query(shapely.box(points[:, 0], points[:, 1], far, points[:, 1]))
    flips = _flips(s, segment, points[row])
    inside[:] = np.bincount(row[flips], minlength=len(points)) % 2 == 1
    return inside


def is_inside(inner: Contour, outer: Contour) -> bool:
    """Tell whether a contour lies inside another that it does not cross.

    Seven points along the inner contour vote, so that a few that touch do no harm.

    Parameters
    ----------
    inner, outer : Contour
        Free of crossings with each other: see `crossing.crossings_between`.

    Returns
    -------
    bool
    """
    x0, y0, x1, y1 = inner.bounds_mm
    u0, v0, u1, v1 = outer.bounds_mm
    if x0 < u0 or y0 < v0 or x1 > u1 or y1 > v1:
        return False
    # Uneven steps: even ones would fall on the same feature of every tooth.
    share = np.array([0.03, 0.17, 0.29, 0.46, 0.61, 0.73, 0.89])
    votes = contains_points(outer, inner.points_at(share * inner.length_mm))
    return 2 * int(votes.sum()) > len(share)


def _feet(s: Segments, index: Indices, point: Floats) -> tuple[Floats, Floats]:
    """Return the nearest fraction on each segment and the point there."""
    points = np.broadcast_to(point, (len(index), 2))
    fraction = np.clip(fractions_of(s, index, points), 0.0, 1.0)
    return fraction, s.points_at(index, fraction)


def nearest_station(contour: Contour, point_mm: tuple[float, float]) -> tuple[float, float]:
    """Return where on a contour the nearest point lies.

    Parameters
    ----------
    contour : Contour
    point_mm : (float, float)

    Returns
    -------
    station_mm : float
        Arc length from the first vertex, mm.
    distance_mm : float
        Exact distance, mm.

    Examples
    --------
    >>> square = Contour.from_rows([(0, 0), (10, 0), (10, 10), (0, 10)])
    >>> nearest_station(square, (12.0, 3.0))
    (13.0, 2.0)
    """
    s = contour.segments
    point = np.array([point_mm], dtype=np.float64)
    spoke = s.start - point
    to_start = np.hypot(spoke[:, 0], spoke[:, 1])
    # No segment comes nearer than its start by more than its length.
    index = np.flatnonzero(to_start - s.length <= to_start.min() + _SETTLED_MM)
    distance = s.distances(index, point)
    least = int(distance.argmin())
    nearest = int(index[least])
    fraction = float(fractions_of(s, index[least : least + 1], point)[0])
    station = contour.stations_mm[nearest] + min(max(fraction, 0.0), 1.0) * s.length[nearest]
    return float(station), float(distance[least])


def clearance(point_mm: tuple[float, float], contours: Sequence[Contour]) -> float:
    """Return the distance from a point to the nearest of several contours.

    Parameters
    ----------
    point_mm : (float, float)
    contours : sequence of Contour

    Returns
    -------
    float
        Distance to the line, inside or outside, mm; infinite without contours.
    """
    return min((nearest_station(c, point_mm)[1] for c in contours), default=math.inf)


def _seed(outer: Contour, holes: Sequence[Contour], within_mm: float) -> Floats:
    """Return the centre that a polygon of small chord error gives."""
    polygon = shapely.Polygon(
        flattened(outer, chord_error_mm=_SEED_CHORD_MM),
        [flattened(hole, chord_error_mm=_SEED_CHORD_MM) for hole in holes],
    )
    x, y = outer.vertices[0, :2]
    if not polygon.is_valid or polygon.area <= 0:
        raise InputError(
            f"no circle fits: {shapely.is_valid_reason(polygon)}.",
            code="region-invalid",
            where=f"contour from {place_words(x, y)}",
            remedy="Mend crossings, and give only holes that lie inside.",
        )
    radius = shapely.maximum_inscribed_circle(polygon, tolerance=max(_SEED_MM, within_mm))
    return np.asarray(shapely.get_coordinates(radius)[0], dtype=np.float64)


def _best_step(distance: Floats, away: Floats, step_mm: float) -> Floats:
    """Return the move within a square that lifts the lowest of the planes d + g·Δ the most.

    Three constraints meet in the optimum of this linear programme; with a dozen of them, four
    of the square included, all triples are tried at once.
    """
    # Rows (g, -1 | -d): g·Δ - ρ >= -d; the square's rows have no ρ.
    square = np.array([[1.0, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0]])
    rows = np.vstack([np.column_stack([away, -np.ones(len(away))]), square])
    limits = np.concatenate([-distance, np.full(4, -step_mm)])
    triples = np.array(list(combinations(range(len(rows)), 3)))
    matrices = rows[triples]
    usable = np.abs(np.linalg.det(matrices)) > 1e3 * np.finfo(np.float64).eps
    corners = np.linalg.solve(matrices[usable], limits[triples[usable]][..., None])[..., 0]
    slack = corners @ rows.T - limits
    feasible = (slack > -_FEASIBLE_SHARE * step_mm).all(axis=1)
    if not feasible.any():
        return np.zeros(2)
    best = int(np.argmax(np.where(feasible, corners[:, 2], -np.inf)))
    return np.asarray(corners[best, :2])


def _walls(s: Segments, index: Indices, centre: Floats, reach_mm: float) -> tuple[Floats, Floats]:
    """Return the nearest wall in each of several directions: distances, and unit moves away."""
    _, foot = _feet(s, index, centre)
    away = centre - foot
    distance = np.hypot(away[:, 0], away[:, 1])
    rows = np.flatnonzero(distance <= distance.min() + reach_mm)
    away, distance = away[rows] / np.maximum(distance[rows], TINY)[:, None], distance[rows]
    angle = np.arctan2(away[:, 1], away[:, 0])
    sector = np.floor((angle + math.pi) / (2 * math.pi) * _SECTORS)
    order = np.lexsort((distance, sector))
    first = np.append(True, np.diff(sector[order]) > 0)
    chosen = order[first]
    return distance[chosen], away[chosen]


def largest_inscribed_circle(
    outer: Contour, holes: Sequence[Contour] = (), *, within_mm: float = _WITHIN_MM
) -> tuple[float, float, float]:
    """Find the largest circle inside a contour and clear of its holes.

    GEOS finds the place in a polygon; from there exact distances to lines and arcs are raised
    by linear programmes in a shrinking square until no move helps.

    Parameters
    ----------
    outer : Contour
        Closed, travelled either way.
    holes : sequence of Contour
        Closed contours inside it.
    within_mm : float
        How much smaller than the largest the circle may be; coarse answers are quicker,
        much so along a slot, where the best place is not unique.

    Returns
    -------
    x_mm, y_mm, radius_mm : float
        The radius is the exact clearance of the centre and within `within_mm` of the largest.

    Raises
    ------
    InputError
        ``region-open`` or ``region-invalid``.

    Examples
    --------
    >>> plate = Contour.from_rows([(0, 0), (20, 0), (20, 10), (0, 10)])
    >>> x, y, radius = largest_inscribed_circle(plate, [Contour.circle((5, 5), radius_mm=4)])
    >>> round(y, 4), round(radius, 4)
    (5.0, 5.0)
    """
    for contour in (outer, *holes):
        _require_closed(contour)
    s = Segments.joined([c.segments for c in (outer, *holes)])
    centre = _seed(outer, holes, within_mm)
    every = np.arange(len(s))
    radius = float(s.distances(every, np.broadcast_to(centre, (len(s), 2))).min())
    if within_mm > _SEED_MM:
        return float(centre[0]), float(centre[1]), radius
    step = 4 * _SEED_MM
    # Only walls that the search can come near matter from here on.
    x0, y0, x1, y1 = s.boxes()
    apart_x = np.maximum(np.maximum(x0 - centre[0], centre[0] - x1), 0.0)
    apart_y = np.maximum(np.maximum(y0 - centre[1], centre[1] - y1), 0.0)
    near = np.flatnonzero(np.hypot(apart_x, apart_y) <= radius + 4 * _STEPS * step)
    for _ in range(_STEPS):
        if step < _SETTLED_MM:
            break
        move = _best_step(*_walls(s, near, centre, 3 * step), step)
        moved = centre + move
        reached = float(s.distances(near, np.broadcast_to(moved, (len(near), 2))).min())
        if reached > radius + _SETTLED_MM / 100:
            # Along a curved ridge each step gains little: go on while it gains at all.
            centre, radius = moved, reached
            continue
        step /= 4
    return float(centre[0]), float(centre[1]), radius
