"""Meetings of pairs of line and arc segments, many pairs at once, each tagged with its kind."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, TINY, Tolerances
from kerfwright.geometry.segments import TWO_PI, Flags, Floats, Indices, Segments

_CONCENTRIC_SHARE = 1e-3
"""Centres nearer than this share of the slack are one: the circles lie on each other or nowhere."""

_PARALLEL_SINE = 1e-12
"""Sine of the angle under which two lines have no usable point in common in doubles."""


class Meeting(IntEnum):
    """How two segments meet at a point."""

    CROSSING = 0
    """The carriers pass through each other."""
    TANGENT = 1
    """The carriers touch: neither enters the other by more than the tolerance."""
    COINCIDENT = 2
    """The carriers lie on each other; the point is an end of one of the two segments."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meetings:
    """Points where segments of pairs meet; all arrays have length m.

    Attributes
    ----------
    pair : (m,) int
        Row in the pair list that was asked about.
    first_fraction, second_fraction : (m,) float
        Place on the first and second segment, clipped to 0..1.
    points : (m, 2) float
        Points, mm.
    kind : (m,) int
        Values of `Meeting`.
    """

    pair: Indices
    first_fraction: Floats
    second_fraction: Floats
    points: Floats
    kind: NDArray[np.int8]

    def __len__(self) -> int:
        return len(self.pair)


def cross(a: Floats, b: Floats) -> Floats:
    """Return the cross products of rows, (n,)."""
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def fractions_of(segments: Segments, index: Indices, points: Floats) -> Floats:
    """Return the fraction along each segment at which a point on its carrier lies.

    The window of an arc is centred on its middle, so that a point just before the start gets
    a small negative fraction and one just after the end a fraction a little above 1.

    Parameters
    ----------
    segments : Segments
    index : (m,) int
    points : (m, 2) float
        Points on or near the carriers, mm.

    Returns
    -------
    (m,) float
    """
    fraction = np.empty(len(index))
    is_arc = segments.is_arc.take(index)
    arcs, lines = is_arc.nonzero()[0], (~is_arc).nonzero()[0]
    if len(lines):
        which = index.take(lines)
        start = segments.start.take(which, axis=0)
        along = segments.end.take(which, axis=0) - start
        offset = points.take(lines, axis=0) - start
        squared = np.maximum((along * along).sum(axis=1), TINY)
        fraction[lines] = (along * offset).sum(axis=1) / squared
    if len(arcs):
        which = index.take(arcs)
        centre = segments.centre.take(which, axis=0)
        spoke = points.take(arcs, axis=0) - centre
        sweep = segments.sweep.take(which)
        first = segments.start.take(which, axis=0) - centre
        # Angle from the start spoke by atan2 of cross and dot: no difference of large angles.
        angle = np.arctan2(cross(first, spoke), (first * spoke).sum(axis=1)) * np.sign(sweep)
        width = np.abs(sweep)
        angle = (angle - width / 2 + math.pi) % TWO_PI + width / 2 - math.pi
        fraction[arcs] = angle / width
    return fraction


class _Found:
    """Collects the points of the cases until they are checked together."""

    def __init__(self) -> None:
        self.pair: list[Indices] = []
        self.points: list[Floats] = []
        self.kind: list[NDArray[np.int8]] = []

    def add(self, pair: Indices, points: Floats, kind: NDArray[np.int8] | Meeting) -> None:
        self.pair.append(pair)
        self.points.append(points)
        self.kind.append(
            np.full(len(pair), kind, dtype=np.int8) if isinstance(kind, Meeting) else kind
        )


def _tag(is_tangent: Flags) -> NDArray[np.int8]:
    return np.where(is_tangent, Meeting.TANGENT, Meeting.CROSSING).astype(np.int8)


def _lines(s: Segments, i: Indices, j: Indices, pairs: Indices, found: _Found) -> None:
    i, j = i[pairs], j[pairs]
    along, other = s.end[i] - s.start[i], s.end[j] - s.start[j]
    turn = cross(along, other)
    usable = np.abs(turn) > _PARALLEL_SINE * s.length[i] * s.length[j]
    between = (s.start[j] - s.start[i])[usable]
    fraction = cross(between, other[usable]) / turn[usable]
    found.add(
        pairs[usable], s.start[i[usable]] + along[usable] * fraction[:, None], Meeting.CROSSING
    )


def _line_arc(
    s: Segments, line: Indices, arc: Indices, pairs: Indices, found: _Found, slack_mm: float
) -> None:
    line, arc = line[pairs], arc[pairs]
    unit = s.start_tangent[line]
    to_centre = s.centre[arc] - s.start[line]
    radius = s.radius[arc]
    depth = radius - np.abs(cross(to_centre, unit))
    near = depth > -slack_mm
    if not near.any():
        return
    pairs, line, unit = pairs[near], line[near], unit[near]
    to_centre, radius, depth = to_centre[near], radius[near], depth[near]
    foot = (to_centre * unit).sum(axis=1)
    # (R - h)(R + h) keeps the digits that R*R - h*h would lose near tangency.
    half = np.sqrt(np.maximum(depth * (2 * radius - depth), 0.0))
    kind = _tag(depth < slack_mm)
    for sign in (-1.0, 1.0):
        found.add(pairs, s.start[line] + unit * (foot + sign * half)[:, None], kind)


