"""Loops from loose pieces: what meets end to end becomes a contour, every repair is stated.

Ends nearer than ``merge_mm`` are one point.  Ends that are left over and nearer than
``gap_mm`` are moved together and reported.  Where three or more ends meet, nothing says which
way the contour goes: the whole network is returned as branched, never guessed.  All searches
go through trees and sorted arrays, so the time grows near linearly with the number of pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, Tolerances
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.overlaps import (
    Links,
    Repair,
    RepairKind,
    drop_overlaps,
    drop_zero_lengths,
)
from kerfwright.geometry.segments import Flags, Floats, Indices

_PARALLEL_SINE = 1e-3
"""Lines at a smaller angle cross too far off to mend their gap there."""

_SHORT_LINK = 4.0
"""An open piece shorter than this many gap tolerances is not closed upon itself."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """A contour and the strands it was made from, in order of travel."""

    contour: Contour
    strands: tuple[int, ...]
    was_cut: bool = False
    """Whether an end of it lies where an overlap was dropped."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Branched:
    """Pieces that meet three or more at a point.

    Attributes
    ----------
    points_mm : (k, 2) float
        Where they meet.
    ends : tuple of int
        How many ends meet at each point.
    strands : tuple of int
    chains : tuple of Contour
        The pieces themselves, for the picture.
    loose : tuple of int
        Strands that lie on no loop: ways that end in nothing.
    """

    points_mm: Floats
    ends: tuple[int, ...]
    strands: tuple[int, ...]
    chains: tuple[Contour, ...]
    loose: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembly:
    """What loose pieces make.

    Attributes
    ----------
    loops, open_chains : tuple of Chain
        In order of the first strand.
    branched : tuple of Branched
    repairs : tuple of Repair
    """

    loops: tuple[Chain, ...]
    open_chains: tuple[Chain, ...]
    branched: tuple[Branched, ...]
    repairs: tuple[Repair, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NearEnds:
    """Two free ends that look as if they belonged together.

    Attributes
    ----------
    chains : (int, int)
        Open chains by index, the same twice where one chain nearly closes.
    first_mm, second_mm : (float, float)
        The two ends.
    gap_mm : float
    """

    chains: tuple[int, int]
    first_mm: tuple[float, float]
    second_mm: tuple[float, float]
    gap_mm: float


def assemble(
    chains: Sequence[tuple[Floats, bool]], *, tolerances: Tolerances = DEFAULT_TOLERANCES
) -> Assembly:
    """Join strands to closed loops and open chains.

    Parameters
    ----------
    chains : sequence of ((n, 3) float, bool)
        Rows x, y, bulge in mm and whether the strand is closed; the position in the sequence
        names the strand.  Arcs sweep at most half a turn.
    tolerances : Tolerances
        ``merge_mm`` and ``gap_mm`` decide.

    Returns
    -------
    Assembly
    """
    links, void = drop_zero_lengths(Links.from_chains(chains), tolerances=tolerances)
    links, doubled, cuts = drop_overlaps(links, tolerances=tolerances)
    opened = np.flatnonzero(~links.is_closed)
    network = _Network.build(links, opened, tolerances)
    gaps = network.mend(tolerances)
    loops = [
        (int(links.owner[i]), _chain(links, [(int(i), False)], closed=True))
        for i in np.flatnonzero(links.is_closed)
    ]
    open_chains: list[tuple[int, Chain]] = []
    tangled = network.tangled()
    for path, closed in network.paths(~tangled):
        chain = _chain(links, path, closed=closed, cuts=cuts, merge_mm=tolerances.merge_mm)
        (loops if closed else open_chains).append((min(chain.strands), chain))
    loops.sort(key=lambda entry: entry[0])
    open_chains.sort(key=lambda entry: entry[0])
    return Assembly(
        loops=tuple(chain for _, chain in loops),
        open_chains=tuple(chain for _, chain in open_chains),
        branched=network.branched(tangled),
        repairs=(*void, *doubled, *gaps),
    )


def _chain(
    links: Links,
    path: Sequence[tuple[int, bool]],
    *,
    closed: bool,
    cuts: Floats | None = None,
    merge_mm: float = 0.0,
) -> Chain:
    """Build the contour along links, each forwards or backwards."""
    first = links.first
    index = np.concatenate(
        [
            np.arange(first[i + 1] - 1, first[i] - 1, -1)
            if back
            else np.arange(first[i], first[i + 1])
            for i, back in path
        ]
    )
    backwards = np.repeat([back for _, back in path], links.counts[[i for i, _ in path]])
    points = np.where(backwards[:, None], links.end[index], links.start[index])
    bulge = np.where(backwards, -links.bulge[index], links.bulge[index])
    rows = np.column_stack([points, bulge])
    if not closed:
        last = links.start[index[-1]] if backwards[-1] else links.end[index[-1]]
        rows = np.concatenate([rows, [[*last, 0.0]]])
    was_cut = False
    if not closed and cuts is not None and len(cuts):
        for end in (rows[0, :2], rows[-1, :2]):
            was_cut |= bool((np.abs(cuts - end).max(axis=1) <= merge_mm).any())
    strands = dict.fromkeys(int(links.owner[i]) for i, _ in path)
    return Chain(contour=Contour(rows, closed), strands=tuple(strands), was_cut=was_cut)


@dataclass(slots=True, kw_only=True, eq=False)
class _Network:
    """Open links and the points where their ends meet.

    End 2 k is the start and end 2 k + 1 the end of ``opened[k]``; ``node`` gives the point
    at which each end lies.
    """

    links: Links
    opened: Indices
    node: Indices
    node_count: int

    @classmethod
    def build(cls, links: Links, opened: Indices, tolerances: Tolerances) -> _Network:
        ends = np.empty((2 * len(opened), 2))
        ends[0::2] = links.start[links.first[opened]]
        ends[1::2] = links.end[links.first[opened + 1] - 1]
        if not len(ends):
            return cls(links=links, opened=opened, node=np.zeros(0, dtype=np.intp), node_count=0)
        # Equal points first: a tree would list every pair of a star of many ends.
        points, which = np.unique(ends, axis=0, return_inverse=True)
        pairs = _close_pairs(points, tolerances.merge_mm)
        count, label = _components(len(points), pairs)
        return cls(links=links, opened=opened, node=label[which.reshape(-1)], node_count=count)

    @property
    def degree(self) -> Indices:
        """Number of ends at each node."""
        return np.bincount(self.node, minlength=self.node_count)

    def _segment_of(self, end: int) -> int:
        link = self.opened[end >> 1]
        return int(self.links.first[link + 1] - 1 if end & 1 else self.links.first[link])

    def _point(self, end: int) -> Floats:
        side = self.links.end if end & 1 else self.links.start
        return np.array(side[self._segment_of(end)], dtype=np.float64)

    def mend(self, tolerances: Tolerances) -> list[Repair]:
        """Move free ends within ``gap_mm`` together, nearest first, and join their nodes."""
        free = np.flatnonzero(self.degree[self.node] == 1)
        if len(free) < 2:
            return []
        points = np.array([self._point(int(e)) for e in free])
        pairs = _close_pairs(points, tolerances.gap_mm)
        apart = points[pairs[:, 0]] - points[pairs[:, 1]]
        distance = np.hypot(apart[:, 0], apart[:, 1])
        length = np.bincount(
            self.links.link_of, weights=self.links.segments.length, minlength=len(self.links)
        )
        taken: set[int] = set()
        repairs: list[Repair] = []
        for k in np.argsort(distance, kind="stable").tolist():
            one, two = int(free[pairs[k, 0]]), int(free[pairs[k, 1]])
            itself = one >> 1 == two >> 1
            short = length[self.opened[one >> 1]] < _SHORT_LINK * tolerances.gap_mm
            if one in taken or two in taken or (itself and short):
                continue
            taken |= {one, two}
            repairs.append(self._join(one, two, float(distance[k])))
        return repairs

    def _join(self, one: int, two: int, gap_mm: float) -> Repair:
        p, q = self._point(one), self._point(two)
        meeting = self._crossing(one, two, p, q, gap_mm)
        shift = 0.0
        for end, old in ((one, p), (two, q)):
            side = self.links.end if end & 1 else self.links.start
            side[self._segment_of(end)] = meeting
            shift = max(shift, float(np.hypot(*(meeting - old))))
        self.node[two] = self.node[one]
        owner = self.links.owner
        return Repair(
            kind=RepairKind.GAP,
            x_mm=float(meeting[0]),
            y_mm=float(meeting[1]),
            strands=(int(owner[self.opened[one >> 1]]), int(owner[self.opened[two >> 1]])),
            size_mm=gap_mm,
            shift_um=shift * 1000.0,
        )

    def _crossing(self, one: int, two: int, p: Floats, q: Floats, gap_mm: float) -> Floats:
        """Return where two lines cross if that moves neither end further than the gap."""
        i, j = self._segment_of(one), self._segment_of(two)
        middle = (p + q) / 2
        if self.links.bulge[i] or self.links.bulge[j]:
            return middle
        u = self.links.end[i] - self.links.start[i]
        v = self.links.end[j] - self.links.start[j]
        cross = u[0] * v[1] - u[1] * v[0]
        if abs(cross) <= _PARALLEL_SINE * np.hypot(*u) * np.hypot(*v):
            return middle
        along = ((q - p)[0] * v[1] - (q - p)[1] * v[0]) / cross
        point = p + along * u
        far = max(np.hypot(*(point - p)), np.hypot(*(point - q)))
        return np.asarray(point) if far <= gap_mm else middle

    def tangled(self) -> Flags:
        """Return which open links hang together with a branching."""
        if not len(self.node):
            return np.zeros(0, dtype=np.bool_)
        pairs = np.stack([self.node[0::2], self.node[1::2]], axis=1)
        count, label = _components(self.node_count, pairs)
        bad = np.zeros(count, dtype=np.bool_)
        bad[label[self.degree > 2]] = True
        return bad[label[self.node[0::2]]]

    def branched(self, tangled: Flags) -> tuple[Branched, ...]:
        """Describe each network with a branching."""
        if not tangled.any():
            return ()
        pairs = np.stack([self.node[0::2], self.node[1::2]], axis=1)
        _, label = _components(self.node_count, pairs)
        group = label[self.node[0::2]]
        where = np.zeros((self.node_count, 2))
        where[self.node] = [self._point(e) for e in range(len(self.node))]
        degree = self.degree
        found = []
        for number in dict.fromkeys(group[tangled].tolist()):
            members = np.flatnonzero(group == number)
            nodes = np.flatnonzero((label == number) & (degree > 2))
            owners = self.links.owner[self.opened[members]]
            found.append(
                Branched(
                    points_mm=where[nodes],
                    ends=tuple(degree[nodes].tolist()),
                    strands=tuple(dict.fromkeys(sorted(owners.tolist()))),
                    loose=self._loose(members),
                    chains=tuple(
                        _chain(self.links, [(int(self.opened[k]), False)], closed=False).contour
                        for k in members
                    ),
                )
            )
        return tuple(found)

    def _loose(self, members: Indices) -> tuple[int, ...]:
        """Return the strands of a network that end in nothing, once those beyond are away."""
        left = members
        while len(left):
            degree = np.bincount(
                np.concatenate([self.node[2 * left], self.node[2 * left + 1]]),
                minlength=self.node_count,
            )
            on = (degree[self.node[2 * left]] > 1) & (degree[self.node[2 * left + 1]] > 1)
            if on.all():
                break
            left = left[on]
        owner = self.links.owner[self.opened]
        stay = set(owner[left].tolist())
        return tuple(dict.fromkeys(o for o in sorted(owner[members].tolist()) if o not in stay))

    def paths(self, wanted: Flags) -> list[tuple[list[tuple[int, bool]], bool]]:
        """Return the paths through nodes of two ends: links with sense, and whether closed."""
        ends = np.flatnonzero(np.repeat(wanted, 2))
        order = ends[np.argsort(self.node[ends], kind="stable")]
        same = self.node[order[:-1]] == self.node[order[1:]]
        partner = np.full(len(self.node), -1)
        partner[order[:-1][same]] = order[1:][same]
        partner[order[1:][same]] = order[:-1][same]
        mates, opened = partner.tolist(), self.opened.tolist()
        seen = [not w for w in wanted.tolist()]
        paths: list[tuple[list[tuple[int, bool]], bool]] = []
        starts = [e for e in ends.tolist() if mates[e] < 0]
        # Free ends first; what remains after them is closed and may start anywhere.
        for start in [*starts, *(2 * k for k in range(len(opened)))]:
            if seen[start >> 1]:
                continue
            path, end = [], start
            while end >= 0 and not seen[end >> 1]:
                seen[end >> 1] = True
                path.append((opened[end >> 1], bool(end & 1)))
                end = mates[end ^ 1]
            paths.append((path, end >= 0))
        return paths


def _close_pairs(points: Floats, reach_mm: float) -> Indices:
    from scipy.spatial import cKDTree

    return np.asarray(
        cKDTree(points).query_pairs(reach_mm, output_type="ndarray"), dtype=np.intp
    ).reshape(-1, 2)


def _components(count: int, pairs: Indices) -> tuple[int, Indices]:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    number, label = connected_components(graph, directed=False)
    return int(number), np.asarray(label, dtype=np.intp)


def near_ends(chains: Sequence[Contour], *, reach_mm: float, share: float) -> tuple[NearEnds, ...]:
    """Return free ends that look like a broken contour, nearest first.

    They do only where closing the gaps would close a loop: a row of dashes or the lines of a
    hatching lie near each other too.

    Parameters
    ----------
    chains : sequence of Contour
        Open chains.
    reach_mm : float
        Two ends nearer than this belong together.
    share : float
        So do the two ends of one chain nearer than this share of its length.
    """
    if not chains:
        return ()
    ends = np.concatenate([[c.vertices[0, :2], c.vertices[-1, :2]] for c in chains])
    pairs = {(int(a), int(b)) for a, b in _close_pairs(ends, reach_mm)}
    for k, chain in enumerate(chains):
        gap = float(np.hypot(*(ends[2 * k] - ends[2 * k + 1])))
        if gap <= max(share * chain.length_mm, 0.0) and len(chain) > 1:
            pairs.add((2 * k, 2 * k + 1))
        elif len(chain) == 1:
            # A single line or arc is no contour, however short it is.
            pairs.discard((2 * k, 2 * k + 1))
    found = [
        NearEnds(
            chains=(a >> 1, b >> 1),
            first_mm=(float(ends[a, 0]), float(ends[a, 1])),
            second_mm=(float(ends[b, 0]), float(ends[b, 1])),
            gap_mm=float(np.hypot(*(ends[a] - ends[b]))),
        )
        for a, b in _in_rings(pairs)
    ]
    return tuple(sorted(found, key=lambda n: (n.gap_mm, n.chains)))


def _in_rings(pairs: set[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return the pairs of ends that remain when chains with an unpaired end are taken away.

    End e belongs to chain e // 2; its other end is e ^ 1.
    """
    partners: dict[int, set[int]] = {}
    for a, b in pairs:
        partners.setdefault(a, set()).add(b)
        partners.setdefault(b, set()).add(a)
    loose = [end for end in partners if end ^ 1 not in partners]
    while loose:
        end = loose.pop()
        for other in partners.pop(end, ()):
            partners[other].discard(end)
            if not partners[other]:
                del partners[other]
                loose.append(other ^ 1)
    return sorted((a, b) for a, b in pairs if b in partners.get(a, ()))
