"""Place labels so that they cover neither each other nor, where avoidable, the lines.

A grid of half-millimetre cells remembers what is taken.  Cells of lines cost, cells of labels and
marks forbid.  Candidates lie on rings around the anchor; the cheapest wins; one that lies far
from its anchor gets a leader.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kerfwright.adapters.svg import ink
from kerfwright.geometry.segments import Floats

_CELL_MM = 0.5
_RINGS_MM = (0.0, 2.5, 4.0, 6.0, 9.0, 13.0, 18.0, 25.0)
_DIRECTIONS = 16
_LEADER_FROM_MM = 5.5
_HEIGHT_EM = 1.05
_LINE_COST = 1.0
_DISTANCE_COST_PER_MM = 0.9
_LEADER = ink.Stroke(colour="#000000", width_mm=0.12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Text that belongs to a point on paper.

    Attributes
    ----------
    text : str
    x_mm, y_mm : float
        Anchor on paper.
    clear_mm : float
        Distance from the anchor that the label keeps, for a mark drawn there.
    size_mm : float
        Wanted font size.
    weight : str
    near_mm : float
        Beyond this the label could be taken for a neighbour's: smaller text is tried first, and
        then a leader is drawn.
    """

    text: str
    x_mm: float
    y_mm: float
    clear_mm: float = 0.0
    size_mm: float = 2.6
    weight: str = "normal"
    near_mm: float = math.inf


class LabelGrid:
    """What is taken on a window of paper.

    Parameters
    ----------
    left_mm, top_mm, width_mm, height_mm : float
        The window.
    """

    def __init__(self, *, left_mm: float, top_mm: float, width_mm: float, height_mm: float) -> None:
        self._left, self._top = left_mm, top_mm
        shape = (math.ceil(height_mm / _CELL_MM), math.ceil(width_mm / _CELL_MM))
        self._lines = np.zeros(shape, dtype=np.int16)
        self._taken = np.zeros(shape, dtype=bool)
        self.left_out = 0

    def add_points(self, paper_mm: Floats) -> None:
        """Remember points of lines, (n, 2) on paper."""
        cell = np.floor((paper_mm - [self._left, self._top]) / _CELL_MM).astype(int)
        rows, columns = self._lines.shape
        inside = (cell >= 0).all(axis=1) & (cell[:, 1] < rows) & (cell[:, 0] < columns)
        self._lines[cell[inside, 1], cell[inside, 0]] = 1

    def take(self, left: float, top: float, right: float, bottom: float) -> None:
        """Forbid a box."""
        self._taken[self._cells(left, top, right, bottom)] = True

    def _cells(self, left: float, top: float, right: float, bottom: float) -> tuple[slice, slice]:
        def span(low: float, high: float, origin: float) -> slice:
            first = max(math.floor((low - origin) / _CELL_MM), 0)
            return slice(first, max(math.ceil((high - origin) / _CELL_MM), first))

        return span(top, bottom, self._top), span(left, right, self._left)

    def _fits(self, left: float, top: float, right: float, bottom: float) -> bool:
        rows, columns = self._taken.shape
        return (
            left >= self._left
            and top >= self._top
            and right <= self._left + columns * _CELL_MM
            and bottom <= self._top + rows * _CELL_MM
        )

    def place(self, label: Label) -> str:
        """Return the label as SVG at the best free place; count it as left out if there is none."""
        for most_mm in sorted({label.near_mm, math.inf}):
            for size in (label.size_mm, label.size_mm * 0.85, label.size_mm * 0.7):
                centre = self._best(label, size, most_mm)
                if centre is not None:
                    return self._draw(label, size, centre)
        self.left_out += 1
        return ""

    def _best(self, label: Label, size: float, most_mm: float) -> tuple[float, float] | None:
        half_w = ink.text_width_mm(label.text, size=size) / 2 + 0.2
        half_h = size * _HEIGHT_EM / 2
        best, least = None, math.inf
        for ring in _RINGS_MM:
            if ring < label.clear_mm or ring > most_mm or _DISTANCE_COST_PER_MM * ring > least:
                continue
            for step in range(_DIRECTIONS if ring else 1):
                angle = 2 * math.pi * step / _DIRECTIONS
                # Wide text stands further off sideways, so that its near edge is on the ring.
                reach = 0.0 if ring == 0 else ring + half_h
                x = label.x_mm + math.cos(angle) * (reach + half_w - half_h if ring else 0.0)
                y = label.y_mm - math.sin(angle) * reach
                edges = (x - half_w, y - half_h, x + half_w, y + half_h)
                if not self._fits(*edges):
                    continue
                cells = self._cells(*edges)
                if self._taken[cells].any():
                    continue
                cost = _LINE_COST * int(self._lines[cells].sum()) + _DISTANCE_COST_PER_MM * ring
                if cost < least:
                    best, least = (x, y), cost
        return best

    def _draw(self, label: Label, size: float, centre: tuple[float, float]) -> str:
        x, y = centre
        half_w = ink.text_width_mm(label.text, size=size) / 2 + 0.2
        half_h = size * _HEIGHT_EM / 2
        self.take(x - half_w, y - half_h, x + half_w, y + half_h)
        leader = ""
        across, up = label.x_mm - x, label.y_mm - y
        gap = math.hypot(max(abs(across) - half_w, 0.0), max(abs(up) - half_h, 0.0))
        if gap > min(_LEADER_FROM_MM, label.near_mm):
            near_x = x + max(-half_w, min(half_w, across))
            near_y = y + max(-half_h, min(half_h, up))
            leader = ink.line(near_x, near_y, label.x_mm, label.y_mm, _LEADER)
        return leader + ink.words(
            x, y + size * 0.36, label.text, size=round(size, 2), anchor="middle",
            weight=label.weight, halo_mm=0.7,
        )  # fmt: skip
