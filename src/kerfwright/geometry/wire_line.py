"""Wire positions: straight lines through two planes, in order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.segments import Floats, Indices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WireLoop:
    """Closed run of wire positions, each a straight line through two planes.

    Attributes
    ----------
    lower, upper : (n, 2) float
        Where the axis passes the heights of the wall's chains, mm.
    lower_mm, upper_mm : float
        Those heights.
    source : (n,) int
        Piece of the wall that the wire touches; −1 − k where it goes round the edge after piece k,
        and where it crosses a corner that it cannot reach.
    """

    lower: Floats
    upper: Floats
    lower_mm: float
    upper_mm: float
    source: Indices

    def __len__(self) -> int:
        return len(self.lower)

    def at(self, height_mm: float) -> Floats:
        """Return the positions at a height, (n, 2) mm; heights beyond the planes extend."""
        v = (height_mm - self.lower_mm) / (self.upper_mm - self.lower_mm)
        result: Floats = self.lower + (self.upper - self.lower) * v
        return result

    @property
    def lean_rad(self) -> Floats:
        """Angle of each position to the vertical, (n,) rad."""
        aside = self.upper - self.lower
        lean: Floats = np.arctan(np.hypot(*aside.T) / (self.upper_mm - self.lower_mm))
        return lean
