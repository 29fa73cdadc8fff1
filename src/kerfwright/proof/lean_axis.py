"""The axis of the leaning wire move by move, and its distance in space from points of a wall.

In a move the axis runs from one straight line to another, both of its points evenly.  At a height z
it passes c(t), linear in the share t of the move, and leans by m(t) mm aside per mm up, linear too.
A point q of that height lies from it at

    d² = w · w − (w · m)² / (1 + m · m),   w = q − c,

which is exact; its minimum over the move is sought by halving, from the best of five places.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.geometry.segments import Floats, Indices
from kerfwright.nc.timeline import Lean, Timeline

_LOOKS = 5
_HALVINGS = 24
_SHORT_MM = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AxisMoves:
    """Cutting moves of a leaning wire.

    Attributes
    ----------
    first, last : (n, 2) float
        Where the axis passes height 0 at the start and at the end of each move.
    lean_first, lean_last : (n, 2) float
        Its lean there, mm aside per mm up.
    move : (n,) int
        Move of the time line.
    """

    first: Floats
    last: Floats
    lean_first: Floats
    lean_last: Floats
    move: Indices

    def __len__(self) -> int:
        return len(self.move)

    def at(self, height_mm: float) -> tuple[Floats, Floats]:
        """Return where the axis passes a height at both ends of each move, (n, 2) mm each."""
        return self.first + self.lean_first * height_mm, self.last + self.lean_last * height_mm


def lean_of(timeline: Timeline) -> Lean:
    """Return the lean of a time line, none where the program sets no planes."""
    if timeline.lean is not None:
        return timeline.lean
    none = np.zeros_like(timeline.start_mm)
    return Lean(start_mm=none, end_mm=none, program_mm=0.0, second_mm=1.0)


def axis_moves(timeline: Timeline, moves: Indices) -> AxisMoves:
    """Return the axis in some moves of a time line.

    Parameters
    ----------
    timeline : Timeline
    moves : (k,) int
        Feed moves along lines.
    """
    lean = lean_of(timeline)
    apart = lean.second_mm - lean.program_mm
    first, last = lean.start_mm[moves] / apart, lean.end_mm[moves] / apart
    return AxisMoves(
        first=timeline.start_mm[moves] - first * lean.program_mm,
        last=timeline.end_mm[moves] - last * lean.program_mm,
        lean_first=first,
        lean_last=last,
        move=moves,
    )


def distances(axis: AxisMoves, points: Floats, height_mm: float, *, within_mm: float) -> Floats:
    """Return the distance in space of points of one height from all positions of the axis.

    Parameters
    ----------
    axis : AxisMoves
    points : (m, 2) float
    height_mm : float
    within_mm : float
        Distances above this are returned as this.

    Returns
    -------
    (m,) float
    """
    found = np.full(len(points), within_mm)
    if not len(axis) or not len(points):
        return found
    begin, end = axis.at(height_mm)
    lean = np.maximum(
        np.hypot(*axis.lean_first.T).max(initial=0.0), np.hypot(*axis.lean_last.T).max(initial=0.0)
    )
    # A path of no length is a point; shapely takes it as a line all the same.
    tree = shapely.STRtree(shapely.linestrings(np.stack([begin, end], axis=1)))
    who, which = tree.query(
        shapely.points(points),
        predicate="dwithin",
        distance=float(within_mm * np.sqrt(1.0 + lean * lean)),
    )
    if not len(who):
        return found
    pairs = _Pairs(axis, points[who], which, begin, end)
    np.minimum.at(found, who, pairs.least())
    return found


class _Pairs:
    """Points each paired with one move; coordinates apart, for that is twice as quick."""

    def __init__(
        self, axis: AxisMoves, points: Floats, which: Indices, begin: Floats, end: Floats
    ) -> None:
        self.to_first = (points - begin[which]).T.copy()
        self.run = (end[which] - begin[which]).T.copy()
        self.lean = axis.lean_first[which].T.copy()
        self.turn = (axis.lean_last[which] - axis.lean_first[which]).T.copy()

    def at(self, t: Floats) -> Floats:
        """Return the squared distances at shares of the moves."""
        (x, y), (rx, ry) = self.to_first, self.run
        (mx, my), (ux, uy) = self.lean, self.turn
        wx, wy, ax, ay = x - rx * t, y - ry * t, mx + ux * t, my + uy * t
        along = wx * ax + wy * ay
        result: Floats = wx * wx + wy * wy - along * along / (1.0 + ax * ax + ay * ay)
        return result

    def least(self) -> Floats:
        """Return the least distances over the moves, mm."""
        n = self.run.shape[1]
        square = np.maximum((self.run**2).sum(axis=0), _SHORT_MM**2)
        foot = np.clip((self.to_first * self.run).sum(axis=0) / square, 0.0, 1.0)
        looked = [np.full(n, at) for at in np.linspace(0.0, 1.0, _LOOKS)] + [foot]
        values = np.array([self.at(t) for t in looked])
        best = values.argmin(axis=0)
        at = np.array(looked)[best, np.arange(n)]
        half = 1.0 / (_LOOKS - 1)
        low, high = np.maximum(at - half, 0.0), np.minimum(at + half, 1.0)
        for _ in range(_HALVINGS):
            third = (high - low) / 3
            a, b = low + third, high - third
            is_left = self.at(a) <= self.at(b)
            low, high = np.where(is_left, low, a), np.where(is_left, b, high)
        least = np.minimum(values.min(axis=0), self.at((low + high) / 2))
        result: Floats = np.sqrt(np.maximum(least, 0.0))
        return result
