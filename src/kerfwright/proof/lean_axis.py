"""The axis of the leaning wire move by move, and its distance in space from points of a wall.

In a move the axis runs from one straight line to another, both of its points evenly.  At a height z
it passes c(t), linear in the share t of the move, and leans by m(t) mm aside per mm up, linear too.
A point q of that height lies from it at

    d² = w · w − (w · m)² / (1 + m · m),   w = q − c,

which is exact.  Moves whose distance in the plane shows that another one comes nearer are left out;
in the others the minimum over the move is sought by Newton's steps from the best of six places.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from functools import cached_property
from typing import Self

import numpy as np
import shapely

from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Lean, Timeline

_LOOKS = 5
_STEPS = 6
_SMALL = 1e-9
"""Share by which bounds of distances are widened for their digits."""
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
    at_most, at_least = pairs.bounds()
    nearest = np.full(len(points), np.inf)
    np.minimum.at(nearest, who, at_most)
    kept = at_least <= nearest[who] * (1.0 + _SMALL)
    np.minimum.at(found, who[kept], pairs.taken(kept).least())
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

    def taken(self, rows: Flags) -> Self:
        """Return some of the pairs."""
        some = copy(self)
        for name, values in vars(self).items():
            setattr(some, name, values[..., rows])
        return some

    @cached_property
    def _foot(self) -> Floats:
        """Shares of the moves at which the axis is nearest in the plane."""
        square = np.maximum((self.run**2).sum(axis=0), _SHORT_MM**2)
        foot: Floats = np.clip((self.to_first * self.run).sum(axis=0) / square, 0.0, 1.0)
        return foot

    def at(self, t: Floats) -> Floats:
        """Return the squared distances at shares of the moves."""
        (x, y), (rx, ry) = self.to_first, self.run
        (mx, my), (ux, uy) = self.lean, self.turn
        wx, wy, ax, ay = x - rx * t, y - ry * t, mx + ux * t, my + uy * t
        along = wx * ax + wy * ay
        result: Floats = wx * wx + wy * wy - along * along / (1.0 + ax * ax + ay * ay)
        return result

    def bounds(self) -> tuple[Floats, Floats]:
        """Return squared distances that the least ones do not exceed, and do not fall below.

        In space a point is nearer than in the plane by no more than the cosine of the lean, which
        is greatest at an end of a move.
        """
        (x, y), (rx, ry), t = self.to_first, self.run, self._foot
        plane = (x - rx * t) ** 2 + (y - ry * t) ** 2
        leans = (self.lean**2).sum(axis=0), ((self.lean + self.turn) ** 2).sum(axis=0)
        at_least = plane / (1.0 + np.maximum(*leans))
        return self.at(t), at_least

    def least(self) -> Floats:
        """Return the least distances over the moves, mm."""
        looked = [np.full(self.run.shape[1], at) for at in np.linspace(0.0, 1.0, _LOOKS)]
        looked.append(self._foot)
        values = np.array([self.at(t) for t in looked])
        best = values.argmin(axis=0)
        rows = np.arange(len(best))
        least, t = values[best, rows], np.array(looked)[best, rows]
        for _ in range(_STEPS):
            t = self._nearer(t)
            least = np.minimum(least, self.at(t))
        result: Floats = np.sqrt(np.maximum(least, 0.0))
        return result

    def _nearer(self, t: Floats) -> Floats:
        """Return the places that one step of Newton's leads to, within the moves."""
        (x, y), (rx, ry) = self.to_first, self.run
        (mx, my), (ux, uy) = self.lean, self.turn
        wx, wy, ax, ay = x - rx * t, y - ry * t, mx + ux * t, my + uy * t
        b, c = wx * ax + wy * ay, 1.0 + ax * ax + ay * ay
        b1, b2 = wx * ux + wy * uy - rx * ax - ry * ay, -2.0 * (rx * ux + ry * uy)
        c1, c2 = 2.0 * (ax * ux + ay * uy), 2.0 * (ux * ux + uy * uy)
        share = b / c
        slope = -2.0 * (wx * rx + wy * ry) - share * (2.0 * b1 - share * c1)
        # Of b²/c: b'' and c'' and the square of what b/c changes by.
        bend = 2.0 * (rx * rx + ry * ry) - share * (2.0 * b2 - share * c2)
        bend -= 2.0 * (b1 - share * c1) ** 2 / c
        step = np.where(bend > _SHORT_MM**2, slope / np.maximum(bend, _SHORT_MM**2), 0.0)
        result: Floats = np.clip(t - step, 0.0, 1.0)
        return result
