"""A closed contour prepared for offsetting to one side, shared by all passes on that side.

The contour becomes a chain of *features* in order of travel: its segments, and between two of
them a corner where the offset rolls round the vertex.  Which features can disturb each other
at all is decided here, once, for the largest distance asked for.

Most neighbours cannot.  Take a stretch of the chain in which the tangent turns by no more than
a quarter turn in all, every arc that bends towards the offset side has a radius above the
distance ``d``, and no corner turns towards that side.  Then the foot point of every point of the
raw offset is its nearest point in the stretch.  Proof: let ``o = p(a) + d n(a)``, ``w(s) = o -
p(s)`` and ``x(s) = w(s)·T(s)``, so that the squared distance has the derivative ``-2 x``.  For
``s > a`` it is ``x(s) = d sin(θ(s) - θ(a)) - ∫ cos(θ(s) - θ(σ)) dσ``.  All cosines are
positive; where the tangent climbs from θ(a) to θ(s) it does so at a rate of at most ``1 / d``, so
the integral is at least ``d sin(θ(s) - θ(a))``: x is never positive and the distance never falls.
The same holds backwards.  A corner that turns towards the side by less than a quarter turn may
lie within: round it by an arc just larger than ``d``, and all that the two raw elements leave
beyond their meeting has its foot on the rounded stretch, behind which the corner lies.  Such a
corner is cut by its two elements alone.  Where the stretch turns only away from the offset side,
half a turn is allowed: it lies wholly beyond each of its tangents, hence at least ``d`` from
``o``; and a contour that turns only away, once round, is convex and disturbs itself nowhere.  So
no other pair inside such a stretch needs an intersection or a test, and what remains for a
smooth profile of small arcs is a handful of pairs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.tolerances import TINY, Tolerances
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.intersect import cross
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import TWO_PI, Flags, Floats, Indices, Segments

_QUARTER_TURN = math.pi / 2
_BARRIER_RAD = 10.0
"""Turn charged to a feature that no undisturbed stretch may contain."""
_BLOCK_TURN_RAD = math.pi / 8
_BLOCK_LENGTH = 16
"""Features are looked up in blocks; tried 8 to 64, flat optimum."""
_BATCH = 1 << 20
"""Pairs looked at together: 100 MB of working memory."""
_PAIR_LIMIT = 6_000_000
"""Pairs kept at most, for memory; 50 000 segments of 7 µm need under a million."""
_ROUNDING_RAD = 1e-6
"""Slack when a sum of turns is compared with a whole turn."""
_CUSP_RAD = math.pi - 1e-7
"""A turn by half a circle has no sign of its own: such a point is always rolled round."""
SMOOTH_SHARE = 0.25
"""A joint is smooth if the ends of the offset are apart by less than this share of its elements.

