"""What a disc that runs along an offset cannot reach: corners, slots, whole openings.

The disc of radius ``|d|`` about a point of the offset touches the nominal wall in the foot of
that point.  Where the offset runs on smoothly the foot runs along the wall; where it turns into
the wall's side at a joint the disc stands still, touches the wall at two feet and leaves an arc
between them.  The stretches of wall that are no foot and those arcs bound what is not reached.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, Tolerances
from kerfwright.geometry.contour import Contour, joined_segments
from kerfwright.geometry.intersect import cross, fractions_of, meet_pairs
from kerfwright.geometry.offset_loops import Offset, OffsetLoop
from kerfwright.geometry.pieces import Pieces, split_elements
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.geometry.stitch import stitched

_HALF_TURN_RAD = math.pi - 1e-9
"""A joint that turns back on itself has no sign of its own: the disc rests between two walls."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rests:
    """Joints at which the disc stands still; arrays of one length.

    From the wall at `leaves_mm` the disc's arc leads to the wall at `arrives_mm`.
    """

    leaves_mm: Floats
    arrives_mm: Floats
    turn_rad: Floats


def _feet(contour: Contour, loop: OffsetLoop, points: Floats) -> Floats:
    """Return the stations of the feet of points, one on each segment of a loop, mm."""
    rolled = loop.source < 0
    segment = np.where(rolled, -1 - loop.source, loop.source)
    fraction = np.clip(fractions_of(contour.segments, segment, points), 0.0, 1.0)
    along = np.where(rolled, 0.0, fraction * contour.segments.length[segment])
    return contour.stations_mm[segment] + along


def _rests(contour: Contour, offset: Offset, limit_mm: float) -> _Rests:
    leaves, arrives, turns = [], [], []
    side = math.copysign(1.0, offset.distance_mm)
    for loop in offset.loops:
        s = loop.contour.segments
        heading, onward = s.end_tangent, np.roll(s.start_tangent, -1, axis=0)
        turn = np.arctan2(cross(heading, onward), (heading * onward).sum(axis=1))
        turn = np.where(np.abs(turn) > _HALF_TURN_RAD, side * math.pi, turn)
        resting = turn * offset.distance_mm > limit_mm
        begins = _feet(contour, loop, s.start)
        ends = _feet(contour, loop, s.end)
        leaves.append(ends[resting])
        arrives.append(np.roll(begins, -1)[resting])
        turns.append(turn[resting])
    return _Rests(
        leaves_mm=np.concatenate(leaves),
        arrives_mm=np.concatenate(arrives),
        turn_rad=np.concatenate(turns),
    )


def _walls(
    contour: Contour, begin_mm: Floats, end_mm: Floats, limit_mm: float
) -> tuple[Floats, Indices]:
    """Return vertices of the wall from stations forward to others, the last bulge of each unset.

    The second array holds where each wall's vertices begin, with the count of all at the end.
    """
    total, stations = contour.length_mm, contour.stations_mm
    length = (end_mm - begin_mm) % total
    is_point = (length <= limit_mm) | (total - length <= limit_mm)
    begin_mm = np.where(is_point, begin_mm, begin_mm % total)
    first = np.searchsorted(stations, begin_mm + limit_mm, side="right")
    # Past the last vertex the count goes on from the first one.
    stop_mm = begin_mm + length - limit_mm
    past = stop_mm >= total
    last = np.searchsorted(stations, np.where(past, stop_mm - total, stop_mm))
    between = np.where(is_point, 0, last + np.where(past, len(stations), 0) - first)
    # Each wall: its begin, the corners between, and its end but where it is a point.
    count = between + np.where(is_point, 1, 2)
    rows = np.concatenate([[0], np.cumsum(count)])
    wall = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(wall)) - rows[wall]
    cuts = np.where(number == 0, 0.0, length[wall])
    inner = np.flatnonzero((number > 0) & (number <= between[wall]))
    corner = (first[wall[inner]] + number[inner] - 1) % len(stations)
    cuts[inner] = (stations[corner] - begin_mm[wall[inner]]) % total
    # A piece lies on the segment that holds its middle; both its ends are cut from that one.
    piece = np.flatnonzero(number < between[wall] + 1 - is_point[wall])
    low, high = cuts[piece], cuts[piece + 1]
    index, _ = contour.locate(begin_mm[wall[piece]] + (low + high) / 2)
    share = (high - low) / contour.segments.length[index]
    vertices = np.zeros((len(wall), 3))
    vertices[:, :2] = contour.points_at(begin_mm[wall] + cuts)
    vertices[piece, 2] = np.tan(contour.segments.sweep[index] * share / 4)
    return vertices, rows


