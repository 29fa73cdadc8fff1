"""A tree of oriented boxes over segments in their order of travel, searched level by level.

Consecutive segments of a contour lie near one another, so blocks of 2, 4, 8 … of them are
already good groups and no sorting is needed.  The boxes are turned along the block's chord (the
"strip tree" of D. H. Ballard, Communications of the ACM 24(5), 1981, from memory): beside a
smooth wall such a box is thinner than the offset, and about four pairs per segment survive at
each level where upright boxes keep tens.  All pairs of one level are handled in one NumPy pass.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments

_TOP = 24
"""Nodes from which a search starts: fewer levels, and 24 x 24 pairs cost nothing."""
_CHUNK = 1 << 14
"""Pairs tested at a time: their boxes stay in the processor's cache."""

Boxes = NDArray[np.float64]
"""Rows x, y (centre), ux, uy (axis), half extent along the axis, half extent across; mm."""


def _leaf_boxes(segments: Segments) -> tuple[Boxes, Floats, Floats]:
    start, end, bulge = segments.start, segments.end, segments.bulge
    chord = end - start
    length = np.hypot(chord[:, 0], chord[:, 1])
    axis = np.where(
        length[:, None] > 0, chord / np.maximum(length, TINY)[:, None], np.array([1.0, 0.0])
    )
    # A counter-clockwise arc bulges to the right of its chord by bulge * length / 2.
    rise = -bulge * length / 2
    centre = (start + end) / 2 + np.column_stack([-axis[:, 1], axis[:, 0]]) * (rise / 2)[:, None]
    boxes = np.column_stack([centre, axis, length / 2, np.abs(rise) / 2])
    wide = np.abs(bulge) > 1
    if wide.any():
        # Beyond half a turn the arc is wider than its chord: the box of the whole circle.
        boxes[wide, :2] = segments.centre[wide]
        boxes[wide, 4] = boxes[wide, 5] = segments.radius[wide]
    return boxes, start, end


def _parent_boxes(boxes: Boxes, first: Floats, last: Floats) -> tuple[Boxes, Floats, Floats]:
    left = np.arange(0, len(boxes), 2)
    right = np.minimum(left + 1, len(boxes) - 1)
    start, end = first[left], last[right]
    chord = end - start
    length = np.hypot(chord[:, 0], chord[:, 1])
    axis = np.where(
        length[:, None] > 0, chord / np.maximum(length, TINY)[:, None], np.array([1.0, 0.0])
    )
    low = np.full((len(left), 2), np.inf)
    high = np.full((len(left), 2), -np.inf)
    for child in (boxes.take(left, axis=0), boxes.take(right, axis=0)):
        offset = child[:, :2] - start
        along = (offset * axis).sum(axis=1)
        across = axis[:, 0] * offset[:, 1] - axis[:, 1] * offset[:, 0]
        cos = np.abs((child[:, 2:4] * axis).sum(axis=1))
        sin = np.abs(axis[:, 0] * child[:, 3] - axis[:, 1] * child[:, 2])
        reach = np.column_stack(
            [child[:, 4] * cos + child[:, 5] * sin, child[:, 4] * sin + child[:, 5] * cos]
        )
        middle = np.column_stack([along, across])
        low, high = np.minimum(low, middle - reach), np.maximum(high, middle + reach)
    middle, half = (low + high) / 2, (high - low) / 2
    normal = np.column_stack([-axis[:, 1], axis[:, 0]])
    centre = start + axis * middle[:, :1] + normal * middle[:, 1:]
    return np.column_stack([centre, axis, half]), start, end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BoxTree:
    """Oriented boxes of segments and of blocks of 2, 4, 8 … consecutive segments.

    Attributes
    ----------
    levels : tuple of (n, 6) float
        Boxes from single segments up; node k of a level covers nodes 2 k and 2 k + 1 below.
    """

    levels: tuple[Boxes, ...]

    @classmethod
    def from_segments(cls, segments: Segments) -> Self:
        """Build the tree in O(n)."""
        boxes, first, last = _leaf_boxes(segments)
        levels = [boxes]
        while len(levels[-1]) > _TOP:
            boxes, first, last = _parent_boxes(boxes, first, last)
            levels.append(boxes)
        return cls(levels=tuple(levels))

    def pairs_within(self, other: BoxTree, limit_mm: float) -> tuple[Indices, Indices]:
        """Return every pair of segments whose boxes are within `limit_mm`.

        No pair whose segments are within the limit is missed; some that are farther apart are
        returned as well.

        Parameters
        ----------
        other : BoxTree
        limit_mm : float

        Returns
        -------
        (m,) int, (m,) int
            Indices into this tree's and the other's segments.
        """
        mine, theirs = len(self.levels) - 1, len(other.levels) - 1
        a = np.repeat(np.arange(len(self.levels[mine])), len(other.levels[theirs]))
        b = np.tile(np.arange(len(other.levels[theirs])), len(self.levels[mine]))
        a, b = _kept(self.levels[mine], other.levels[theirs], a, b, limit_mm)
        while mine or theirs:
            if mine >= theirs:
                mine -= 1
                a, b = _split(a, b, len(self.levels[mine]))
            if theirs > mine:
                theirs -= 1
                b, a = _split(b, a, len(other.levels[theirs]))
            a, b = _kept(self.levels[mine], other.levels[theirs], a, b, limit_mm)
        return a, b


