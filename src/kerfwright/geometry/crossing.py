"""Places where contours meet themselves or each other: crossings, touches, overlaps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely

from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, Tolerances
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.intersect import Meeting, Meetings, meet_pairs
from kerfwright.geometry.segments import TWO_PI, Flags, Floats, Indices, Segments

_NONE = -1
_PARALLEL_RAD = 1e-9
"""Directions nearer than this are one: their order round a point is not to be trusted."""


class CrossingKind(StrEnum):
    """How two contours, or two stretches of one, meet."""

    CROSSING = "crossing"
    """One passes to the other side of the other."""
    TOUCHING = "touching"
    """They meet in a point and stay on their sides."""
    OVERLAPPING = "overlapping"
    """They run over each other for a length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """One place where segments that are not neighbours meet.

    Attributes
    ----------
    kind : CrossingKind
    x_mm, y_mm : float
        The point; of an overlap a point in its middle.
    first_contour, second_contour : int
        Indices in the sequence asked about; both 0 for a contour with itself.
    first_segment, second_segment : int
        Segments in those contours.  A vertex counts for the segment that leaves it.
    """

    kind: CrossingKind
    x_mm: float
    y_mm: float
    first_contour: int
    second_contour: int
    first_segment: int
    second_segment: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Joined:
    """The segments of several contours in one row.

    Neighbours are -1 where there is none; stations are arc lengths along the own contour, mm.
    """

    segments: Segments
    contour: Indices
    segment: Indices
    before: Indices
    after: Indices
    station: Floats
    round_trip: Floats


def _join(contours: Sequence[Contour]) -> _Joined:
    parts = [c.segments for c in contours]
    counts = [len(p) for p in parts]
    first = np.cumsum([0, *counts])
    before = np.arange(-1, first[-1] - 1)
    after = np.arange(1, first[-1] + 1)
    for contour, begin, stop in zip(contours, first[:-1], first[1:], strict=True):
        before[begin] = stop - 1 if contour.is_closed else _NONE
        after[stop - 1] = begin if contour.is_closed else _NONE
    return _Joined(
        segments=Segments.from_ends(
            np.concatenate([p.start for p in parts]),
            np.concatenate([p.end for p in parts]),
            np.concatenate([p.bulge for p in parts]),
        ),
        contour=np.repeat(np.arange(len(contours)), counts),
        segment=np.arange(first[-1]) - np.repeat(first[:-1], counts),
        before=before,
        after=after,
        station=np.concatenate([c.stations_mm for c in contours]),
        round_trip=np.repeat([c.length_mm if c.is_closed else np.inf for c in contours], counts),
    )


def _near_pairs(segments: Segments, pad_mm: float) -> tuple[Indices, Indices]:
    boxes = shapely.box(*segments.boxes(pad_mm))
    first, second = shapely.STRtree(boxes).query(boxes)
    rows = first < second
    return first[rows], second[rows]


def _strictly_on_both(j: _Joined, i1: Indices, i2: Indices, met: Meetings, limit: float) -> Flags:
    """Tell which meetings lie on both segments: coincident carriers are found generously."""
    on_both = np.ones(len(met), dtype=bool)
    rows = np.flatnonzero(met.kind == Meeting.COINCIDENT)
    for index in (i1[rows], i2[rows]):
        on_both[rows] &= j.segments.distances(index, met.points[rows]) <= limit
    return on_both


def _overlaps(j: _Joined, first: Indices, second: Indices, met: Meetings, limit: float) -> Floats:
    """Return rows (pair, x, y) of pairs that run over each other for more than ten limits."""
    rows = np.flatnonzero(met.kind == Meeting.COINCIDENT)
    if not len(rows):
        return np.zeros((0, 3))
    pair, slot = np.unique(met.pair[rows], return_inverse=True)
    low = np.ones(len(pair))
    high = np.zeros(len(pair))
    np.minimum.at(low, slot, met.first_fraction[rows])
    np.maximum.at(high, slot, met.first_fraction[rows])
    i1, i2 = first[pair], second[pair]
    middle = j.segments.points_at(i1, (low + high) / 2)
    # Two half turns share both ends and nothing between: the middle decides.
    found = (high - low) * j.segments.length[i1] > 10 * limit
    found &= j.segments.distances(i2, middle) <= limit
    return np.column_stack([pair[found], middle[found]])


