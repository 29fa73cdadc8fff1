"""Which contours of a drawing are the same shape, drawn several times."""

from __future__ import annotations

import math
from collections.abc import Iterable

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
