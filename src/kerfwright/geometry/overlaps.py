"""Pieces of a drawing as found, and what lies twice: duplicates, overlaps, zero lengths."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

import numpy as np

from kerfwright.foundation.tolerances import Tolerances
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments

_LATERAL_SHARE = 0.2
"""Share of the gap tolerance (1 µm of 5 µm) within which two pieces lie on one carrier; wider
would take a sharp wedge of short lines for a doubled line."""
_QUERY_HITS = 2_000_000
"""Points times boxes looked at in one piece; bounds the memory on dense drawings."""
_SAMPLE = 256
_NEIGHBOURS = 3
"""Neighbours in direction compared at a common end: a line, its double, and a fillet or two
that leave along it."""
_ANGLE_RAD = 1e-6
"""Slack of a direction: rounding of the ends of short pieces."""
_SAME_LENGTH_SHARE = 1e-3
"""Lengths that differ by less are those of one line drawn twice, for the wording of the repair."""
_WIDEST_RAD = 0.1
"""Pieces that leave an end further apart than this cannot lie on each other."""


class RepairKind(StrEnum):
    """What was mended."""

    ZERO_LENGTH = "zero-length"
    DUPLICATE = "duplicate"
    OVERLAP = "overlap"
    GAP = "gap"


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """One thing mended, with its place.

    Attributes
    ----------
    kind : RepairKind
    x_mm, y_mm : float
    strands : tuple of int
        The strand mended first, then the one it met.
    size_mm : float
        Length of what was dropped, or of the gap.
    shift_um : float
        How far an end point moved; 0 where nothing moved.
    """

    kind: RepairKind
    x_mm: float
    y_mm: float
    strands: tuple[int, ...]
    size_mm: float
    shift_um: float = 0.0


@dataclass(slots=True, kw_only=True, eq=False)
class Links:
    """Chains of segments as arrays; a link is a run of consecutive segments.

    Attributes
    ----------
    start, end : (n, 2) float
        End points of the segments, mm.
    bulge : (n,) float
    first : (m + 1,) int
        Link i owns the segments first[i] to first[i + 1].
    is_closed : (m,) bool
    owner : (m,) int
        Strand (entity) from which each link comes.
    """

    start: Floats
    end: Floats
    bulge: Floats
    first: Indices
    is_closed: Flags
    owner: Indices

    def __len__(self) -> int:
        return len(self.owner)

    @classmethod
    def from_chains(cls, chains: Sequence[tuple[Floats, bool]]) -> Self:
        """Build from (rows of x, y, bulge; closed or not), one link for each."""
        if not chains:
            empty = np.zeros((0, 2))
            none = np.zeros(0, dtype=np.intp)
            return cls(
                start=empty,
                end=empty.copy(),
                bulge=np.zeros(0),
                first=np.zeros(1, dtype=np.intp),
                is_closed=np.zeros(0, dtype=np.bool_),
                owner=none,
            )
        rows = np.concatenate([chain for chain, _ in chains])
        counts = np.array([len(chain) for chain, _ in chains])
        closed = np.array([is_closed for _, is_closed in chains], dtype=np.bool_)
        ends = np.cumsum(counts)
        following = np.arange(1, len(rows) + 1)
        following[ends - 1] = ends - counts
        keep = np.ones(len(rows), dtype=np.bool_)
        keep[(ends - 1)[~closed]] = False
        first = np.concatenate([[0], np.cumsum(counts - ~closed)])
        return cls(
            start=rows[keep, :2],
            end=rows[following[keep], :2],
            bulge=rows[keep, 2],
            first=first,
            is_closed=closed,
            owner=np.arange(len(chains)),
        )

    @property
    def segments(self) -> Segments:
        """The segments with their derived fields."""
        return Segments.from_ends(self.start, self.end, self.bulge)

    @property
    def counts(self) -> Indices:
        """Number of segments of each link."""
        return np.diff(self.first)

    @property
    def link_of(self) -> Indices:
        """Link of each segment."""
        return np.repeat(np.arange(len(self)), self.counts)


def drop_zero_lengths(links: Links, *, tolerances: Tolerances) -> tuple[Links, list[Repair]]:
    """Drop segments shorter than ``merge_mm``; their neighbours meet within that length."""
    length = links.segments.length
    void = length < tolerances.merge_mm
    if not void.any():
        return links, []
    owner = links.owner[links.link_of]
    repairs = [
        Repair(
            kind=RepairKind.ZERO_LENGTH,
            x_mm=float(links.start[i, 0]),
            y_mm=float(links.start[i, 1]),
            strands=(int(owner[i]),),
            size_mm=float(length[i]),
        )
        for i in np.flatnonzero(void)
    ]
    counts = np.add.reduceat(~void, links.first[:-1]) * (links.counts > 0)
    stay = counts > 0
    return Links(
        start=links.start[~void],
        end=links.end[~void],
        bulge=links.bulge[~void],
        first=np.concatenate([[0], np.cumsum(counts[stay])]),
        is_closed=links.is_closed[stay],
        owner=links.owner[stay],
    ), repairs


def _touching_pairs(segments: Segments, reach_mm: float) -> tuple[Indices, Indices]:
    """Return pairs of segments that may share a stretch.

    Of two pieces that do, either an end of one lies within the other, or they leave a common
    end in one direction.  Looking only at those keeps a star of many lines from giving all
    its pairs.
    """
    count = len(segments)
    ends = np.concatenate([segments.start, segments.end])
    points, which = np.unique(ends, axis=0, return_inverse=True)
    which = which.reshape(-1)
    point, other = _ends_within(segments, points, reach_mm)
    # Every segment that ends in such a point pairs with the segment around the point.
    order = np.argsort(which, kind="stable")
    first = np.searchsorted(which[order], np.arange(len(points) + 1))
    several = first[point + 1] - first[point]
    slot = np.arange(int(several.sum())) - np.repeat(np.cumsum(several) - several, several)
    inside = order[np.repeat(first[point], several) + slot] % count
    one, two = _one_direction(segments, points, which, reach_mm)
    one = np.concatenate([inside, one])
    two = np.concatenate([np.repeat(other, several), two])
    low, high = np.minimum(one, two), np.maximum(one, two)
    key = np.unique((low * count + high)[low < high])
    return key // count, key % count


def _ends_within(segments: Segments, points: Floats, reach_mm: float) -> tuple[Indices, Indices]:
    """Return which points lie within which segments, away from their ends."""
    import shapely

    tree = shapely.STRtree(shapely.box(*segments.boxes(reach_mm)))
    sample = points[:: max(1, len(points) // _SAMPLE)]
    hits = max(1, tree.query(shapely.points(sample)).shape[1] // len(sample))
    chunk = max(_SAMPLE, _QUERY_HITS // hits)
    found = [np.zeros((2, 0), dtype=np.intp)]
    for begin in range(0, len(points), chunk):
        some = points[begin : begin + chunk]
        point, other = tree.query(shapely.points(some))
        at = some[point]
        away = np.minimum(
            np.abs(at - segments.start[other]).max(axis=1),
            np.abs(at - segments.end[other]).max(axis=1),
        )
        point, other = point[away > reach_mm], other[away > reach_mm]
        near = segments.distances(other, some[point]) <= reach_mm
        found.append(np.stack([point[near] + begin, other[near]]))
    point, other = np.concatenate(found, axis=1)
    return point, other


def _one_direction(
    segments: Segments, points: Floats, which: Indices, reach_mm: float
) -> tuple[Indices, Indices]:
    """Return pairs of segments next to each other in direction around a common end."""
    node = _clusters(points, reach_mm)[which]
    leaving = np.concatenate([segments.start_tangent, -segments.end_tangent])
    angle = np.arctan2(leaving[:, 1], leaving[:, 0])
    # The line of -180 degrees is that of 180.
    angle = np.where(angle > math.pi - _ANGLE_RAD, -math.pi, angle)
    order = np.lexsort((angle, node))
    one, two = [], []
    for step in range(1, _NEIGHBOURS + 1):
        a, b = order[:-step], order[step:]
        same = (node[a] == node[b]) & (angle[b] - angle[a] < _WIDEST_RAD)
        one.append(a[same] % len(segments))
        two.append(b[same] % len(segments))
    return np.concatenate(one), np.concatenate(two)


def _clusters(points: Floats, reach_mm: float) -> Indices:
    """Return a number for each point, the same for points within reach of each other."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(reach_mm, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs)), tuple(pairs.T)), shape=(len(points),) * 2)
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.intp)


