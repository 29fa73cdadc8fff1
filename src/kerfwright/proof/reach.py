"""Whether stock left at a place is forced by the shape of the wall.

A place of the wall counts as unreachable only if two things hold, both found from the wall and
the path without any offset:

1. A disc of the pass's radius tangent to the wall there overlaps the wall somewhere else.
2. The wire position nearest to the place touches the wall on both sides of it, so the path went
   as far into the pocket as the wire can.

Where the first fails the path could have cut; where the second fails it stopped too early.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.nearest import project
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.proof.sweep import PassSweep
from kerfwright.proof.wall import Wall

_MOST_OF_A_CONTOUR = 0.9
"""Contacts farther apart than this share of the perimeter do not enclose a pocket: a single
contact counts as a whole perimeter from itself."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pockets:
    """What was found at some places of the wall.

    Attributes
    ----------
    is_forced : (m,) bool
    distance_mm : (m,) float
        Exact distance from the place to the nearest wire position.
    before_mm, after_mm : (m,) float
        Wall between the place and the contacts on both sides of it; inf without contact.
    element : (m,) int
        Segment of the path that came nearest.
    """

    is_forced: Flags
    distance_mm: Floats
    before_mm: Floats
    after_mm: Floats
    element: Indices


def find_pockets(
    wall: Wall,
    sweep: PassSweep,
    *,
    index: Indices,
    fraction: Floats,
    radius_mm: Floats,
    tolerance_mm: float,
) -> Pockets:
    """Judge places of the wall that a pass left uncut.

    Parameters
    ----------
    wall : Wall
    sweep : PassSweep
    index : (m,) int
        Wall segment of each place.
    fraction : (m,) float
        Fraction of its length.
    radius_mm : (m,) float
        Distance that the wire should keep from the wall there.
    tolerance_mm : float
    """
    points = wall.segments.points_at(index, fraction)
    distance, element = sweep.index.query(points)
    nearest, _ = sweep.index.closest_points(points, element)
    before = np.full(len(index), np.inf)
    after = np.full(len(index), np.inf)
    touched = np.repeat(index[:, None], 2, axis=1)
    # Rolling round a vertex the distance to a place beyond it hardly changes: the wedged position
    # may be an end of the segment, farther by less than the tolerance.
    path = sweep.path
    for centre in (nearest, path.start.take(element, axis=0), path.end.take(element, axis=0)):
        near = np.hypot(*(points - centre).T) <= distance + tolerance_mm
        rows = np.flatnonzero(near)
        back, on, segments = _contacts(
            wall,
            sweep,
            contour=wall.contour_of[index[rows]],
            station_mm=wall.stations_at(index[rows], fraction[rows]),
            centre=centre[rows],
            element=element[rows],
            reach_mm=radius_mm[rows] + 2 * tolerance_mm,
        )
        closer = back + on < before[rows] + after[rows]
        before[rows[closer]], after[rows[closer]] = back[closer], on[closer]
        touched[rows[closer]] = segments[closer]
    span = wall.perimeter_mm[wall.contour_of[index]] * _MOST_OF_A_CONTOUR
    forced = before + after < span
    rows = np.flatnonzero(forced)
    forced[rows] = _is_blocked(
        wall, index[rows], fraction[rows], radius_mm[rows] - tolerance_mm, touched[rows]
    )
    return Pockets(
        is_forced=forced,
        distance_mm=distance,
        before_mm=before,
        after_mm=after,
        element=element,
    )


def _is_blocked(
    wall: Wall, index: Indices, fraction: Floats, radius_mm: Floats, touched: Indices
) -> Flags:
    """Return whether no tangent disc at the place is clear of the wall.

    The two segments that the wire touches are asked first: mostly the disc overlaps one of them.
    """
    points = wall.segments.points_at(index, fraction)
    blocked = np.ones(len(index), dtype=bool)
    at_start = fraction <= 0.0
    for which, where in (
        (index, fraction),
        (np.where(at_start, wall.before[index], index), np.where(at_start, 1.0, fraction)),
    ):
        centre = points + wall.free_normals(which, where) * radius_mm[:, None]
        # The disc touches the place itself at exactly its radius; only less than that blocks.
        limit = radius_mm * (1 - 1 / 4096)
        near = np.minimum(
            wall.segments.distances(touched[:, 0], centre),
            wall.segments.distances(touched[:, 1], centre),
        )
        rest = np.flatnonzero(near >= limit)
        near[rest], _ = wall.index.query(centre[rest])
        blocked &= near < limit
    return blocked


def _contacts(
    wall: Wall,
    sweep: PassSweep,
    *,
    contour: Indices,
    station_mm: Floats,
    centre: Floats,
    element: Indices,
    reach_mm: Floats,
) -> tuple[Floats, Floats, Indices]:
    """Return the wall from each place back and on to where the wire at `centre` touches it.

    The third array holds the wall segments touched before and after each place.
    """
    order, rows = sweep.path_rows
    begin = rows[element]
    count = rows[element + 1] - begin
    row = np.repeat(np.arange(len(element)), count)
    first = np.cumsum(count) - count
    near = sweep.pairs[1][order[np.arange(len(row)) - np.repeat(first - begin, count)]]
    touching = wall.contour_of[near] == contour[row]
    row, near = row[touching], near[touching]
    touching = wall.segments.distances(near, centre.take(row, axis=0)) <= reach_mm[row]
    row, near = row[touching], near[touching]
    place = np.clip(project(wall.segments, near, centre.take(row, axis=0)), 0.0, 1.0)
    perimeter = wall.perimeter_mm[contour[row]]
    ahead = np.mod(wall.stations_at(near, place) - station_mm[row], perimeter)
    before = np.full(len(element), np.inf)
    after = np.full(len(element), np.inf)
    segments = np.zeros((len(element), 2), dtype=np.intp)
    for column, (way, shortest) in enumerate(((np.mod(-ahead, perimeter), before), (ahead, after))):
        # The last one written wins: farthest first.
        order = np.argsort(-way, kind="stable")
        shortest[row[order]] = way[order]
        segments[row[order], column] = near[order]
    return before, after, segments
