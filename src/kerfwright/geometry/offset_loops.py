"""What an offset is: its loops, each with the source of every segment."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Indices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OffsetLoop:
    """One closed loop of an offset.

    Attributes
    ----------
    contour : Contour
        Closed, travelled in the sense of its source.
    source : (n,) int
        For each segment the segment of the nominal contour it runs beside, or ``-1 - v`` where
        it is rolled round vertex v.  Read-only.
    """

    contour: Contour
    source: Indices

    def moved(self, by_mm: tuple[float, float]) -> OffsetLoop:
        """Return the loop of the contour at another place."""
        return OffsetLoop(contour=self.contour.moved(by_mm), source=self.source)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Offset:
    """The loops at one distance from a contour.

    Attributes
    ----------
    distance_mm : float
        Signed distance: positive to the left of travel, negative to the right.
    loops : tuple of OffsetLoop
        Largest enclosed area first; empty where the offset vanishes.
    """

    distance_mm: float
    loops: tuple[OffsetLoop, ...]

    def moved(self, by_mm: tuple[float, float]) -> Offset:
        """Return the offset of the contour at another place."""
        return Offset(
            distance_mm=self.distance_mm, loops=tuple(loop.moved(by_mm) for loop in self.loops)
        )
