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

from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, Tolerances
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.intersect import cross, fractions_of
from kerfwright.geometry.offset_loops import Offset, OffsetLoop
from kerfwright.geometry.segments import Floats

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


def _wall(contour: Contour, begin_mm: float, end_mm: float, limit_mm: float) -> Floats:
    """Return vertices of the wall from one station forward to another, the last bulge unset."""
    total = contour.length_mm
    length = (end_mm - begin_mm) % total
    if length <= limit_mm or total - length <= limit_mm:
        return np.array([[*contour.points_at(np.array([begin_mm]))[0], 0.0]])
    inside = (contour.stations_mm - begin_mm) % total
    corners = np.flatnonzero((inside > limit_mm) & (inside < length - limit_mm))
    inside = inside[corners]
    cuts = np.concatenate([[0.0], np.sort(inside), [length]])
    # A piece lies on the segment that holds its middle; both its ends are cut from that one.
    index, _ = contour.locate(begin_mm + (cuts[:-1] + cuts[1:]) / 2)
    share = np.diff(cuts) / contour.segments.length[index]
    bulge = np.tan(contour.segments.sweep[index] * share / 4)
    points = contour.points_at(begin_mm + cuts)
    return np.column_stack([points, np.append(bulge, 0.0)])


def _region(walls: list[tuple[Floats, float]]) -> Contour:
    """Join walls, each followed by the disc's arc back to the next."""
    rows = []
    for wall, turn in walls:
        wall[-1, 2] = math.tan(-turn / 4)
        rows.append(wall)
    region = Contour(np.vstack(rows))
    return region if region.area_mm2 > 0 else region.reversed()


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
    count = len(rests.turn_rad)
    if not count:
        return ()
    total = contour.length_mm
    order = np.argsort(rests.arrives_mm % total)
    arrivals = (rests.arrives_mm % total)[order]
    # The wall not reached after a rest begins where the disc left it and ends where the next
    # stretch that is reached begins; a rest that leaves where it arrives spans no wall.
    place = np.searchsorted(arrivals, rests.leaves_mm % total - limit)
    follower = order[place % count]
    unseen = set(range(count))
    regions = []
    while unseen:
        here = first = unseen.pop()
        walls = []
        while True:
            # Forward along the wall to an arrival, then back along that rest's arc.
            onward = int(follower[here])
            wall = _wall(
                contour, float(rests.leaves_mm[here]), float(rests.arrives_mm[onward]), limit
            )
            walls.append((wall, float(rests.turn_rad[onward])))
            if onward == first or onward not in unseen:
                break
            unseen.discard(onward)
            here = onward
        regions.append(_region(walls))
    real = [r for r in regions if r.area_mm2 > tolerances.validity_mm * r.length_mm]
    return tuple(sorted(real, key=lambda r: -r.area_mm2))
