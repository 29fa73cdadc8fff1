"""Pieces of path: runs along a loop, arcs onto and off the wall, joined to moves."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import TWO_PI, Floats, Segments
from kerfwright.motion.moves import Moves, Purpose, Turn

_NEAR_ENDS_MM = np.array([0.0005, 0.001, 0.002, 0.004, 0.008, 0.016, 0.03])
_SHORTEST_MM = 1e-6
"""Pieces below a nanometre are left out of a run."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """Consecutive line and arc pieces from a start point.

    Attributes
    ----------
    start : (2,) float
    end : (n, 2) float
    centre : (n, 2) float
    turn : (n,) int8
    purpose : (n,) int8
    source : (n,) int
        Segment of the loop each piece lies on; −1 for pieces that lie on none.
    """

    start: Floats
    end: Floats
    centre: Floats
    turn: NDArray[np.int8]
    purpose: NDArray[np.int8]
    source: NDArray[np.intp]

    @property
    def last(self) -> Floats:
        """End point of the last piece, or the start of an empty run."""
        return self.end[-1] if len(self.end) else self.start

    def reversed(self) -> Run:
        """Return the run travelled from its end to its start."""
        return Run(
            start=self.last,
            end=np.vstack([self.end[-2::-1], self.start[None, :]]) if len(self.end) else self.end,
            centre=self.centre[::-1],
            turn=-self.turn[::-1],
            purpose=self.purpose[::-1],
            source=self.source[::-1],
        )

    def returning(self) -> Run:
        """Return the run as a way through open kerf."""
        return replace(self, purpose=np.full(len(self.turn), Purpose.RETURN, dtype=np.int8))

    def begins(self) -> Floats:
        """Return where each piece begins, (n, 2) mm."""
        if not len(self.turn):
            return self.end
        begins = np.empty_like(self.end)
        begins[0], begins[1:] = self.start, self.end[:-1]
        return begins


def along(contour: Contour, *, begin_mm: float, length_mm: float, purpose: Purpose) -> Run:
    """Return the run along a closed contour from one arc length on, forwards.

    Parameters
    ----------
    contour : Contour
        Closed.
    begin_mm : float
        Arc length of the start; any value, taken round the loop.
    length_mm : float
        Length of the run, ≥ 0; more than a full turn is allowed.
    purpose : Purpose
    """
    total, n = contour.length_mm, len(contour)
    begin = begin_mm % total
    first, first_fraction = _locate(contour, begin)
    turns, rest = divmod(begin + length_mm, total)
    last, last_fraction = _locate(contour, rest)
    index = np.arange(first, last + int(turns) * n + 1) % n
    low, high = np.zeros(len(index)), np.ones(len(index))
    low[0], high[-1] = first_fraction, last_fraction
    s = contour.segments
    keep = (high - low) * s.length[index] > _SHORTEST_MM
    start = s.points_at(index[:1], low[:1])[0]
    index, high = index[keep], high[keep]
    # Whole pieces end on the contour's own vertices, to the last digit.
    end = np.where((high == 1.0)[:, None], s.end[index], s.points_at(index, high))
    return Run(
        start=start,
        end=end,
        centre=s.centre[index],
        turn=np.sign(s.bulge[index]).astype(np.int8) * s.is_arc[index].astype(np.int8),
        purpose=np.full(len(index), purpose, dtype=np.int8),
        source=index,
    )


def _locate(contour: Contour, station_mm: float) -> tuple[int, float]:
    index, fraction = contour.locate(np.array([station_mm]))
    return int(index[0]), float(fraction[0])


def straight(points: Sequence[Floats], *, purpose: Purpose) -> Run:
    """Return lines through points; repeated points are left out."""
    kept = [np.asarray(points[0], dtype=np.float64)]
    for p in points[1:]:
        if np.hypot(*(p - kept[-1])) > _SHORTEST_MM:
            kept.append(np.asarray(p, dtype=np.float64))
    n = len(kept) - 1
    return Run(
        start=kept[0],
        end=np.array(kept[1:]).reshape(-1, 2),
        centre=np.zeros((n, 2)),
        turn=np.zeros(n, dtype=np.int8),
        purpose=np.full(n, purpose, dtype=np.int8),
        source=np.full(n, -1, dtype=np.intp),
    )


def arc(start: Floats, end: Floats, centre: Floats, *, turn: Turn, purpose: Purpose) -> Run:
    """Return one arc."""
    return Run(
        start=start,
        end=end[None, :],
        centre=centre[None, :],
        turn=np.array([turn], dtype=np.int8),
        purpose=np.array([purpose], dtype=np.int8),
        source=np.array([-1], dtype=np.intp),
    )


def joined(runs: Sequence[Run], *, feeds: Mapping[Purpose, float]) -> Moves:
    """Return the moves of runs that follow each other, with a feed by purpose.

    Raises
    ------
    AssertionError
        If a run does not begin where the one before ends, within 1 nm.
    """
    runs = [r for r in runs if len(r.turn)]
    for before, after in itertools.pairwise(runs):
        assert np.hypot(*(after.start - before.last)) <= _SHORTEST_MM, (before.last, after.start)
    purpose = np.concatenate([r.purpose for r in runs])
    return Moves(
        start_mm=runs[0].start,
        end_mm=np.vstack([r.end for r in runs]),
        centre_mm=np.vstack([r.centre for r in runs]),
        turn=np.concatenate([r.turn for r in runs]),
        purpose=purpose,
        feed_mm_per_min=_by_purpose(purpose, feeds),
    )


def with_feeds(moves: Moves, *, feeds: Mapping[Purpose, float]) -> Moves:
    """Return the same moves with a feed by purpose."""
    return replace(moves, feed_mm_per_min=_by_purpose(moves.purpose, feeds))


def _by_purpose(purpose: NDArray[np.int8], feeds: Mapping[Purpose, float]) -> Floats:
    table = np.zeros(max(Purpose) + 1)
    for key, feed in feeds.items():
        table[key] = feed
    found: Floats = table[purpose]
    return found


def _sweeps(begin: Floats, end: Floats, centre: Floats, turn: NDArray[np.int8]) -> Floats:
    """Return the signed sweep of each piece, (n,) rad; 0 for lines."""
    if not turn.any():
        return np.zeros(len(turn))
    a, b = begin - centre, end - centre
    angle = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1])
    swept: Floats = np.where(turn == 0, 0.0, np.mod(angle * turn, TWO_PI) * turn)
    return swept


def segments_of(runs: Sequence[Run]) -> Segments:
    """Return the pieces of several runs as segments."""
    begin = np.concatenate([run.begins() for run in runs])
    end = np.concatenate([run.end for run in runs])
    centre = np.concatenate([run.centre for run in runs])
    turn = np.concatenate([run.turn for run in runs])
    return Segments.from_ends(begin, end, np.tan(_sweeps(begin, end, centre, turn) / 4))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """Points along a run.

    Attributes
    ----------
    points : (m, 2) float
        From the start to the end of the run, mm.
    way_mm : (m,) float
        Length of the run up to each, ascending.
    """

    points: Floats
    way_mm: Floats

    def __len__(self) -> int:
        return len(self.way_mm)


def samples(run: Run, *, step_mm: float) -> Samples:
    """Return points on the run no farther apart than `step_mm`, closer near the ends of a piece.

    A piece that leaves a wall at a slant is nearest to the next wall within micrometres of where
    it leaves.  The ends of the run are among them.
    """
    n = len(run.turn)
    begin = run.begins()
    sweep = _sweeps(begin, run.end, run.centre, run.turn)
    a, is_line = begin - run.centre, run.turn == 0
    chord = np.hypot(*(run.end - begin).T)
    length = np.where(is_line, chord, np.hypot(a[:, 0], a[:, 1]) * np.abs(sweep))
    steps = np.maximum(2, np.ceil(length / step_mm).astype(np.intp) + 1) - 1
    piece = np.repeat(np.arange(n), steps)
    number = np.arange(len(piece)) - np.repeat(np.cumsum(steps) - steps, steps) + 1
    close, which = np.nonzero(length[:, None] > _NEAR_ENDS_MM[None, :])
    near = _NEAR_ENDS_MM[which] / length[close]
    at = np.concatenate([piece, close, close])
    t = np.concatenate([number / steps[piece], near, 1.0 - near])
    order = np.lexsort((t, at))
    at, t = at[order], t[order]
    first = begin.take(at, axis=0)
    line = first + (run.end.take(at, axis=0) - first) * t[:, None]
    turned, spoke = sweep[at] * t, a.take(at, axis=0)
    cos, sin = np.cos(turned), np.sin(turned)
    round_ = np.column_stack(
        [spoke[:, 0] * cos - spoke[:, 1] * sin, spoke[:, 0] * sin + spoke[:, 1] * cos]
    )
    points = np.where(is_line[at][:, None], line, run.centre.take(at, axis=0) + round_)
    gone = np.cumsum(length) - length
    return Samples(
        points=np.vstack([run.start[None, :], points]),
        way_mm=np.concatenate([[0.0], gone[at] + length[at] * t]),
    )