def _traced(contour: Contour, rests: _Rests, limit_mm: float) -> list[Contour]:
    """Follow wall and arcs round each region; discs that overlap make its arcs cross."""
    total = contour.length_mm
    count = len(rests.turn_rad)
    order = np.argsort(rests.arrives_mm % total)
    arrivals = (rests.arrives_mm % total)[order]
    # The wall not reached after a rest begins where the disc left it and ends where the next
    # stretch that is reached begins; a rest that leaves where it arrives spans no wall.
    place = np.searchsorted(arrivals, rests.leaves_mm % total - limit_mm)
    follower = order[place % count]
    vertices, rows = _walls(contour, rests.leaves_mm, rests.arrives_mm[follower], limit_mm)
    # After each wall the arc back along the rest that it leads to.
    # math.tan, for NumPy's differs in the last bit here and there.
    vertices[rows[1:] - 1, 2] = [math.tan(-t / 4) for t in rests.turn_rad[follower].tolist()]
    after, begins = follower.tolist(), rows.tolist()
    unseen = set(range(count))
    regions = []
    while unseen:
        here = first = unseen.pop()
        walls = []
        while True:
            # Forward along the wall to an arrival, then back along that rest's arc.
            onward = after[here]
            walls.append(vertices[begins[here] : begins[here + 1]])
            if onward == first or onward not in unseen:
                break
            unseen.discard(onward)
            here = onward
        # One vertex: a joint whose feet are one within the tolerance.
        if sum(len(wall) for wall in walls) > 1:
            regions.append(Contour(np.vstack(walls)))
    return regions


def _is_reached(offset: Offset, points: Floats, slack_mm: float) -> Flags:
    """Tell which points are nearer than the radius to a loop of the offset."""
    path = joined_segments([loop.contour for loop in offset.loops])
    limit = abs(offset.distance_mm) - slack_mm
    tree = shapely.STRtree(shapely.box(*path.boxes(limit)))
    row, segment = tree.query(shapely.points(points))
    reached = np.zeros(len(points), dtype=bool)
    reached[row[path.distances(segment, points[row]) < limit]] = True
    return reached


def _untangled(regions: list[Contour], offset: Offset, tolerances: Tolerances) -> list[Contour]:
    """Split regions where discs overlap and keep what none of them covers."""
    elements = joined_segments(regions)
    boxes = shapely.box(*elements.boxes(tolerances.node_mm))
    first, second = shapely.STRtree(boxes).query(boxes)
    rows = first < second
    first, second = first[rows], second[rows]
    met = meet_pairs(elements, first, second, tolerances=tolerances)
    i, j = first[met.pair], second[met.pair]
    at, to = met.first_fraction, met.second_fraction
    limit = tolerances.node_mm
    inner = (np.minimum(at, 1 - at) * elements.length[i] > limit) | (
        np.minimum(to, 1 - to) * elements.length[j] > limit
    )
    if not inner.any():
        return regions
    pieces = split_elements(
        elements,
        (np.zeros(len(elements)), np.ones(len(elements))),
        np.concatenate([i[inner], j[inner]]),
        np.concatenate([at[inner], to[inner]]),
        tolerances.sliver_mm,
    )
    middle = elements.points_at(pieces.element, (pieces.begin + pieces.finish) / 2)
    free = ~_is_reached(offset, middle, limit)
    kept = Pieces(
        element=pieces.element[free],
        begin=pieces.begin[free],
        finish=pieces.finish[free],
        is_begin_met=pieces.is_begin_met[free],
        is_finish_met=pieces.is_finish_met[free],
        is_joined=pieces.is_joined[free],
    )
    side = math.copysign(1.0, offset.distance_mm)
    loops = stitched(elements, kept, side=side, tolerances=tolerances)
    return [loop.contour for loop in loops if loop.area_mm2 * side > 0]


def unreachable(
    contour: Contour, offset: Offset, *, tolerances: Tolerances = DEFAULT_TOLERANCES
) -> tuple[Contour, ...]:
    """Return what a disc of radius ``|d|`` on an offset leaves between itself and the wall.

    This is the wall's side of the offset minus its opening by the disc: inside corners sharper
    than the disc, slots narrower than it, and the contour itself where no loop is left.

    Parameters
    ----------
    contour : Contour
        The nominal contour.
    offset : Offset
        An offset of it.
    tolerances : Tolerances, optional
        Regions thinner than ``validity_mm`` on average are left out.

    Returns
    -------
    tuple of Contour
        Closed, counter-clockwise, of nominal pieces and arcs of the disc; largest area first.

    Examples
    --------
    >>> from kerfwright.geometry.offset import offset_contour
    >>> square = Contour.from_rows([(0, 0), (9, 0), (9, 9), (0, 9)])
    >>> corners = unreachable(square, offset_contour(square, distance_mm=1.0))
    >>> [round(corner.area_mm2, 6) for corner in corners]  # 1 - π / 4 each
    [0.214602, 0.214602, 0.214602, 0.214602]
    """
    if offset.distance_mm == 0:
        return ()
    if not offset.loops:
        return (contour if contour.area_mm2 > 0 else contour.reversed(),)
    limit = tolerances.node_mm
    rests = _rests(contour, offset, limit)
    if not len(rests.turn_rad):
        return ()
    traced = _traced(contour, rests, limit)
    regions = _untangled(traced, offset, tolerances) if traced else []
    turned = [r if r.area_mm2 > 0 else r.reversed() for r in regions]
    if turned:
        joined_segments(turned)
    real = [r for r in turned if r.area_mm2 > tolerances.validity_mm * r.length_mm]
    return tuple(sorted(real, key=lambda r: -r.area_mm2))
