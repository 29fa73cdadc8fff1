"""Places in regions of any shape, found on a grid.

A region is the cells that lie wholly in it, a part the cells that it touches; where a part's cells
lie among the region's, the part lies in the region.  How many of them lie outside is a correlation,
worked out for all places at once by a Fourier transform.  A part gives away up to a cell and a half
on each side; what is found this way is right, not tight.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.fft import irfft2, next_fast_len, rfft2

from kerfwright.geometry.segments import Flags, Floats

_HALF_DIAGONAL: Final = math.sqrt(0.5)
_SLICE: Final = 64
"""Columns of places looked at in one go: most parts find theirs near where the last one lay."""
_OUTSIDE: Final = 0.5
"""Fewer cells outside than this are none, but for rounding."""


def filled(polygon: shapely.Geometry, *, origin_mm: tuple[float, float], cell_mm: float,
           shape: tuple[int, int]) -> Flags:  # fmt: skip
    """Return which cells have their middle in a polygon, by crossings along each row.

    Parameters
    ----------
    polygon : shapely.Geometry
        One or several, with holes.
    origin_mm : (float, float)
        Lower left corner of cell (0, 0).
    cell_mm : float
    shape : (int, int)
        Rows (Y) and columns (X).
    """
    toggles = np.zeros((shape[0], shape[1] + 1), dtype=np.int32)
    for part in shapely.get_parts(polygon):
        if not isinstance(part, shapely.Polygon) or part.is_empty:
            continue
        for ring in (part.exterior, *part.interiors):
            points = (shapely.get_coordinates(ring) - np.array(origin_mm)) / cell_mm - 0.5
            _cross(toggles, points)
    inside: Flags = (np.cumsum(toggles[:, :-1], axis=1) % 2).astype(np.bool_)
    return inside


def _cross(toggles: NDArray[np.int32], points: Floats) -> None:
    """Toggle each row where a ring crosses it; a corner counts for the edge above it."""
    p, q = points[:-1], points[1:]
    low, high = np.minimum(p[:, 1], q[:, 1]), np.maximum(p[:, 1], q[:, 1])
    first = np.ceil(low).clip(0, toggles.shape[0]).astype(np.intp)
    last = np.ceil(high).clip(0, toggles.shape[0]).astype(np.intp)
    count = np.maximum(last - first, 0)
    edge = np.repeat(np.arange(len(p)), count)
    if not len(edge):
        return
    row = first[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    slope = (q[edge, 0] - p[edge, 0]) / (q[edge, 1] - p[edge, 1])
    column = np.ceil(p[edge, 0] + (row - p[edge, 1]) * slope)
    np.add.at(toggles, (row, column.clip(0, toggles.shape[1] - 1).astype(np.intp)), 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stamp:
    """The cells that a turned part touches, and where its zero point lies from their corner."""

    cells: Flags
    corner_mm: tuple[float, float]
    turn_deg: float


def stamp_of(points: Floats, *, turn_deg: float, cell_mm: float) -> Stamp:
    """Return the cells that a polygon touches, turned about the zero point."""
    angle = math.radians(turn_deg)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    body = shapely.Polygon(points @ turn).buffer(_HALF_DIAGONAL * cell_mm, quad_segs=2)
    # Chords of the rounded corners lie inside them: the box of the grown body is a cell wider.
    x0, y0, x1, y1 = body.buffer(cell_mm / 2).bounds
    shape = (math.ceil((y1 - y0) / cell_mm), math.ceil((x1 - x0) / cell_mm))
    cells = filled(body.buffer(cell_mm / 8), origin_mm=(x0, y0), cell_mm=cell_mm, shape=shape)
    return Stamp(cells=cells, corner_mm=(x0, y0), turn_deg=turn_deg)


class Field:
    """Free cells of a region, from which placed parts are taken.

    Parameters
    ----------
    region : shapely.Geometry
        Where a part may lie, outline included.
    cell_mm : float
    """

    def __init__(self, region: shapely.Geometry, *, cell_mm: float) -> None:
        self.cell_mm = cell_mm
        x0, y0, x1, y1 = region.bounds if not region.is_empty else (0.0, 0.0, cell_mm, cell_mm)
        self.origin_mm = (x0, y0)
        self.shape = (math.ceil((y1 - y0) / cell_mm), math.ceil((x1 - x0) / cell_mm))
        inner = region.buffer(-_HALF_DIAGONAL * cell_mm)
        self.free = filled(inner, origin_mm=self.origin_mm, cell_mm=cell_mm, shape=self.shape)
        self._from: dict[tuple[Stamp, bool], int] = {}

    def best(
        self, stamps: Sequence[Stamp], *, along_y: bool = False
    ) -> tuple[Stamp, float, float] | None:
        """Return the turned part that ends farthest left, of those the lowest, and its shift.

        Parameters
        ----------
        stamps : sequence of Stamp
            One for each turn that is allowed.
        along_y : bool
            Lowest first, of those the farthest left.
        """
        found: tuple[tuple[float, float], Stamp, int, int] | None = None
        for stamp in stamps:
            place = self._first(stamp, along_y=along_y)
            if place is None:
                continue
            row, column = place
            high, wide = stamp.cells.shape
            key = (row + high, column + wide / 2) if along_y else (column + wide, row + high / 2)
            if found is None or key < found[0]:
                found = (key, stamp, row, column)
        if found is None:
            return None
        _, stamp, row, column = found
        x = self.origin_mm[0] + column * self.cell_mm - stamp.corner_mm[0]
        y = self.origin_mm[1] + row * self.cell_mm - stamp.corner_mm[1]
        return stamp, x, y

    def _first(self, stamp: Stamp, *, along_y: bool) -> tuple[int, int] | None:
        """Return row and column of the first place, in slices from where the last one was.

        Free cells only become fewer: where a part found no room before, it finds none now.
        """
        free, cells = (self.free.T, stamp.cells.T) if along_y else (self.free, stamp.cells)
        rows, columns = (free.shape[k] - cells.shape[k] + 1 for k in (0, 1))
        if rows < 1 or columns < 1:
            return None
        size = (next_fast_len(free.shape[0], real=True), next_fast_len(_SLICE + cells.shape[1]))
        part = np.conj(rfft2(cells.astype(np.float32), size))
        start = self._from.get((stamp, along_y), 0)
        while start < columns:
            stop = min(start + _SLICE, columns)
            taken = ~free[:, start : stop + cells.shape[1] - 1]
            outside = irfft2(rfft2(taken.astype(np.float32), size) * part, size)
            fits = outside[:rows, : stop - start] < _OUTSIDE
            if fits.any():
                column = int(np.argmax(fits.any(axis=0)))
                row = int(np.argmax(fits[:, column]))
                self._from[stamp, along_y] = start + column
                return (start + column, row) if along_y else (row, start + column)
            start = stop
        self._from[stamp, along_y] = columns
        return None

    def take(self, shape: shapely.Geometry) -> None:
        """Take a shape out of the free cells: every cell that it touches."""
        grown = shape.buffer(_HALF_DIAGONAL * self.cell_mm)
        x0, y0, x1, y1 = grown.bounds
        ox, oy = self.origin_mm
        first = (
            max(int((y0 - oy) / self.cell_mm) - 1, 0),
            max(int((x0 - ox) / self.cell_mm) - 1, 0),
        )
        last = (int((y1 - oy) / self.cell_mm) + 2, int((x1 - ox) / self.cell_mm) + 2)
        here = self.free[first[0] : max(last[0], 0), first[1] : max(last[1], 0)]
        corner = (ox + first[1] * self.cell_mm, oy + first[0] * self.cell_mm)
        here &= ~filled(grown, origin_mm=corner, cell_mm=self.cell_mm, shape=here.shape)
