"""Which contour lies in which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Flags, Floats

_CHUNK = 4_000_000
"""Pairs of points and segments looked at in one piece; bounds the memory."""


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


def encloses(contour: Contour, points: Floats) -> Flags:
    """Return which points lie inside a closed contour of lines and arcs, exactly.

    A ray to the right counts the chords it crosses; each circular segment between a chord and
    its arc that holds the point turns the answer over once more.

    Parameters
    ----------
    contour : Contour
        Closed.
    points : (m, 2) float
        Points, mm, none on the contour.
    """
    s = contour.segments
    inside = np.zeros(len(points), dtype=np.bool_)
    step = max(1, _CHUNK // max(1, len(s)))
    for begin in range(0, len(points), step):
        x = points[begin : begin + step, 0][:, None]
        y = points[begin : begin + step, 1][:, None]
        above = s.start[:, 1] > y
        crosses = above != (s.end[:, 1] > y)
        side = (s.end[:, 0] - s.start[:, 0]) * (y - s.start[:, 1]) - (
            s.end[:, 1] - s.start[:, 1]
        ) * (x - s.start[:, 0])
        right = crosses & ((side < 0) == above)
        count = right.sum(axis=1)
        arcs = np.flatnonzero(s.is_arc)
        if len(arcs):
            to_centre = np.hypot(x - s.centre[arcs, 0], y - s.centre[arcs, 1])
            beyond = side[:, arcs] * s.bulge[arcs] < 0
            count += ((to_centre < s.radius[arcs]) & beyond).sum(axis=1)
        inside[begin : begin + step] = count % 2 == 1
    return inside


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
        held = inner[encloses(contours[outer], probe[inner])]
        depth[held] += 1
        for k in held.tolist():
            parent[k] = outer
    return Nesting(depth=tuple(depth.tolist()), parent=tuple(parent))


def _probe(contour: Contour) -> Floats:
    """Return the middle of the longest segment: corners are where contours may touch."""
    longest = int(np.argmax(contour.segments.length))
    middle = contour.segments.points_at(np.array([longest]), np.array([0.5]))
    return np.asarray(middle[0], dtype=np.float64)