def _carrier_distance(segments: Segments, index: Indices, points: Floats) -> Floats:
    """Return distances to the unbounded line or circle of each segment, (m,) mm."""
    arc = segments.is_arc[index]
    to_point = points - segments.start[index]
    tangent = segments.start_tangent[index]
    sideways = np.abs(tangent[:, 0] * to_point[:, 1] - tangent[:, 1] * to_point[:, 0])
    spoke = points - segments.centre[index]
    radius = np.where(arc, segments.radius[index], 0.0)
    radial = np.abs(np.hypot(spoke[:, 0], spoke[:, 1]) - radius)
    return np.asarray(np.where(arc, radial, sideways), dtype=np.float64)


def _middle_on(segments: Segments, base: Indices, other: Indices) -> Floats:
    """Return where the middle of `other` lies along `base`, from the middle of `base`, mm."""
    half = np.full(len(base), 0.5)
    middle = segments.points_at(other, half)
    own = segments.points_at(base, half)
    tangent = segments.tangents_at(base, half)
    straight = ((middle - own) * tangent).sum(axis=1)
    u, v = own - segments.centre[base], middle - segments.centre[base]
    angle = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    arc = segments.is_arc[base]
    radius = np.where(arc, segments.radius[base], 0.0)
    along = angle * radius * np.sign(segments.bulge[base])
    return np.asarray(np.where(arc, along, straight), dtype=np.float64)


