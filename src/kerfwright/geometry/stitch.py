"""Stitching kept pieces of a raw offset into closed loops.

Most pieces simply run on into the next one of the chain; such runs become *strings* without
looking at any other piece.  Only the ends of strings are gathered into nodes, and only strings
are walked one by one, so the work in Python grows with the number of places where the offset
crosses itself and not with the number of segments.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from kerfwright.foundation.tolerances import Tolerances
from kerfwright.geometry.chain import SMOOTH_SHARE
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.intersect import cross
from kerfwright.geometry.pieces import Pieces, piece_ends
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import TWO_PI, Floats, Indices, Segments

_ROUNDING_MM = 1e-12
"""Ends that differ by this are one in doubles: the bulge of the source stays as it is."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stitched:
    """One closed loop: its contour, the element of every segment, its area and length."""

    contour: Contour
    element: Indices
    area_mm2: float
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Strings:
    """Runs of pieces; `first[s]` to `first[s] + count[s]` in the rolled order of pieces."""

    first: Indices
    count: Indices
    node_in: Indices
    node_out: Indices
    heading_in: Floats
    heading_out: Floats
    alive: list[bool]


def _nodes(points: Floats, one: Indices, other: Indices, node_mm: float) -> Indices:
    """Return the node of each point; those within `node_mm`, and one with other, share it."""
    pairs = cKDTree(points).query_pairs(node_mm, output_type="ndarray")
    rows, columns = np.append(pairs[:, 0], one), np.append(pairs[:, 1], other)
    joined = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(len(points), len(points)))
    return np.asarray(connected_components(joined, directed=False)[1], dtype=np.intp)


def _headings(elements: Segments, index: Indices, fraction: Floats) -> Floats:
    tangent = elements.tangents_at(index, fraction)
    return np.asarray(np.arctan2(tangent[:, 1], tangent[:, 0]))


def _alive(node_in: Indices, node_out: Indices, length: Floats, node_mm: float) -> list[bool]:
    """Drop strings that lead nowhere, again and again until each has a way in and out."""
    size = int(max(node_in.max(), node_out.max())) + 1
    alive = (node_in != node_out) | (length > 10 * node_mm)
    while True:
        into = np.bincount(node_out[alive], minlength=size)
        out_of = np.bincount(node_in[alive], minlength=size)
        dead = alive & ((into[node_in] == 0) | (out_of[node_out] == 0))
        if not dead.any():
            return [bool(flag) for flag in alive]
        alive &= ~dead


def _strings(
    elements: Segments, pieces: Pieces, ends: tuple[Floats, Floats], linked: Indices, node_mm: float
) -> _Strings:
    """Gather runs of linked pieces; `linked` rows are the starts of runs."""
    k = len(pieces)
    first = linked
    count = np.diff(np.append(first, k + first[0]))
    last = (first + count - 1) % k
    # String after string in the order of the chain: a smooth joint that others meet is a node.
    over = np.flatnonzero(pieces.is_joined[last])
    nodes = _nodes(
        np.concatenate([ends[0][first], ends[1][last]]),
        len(first) + over,
        (over + 1) % len(first),
        node_mm,
    )
    node_in, node_out = nodes[: len(first)], nodes[len(first) :]
    piece_length = (pieces.finish - pieces.begin) * elements.length[pieces.element]
    total = np.concatenate([[0.0], np.cumsum(np.concatenate([piece_length, piece_length]))])
    return _Strings(
        first=first,
        count=count,
        node_in=node_in,
        node_out=node_out,
        heading_in=_headings(elements, pieces.element[first], pieces.begin[first]),
        heading_out=_headings(elements, pieces.element[last], pieces.finish[last]),
        alive=_alive(node_in, node_out, total[first + count] - total[first], node_mm),
    )


def _walk(strings: _Strings, side: float) -> list[list[int]]:
    """Follow strings from node to node and return the closed loops.

    Where several strings leave a node, the sharpest turn towards the offset side keeps loops
    that only touch apart.
    """
    leaving: dict[int, list[int]] = {}
    node_in, node_out = strings.node_in.tolist(), strings.node_out.tolist()
    heading_in, heading_out = strings.heading_in.tolist(), strings.heading_out.tolist()
    unused = [s for s, alive in enumerate(strings.alive) if alive]
    for s in unused:
        leaving.setdefault(node_in[s], []).append(s)
    used = set[int]()
    loops: list[list[int]] = []
    for begin in unused:
        if begin in used:
            continue
        path: list[int] = []
        place: dict[int, int] = {}
        here: int | None = begin
        while here is not None:
            used.add(here)
            place[node_in[here]] = len(path)
            path.append(here)
            node = node_out[here]
            if node in place:
                closed = path[place[node] :]
                loops.append(closed)
                path = path[: place[node]]
                for s in closed:
                    place.pop(node_in[s], None)
                if not path:
                    break
            out = heading_out[here]
            choices = [s for s in leaving.get(node, []) if s not in used]
            here = max(
                choices,
                key=lambda s: side * ((heading_in[s] - out + math.pi) % TWO_PI - math.pi),
                default=None,
            )
    return loops


