"""Which of several nests that need nearly as much material is wanted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from kerfwright.nesting.records import Placement, Want

_AS_SHORT: Final = 1.01
"""Bands up to this many times the shortest count as needing as much material."""


def best_of(
    nests: Sequence[Sequence[Placement]],
    lengths_mm: Sequence[float],
    *,
    want: Want,
) -> int:
    """Return which nest is wanted, among those nearly as short as the shortest.

    Parameters
    ----------
    nests : sequence of sequences of Placement
    lengths_mm : sequence of float
        How long a band each takes.
    want : Want
    """
    shortest = min(lengths_mm)
    near = [k for k, length in enumerate(lengths_mm) if length <= _AS_SHORT * shortest]
    if want is Want.WAY:
        return min(near, key=lambda k: (way_mm(nests[k]), lengths_mm[k]))
    return min(near, key=lambda k: lengths_mm[k])


def way_mm(nest: Sequence[Placement]) -> float:
    """Return the way from part to part, always to the nearest one left, mm."""
    left = [(p.x_mm, p.y_mm) for p in nest]
    if not left:
        return 0.0
    here, total = left.pop(0), 0.0
    while left:
        there = min(left, key=lambda q: math.dist(here, q))
        left.remove(there)
        total += math.dist(here, there)
        here = there
    return total