def _overlap(segments: Segments, base: Indices, other: Indices) -> tuple[Floats, Floats]:
    """Return the stretch of `base` that `other` covers, from the middle of `base`, mm."""
    middle = _middle_on(segments, base, other)
    reach, half = segments.length[other] / 2, segments.length[base] / 2
    return np.maximum(-half, middle - reach), np.minimum(half, middle + reach)


def overlapping_pairs(segments: Segments, *, tolerances: Tolerances) -> tuple[Indices, Indices]:
    """Return pairs of segments that share a stretch of one line or circle."""
    if len(segments) < 2:
        none = np.zeros(0, dtype=np.intp)
        return none, none
    lateral = _LATERAL_SHARE * tolerances.gap_mm
    one, two = _touching_pairs(segments, lateral)
    longer = segments.length[one] >= segments.length[two]
    base, other = np.where(longer, one, two), np.where(longer, two, one)
    off = np.zeros(len(base))
    for share in (0.0, 0.5, 1.0):
        points = segments.points_at(other, np.full(len(other), share))
        off = np.maximum(off, _carrier_distance(segments, base, points))
    low, high = _overlap(segments, base, other)
    enough = np.minimum(tolerances.gap_mm, segments.length[other] / 2)
    shared = (off <= lateral) & (high - low > enough)
    return base[shared], other[shared]


def drop_overlaps(links: Links, *, tolerances: Tolerances) -> tuple[Links, list[Repair], Floats]:
    """Drop what lies twice.

    A chain wholly covered by others goes; a single line or arc partly covered is trimmed to
    the rest.  Longer chains stay, then longer pieces, then earlier ones.  Two long chains that
    share an edge are left as they are: which of them is meant cannot be told.

    Returns
    -------
    links : Links
    repairs : list of Repair
    cuts : (k, 2) float
        Ends of what was dropped, mm: a chain left open here was broken by the repair.
    """
    segments = links.segments
    base, other = overlapping_pairs(segments, tolerances=tolerances)
    link = links.link_of
    apart = link[base] != link[other]
    base, other = base[apart], other[apart]
    if not len(base):
        return links, [], np.zeros((0, 2))
    length = np.bincount(link, weights=segments.length, minlength=len(links))
    order = np.lexsort((np.arange(len(links)), -length, links.counts == 1))
    rank = np.empty(len(links), dtype=np.intp)
    rank[order] = np.arange(len(links))
    swap = rank[link[base]] > rank[link[other]]
    keeper, loser = np.where(swap, other, base), np.where(swap, base, other)
    low, high = _overlap(segments, loser, keeper)
    rests = _rests(segments, loser, low, high, tolerances)
    keepers = dict(zip(loser.tolist(), keeper.tolist(), strict=True))
    return _without(links, segments, rests, keepers)


