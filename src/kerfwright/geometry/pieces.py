"""Pieces of a raw offset: split where its elements meet, kept where no metal is nearer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.tolerances import Tolerances
from kerfwright.geometry.chain import SMOOTH_SHARE, Chain
from kerfwright.geometry.intersect import Meeting, meet_pairs
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments

_CROWDED = 16
"""Rivals of a feature, on average, from which a look for swallowed elements pays."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """Kept pieces of raw offset elements in order of travel; all arrays have length k.

    Attributes
    ----------
    element : (k,) int
        Element (feature of the chain) of the piece.
    begin, finish : (k,) float
        Fractions of the element at the ends of the piece.
    is_begin_met, is_finish_met : (k,) bool
        Whether another element meets the piece at that end.
    is_joined : (k,) bool
        Whether a smooth joint of the chain leads from the piece to the next one.
    """

    element: Indices
    begin: Floats
    finish: Floats
    is_begin_met: Flags
    is_finish_met: Flags
    is_joined: Flags

    def __len__(self) -> int:
        return len(self.element)


def raw_elements(chain: Chain, distance_mm: float) -> tuple[Segments, Flags]:
    """Move every feature along its own normals by a signed distance.

    Parameters
    ----------
    chain : Chain
    distance_mm : float
        Positive to the left of travel, mm.

    Returns
    -------
    elements : Segments
        One for each feature, with the exact centre of its source.
    exists : (m,) bool
        False for arcs that the offset consumes: every point of such an arc is nearer to the
        moved one than its own foot point.
    """
    f = chain.features
    normal_start = np.stack([-f.start_tangent[:, 1], f.start_tangent[:, 0]], axis=1)
    normal_end = np.stack([-f.end_tangent[:, 1], f.end_tangent[:, 0]], axis=1)
    with np.errstate(invalid="ignore"):
        radius = np.where(f.is_arc, f.radius - np.sign(f.sweep) * distance_mm, np.inf)
        length = np.where(f.is_arc, radius * np.abs(f.sweep), f.length)
    elements = Segments(
        start=f.start + normal_start * distance_mm,
        end=f.end + normal_end * distance_mm,
        bulge=f.bulge,
        is_arc=f.is_arc,
        centre=f.centre,
        radius=radius,
        start_angle=f.start_angle,
        sweep=f.sweep,
        length=length,
        start_tangent=f.start_tangent,
        end_tangent=f.end_tangent,
    )
    return elements, radius > 0


def _taken(s: Segments, index: Indices) -> Segments:
    """Return a choice of segments."""
    return Segments(
        start=s.start[index],
        end=s.end[index],
        bulge=s.bulge[index],
        is_arc=s.is_arc[index],
        centre=s.centre[index],
        radius=s.radius[index],
        start_angle=s.start_angle[index],
        sweep=s.sweep[index],
        length=s.length[index],
        start_tangent=s.start_tangent[index],
        end_tangent=s.end_tangent[index],
    )


def _near_pairs(
    chain: Chain, elements: Segments, exists: Flags, slack_mm: float
) -> tuple[Indices, Indices]:
    """Return those pairs of the chain whose raw elements have overlapping boxes."""
    f, g = chain.first_place, chain.second_place
    x0, y0, x1, y1 = _taken(elements, chain.involved).boxes(slack_mm)
    there = exists[chain.involved]
    near = there[f] & there[g]
    near &= (x0[f] <= x1[g]) & (x0[g] <= x1[f])
    near &= (y0[f] <= y1[g]) & (y0[g] <= y1[f])
    rows = np.flatnonzero(near)
    return chain.involved[f[rows]], chain.involved[g[rows]]


def _swallowed(chain: Chain, elements: Segments, limit_mm: float) -> Flags:
    """Tell which elements lie wholly within the limit of a vertex of the contour.

    No piece of them is valid.  Worth asking only where many pairs come together, as in a hole
    of tiny edges smaller than the wire: else each would be cut by all the others first.
    """
    inside = np.zeros(len(chain), dtype=bool)
    if len(chain.rivals) <= _CROWDED * len(chain):
        return inside
    of = np.repeat(np.arange(len(chain)), chain.rival_count)
    x0, y0, x1, y1 = elements.boxes()
    vertex = chain.features.start[chain.rivals]
    far_x = np.maximum(np.abs(vertex[:, 0] - x0[of]), np.abs(vertex[:, 0] - x1[of]))
    far_y = np.maximum(np.abs(vertex[:, 1] - y0[of]), np.abs(vertex[:, 1] - y1[of]))
    inside[of[np.hypot(far_x, far_y) < limit_mm]] = True
    return inside


def _smooth_joints(elements: Segments, exists: Flags, tolerances: Tolerances) -> Flags:
    """Tell of each element whether it runs on into the next, their ends taken as one.

    A turn φ leaves the ends ``d φ`` apart, in the direction of travel but for a part of order φ.
    To cut them at their meeting would be worse than to join them: it moves by the error of the
    centres over φ.
    """
    ahead = rolled(elements.start, -1) - elements.end
    gap = np.hypot(ahead[:, 0], ahead[:, 1])
    shorter = np.minimum(elements.length, rolled(elements.length, -1))
    smooth = gap <= np.maximum(
        np.minimum(tolerances.merge_mm, shorter * SMOOTH_SHARE), tolerances.node_mm
    )
    return np.asarray(smooth & exists & rolled(exists, -1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Joints:
    """How the elements of a chain run on; arrays of its length.

    Attributes
    ----------
    is_closed : (m,) bool
        Whether the element runs on into the next, smoothly or cut at their corner.
    begin, finish : (m,) float
        What the corners leave of each element, as fractions.
    """

    is_closed: Flags
    begin: Floats
    finish: Floats


def _meeting_places(
    chain: Chain, elements: Segments, exists: Flags, smooth: Flags, tolerances: Tolerances
) -> tuple[Indices, Floats, _Joints]:
    """Return elements and the fractions at which others meet them, and the joints."""
    m = len(chain)
    first, second = _near_pairs(chain, elements, exists, tolerances.node_mm)
    met = meet_pairs(elements, first, second, tolerances=tolerances)
    i, j = first[met.pair], second[met.pair]
    at, to = met.first_fraction, met.second_fraction
    is_next = j == i + 1
    follows = is_next | ((i == 0) & (j == m - 1))
    before, after = np.where(is_next, i, j), np.where(is_next, j, i)
    leaves, enters = np.where(is_next, at, to), np.where(is_next, to, at)
    left = (1 - leaves) * elements.length[before]
    right = enters * elements.length[after]
    # At a smooth joint there is nothing to decide.
    reach = 2 * tolerances.merge_mm
    drop = follows & smooth[before] & (left <= reach) & (right <= reach)
    # At a corner the two elements cut each other, if they meet no farther from their ends than
    # these lie apart; among several such meetings the stitching decides.
    ahead = elements.start[after] - elements.end[before]
    gap = np.hypot(ahead[:, 0], ahead[:, 1])
    short = np.minimum(elements.length[before], elements.length[after])
    cuts = follows & ~smooth[before] & (gap <= 2 * SMOOTH_SHARE * short)
    cuts &= (left <= gap) & (right <= gap) & (met.kind == Meeting.CROSSING)
    cuts &= np.bincount(before[cuts], minlength=m)[before] == 1
    begin, finish = np.zeros(m), np.ones(m)
    finish[before[cuts]] = leaves[cuts]
    begin[after[cuts]] = enters[cuts]
    is_closed = smooth.copy()
    is_closed[before[cuts]] = True
    other = ~(drop | cuts)
    return (
        np.concatenate([i[other], j[other]]),
        np.concatenate([at[other], to[other]]),
        _Joints(is_closed=is_closed, begin=begin, finish=finish),
    )


def split_elements(
    elements: Segments,
    spans: tuple[Floats, Floats],
    where: Indices,
    fraction: Floats,
    sliver_mm: float,
) -> Pieces:
    """Cut every element at the given fractions; slivers vanish.

    Parameters
    ----------
    elements : Segments
    spans : (m,) float, (m,) float
        Fractions between which each element counts; nothing of it if they are the same.
    where : (k,) int
        Elements that are met.
    fraction : (k,) float
        Where on them.
    sliver_mm : float
        Pieces up to this length are dropped.

    Returns
    -------
    Pieces
        In the order of the elements.
    """
    low, high = spans
    begin_met = np.zeros(len(elements), dtype=bool)
    finish_met = np.zeros(len(elements), dtype=bool)
    length = elements.length[where]
    from_begin = (fraction - low[where]) * length
    from_finish = (high[where] - fraction) * length
    begin_met[where[np.abs(from_begin) <= sliver_mm]] = True
    finish_met[where[np.abs(from_finish) <= sliver_mm]] = True
    inside = (from_begin > sliver_mm) & (from_finish > sliver_mm)
    where, fraction = where[inside], fraction[inside]
    element = np.flatnonzero((high - low) * elements.length > sliver_mm)
    begin = low[element]
    if len(where):
        order = np.lexsort((fraction, where))
        where, fraction = where[order], fraction[order]
        # Of cuts nearer together than a sliver only the first stays.
        again = np.zeros(len(where), dtype=bool)
        step = np.diff(fraction) * elements.length[where[1:]]
        again[1:] = (where[1:] == where[:-1]) & (step <= sliver_mm)
        where, fraction = where[~again], fraction[~again]
        place = np.searchsorted(element, where, side="right")
        element, begin = np.insert(element, place, where), np.insert(begin, place, fraction)
    is_last = np.append(element[1:] != element[:-1], True)
    is_first = rolled(is_last, 1)
    return Pieces(
        element=element,
        begin=begin,
        finish=np.where(is_last, high[element], np.append(begin[1:], 1.0)),
        is_begin_met=np.where(is_first, begin_met[element], True),
        is_finish_met=np.where(is_last, finish_met[element], True),
        is_joined=np.zeros(len(element), dtype=bool),
    )


def _is_valid(
    chain: Chain, elements: Segments, pieces: Pieces, distance_mm: float, validity_mm: float
) -> Flags:
    """Tell which pieces have a middle that no segment of the contour is nearer to.

    No test of sides is needed: a point of the raw offset that has come to lie across the
    contour is nearer to it than the distance.
    """
    limit = abs(distance_mm) - validity_mm
    valid = np.ones(len(pieces), dtype=bool)
    tested = np.flatnonzero(chain.rival_count[pieces.element])
    if not len(tested):
        return valid
    element = pieces.element[tested]
    middle = elements.points_at(element, (pieces.begin[tested] + pieces.finish[tested]) / 2)
    tests = chain.rival_count[element]
    row = np.repeat(np.arange(len(tested)), tests)
    within = np.arange(len(row)) - np.repeat(np.cumsum(tests) - tests, tests)
    target = chain.rivals[np.repeat(chain.rival_first[element], tests) + within]
    point, box = middle[row], chain.boxes[target]
    near = (point[:, 0] > box[:, 0] - limit) & (point[:, 0] < box[:, 2] + limit)
    near &= (point[:, 1] > box[:, 1] - limit) & (point[:, 1] < box[:, 3] + limit)
    row, target, point = row[near], target[near], point[near]
    valid[tested[row[chain.features.distances(target, point) < limit]]] = False
    return valid


def kept_pieces(
    chain: Chain, *, distance_mm: float, tolerances: Tolerances
) -> tuple[Segments, Pieces]:
    """Return the raw elements of an offset and those pieces that belong to it.

    Parameters
    ----------
    chain : Chain
        Prepared for the side of `distance_mm` and at least its size.
    distance_mm : float
        Signed distance, mm.
    tolerances : Tolerances

    Returns
    -------
    elements : Segments
    pieces : Pieces
    """
    elements, exists = raw_elements(chain, distance_mm)
    exists &= ~_swallowed(chain, elements, abs(distance_mm) - tolerances.validity_mm)
    smooth = _smooth_joints(elements, exists, tolerances)
    where, fraction, joints = _meeting_places(chain, elements, exists, smooth, tolerances)
    # Cut from both ends past each other, nothing of an element is left.
    low = np.where(exists, joints.begin, 1.0)
    high = np.where(exists, np.maximum(joints.finish, low), 1.0)
    pieces = split_elements(elements, (low, high), where, fraction, tolerances.sliver_mm)
    valid = _is_valid(chain, elements, pieces, distance_mm, tolerances.validity_mm)
    element, begin, finish = pieces.element[valid], pieces.begin[valid], pieces.finish[valid]
    joined = joints.is_closed[element] & (finish == high[element])
    joined &= (rolled(element, -1) - element) % len(chain) == 1
    joined &= rolled(begin == low[element], -1)
    return elements, Pieces(
        element=element,
        begin=begin,
        finish=finish,
        is_begin_met=pieces.is_begin_met[valid],
        is_finish_met=pieces.is_finish_met[valid],
        is_joined=joined,
    )


def piece_ends(elements: Segments, pieces: Pieces) -> tuple[Floats, Floats]:
    """Return the points where the pieces begin and where they end, each (k, 2) mm."""
    begins, ends = elements.start[pieces.element], elements.end[pieces.element]
    cut = np.flatnonzero(pieces.begin > 0)
    if len(cut):
        begins[cut] = elements.points_at(pieces.element[cut], pieces.begin[cut])
    cut = np.flatnonzero(pieces.finish < 1)
    if len(cut):
        ends[cut] = elements.points_at(pieces.element[cut], pieces.finish[cut])
    return begins, ends
