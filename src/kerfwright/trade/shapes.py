"""Which contours of a drawing are the same shape, drawn several times."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence

import numpy as np

from kerfwright.geometry.segments import Segments
from kerfwright.trade.part import PartContour

_SAME_SHAPE = 1e-4
"""Share by which length and area of contours of one shape may differ: drawing's rounding."""


def same_shapes(contours: Iterable[PartContour]) -> list[list[PartContour]]:
    """Return the contours in groups of one length and area, the shortest first."""
    groups: list[list[PartContour]] = []
    before: tuple[float, float] | None = None
    for target in sorted(contours, key=lambda c: (c.contour.length_mm, c.id)):
        size = target.contour.length_mm, abs(target.contour.area_mm2)
        if before is not None and all(
            math.isclose(a, b, rel_tol=_SAME_SHAPE) for a, b in zip(size, before, strict=True)
        ):
            groups[-1].append(target)
        else:
            groups.append([target])
        before = size
    return groups


_LENGTH_MM, _AREA_MM2 = 0.01, 0.1
"""What lengths and areas are rounded to: drawings of one part, turned or saved by another program,
agree far better, and different parts hardly ever."""


def shape_key(contours: Sequence[PartContour]) -> str:
    """Return a short text that is the same for a part that is moved, turned, or mirrored.

    It is made of length and area of every contour, and of how far the middles of their walls lie
    from that of all together.  Two parts with one key may differ all the same: it is a hint, and
    a part on the edge of a rounding is not found.
    """
    if not contours:
        return ""
    middles = np.array([_middle(c.contour.segments) for c in contours])
    lengths = np.array([c.contour.length_mm for c in contours])
    areas = np.array([abs(c.contour.area_mm2) for c in contours])
    centre = (middles * lengths[:, None]).sum(axis=0) / lengths.sum()
    away = np.hypot(*(middles - centre).T)
    rows = sorted(
        (round(a / _LENGTH_MM), round(b / _AREA_MM2), round(c / _LENGTH_MM))
        for a, b, c in zip(lengths.tolist(), areas.tolist(), away.tolist(), strict=True)
    )
    return hashlib.sha256(repr(rows).encode()).hexdigest()[:16]


def _middle(s: Segments) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the middle of a wall: of its segments' middles, each with its length."""
    half = s.points_at(np.arange(len(s)), np.full(len(s), 0.5))
    middle: np.ndarray[tuple[int], np.dtype[np.float64]] = (half * s.length[:, None]).sum(
        axis=0
    ) / s.length.sum()
    return middle
