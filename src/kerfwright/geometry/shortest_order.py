"""A short way through many points: nearest neighbour or strips, then 2-opt and Or-opt.

Finding the shortest way is the travelling salesman's problem.  Plain tours are made and the
shortest improved until no exchange of two edges and no move of up to three points to a
neighbour's side shortens it, looking at the nearest neighbours of each point only.  That is
usually within 5 % of the shortest (D. S. Johnson and L. A. McGeoch, "The traveling salesman
problem: a case study in local optimization", 1997, from memory).  The same points give the same
way: nothing is drawn by lot.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_NEIGHBOURS: Final = 8
_LONGEST_PIECE: Final = 3
_TRIALS: Final = 1200
"""Points times tours to improve: with few points more tours are tried."""
_GAIN_SHARE: Final = 1e-9
"""Of the extent: smaller gains are rounding and could go round in circles."""


class Ends(StrEnum):
    """Where a way ends."""

    ANYWHERE = "anywhere"
    BACK = "back"
    """At its first point."""


def way_length(points_mm: Floats, order: Sequence[int] | Indices, *, ends: Ends) -> float:
    """Return the length of a way through points of any dimension, shape (n, d)."""
    along = points_mm[np.asarray(order, dtype=np.intp)]
    length = float(np.sqrt(((along[1:] - along[:-1]) ** 2).sum(axis=1)).sum())
    if ends is Ends.BACK and len(along):
        length += float(np.sqrt(((along[0] - along[-1]) ** 2).sum()))
    return length


def shortest_order(points_mm: Floats, *, ends: Ends = Ends.ANYWHERE) -> Indices:
    """Return a short way through points that begins at the first of them.

    Parameters
    ----------
    points_mm : array, shape (n, d)
        Any dimension; distances are Euclidean.
    ends : Ends

    Returns
    -------
    array of int, shape (n,)

    Examples
    --------
    >>> corners = np.array([[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]])
    >>> way = shortest_order(corners, ends=Ends.BACK)
    >>> way_length(corners, way, ends=Ends.BACK)
    4.0
    """
    count = len(points_mm)
    if count <= 2:
        return np.arange(count)
    near = _near(points_mm)
    begins = range(0, count, max(1, count // max(1, _TRIALS // count)))
    tours = [*(_nearest_first(points_mm, near, begin) for begin in begins), *_strips(points_mm)]
    tours.sort(key=lambda tour: way_length(points_mm, tour, ends=ends))
    # Where points are few there is time to improve more than the shortest of the plain tours.
    found = [
        _Search(points_mm, tour, near, is_closed=ends is Ends.BACK).run()
        for tour in tours[: max(1, _TRIALS // count)]
    ]
    best = min(found, key=lambda tour: way_length(points_mm, tour, ends=ends))
    return np.asarray(best, dtype=np.intp)


def _near(points_mm: Floats) -> Indices:
    count = len(points_mm)
    _, found = cKDTree(points_mm).query(points_mm, k=min(_NEIGHBOURS + 1, count))
    near: Indices = np.asarray(found, dtype=np.intp)
    # Points that coincide may come before the point itself.
    itself = near == np.arange(count)[:, None]
    itself[~itself.any(axis=1), -1] = True
    others: Indices = near[~itself].reshape(count, -1)
    return others


def _nearest_first(points_mm: Floats, near: Indices, begin: int) -> list[int]:
    """Go from a point to the nearest not yet visited; the way then begins at the first point."""
    left = np.ones(len(points_mm), dtype=bool)
    at, order = begin, [begin]
    left[begin] = False
    for _ in range(len(points_mm) - 1):
        beside = near[at]
        beside = beside[left[beside]]
        if len(beside):
            at = int(beside[0])
        else:
            others = np.flatnonzero(left)
            away = ((points_mm[others] - points_mm[at]) ** 2).sum(axis=1)
            at = int(others[np.argmin(away)])
        left[at] = False
        order.append(at)
    return _from_first(order)


def _from_first(order: list[int]) -> list[int]:
    at = order.index(0)
    return order[at:] + order[:at]


def _strips(points_mm: Floats) -> list[list[int]]:
    """Go to and fro in rows, and in columns: the shortest way through a grid."""
    tours = []
    for across, along in ((1, 0), (0, 1)):
        if points_mm.shape[1] <= across:
            continue
        values = points_mm[:, across]
        levels = np.unique(np.round(values, _STRIP_DECIMALS))
        most = max(1, round(math.sqrt(len(points_mm) / 2)))
        if len(levels) <= 2 * most:
            strip = np.searchsorted(levels, np.round(values, _STRIP_DECIMALS))
        else:
            wide = (values.max() - values.min()) / most
            strip = np.minimum(((values - values.min()) / wide).astype(int), most - 1)
        sign = np.where(strip % 2 == strip[0] % 2, 1.0, -1.0)
        tours.append(_from_first(np.lexsort((points_mm[:, along] * sign, strip)).tolist()))
    return tours


_STRIP_DECIMALS: Final = 4
"""Points of one row agree to a tenth of a micrometre."""


class _Search:
    """A way and its improvements; lists of Python are quicker here than single array reads."""

    def __init__(
        self, points_mm: Floats, order: list[int], near: Indices, *, is_closed: bool
    ) -> None:
        self._points: list[tuple[float, ...]] = [tuple(p) for p in points_mm.tolist()]
        self._near: list[list[int]] = near.tolist()
        self._order = list(order)
        self._at = [0] * len(order)
        self._is_closed = is_closed
        extent = float(np.ptp(points_mm, axis=0).max())
        self._least = extent * _GAIN_SHARE
        self._note(0, len(order))

    def run(self) -> list[int]:
        """Improve until nothing helps."""
        waiting = deque(self._order)
        is_waiting = [True] * len(self._order)
        while waiting:
            point = waiting.popleft()
            is_waiting[point] = False
            while touched := self._improve(point):
                for one in touched:
                    if not is_waiting[one]:
                        is_waiting[one] = True
                        waiting.append(one)
        return self._order

    def _note(self, first: int, end: int) -> None:
        at, order = self._at, self._order
        for index in range(first, end):
            at[order[index]] = index

    def _away(self, one: int | None, other: int | None) -> float:
        if one is None or other is None:
            return 0.0
        return math.dist(self._points[one], self._points[other])

    def _after(self, index: int) -> int | None:
        if index + 1 < len(self._order):
            return self._order[index + 1]
        return self._order[0] if self._is_closed else None

    def _improve(self, point: int) -> tuple[int, ...]:
        """Make one change around a point; return the points whose edges changed."""
        return self._exchange_after(point) or self._exchange_before(point) or self._move(point)

    def _exchange_after(self, point: int) -> tuple[int, ...]:
        i = self._at[point]
        following = self._after(i)
        edge = self._away(point, following)
        if following is None:
            return ()
        for other in self._near[point]:
            gain = edge - self._away(point, other)
            if gain <= self._least:
                return ()
            j = self._at[other]
            beyond = self._after(j)
            gain += self._away(other, beyond) - self._away(following, beyond)
            if gain > self._least:
                first, last = (i + 1, j) if i < j else (j + 1, i)
                self._turn_round(first, last)
                return self._only(point, following, other, beyond)
        return ()

    def _exchange_before(self, point: int) -> tuple[int, ...]:
        i = self._at[point]
        if i == 0:
            return ()
        previous = self._order[i - 1]
        edge = self._away(previous, point)
        for other in self._near[point]:
            gain = edge - self._away(point, other)
            if gain <= self._least:
                return ()
            j = self._at[other]
            if j == 0:
                continue
            ahead = self._order[j - 1]
            gain += self._away(ahead, other) - self._away(previous, ahead)
            if gain > self._least:
                first, last = (i, j - 1) if i < j else (j, i - 1)
                self._turn_round(first, last)
                return self._only(point, previous, other, ahead)
        return ()

    def _turn_round(self, first: int, last: int) -> None:
        self._order[first : last + 1] = self._order[first : last + 1][::-1]
        self._note(first, last + 1)

    def _only(self, *points: int | None) -> tuple[int, ...]:
        return tuple(p for p in points if p is not None)

    def _move(self, point: int) -> tuple[int, ...]:
        """Move a piece of up to three points, of which this is an end, to a neighbour's side."""
        for length in range(1, _LONGEST_PIECE + 1):
            for first in {self._at[point], self._at[point] - length + 1}:
                touched = self._move_piece(point, first, length)
                if touched:
                    return touched
        return ()

    def _move_piece(self, point: int, first: int, length: int) -> tuple[int, ...]:
        last = first + length - 1
        # The first point of the way stays where it is.
        if first < 1 or last >= len(self._order):
            return ()
        order = self._order
        head, tail = order[first], order[last]
        before, after = order[first - 1], self._after(last)
        saved = self._away(before, head) + self._away(tail, after) - self._away(before, after)
        if saved <= self._least:
            return ()
        other_end = tail if point == head else head
        for other in self._near[point]:
            near = self._away(point, other)
            if near >= saved:
                return ()
            j = self._at[other]
            if first <= j <= last:
                continue
            beyond = self._after(j)
            if j != first - 1 and (
                near + self._away(other_end, beyond) - self._away(other, beyond)
                < saved - self._least
            ):
                self._place(first, length, j, is_turned=point == tail)
                return self._only(before, after, point, other_end, other, beyond)
            if j >= 1 and j != last + 1:
                ahead = order[j - 1]
                if (
                    near + self._away(other_end, ahead) - self._away(other, ahead)
                    < saved - self._least
                ):
                    self._place(first, length, j - 1, is_turned=point == head)
                    return self._only(before, after, point, other_end, other, ahead)
        return ()

    def _place(self, first: int, length: int, after: int, *, is_turned: bool) -> None:
        """Put a piece behind the point at index `after`, the other way round if asked."""
        order = self._order
        piece = order[first : first + length]
        if is_turned:
            piece = piece[::-1]
        if after < first:
            order[after + 1 : first + length] = piece + order[after + 1 : first]
            self._note(after + 1, first + length)
        else:
            order[first : after + 1] = order[first + length : after + 1] + piece
            self._note(first, after + 1)