def _is_one_place(
    j: _Joined, i1: Indices, i2: Indices, met: Meetings, rows: Indices, limit: float
) -> Flags:
    """Tell which meetings join places that are one along the contour: the shared vertex."""
    at_1 = j.station[i1] + met.first_fraction[rows] * j.segments.length[i1]
    at_2 = j.station[i2] + met.second_fraction[rows] * j.segments.length[i2]
    apart = np.abs(at_1 - at_2)
    apart = np.minimum(apart, np.abs(j.round_trip[i1] - apart))
    return np.asarray((j.contour[i1] == j.contour[i2]) & (apart <= 4 * limit))


def _branches(
    j: _Joined, index: Indices, fraction: Floats, limit: float
) -> tuple[Indices, Floats, Floats, Flags]:
    """Return the segment a place counts for, the headings back and onward, and if it is an end."""
    s = j.segments
    at_end = ((1 - fraction) * s.length[index] <= limit) & (j.after[index] != _NONE)
    index = np.where(at_end, j.after[index], index)
    fraction = np.where(at_end, 0.0, fraction)
    at_start = fraction * s.length[index] <= limit
    at_open_end = (1 - fraction) * s.length[index] <= limit
    onward = s.tangents_at(index, fraction)
    back = -onward
    behind = np.flatnonzero(at_start & (j.before[index] != _NONE))
    back[behind] = -s.end_tangent[j.before[index[behind]]]
    is_end = (at_start & (j.before[index] == _NONE)) | at_open_end
    return (
        index,
        np.arctan2(back[:, 1], back[:, 0]),
        np.arctan2(onward[:, 1], onward[:, 0]),
        is_end,
    )


def _passes_through(back_1: Floats, on_1: Floats, back_2: Floats, on_2: Floats) -> Flags:
    """Tell whether the second path changes sides of the first, from the four headings."""
    width = (back_1 - on_1) % TWO_PI
    sides = []
    clear = np.ones(len(width), dtype=bool)
    for heading in (back_2, on_2):
        angle = (heading - on_1) % TWO_PI
        sides.append(angle < width)
        margin = np.minimum(np.abs(angle - width), np.minimum(angle, TWO_PI - angle))
        clear &= margin > _PARALLEL_RAD
    return np.asarray(clear & (sides[0] != sides[1]))


def _distinct(i1: Indices, i2: Indices, points: Floats, limit: float) -> Indices:
    """Return rows that name one place once."""
    order = np.lexsort((points[:, 1], points[:, 0], i2, i1))
    same = np.zeros(len(order), dtype=bool)
    a, b = order[1:], order[:-1]
    same[1:] = (i1[a] == i1[b]) & (i2[a] == i2[b])
    same[1:] &= np.hypot(*(points[a] - points[b]).T) <= limit
    return order[~same]


def _found(j: _Joined, first: Indices, second: Indices, limit: float, met: Meetings) -> Floats:
    """Return rows (segment, segment, x, y, rank of kind)."""
    i1, i2 = first[met.pair], second[met.pair]
    over = _overlaps(j, first, second, met, limit)
    over_pair = over[:, 0].astype(np.intp)
    lapping = np.column_stack(
        [first[over_pair], second[over_pair], over[:, 1:], np.full(len(over), 2.0)]
    )
    rows = np.flatnonzero(~np.isin(met.pair, over_pair))
    rows = rows[~_is_one_place(j, i1[rows], i2[rows], met, rows, limit)]
    i1, i2, points = i1[rows], i2[rows], met.points[rows]
    s1, back_1, on_1, end_1 = _branches(j, i1, met.first_fraction[rows], limit)
    s2, back_2, on_2, end_2 = _branches(j, i2, met.second_fraction[rows], limit)
    through = _passes_through(back_1, on_1, back_2, on_2) & ~(end_1 | end_2)
    # Two curves that only touch have headings that agree up to rounding.
    through &= (met.kind[rows] != Meeting.TANGENT) | (s1 != i1) | (s2 != i2)
    low, high = np.minimum(s1, s2), np.maximum(s1, s2)
    points_found = np.column_stack([low, high, points, np.where(through, 0.0, 1.0)])
    kept = _distinct(low, high, points, 4 * limit)
    return np.concatenate([points_found[kept], lapping])


