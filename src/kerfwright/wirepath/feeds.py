"""Slow zones in the moves of a cut: the path stays as it is, the feeds change along it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.geometry.nearest import NearestIndex, project
from kerfwright.geometry.segments import Floats, Segments
from kerfwright.motion.moves import Moves, Purpose, Turn
from kerfwright.process.feed_advice import FeedAdvice, FeedLimit, feed_advice

Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]

_CUTTING: Final = frozenset({Purpose.WALL, Purpose.CORNER, Purpose.OVERLAP, Purpose.CUT_OFF})
_IS_CUTTING: Final = np.array([number in _CUTTING for number in range(max(Purpose) + 1)])
_WALL: Final = np.array([Purpose.WALL, Purpose.OVERLAP, Purpose.CUT_OFF])
_PIECE_SHARE: Final = 0.5
"""A piece is at least this share of the shortest zone: shorter ones are no use to a control."""
_SHORTEST_MM: Final = 0.05
"""The same where nothing limits the feed at corners."""
_STANDS_MM: Final = 1e-3
"""Less than this is no way along a face of the work, far below any lag: a leaning wire swings."""
_ON_WALL_MM: Final = 1e-4
"""A place of the wire's path belongs to a place of the wall that lies this near to its foot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SlowEntry:
    """A slow beginning of a cut, until the nozzles are wholly over the work.

    Attributes
    ----------
    length_mm : float
        From the start point along the path.
    factor : float
        On the feed along the wall.
    most : float
        Share of the feed along the wall away from the edge that it does not exceed anywhere.
    """

    length_mm: float
    factor: float
    most: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideEdge:
    """What of a cut runs beside the edge of the stock, and how much slower.

    Attributes
    ----------
    zones : tuple of (float, float)
        Begin and end along the moves, mm; they do not overlap.
    factor : float
        On the feed along the wall.  Corners and the slow beginning take theirs off beside it.
    """

    zones: tuple[tuple[float, float], ...]
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frame:
    """Begin, length, sweep and tangents of moves."""

    begin: Floats
    length: Floats
    radius: Floats
    sweep: Floats
    first: Floats
    last: Floats

    def turn_rad(self) -> Floats:
        """Return the turn at the joint after each move but the last, rad."""
        u, v = self.last[:-1], self.first[1:]
        across = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        turn: Floats = np.arctan2(across, u[:, 0] * v[:, 0] + u[:, 1] * v[:, 1])
        return turn


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pieces:
    """Moves cut in pieces: the move of each, the share of it at its end, its factor."""

    move: Indices
    end: Floats
    factor: Floats


def slowed(
    moves: Moves,
    *,
    nominal: Moves | None,
    offset_mm: float,
    offset_on_left: bool,
    limit: FeedLimit | None,
    entry: SlowEntry | None = None,
    beside: BesideEdge | None = None,
) -> tuple[Moves, Moves | None]:
    """Return the moves of a cut, and its programmed wall, with slow zones.

    At corners and arcs, at an entry from the edge of the stock and beside it.

    Moves are cut in two where a zone begins or ends, and only there.  The programmed wall is cut
    at the places opposite, so that a control that applies the offset slows at the same places.

    Parameters
    ----------
    moves : Moves
        Path of the wire centre, of an upright or a leaning wire.
    nominal : Moves or None
    offset_mm : float
    offset_on_left : bool
        Whether the wire runs left of the programmed wall.
    limit : FeedLimit or None
        Of the pass; None takes nothing back at corners and arcs.  A leaning wire is held by it as
        it passes the underside and as it passes the top of the work.
    entry : SlowEntry, optional
        Slow beginning; moves before the wall have their own feed already.
    beside : BesideEdge, optional
    """
    frame = _frame(moves)
    pieces = _pieces(moves, frame, limit, entry, beside)
    if pieces is None:
        return moves, nominal
    slow = _split(moves, frame, pieces)
    if nominal is None:
        return slow, None
    # The wall lies on the other side of the wire.
    side = 1.0 if offset_on_left else -1.0
    return slow, _slow_wall(moves, frame, pieces, nominal, foot_mm=side * offset_mm)


def _frame(moves: Moves) -> _Frame:
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    length = moves.lengths_mm()
    is_arc = moves.turn != Turn.LINE
    spoke, out = begin - moves.centre_mm, moves.end_mm - moves.centre_mm
    radius = np.where(is_arc, np.hypot(spoke[:, 0], spoke[:, 1]), 0.0)
    turned = np.divide(length, radius, out=np.zeros(len(length)), where=radius > 0)
    sweep: Floats = turned * moves.turn.astype(np.float64)
    chord = (moves.end_mm - begin) / np.where(length > 0, length, 1.0)[:, None]
    return _Frame(
        begin=begin,
        length=length,
        radius=radius,
        sweep=sweep,
        first=np.where(is_arc[:, None], _across(spoke, moves, radius), chord),
        last=np.where(is_arc[:, None], _across(out, moves, radius), chord),
    )