def _split(a: Indices, b: Indices, count: int) -> tuple[Indices, Indices]:
    a = np.concatenate([2 * a, 2 * a + 1])
    b = np.concatenate([b, b])
    inside = a < count
    return (a, b) if inside.all() else (a[inside], b[inside])


def _kept(
    boxes_a: Boxes, boxes_b: Boxes, a: Indices, b: Indices, limit_mm: float
) -> tuple[Indices, Indices]:
    keep = [
        _gap_squared(
            boxes_a.take(a[i : i + _CHUNK], axis=0), boxes_b.take(b[i : i + _CHUNK], axis=0)
        )
        <= limit_mm * limit_mm
        for i in range(0, len(a), _CHUNK)
    ]
    if not keep:
        return a, b
    chosen = np.flatnonzero(np.concatenate(keep))
    return a.take(chosen), b.take(chosen)


def _gap_squared(a: Boxes, b: Boxes) -> Floats:
    """Lower bound of the squared distance: box a seen in the frame of box b."""
    dx, dy = a[:, 0] - b[:, 0], a[:, 1] - b[:, 1]
    ux, uy = b[:, 2], b[:, 3]
    cos = np.abs(a[:, 2] * ux + a[:, 3] * uy)
    sin = np.abs(a[:, 3] * ux - a[:, 2] * uy)
    along = np.abs(dx * ux + dy * uy) - (b[:, 4] + a[:, 4] * cos + a[:, 5] * sin)
    across = np.abs(dy * ux - dx * uy) - (b[:, 5] + a[:, 4] * sin + a[:, 5] * cos)
    np.maximum(along, 0.0, out=along)
    np.maximum(across, 0.0, out=across)
    result: Floats = along * along + across * across
    return result


def boxes_touch(a: Boxes, b: Boxes) -> Flags:
    """Return whether the boxes paired with one another touch (separating axes of both)."""
    result: Flags = (_gap_squared(a, b) == 0.0) & (_gap_squared(b, a) == 0.0)
    return result


def point_gaps_squared(boxes: Boxes, points: Floats) -> Floats:
    """Return the squared distance of each point to the box paired with it, (m,) mm²."""
    dx, dy = points[:, 0] - boxes[:, 0], points[:, 1] - boxes[:, 1]
    along = np.abs(dx * boxes[:, 2] + dy * boxes[:, 3]) - boxes[:, 4]
    across = np.abs(dy * boxes[:, 2] - dx * boxes[:, 3]) - boxes[:, 5]
    np.maximum(along, 0.0, out=along)
    np.maximum(across, 0.0, out=across)
    result: Floats = along * along + across * across
    return result