_KINDS = (CrossingKind.CROSSING, CrossingKind.TOUCHING, CrossingKind.OVERLAPPING)


def _crossings(
    contours: Sequence[Contour], *, between: bool, tolerances: Tolerances
) -> tuple[Crossing, ...]:
    joined = _join(contours)
    limit = tolerances.node_mm
    first, second = _near_pairs(joined.segments, limit)
    if between:
        rows = joined.contour[first] != joined.contour[second]
        first, second = first[rows], second[rows]
    met = meet_pairs(joined.segments, first, second, tolerances=tolerances)
    rows = np.flatnonzero(_strictly_on_both(joined, first[met.pair], second[met.pair], met, limit))
    met = Meetings(
        pair=met.pair[rows],
        first_fraction=met.first_fraction[rows],
        second_fraction=met.second_fraction[rows],
        points=met.points[rows],
        kind=met.kind[rows],
    )
    found = _found(joined, first, second, limit, met)
    found = found[np.lexsort((found[:, 3], found[:, 2], found[:, 1], found[:, 0]))]
    return tuple(
        Crossing(
            kind=_KINDS[int(kind)],
            x_mm=x,
            y_mm=y,
            first_contour=int(joined.contour[int(a)]),
            second_contour=int(joined.contour[int(b)]),
            first_segment=int(joined.segment[int(a)]),
            second_segment=int(joined.segment[int(b)]),
        )
        for a, b, x, y, kind in found.tolist()
    )


def self_crossings(
    contour: Contour, *, tolerances: Tolerances = DEFAULT_TOLERANCES
) -> tuple[Crossing, ...]:
    """Find where a contour crosses, touches or overlaps itself.

    Neighbours may meet at the vertex they share; anywhere else they count.

    Parameters
    ----------
    contour : Contour
        Closed or open.
    tolerances : Tolerances, optional
        Points within ``node_mm`` are one.

    Returns
    -------
    tuple of Crossing
        In order of the first segment.

    Examples
    --------
    >>> eight = Contour.from_rows([(0, 0), (2, 2), (2, 0), (0, 2)])
    >>> [(c.kind.value, c.x_mm, c.y_mm) for c in self_crossings(eight)]
    [('crossing', 1.0, 1.0)]
    """
    return _crossings((contour,), between=False, tolerances=tolerances)


def crossings_between(
    contours: Sequence[Contour], *, tolerances: Tolerances = DEFAULT_TOLERANCES
) -> tuple[Crossing, ...]:
    """Find where different contours cross, touch or overlap each other.

    Parameters
    ----------
    contours : sequence of Contour
    tolerances : Tolerances, optional

    Returns
    -------
    tuple of Crossing
        Without meetings of a contour with itself.
    """
    if len(contours) < 2:
        return ()
    return _crossings(contours, between=True, tolerances=tolerances)


def all_crossings(
    contours: Sequence[Contour], *, tolerances: Tolerances = DEFAULT_TOLERANCES
) -> tuple[Crossing, ...]:
    """Find where contours cross, touch or overlap themselves or each other, in one search.

    Parameters
    ----------
    contours : sequence of Contour
    tolerances : Tolerances, optional
    """
    if not contours:
        return ()
    return _crossings(contours, between=False, tolerances=tolerances)