Edges that follow a curve of radius r leave gaps of d / r of their length: r is above 4 d.
"""
_HUGE_RADIUS_MM = 1e6
"""Up to 1 km the radius of an arc keeps 1e-9 mm in doubles."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """Features of a contour for one side.

    Attributes
    ----------
    features : Segments
        Segments and rolled corners in order of travel; a corner is an arc of radius 0.
    source : (m,) int
        Segment of the contour, or ``-1 - v`` for a corner at vertex v.
    side : float
        1 when offsetting to the left of travel, -1 to the right.
    involved : (u,) int
        Features that another one can disturb.
    first_place, second_place : (k,) int
        Such pairs of features as places in `involved`, first before second.
    rival_first, rival_count : (m,) int
        Where in `rivals` the segments begin that can disturb a feature, and how many they are.
    rivals : (r,) int
        Features that are segments; a corner is an end of its segments already.
    boxes : (m, 4) float
        Tight boxes of the features, mm.
    """

    features: Segments
    source: Indices
    side: float
    involved: Indices
    first_place: Indices
    second_place: Indices
    rival_first: Indices
    rival_count: Indices
    rivals: Indices
    boxes: Floats

    def __len__(self) -> int:
        return len(self.source)


def _without_short(contour: Contour, merge_mm: float) -> tuple[Floats, Indices]:
    """Return vertices without those nearer than `merge_mm` to the next, and their indices."""
    vertices = contour.vertices
    step = rolled(vertices[:, :2], -1) - vertices[:, :2]
    short = (np.hypot(step[:, 0], step[:, 1]) < merge_mm) & (np.abs(vertices[:, 2]) <= 1.0)
    kept = np.ones(len(vertices), dtype=bool)
    anchor, last = np.zeros(2), -2
    # A run of short edges may add up to a long one, so each is measured from the run's start.
    for row in np.flatnonzero(short).tolist():
        if row != last + 1 or kept[last]:
            anchor = vertices[row, :2]
        end = vertices[(row + 1) % len(vertices), :2]
        kept[row] = math.hypot(*(end - anchor)) >= merge_mm
        last = row
    index = np.flatnonzero(kept)
    return vertices[index], index


def cleaned(contour: Contour, tolerances: Tolerances) -> tuple[Segments, Indices]:
    """Return the segments that matter for an offset and their indices in the contour."""
    vertices, index = _without_short(contour, tolerances.sliver_mm)
    bulge = vertices[:, 2].copy()
    start, end = vertices[:, :2], rolled(vertices[:, :2], -1)
    chord = np.hypot(*(end - start).T)
    size = np.maximum(np.abs(bulge), TINY)
    is_flat = (size * chord / 2 < tolerances.flat_sagitta_mm) & (
        chord * (1 + size * size) / (4 * size) > _HUGE_RADIUS_MM
    )
    bulge[is_flat] = 0.0
    return Segments.from_ends(start, end, bulge), index


def turns_between(segments: Segments, side: float) -> Floats:
    """Return the turn at the start vertex of each segment, rad; a cusp turns away from `side`."""
    before = rolled(segments.end_tangent, 1)
    after = segments.start_tangent
    turn = np.arctan2(cross(before, after), (before * after).sum(axis=1))
    return np.where(np.abs(turn) > _CUSP_RAD, -side * math.pi, turn)


def smooth_gaps(s: Segments, side: float, reach_mm: float, tolerances: Tolerances) -> Floats:
    """Return for the start of each segment the gap of the offset that a smooth joint may close."""
    shorter = _shorter(s, side, reach_mm)
    return np.maximum(np.minimum(tolerances.merge_mm, SMOOTH_SHARE * shorter), tolerances.sliver_mm)


def _shorter(s: Segments, side: float, reach_mm: float) -> Floats:
    """Return the shorter of each segment and the one before, as short as an offset makes them."""
    left = np.maximum(s.length - np.maximum(side * s.sweep, 0.0) * reach_mm, 0.0)
    nearer: Floats = np.minimum(left, rolled(left, 1))
    return nearer


def _with_corners(
    s: Segments, turn: Floats, is_rolled: Flags, index: Indices, side: float
) -> tuple[Segments, Indices]:
    """Insert an arc of radius 0 before each segment whose start vertex is rolled round."""
    corners = np.flatnonzero(is_rolled)
    if not len(corners):
        return s, index
    n = len(s)
    # Rows n.. of the joined arrays are the corners; `order` puts each before its segment.
    order = np.insert(np.arange(n), corners, n + np.arange(len(corners)))
    tangent = rolled(s.end_tangent, 1)[corners]
    phi = turn[corners]

    def joined(of_segments: Floats, of_corners: Floats | float) -> Floats:
        tail = np.broadcast_to(of_corners, (len(corners), *of_segments.shape[1:]))
        return np.concatenate([of_segments, tail])[order]

    features = Segments(
        start=joined(s.start, s.start[corners]),
        end=joined(s.end, s.start[corners]),
        bulge=joined(s.bulge, np.tan(phi / 4)),
        is_arc=np.concatenate([s.is_arc, np.ones(len(corners), dtype=bool)])[order],
        centre=joined(s.centre, s.start[corners]),
        radius=joined(s.radius, 0.0),
        start_angle=joined(s.start_angle, np.arctan2(side * tangent[:, 0], -side * tangent[:, 1])),
        sweep=joined(s.sweep, phi),
        length=joined(s.length, 0.0),
        start_tangent=joined(s.start_tangent, tangent),
        end_tangent=joined(s.end_tangent, s.start_tangent[corners]),
    )
    return features, np.concatenate([index, -1 - index[corners]])[order]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Turning:
    """Turn of the tangent accumulated along the chain, rad, in size and towards the side."""

    before: Floats
    after: Floats
    once_round: float
    towards_before: Floats
    towards_after: Floats
    towards_round: float

    def is_convex(self) -> bool:
        """Tell whether the contour turns once round and only away from the side."""
        return self.towards_round == 0 and self.once_round < TWO_PI + _ROUNDING_RAD

    def is_undisturbed(self, first: Indices, last: Indices) -> Flags:
        """Tell whether features first <= last lie in one undisturbed stretch, either way round."""
        forward = self.after[last] - self.before[first]
        towards = self.towards_after[last] - self.towards_before[first]
        wrapped = self.once_round - self.before[last] + self.after[first]
        wrapped_towards = self.towards_round - self.towards_before[last] + self.towards_after[first]
        return np.asarray(
            (forward <= np.where(towards > 0, _QUARTER_TURN, math.pi))
            | (wrapped <= np.where(wrapped_towards > 0, _QUARTER_TURN, math.pi))
        )


def _accumulated(own: Floats, joint: Floats) -> tuple[Floats, Floats, float]:
    """Return the sums before and after each feature and once round; joints precede features."""
    after = np.cumsum(joint + own) - joint[0]
    # The difference of sums may round below zero where nothing was added.
    return np.concatenate([[0.0], after[:-1] + joint[1:]]), after, float((joint + own).sum())


def _turning(
    features: Segments, source: Indices, side: float, reach_mm: float, tolerances: Tolerances
) -> tuple[_Turning, Indices]:
    """Return the turning of a chain and the features whose start is a corner to be cut."""
    own = np.abs(features.sweep)
    towards = features.is_arc & (features.sweep * side > 0)
    own = np.where(towards & (features.radius - reach_mm <= tolerances.merge_mm), _BARRIER_RAD, own)
    joint = turns_between(features, side) * side
    # A rolled corner joins its neighbours without a turn; a cusp's sign is not to be trusted.
    corner = source < 0
    joint[corner | rolled(corner, 1)] = 0.0
    gap = joint * reach_mm
    towards_joint = gap > smooth_gaps(features, side, reach_mm, tolerances)
    blocked = towards_joint & (
        (joint > _QUARTER_TURN) | (gap > SMOOTH_SHARE * _shorter(features, side, reach_mm))
    )
    joint = np.where(blocked, _BARRIER_RAD, np.abs(joint))
    before, after, once_round = _accumulated(own, joint)
    # Counted in whole numbers, so that "none" is exact.
    counts = _accumulated(towards.astype(np.float64), towards_joint.astype(np.float64))
    turning = _Turning(
        before=before,
        after=after,
        once_round=once_round,
        towards_before=counts[0],
        towards_after=counts[1],
        towards_round=counts[2],
    )
    return turning, np.flatnonzero(towards_joint)


def _expand(a: Indices, b: Indices, begin: Indices, size: Indices) -> tuple[Indices, Indices]:
    """Return all pairs of features of the paired blocks a and b."""
    count = size[a] * size[b]
    row = np.repeat(np.arange(len(a)), count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    width = size[b][row]
    return begin[a][row] + within // width, begin[b][row] + within % width


def _blocks(features: Segments, turning: _Turning) -> tuple[Indices, Indices]:
    """Return the first feature and the size of blocks that turn little."""
    m = len(features)
    key = np.floor(turning.before / _BLOCK_TURN_RAD)
    starts = np.ones(m, dtype=bool)
    # At a barrier no block need end: there, blocks would shrink to single features.
    is_mild = np.diff(turning.before) < _BARRIER_RAD / 2
    starts[1:] = ((key[1:] != key[:-1]) & is_mild) | (np.arange(1, m) % _BLOCK_LENGTH == 0)
    begin = np.flatnonzero(starts)
    return begin, np.diff(np.append(begin, m))


def _block_pairs(
    boxes: Floats, turning: _Turning, blocks: tuple[Indices, Indices], reach_mm: float
) -> tuple[Indices, Indices]:
    """Return pairs of blocks nearer than twice the reach that are not one stretch together."""
    begin, size = blocks
    low = np.minimum.reduceat(boxes[:, :2], begin, axis=0) - reach_mm
    high = np.maximum.reduceat(boxes[:, 2:], begin, axis=0) + reach_mm
    block_boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    a, b = shapely.STRtree(block_boxes).query(block_boxes)
    rows = a <= b
    a, b = a[rows], b[rows]
    stop = begin + size - 1
    # All of both blocks in one stretch: from the first of a to the last of b, or round the end.
    t = turning
    forward = t.after[stop[b]] - t.before[begin[a]]
    towards = t.towards_after[stop[b]] - t.towards_before[begin[a]]
    wrapped = t.once_round - t.before[begin[b]] + t.after[stop[a]]
    together = forward <= np.where(towards > 0, _QUARTER_TURN, math.pi)
    together |= (a != b) & (wrapped <= _QUARTER_TURN)
    return a[~together], b[~together]


def _free_pairs(
    features: Segments, boxes: Floats, turning: _Turning, f: Indices, g: Indices, apart_mm: float
) -> Flags:
    """Tell which pairs cannot disturb each other."""
    far = (boxes[f, 0] > boxes[g, 2] + apart_mm) | (boxes[g, 0] > boxes[f, 2] + apart_mm)
    far |= (boxes[f, 1] > boxes[g, 3] + apart_mm) | (boxes[g, 1] > boxes[f, 3] + apart_mm)
    free = (f >= g) | far
    rows = np.flatnonzero(~free)
    f, g = f[rows], g[rows]
    t, m = turning, len(features)
    # A line that leaves or joins an arc smoothly is free of it up to half a turn of the arc.
    has_line = ~(features.is_arc[f] & features.is_arc[g])
    follows = has_line & (g == f + 1) & (t.after[g] - t.before[f] <= math.pi)
    closes = has_line & (f == 0) & (g == m - 1)
    closes &= t.once_round - t.before[g] + t.after[f] <= math.pi
    free[rows] = follows | closes | t.is_undisturbed(f, g)
    return np.asarray(free)


def _candidates(
    features: Segments, boxes: Floats, turning: _Turning, reach_mm: float
) -> tuple[Indices, Indices]:
    """Return pairs of features nearer than twice the reach outside undisturbed stretches."""
    if turning.is_convex():
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    begin, size = blocks = _blocks(features, turning)
    a, b = _block_pairs(boxes, turning, blocks, reach_mm)
    total = np.cumsum(size[a] * size[b])
    kept_first, kept_second = [np.zeros(0, dtype=np.intp)], [np.zeros(0, dtype=np.intp)]
    count = at = 0
    # In batches: a dense contour has far more pairs in near blocks than pairs that matter.
    while at < len(a):
        done = int(total[at - 1]) if at else 0
        stop = max(at + 1, int(np.searchsorted(total, done + _BATCH, side="right")))
        f, g = _expand(a[at:stop], b[at:stop], begin, size)
        left = ~_free_pairs(features, boxes, turning, f, g, 2 * reach_mm)
        kept_first.append(f[left])
        kept_second.append(g[left])
        count += int(left.sum())
        if count > _PAIR_LIMIT:
            raise RangeError(
                f"more than {_PAIR_LIMIT} pairs of the {len(features)} segments and corners lie"
                f" within {2 * reach_mm:.4g} mm of each other.",
                code="offset-too-dense",
                remedy="Replace runs of tiny edges by arcs, or offset by less.",
            )
        at = stop
    return np.concatenate(kept_first), np.concatenate(kept_second)


def _with_pairs_at(
    corners: Indices, first: Indices, second: Indices, count: int
) -> tuple[Indices, Indices]:
    """Return pairs with those of the features before and after each corner added."""
    before = (corners - 1) % count
    is_corner = np.zeros(count, dtype=bool)
    is_corner[corners] = True
    there = ((second == first + 1) & is_corner[second]) | (
        (first == 0) & (second == count - 1) & is_corner[0]
    )
    return (
        np.concatenate([first[~there], np.minimum(before, corners)]),
        np.concatenate([second[~there], np.maximum(before, corners)]),
    )


def prepare(contour: Contour, *, side: float, reach_mm: float, tolerances: Tolerances) -> Chain:
    """Prepare a closed contour for offsets of up to `reach_mm` to one side.

    Parameters
    ----------
    contour : Contour
        Closed.
    side : float
        1 for the left of travel, -1 for the right.
    reach_mm : float
        Largest distance, mm.
    tolerances : Tolerances

    Returns
    -------
    Chain
    """
    segments, index = cleaned(contour, tolerances)
    turn = turns_between(segments, side)
    # Smaller gaps are closed by the joint: the ends move along the travel, not aside.
    gap = -turn * side * reach_mm
    is_rolled = gap > smooth_gaps(segments, side, reach_mm, tolerances)
    features, source = _with_corners(segments, turn, is_rolled, index, side)
    boxes = np.stack(features.boxes(), axis=1)
    turning, cut_corners = _turning(features, source, side, reach_mm, tolerances)
    first, second = _with_pairs_at(
        cut_corners,
        *_candidates(features, boxes, turning, reach_mm + tolerances.node_mm),
        len(source),
    )
    is_involved = np.zeros(len(source), dtype=bool)
    is_involved[first] = is_involved[second] = True
    place = np.cumsum(is_involved) - 1
    of, against = np.concatenate([first, second]), np.concatenate([second, first])
    segments_only = source[against] >= 0
    of, against = of[segments_only], against[segments_only]
    count = np.bincount(of, minlength=len(source))
    return Chain(
        features=features,
        source=source,
        side=side,
        involved=np.flatnonzero(is_involved),
        first_place=place[first],
        second_place=place[second],
        rival_first=np.cumsum(count) - count,
        rival_count=count,
        rivals=against[np.argsort(of, kind="stable")],
        boxes=boxes,
    )