def _frames(moves: Moves, frame: _Frame | None = None) -> list[_Frame]:
    """Return the moves as the wire passes each face of the work; one frame where it is upright.

    That is `frame` itself, where it is known.
    """
    if moves.second_start_mm is None or moves.second_end_mm is None:
        return [_frame(moves) if frame is None else frame]
    first = replace(moves, second_start_mm=None, second_end_mm=None)
    second = replace(first, start_mm=moves.second_start_mm, end_mm=moves.second_end_mm)
    return [_going_on(_frame(face)) for face in (first, second)]


def _going_on(frame: _Frame) -> _Frame:
    """Return straight moves that keep their direction where the wire but swings about a point."""
    moved = np.where(frame.length > _STANDS_MM, np.arange(len(frame.length)), 0)
    going = frame.first[np.maximum.accumulate(moved)]
    return replace(frame, first=going, last=going)


def _across(spoke: Floats, moves: Moves, radius: Floats) -> Floats:
    """Return the direction of travel on arcs at the ends of their spokes."""
    turned = np.stack([-spoke[:, 1], spoke[:, 0]], axis=1) * moves.turn[:, None]
    direction: Floats = turned / np.where(radius > 0, radius, 1.0)[:, None]
    return direction


def trailing_um(moves: Moves, *, limit: FeedLimit) -> Floats:
    """Return the error predicted at corner and arc of each move with the feed taken back, µm.

    Of a leaning wire that of the face of the work where it is greater.

    Parameters
    ----------
    moves : Moves
        At the pass's usual feeds.
    limit : FeedLimit
        Of the pass.
    """
    every = [_advice(moves, frame, limit) for frame in _frames(moves)]
    errors = [error for one in every for error in (one.corner_error_um, one.arc_error_um)]
    worst: Floats = np.maximum.reduce(errors)
    return worst


def _advice(moves: Moves, frame: _Frame, limit: FeedLimit) -> FeedAdvice:
    cutting = _IS_CUTTING[moves.purpose]
    turn = np.zeros(len(moves))
    turn[:-1] = np.where(cutting[:-1] & cutting[1:], frame.turn_rad(), 0.0)
    # A corner run past lies in the waste: the wire comes round before it is at the wall again.
    past = (moves.purpose == Purpose.CORNER) & (moves.turn == Turn.LINE)
    return feed_advice(
        length_mm=frame.length,
        turn_rad=turn,
        radius_mm=np.where(cutting, frame.radius, 0.0),
        sweep_rad=frame.sweep,
        limit=limit,
        in_waste=np.append(past[1:], True) | ~cutting,
    )


def _pieces(
    moves: Moves,
    frame: _Frame,
    limit: FeedLimit | None,
    entry: SlowEntry | None,
    beside: BesideEdge | None,
) -> _Pieces | None:
    """Return the moves cut where slow zones begin and end, or None where there is no zone."""
    cutting = _IS_CUTTING[moves.purpose]
    shortest = _SHORTEST_MM if limit is None else limit.rules.shortest_zone_mm * _PIECE_SHARE
    low, high, factor = _slow_zones(moves, frame, limit, entry, shortest)
    zones = np.array(() if beside is None else beside.zones).reshape(-1, 2)
    if not len(factor) and not len(zones):
        return None
    edge_low = _station(zones[:, 0], frame.length, shortest, side="right")
    edge_high = _station(zones[:, 1], frame.length, shortest, side="left")
    n = len(moves)
    stations = np.concatenate([low, high, edge_low, edge_high])
    # Ways through open kerf and entries keep their feed: no cut within them.
    inside = cutting[np.minimum(stations.astype(np.intp), n - 1)]
    joints = np.unique(np.concatenate([np.arange(n + 1.0), stations[inside]]))
    count = len(joints) - 1
    first, last = np.searchsorted(joints, low), np.searchsorted(joints, high)
    least = _least(count, first, last, factor)
    if beside is not None:
        # One upon the other: a slow corner beside the edge is slower than one elsewhere.
        first, last = np.searchsorted(joints, edge_low), np.searchsorted(joints, edge_high)
        least *= _least(count, first, last, np.full(len(zones), beside.factor))
    if entry is not None:
        # Its end is the last of the zones'.
        till = int(np.searchsorted(joints, high[-1]))
        least[:till] = np.minimum(least[:till], entry.most)
    move = np.floor((joints[:-1] + joints[1:]) / 2).astype(np.intp)
    least[~cutting[move]] = 1.0
    share = joints[1:] - move
    size = np.diff(joints) * frame.length[move]
    return _merged(move, share, least, size, shortest=shortest)


