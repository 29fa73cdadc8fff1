"""Which contour lies in which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import contains_points
from kerfwright.geometry.segments import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Nesting:
    """How deep each contour lies.

    Attributes
    ----------
    depth : tuple of int
        Number of contours around each; even ones are outlines, odd ones openings.
    parent : tuple of (int or None)
        The contour directly around each.
    """

    depth: tuple[int, ...]
    parent: tuple[int | None, ...]


def nest(contours: Sequence[Contour]) -> Nesting:
    """Sort closed contours that do not cross by containment.

    Parameters
    ----------
    contours : sequence of Contour
        Closed; none crosses another.
    """
    count = len(contours)
    if not count:
        return Nesting(depth=(), parent=())
    boxes = np.array([c.bounds_mm for c in contours])
    area = np.array([abs(c.area_mm2) for c in contours])
    probe = np.array([_probe(c) for c in contours])
    depth = np.zeros(count, dtype=np.intp)
    parent: list[int | None] = [None] * count
    # Largest first, so that the last one found around a contour is the nearest.
    for outer in np.lexsort((np.arange(count), -area)).tolist():
        box = boxes[outer]
        inner = np.flatnonzero(
            (boxes[:, 0] >= box[0])
            & (boxes[:, 1] >= box[1])
            & (boxes[:, 2] <= box[2])
            & (boxes[:, 3] <= box[3])
            & (area < area[outer])
        )
        if not len(inner):
            continue
        held = inner[contains_points(contours[outer], probe[inner])]
        depth[held] += 1
        for k in held.tolist():
            parent[k] = outer
    return Nesting(depth=tuple(depth.tolist()), parent=tuple(parent))


def _probe(contour: Contour) -> Floats:
    """Return the middle of the longest segment: corners are where contours may touch."""
    longest = int(np.argmax(contour.segments.length))
    middle = contour.segments.points_at(np.array([longest]), np.array([0.5]))
    return np.asarray(middle[0], dtype=np.float64)