def _arcs(
    s: Segments, i: Indices, j: Indices, pairs: Indices, found: _Found, slack_mm: float
) -> None:
    i, j = i[pairs], j[pairs]
    between = s.centre[j] - s.centre[i]
    distance = np.hypot(between[:, 0], between[:, 1])
    r, q = s.radius[i], s.radius[j]
    outer, inner = r + q - distance, distance - np.abs(r - q)
    near = (outer > -slack_mm) & (inner > -slack_mm) & (distance > _CONCENTRIC_SHARE * slack_mm)
    if not near.any():
        return
    pairs, i, between, distance = pairs[near], i[near], between[near], distance[near]
    r, q, outer, inner = r[near], q[near], outer[near], inner[near]
    unit = between / distance[:, None]
    foot = ((r - q) * (r + q) / distance + distance) / 2
    # Heron's product in distances that are small near tangency, each computed by itself.
    product = outer * inner * (r + q + distance) * (distance + np.abs(r - q))
    rise = np.sqrt(np.maximum(product, 0.0)) / (2 * distance)
    left = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    kind = _tag((outer < slack_mm) | (inner < slack_mm))
    for sign in (-1.0, 1.0):
        found.add(
            pairs,
            s.centre[i] + unit * foot[:, None] + left * (sign * rise)[:, None],
            kind,
        )


def are_coincident(
    segments: Segments,
    first: Indices,
    second: Indices,
    *,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> Flags:
    """Tell which pairs have carriers that lie on each other within ``10 * merge_mm``.

    Deliberately generous: a pair named here only gets its end points as further points.

    Parameters
    ----------
    segments : Segments
    first, second : (m,) int
    tolerances : Tolerances, optional

    Returns
    -------
    (m,) bool
    """
    s, limit = segments, tolerances.merge_mm
    result = np.zeros(len(first), dtype=bool)
    arcs_first, arcs_second = s.is_arc[first], s.is_arc[second]
    rows = np.flatnonzero(~arcs_first & ~arcs_second)
    if len(rows):
        i, j = first[rows], second[rows]
        sine = np.abs(cross(s.start_tangent[i], s.start_tangent[j]))
        apart = np.abs(cross(s.start_tangent[i], s.start[j] - s.start[i]))
        shorter = np.minimum(s.length[i], s.length[j])
        result[rows] = (sine * shorter < limit) & (apart < 10 * limit)
    rows = np.flatnonzero(arcs_first & arcs_second)
    if len(rows):
        i, j = first[rows], second[rows]
        apart_centre = s.centre[i] - s.centre[j]
        result[rows] = (np.hypot(apart_centre[:, 0], apart_centre[:, 1]) < limit) & (
            np.abs(s.radius[i] - s.radius[j]) < limit
        )
    return result


def meet_pairs(
    segments: Segments,
    first: Indices,
    second: Indices,
    *,
    tolerances: Tolerances = DEFAULT_TOLERANCES,
) -> Meetings:
    """Find where the two segments of each pair meet.

    Parameters
    ----------
    segments : Segments
    first, second : (m,) int
        Segments of each pair.
    tolerances : Tolerances, optional
        ``validity_mm`` decides tangency; points up to three times that beyond an end count.

    Returns
    -------
    Meetings
        In no particular order; a tangency is reported twice when its two points nearly agree.
    """
    s, slack = segments, tolerances.validity_mm
    arcs_first, arcs_second = s.is_arc[first], s.is_arc[second]
    found = _Found()
    rows = np.flatnonzero(~arcs_first & ~arcs_second)
    if len(rows):
        _lines(s, first, second, rows, found)
    rows = np.flatnonzero(~arcs_first & arcs_second)
    if len(rows):
        _line_arc(s, first, second, rows, found, slack)
    rows = np.flatnonzero(arcs_first & ~arcs_second)
    if len(rows):
        _line_arc(s, second, first, rows, found, slack)
    rows = np.flatnonzero(arcs_first & arcs_second)
    if len(rows):
        _arcs(s, first, second, rows, found, slack)
    rows = np.flatnonzero(are_coincident(s, first, second, tolerances=tolerances))
    if len(rows):
        i, j = first[rows], second[rows]
        for ends in (s.start[i], s.end[i], s.start[j], s.end[j]):
            found.add(rows, ends, Meeting.COINCIDENT)
    return _within_both(s, first, second, found, 3 * slack)


def _within_both(
    s: Segments, first: Indices, second: Indices, found: _Found, slack_mm: float
) -> Meetings:
    if not found.pair:
        return Meetings(
            pair=np.zeros(0, dtype=np.intp),
            first_fraction=np.zeros(0),
            second_fraction=np.zeros(0),
            points=np.zeros((0, 2)),
            kind=np.zeros(0, dtype=np.int8),
        )
    pair = np.concatenate(found.pair)
    points = np.concatenate(found.points)
    kind = np.concatenate(found.kind)
    at_first = fractions_of(s, first[pair], points)
    beyond = slack_mm / np.maximum(s.length[first[pair]], TINY)
    kept = np.flatnonzero((at_first > -beyond) & (at_first < 1 + beyond))
    pair, points, kind, at_first = pair[kept], points[kept], kind[kept], at_first[kept]
    at_second = fractions_of(s, second[pair], points)
    beyond = slack_mm / np.maximum(s.length[second[pair]], TINY)
    kept = np.flatnonzero((at_second > -beyond) & (at_second < 1 + beyond))
    return Meetings(
        pair=pair[kept],
        first_fraction=np.clip(at_first[kept], 0.0, 1.0),
        second_fraction=np.clip(at_second[kept], 0.0, 1.0),
        points=points[kept],
        kind=kind[kept],
    )