def _slow_zones(
    moves: Moves,
    frame: _Frame,
    limit: FeedLimit | None,
    entry: SlowEntry | None,
    shortest: float,
) -> tuple[Floats, Floats, Floats]:
    """Return begin and end of slow zones as places along the moves, and their factors.

    A leaning wire is held at both faces of the work by what an upright one would need there.
    """
    found = []
    for one in [] if limit is None else _frames(moves, frame):
        assert limit is not None
        found.append((one.length, *_advice(moves, one, limit).zones(one.length)))
    if entry is not None:
        till = (np.zeros(1), np.array([entry.length_mm]), np.array([entry.factor]))
        found.append((frame.length, *till))
    nothing = np.zeros(0)
    return (
        np.concatenate(
            [nothing, *(_station(b, s, shortest, side="right") for s, b, _, _ in found)]
        ),
        np.concatenate([nothing, *(_station(e, s, shortest, side="left") for s, _, e, _ in found)]),
        np.concatenate([nothing, *(factor for *_, factor in found)]),
    )


def _station(at_mm: Floats, length: Floats, shortest: float, *, side: str) -> Floats:
    """Return places along a path as move number and share of the move, widened off its joints.

    ``side="right"`` is for begins, which move back; ``"left"`` for ends, which move on.
    """
    ends = np.cumsum(length)
    at = np.clip(at_mm, 0.0, ends[-1])
    is_begin = side == "right"
    move = np.searchsorted(ends, at, side="right" if is_begin else "left")
    move = np.minimum(move, len(length) - 1)
    full = length[move]
    here = np.clip(at - (ends[move] - full), 0.0, full)
    if not is_begin:
        here = full - here
    # Counted from the joint towards which a place is widened.
    here = np.where(full - here < shortest, full - shortest, here)
    here = np.where(here < shortest, 0.0, here)
    if not is_begin:
        here = full - here
    station: Floats = move + here / np.where(full > 0, full, 1.0)
    return station


def _least(count: int, first: Indices, last: Indices, factor: Floats) -> Floats:
    """Return the smallest factor of the ranges ``first`` to ``last`` that hold each piece.

    Each range is laid on as two blocks of a power of two; the blocks are then halved down to
    single pieces, so that the cost does not depend on how far ranges overlap.
    """
    keep = last > first
    first, last, factor = first[keep], last[keep], factor[keep]
    level = np.floor(np.log2(np.maximum(last - first, 1))).astype(np.intp)
    table = np.ones(count)
    for k in range(int(level.max(initial=0)), -1, -1):
        size, these = 1 << k, level == k
        np.minimum.at(table, first[these], factor[these])
        np.minimum.at(table, last[these] - size, factor[these])
        if k:
            half = size // 2
            spread = table.copy()
            spread[half:] = np.minimum(spread[half:], table[: count - half])
            table = spread
    return table


def _merged(
    move: Indices, end: Floats, factor: Floats, size: Floats, *, shortest: float
) -> _Pieces | None:
    """Return the pieces with slivers of full feed filled and equal neighbours made one."""
    if (factor == 1).all():
        return None
    same = move[1:] == move[:-1]
    gap = np.flatnonzero(same[:-1] & same[1:] & (size[1:-1] < shortest)) + 1
    around = np.maximum(factor[gap - 1], factor[gap + 1])
    factor[gap] = np.minimum(factor[gap], around)
    keep = np.append(~(same & (factor[1:] == factor[:-1])), True)
    return _Pieces(move=move[keep], end=end[keep], factor=factor[keep])


def _split(moves: Moves, frame: _Frame, pieces: _Pieces) -> Moves:
    """Return the moves cut in pieces; whole moves keep their end points to the last digit."""
    at = pieces.move
    is_whole = (pieces.end >= 1)[:, None]
    end = _points(moves, frame, at, pieces.end)
    second_end = None
    if moves.second_start_mm is not None and moves.second_end_mm is not None:
        # A leaning wire has straight moves, and gets through both planes in the same time.
        begin = np.vstack([moves.second_start_mm[None, :], moves.second_end_mm[:-1]])[at]
        whole = moves.second_end_mm[at]
        second_end = np.where(is_whole, whole, begin + (whole - begin) * pieces.end[:, None])
    return replace(
        moves,
        end_mm=np.where(is_whole, moves.end_mm[at], end),
        second_end_mm=second_end,
        centre_mm=moves.centre_mm[at],
        turn=moves.turn[at],
        purpose=moves.purpose[at],
        feed_mm_per_min=moves.feed_mm_per_min[at] * pieces.factor,
    )