def _merged(elements: Segments, pieces: Pieces, rows: Indices, sliver_mm: float) -> Pieces:
    """Return the pieces of a loop with neighbours of one element made whole again."""
    element, begin, finish = pieces.element[rows], pieces.begin[rows], pieces.finish[rows]
    if len(rows) > 1:
        before = rolled(element, 1)
        gap = np.abs(begin - rolled(finish, 1)) * elements.length[element]
        runs_on = (element == before) & (gap <= sliver_mm)
        if runs_on.any() and not runs_on.all():
            shift = -int(np.flatnonzero(~runs_on)[0])
            element, runs_on = rolled(element, shift), rolled(runs_on, shift)
            begin, finish = rolled(begin, shift), rolled(finish, shift)
            starts = np.flatnonzero(~runs_on)
            stops = np.append(starts[1:], len(element)) - 1
            element, begin, finish = element[starts], begin[starts], finish[stops]
    no = np.zeros(len(element), dtype=bool)
    return Pieces(
        element=element,
        begin=begin,
        finish=finish,
        is_begin_met=no,
        is_finish_met=no,
        is_joined=no,
    )


def _loop(elements: Segments, pieces: Pieces) -> Stitched:
    """Turn the pieces of one loop into a contour."""
    if len(pieces) == 1:
        pieces = _halved(pieces)
    element = pieces.element
    points, ends = piece_ends(elements, pieces)
    onward = rolled(points, -1)
    moved = onward - ends
    bulge = elements.bulge[element]
    sweep = elements.sweep[element] * (pieces.finish - pieces.begin)
    # A joint may have moved the end along the travel: an arc then grows or shrinks by that much.
    is_moved = np.abs(moved).max(axis=1) > _ROUNDING_MM
    last = np.flatnonzero(is_moved & elements.is_arc[element])
    if len(last):
        ahead = elements.tangents_at(element[last], pieces.finish[last])
        along = (moved[last] * ahead).sum(axis=1)
        # An arc hardly longer than the move has no say in where its end lies.
        size = elements.radius[element[last]] * np.abs(sweep[last])
        along = np.where(np.abs(along) <= SMOOTH_SHARE * size, along, 0.0)
        sweep[last] += np.sign(sweep[last]) * along / elements.radius[element[last]]
    cut = np.flatnonzero(is_moved | (pieces.begin > 0) | (pieces.finish < 1))
    bulge[cut] = np.tan(sweep[cut] / 4)
    vertices = np.empty((len(points), 3))
    vertices[:, :2], vertices[:, 2] = points, bulge
    # Area and length without deriving the segments again: that is left to who needs them.
    p, q = points - points[0], onward - points[0]
    radius = np.where(elements.is_arc[element], elements.radius[element], 0.0)
    caps = radius * radius * (sweep - np.sin(sweep))
    length = (pieces.finish - pieces.begin) * elements.length[element]
    return Stitched(
        contour=Contour(vertices),
        element=element,
        area_mm2=float((cross(p, q) + caps).sum()) / 2,
        length_mm=float(length.sum()),
    )


def _halved(pieces: Pieces) -> Pieces:
    """Return the two halves of a whole circle: a contour wants two segments."""
    middle = (pieces.begin + pieces.finish) / 2
    no = np.zeros(2, dtype=bool)
    return Pieces(
        element=np.repeat(pieces.element, 2),
        begin=np.append(pieces.begin, middle),
        finish=np.append(middle, pieces.finish),
        is_begin_met=no,
        is_finish_met=no,
        is_joined=no,
    )


def _is_real(loop: Stitched, tolerances: Tolerances) -> bool:
    """Tell a loop from two pieces that run to and fro over each other."""
    length = max(loop.length_mm, 1e3 * tolerances.validity_mm)
    return abs(loop.area_mm2) >= tolerances.validity_mm * length


def stitched(
    elements: Segments, pieces: Pieces, *, side: float, tolerances: Tolerances
) -> list[Stitched]:
    """Stitch kept pieces into closed loops.

    Parameters
    ----------
    elements : Segments
        Raw elements.
    pieces : Pieces
        Kept pieces in order of travel.
    side : float
        1 for an offset to the left of travel, -1 to the right.
    tolerances : Tolerances
        ``node_mm`` joins ends.

    Returns
    -------
    list of Stitched
        Loops of no particular order; loops without area are left out.
    """
    if not len(pieces):
        return []
    begins, ends = piece_ends(elements, pieces)
    gap = rolled(begins, -1) - ends
    runs_on = (np.hypot(gap[:, 0], gap[:, 1]) <= tolerances.node_mm) | pieces.is_joined
    runs_on &= ~(pieces.is_finish_met | rolled(pieces.is_begin_met, -1))
    if runs_on.all():
        loops = [_loop(elements, pieces)]
    else:
        first = np.flatnonzero(~rolled(runs_on, 1))
        strings = _strings(elements, pieces, (begins, ends), first, tolerances.node_mm)
        orders = [
            np.concatenate([strings.first[s] + np.arange(strings.count[s]) for s in walk])
            % len(pieces)
            for walk in _walk(strings, side)
        ]
        loops = [
            _loop(elements, _merged(elements, pieces, rows, tolerances.sliver_mm))
            for rows in orders
        ]
    return [loop for loop in loops if _is_real(loop, tolerances)]
