"""Where a path runs beside the open edge of the stock: stretches with a feed of their own."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import contains_points
from kerfwright.geometry.segments import Floats
from kerfwright.trade.part import PartContour

COARSE_MM: Final = 2.0
"""A path is first looked at in cells of this length or less."""
_FINE_MM: Final = 0.1
"""The ends of a stretch are found to this, on the side of the slow feed."""
_LEAST_PLACES: Final = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of a closed path.

    Attributes
    ----------
    begin_mm, end_mm : float
        Arc length along the path; the end lies beyond the path's length where the stretch runs
        over its start.
    """

    begin_mm: float
    end_mm: float

    @property
    def length_mm(self) -> float:
        """Length of the stretch, mm."""
        return self.end_mm - self.begin_mm


def stretches_beside(
    path: Contour,
    *,
    clearance_mm: Callable[[Floats], Floats],
    reach_mm: float,
    shortest_mm: float,
) -> tuple[Stretch, ...]:
    """Return the stretches of a closed path that lie nearer to an edge than a reach.

    Every such place lies in one of them: a clearance changes by no more than the way walked, so
    a cell whose middle is further off than the reach and half a cell holds none.

    Parameters
    ----------
    path : Contour
        Closed.
    clearance_mm : callable
        Distance of points (m, 2) to the edge.
    reach_mm : float
    shortest_mm : float
        Shorter stretches are made as long, shorter gaps between them are closed: each change of
        the feed costs the gap time to settle.
    """
    total = path.length_mm
    cells = max(_LEAST_PLACES, math.ceil(total / COARSE_MM))
    size = total / cells
    middles: Floats = (np.arange(cells, dtype=np.float64) + 0.5) * size
    near = clearance_mm(path.points_at(middles)) < reach_mm + size / 2
    if not near.any():
        return ()
    parts = math.ceil(size / _FINE_MM)
    fine = size / parts
    first = np.flatnonzero(near)[:, None] * parts + np.arange(parts)
    number = first.ravel()
    stations: Floats = (number.astype(np.float64) + 0.5) * fine
    points = path.points_at(stations)
    number = number[clearance_mm(points) < reach_mm + fine / 2]
    if not len(number):
        return ()
    starts = np.flatnonzero(np.diff(number, prepend=-2) > 1)
    ends = np.append(starts[1:], len(number)) - 1
    found = [
        Stretch(begin_mm=float(number[a]) * fine, end_mm=float(number[b] + 1) * fine)
        for a, b in zip(starts, ends, strict=True)
    ]
    return smoothed(found, total_mm=total, shortest_mm=shortest_mm)


def smoothed(
    found: Sequence[Stretch], *, total_mm: float, shortest_mm: float
) -> tuple[Stretch, ...]:
    """Return the stretches of a closed path with none, and no gap between two, below a length.

    Nothing that was in a stretch is left out of one.

    Parameters
    ----------
    found : sequence of Stretch
        Ascending, within the path.
    total_mm : float
        Length of the path.
    shortest_mm : float
    """
    least = min(shortest_mm, total_mm)
    ends = _closed([(s.begin_mm, s.end_mm) for s in found], total_mm=total_mm, least_mm=least)
    more = [max(0.0, least - (end - begin)) / 2 for begin, end in ends]
    ends = [(begin - m, end + m) for (begin, end), m in zip(ends, more, strict=True)]
    ends = _closed(ends, total_mm=total_mm, least_mm=least)
    if ends and ends[0][1] - ends[0][0] > total_mm - least:
        ends = [(0.0, total_mm)]
    turns = [math.floor(begin / total_mm) * total_mm for begin, _ in ends]
    return tuple(
        Stretch(begin_mm=begin - turn, end_mm=end - turn)
        for (begin, end), turn in zip(ends, turns, strict=True)
    )


def _closed(
    ends: Sequence[tuple[float, float]], *, total_mm: float, least_mm: float
) -> list[tuple[float, float]]:
    """Return stretches with the gaps below a length closed, that over the path's start as well."""
    joined: list[tuple[float, float]] = []
    for begin, end in ends:
        if joined and begin - joined[-1][1] < least_mm:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((begin, end))
    if len(joined) > 1 and joined[0][0] + total_mm - joined[-1][1] < least_mm:
        _, end = joined.pop(0)
        joined[-1] = (joined[-1][0], max(end + total_mm, joined[-1][1]))
    return joined


def deep_in_stock(
    contours: Sequence[PartContour], stock: Contour | None, *, depth_mm: float
) -> frozenset[str]:
    """Return the contours that surely keep farther than a depth from the edge of the stock.

    By their boxes alone; all of them where there is no stock.

    Parameters
    ----------
    contours : sequence of PartContour
    stock : Contour or None
    depth_mm : float
    """
    if stock is None or not contours:
        return frozenset(c.id for c in contours)
    x0, y0, x1, y1 = stock.segments.boxes()
    u0, v0, u1, v1 = np.array([c.contour.bounds_mm for c in contours]).T[:, :, None]
    apart_x = np.maximum(np.maximum(x0 - u1, u0 - x1), 0.0)
    apart_y = np.maximum(np.maximum(y0 - v1, v0 - y1), 0.0)
    is_far = np.hypot(apart_x, apart_y).min(axis=1) > depth_mm
    # A contour that far from every line of the edge lies inside it or outside as a whole.
    begins = np.array([c.contour.vertices[0, :2] for c in contours])
    is_deep = is_far & contains_points(stock, begins)
    return frozenset(c.id for c, deep in zip(contours, is_deep, strict=True) if deep)