Rest = list[tuple[float, float]]


def _rests(
    segments: Segments, loser: Indices, low: Floats, high: Floats, tolerances: Tolerances
) -> dict[int, Rest]:
    order = np.argsort(loser, kind="stable")
    which, begins = np.unique(loser[order], return_index=True)
    bounds = [*begins.tolist(), len(order)]
    return {
        int(i): _rest(segments, int(i), low[order[a:b]], high[order[a:b]], tolerances)
        for i, a, b in zip(which, bounds[:-1], bounds[1:], strict=True)
    }


def _rest(
    segments: Segments, index: int, low: Floats, high: Floats, tolerances: Tolerances
) -> Rest:
    """Return the stretches of a segment that nothing covers, as fractions of its length."""
    length = float(segments.length[index])
    rest: Rest = []
    reached = -length / 2
    for begin, end in sorted(zip(low.tolist(), high.tolist(), strict=True)):
        if begin - reached > tolerances.gap_mm:
            rest.append((reached / length + 0.5, begin / length + 0.5))
        reached = max(reached, end)
    if length / 2 - reached > tolerances.gap_mm:
        rest.append((reached / length + 0.5, 1.0))
    return rest


def _without(
    links: Links, segments: Segments, rests: dict[int, Rest], keeper: dict[int, int]
) -> tuple[Links, list[Repair], Floats]:
    """Take out the covered links and trim single pieces."""
    link = links.link_of
    covered = np.zeros(len(segments), dtype=np.bool_)
    covered[[i for i, rest in rests.items() if not rest]] = True
    whole = np.add.reduceat(covered, links.first[:-1]) == links.counts
    single = links.counts == 1
    repairs: list[Repair] = []
    cuts: list[Floats] = []
    chains: list[tuple[Floats, int]] = []
    changed = whole.copy()
    for i, rest in rests.items():
        own = int(link[i])
        if not whole[own] and not single[own]:
            continue
        changed[own] = True
        cuts.extend((segments.start[i], segments.end[i]))
        if whole[own] and i != links.first[own]:
            continue
        twin = keeper[i]
        size = float(segments.length[links.first[own] : links.first[own + 1]].sum())
        same = (
            abs(segments.length[twin] - segments.length[i])
            <= _SAME_LENGTH_SHARE * segments.length[i]
        )
        middle = segments.points_at(np.array([i]), np.array([0.5]))[0]
        repairs.append(
            Repair(
                kind=RepairKind.DUPLICATE if whole[own] and same else RepairKind.OVERLAP,
                x_mm=float(middle[0]),
                y_mm=float(middle[1]),
                strands=(int(links.owner[own]), int(links.owner[link[twin]])),
                size_mm=size * (1.0 - sum(b - a for a, b in rest)),
            )
        )
        for a, b in rest:
            ends = segments.points_at(np.array([i, i]), np.array([a, b]))
            bulge = np.tan(segments.sweep[i] * (b - a) / 4)
            rows = np.array([[*ends[0], bulge], [*ends[1], 0.0]])
            chains.append((rows, int(links.owner[own])))
    return _replaced(links, ~changed, chains), repairs, np.array(cuts).reshape(-1, 2)


def _replaced(links: Links, stay: Flags, chains: list[tuple[Floats, int]]) -> Links:
    """Return the links that stay, followed by open chains of given owners."""
    keep = np.repeat(stay, links.counts)
    counts = links.counts[stay]
    more = Links.from_chains([(rows, False) for rows, _ in chains])
    return Links(
        start=np.concatenate([links.start[keep], more.start]),
        end=np.concatenate([links.end[keep], more.end]),
        bulge=np.concatenate([links.bulge[keep], more.bulge]),
        first=np.concatenate([[0], np.cumsum(np.concatenate([counts, more.counts]))]),
        is_closed=np.concatenate([links.is_closed[stay], more.is_closed]),
        owner=np.concatenate(
            [links.owner[stay], np.array([owner for _, owner in chains], dtype=np.intp)]
        ),
    )