def _points(moves: Moves, frame: _Frame, at: Indices, share: Floats) -> Floats:
    begin, centre = frame.begin[at], moves.centre_mm[at]
    spoke = begin - centre
    cos, sin = np.cos(frame.sweep[at] * share), np.sin(frame.sweep[at] * share)
    round_ = centre + np.stack(
        [spoke[:, 0] * cos - spoke[:, 1] * sin, spoke[:, 0] * sin + spoke[:, 1] * cos], axis=1
    )
    along = begin + (moves.end_mm[at] - begin) * share[:, None]
    points: Floats = np.where((moves.turn[at] == Turn.LINE)[:, None], along, round_)
    return points


def _slow_wall(
    moves: Moves, frame: _Frame, pieces: _Pieces, nominal: Moves, *, foot_mm: float
) -> Moves:
    """Return the programmed wall cut opposite the pieces of the wire's path, at their feeds.

    The foot of a place lies `foot_mm` to the right of travel.
    """
    other = _frame(nominal)
    middle = np.full(len(moves), 0.5)
    every = np.arange(len(moves))
    feet = _feet(moves, frame, every, middle, foot_mm=foot_mm)
    segments = Segments.from_ends(other.begin, nominal.end_mm, np.tan(other.sweep / 4))
    partner = _partners(moves, nominal, feet, segments)
    wall = partner[pieces.move]
    known = np.flatnonzero(wall >= 0)
    if not len(known):
        return nominal
    at, wall = pieces.move[known], wall[known]
    places = _feet(moves, frame, at, pieces.end[known], foot_mm=foot_mm)
    share = np.clip(project(segments, wall, places), 0.0, 1.0)
    # The last piece opposite a move of the wall ends where that does.
    share[np.append(wall[1:] != wall[:-1], True)] = 1.0
    missing = np.setdiff1d(np.arange(len(nominal)), wall)
    station = np.concatenate([wall + share, missing + 1.0])
    move = np.concatenate([wall, missing])
    factor = np.concatenate([pieces.factor[known], np.ones(len(missing))])
    order = np.argsort(station, kind="stable")
    station, move, factor = station[order], move[order], factor[order]
    size = np.diff(station, prepend=0.0) * other.length[move]
    keep = size > _ON_WALL_MM
    keep[np.append(move[1:] != move[:-1], True)] = True
    move, share, factor, size = (a[keep] for a in (move, (station - move), factor, size))
    merged = _merged(move, share, factor, size, shortest=_ON_WALL_MM)
    return nominal if merged is None else _split(nominal, other, merged)


def _feet(moves: Moves, frame: _Frame, at: Indices, share: Floats, *, foot_mm: float) -> Floats:
    points = _points(moves, frame, at, share)
    spoke = points - moves.centre_mm[at]
    on_arc = np.stack([-spoke[:, 1], spoke[:, 0]], axis=1) * moves.turn[at][:, None]
    on_arc /= np.where(frame.radius[at] > 0, frame.radius[at], 1.0)[:, None]
    travel = np.where((moves.turn[at] == Turn.LINE)[:, None], frame.first[at], on_arc)
    feet: Floats = points + foot_mm * np.stack([travel[:, 1], -travel[:, 0]], axis=1)
    return feet


def _partners(moves: Moves, nominal: Moves, feet: Floats, segments: Segments) -> Indices:
    """Return the move of the wall opposite each move of the wire, −1 where there is none.

    Mostly both run through the same elements in the same order; where they do not, each is sought
    among the elements of its purpose, so that an overlap is not taken for the beginning.
    """
    partner = np.full(len(moves), -1, dtype=np.intp)
    ours = np.flatnonzero(np.isin(moves.purpose, _WALL))
    theirs = np.flatnonzero(np.isin(nominal.purpose, _WALL))
    if len(ours) == len(theirs):
        near = segments.distances(theirs, feet[ours]) <= _ON_WALL_MM
        if near.all():
            partner[ours] = theirs
            return partner
    for purpose in _WALL:
        which = ours[moves.purpose[ours] == purpose]
        among = theirs[nominal.purpose[theirs] == purpose]
        if not len(which) or not len(among):
            continue
        part = Segments.from_ends(segments.start[among], segments.end[among], segments.bulge[among])
        distance, index = NearestIndex(part).query(feet[which])
        near = distance <= _ON_WALL_MM
        partner[which[near]] = among[index[near]]
    return partner
