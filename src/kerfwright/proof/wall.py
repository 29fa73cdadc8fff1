"""The wanted wall: every contour of the drawing as one array of segments."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.nearest import NearestIndex, sides
from kerfwright.geometry.segments import Floats, Indices, Segments
from kerfwright.trade.part import PartContour


@dataclass(frozen=True, eq=False)
class Wall:
    """All contours, material on the left of travel.

    Parameters
    ----------
    contours : tuple of PartContour
        Closed contours, at least one.

    Raises
    ------
    InputError
        If there is none, or one is open.
    """

    contours: tuple[PartContour, ...]

    def __post_init__(self) -> None:
        if not self.contours:
            raise InputError("a proof needs at least one contour", code="claim-no-contour")
        for part in self.contours:
            if not part.contour.is_closed:
                raise InputError(
                    f"contour {part.id} is open; the wall of a part must close",
                    code="claim-open-contour",
                    where=f"contour {part.id}",
                )

    @cached_property
    def segments(self) -> Segments:
        """The segments of all contours, one contour after the other."""
        parts = [p.contour.segments for p in self.contours]
        return Segments.from_ends(
            np.concatenate([s.start for s in parts]),
            np.concatenate([s.end for s in parts]),
            np.concatenate([s.bulge for s in parts]),
        )

    @cached_property
    def index(self) -> NearestIndex:
        """Search for the nearest segment."""
        return NearestIndex(self.segments)

    @cached_property
    def first(self) -> Indices:
        """First segment of each contour, with the total count at the end."""
        counts = [len(p.contour) for p in self.contours]
        return np.concatenate([[0], np.cumsum(counts)]).astype(np.intp)

    @cached_property
    def contour_of(self) -> Indices:
        """Position in `contours` of each segment."""
        return np.repeat(np.arange(len(self.contours)), np.diff(self.first))

    @cached_property
    def before(self) -> Indices:
        """The segment before each on its contour."""
        result = np.arange(len(self.segments)) - 1
        result[self.first[:-1]] = self.first[1:] - 1
        return result

    @cached_property
    def after(self) -> Indices:
        """The segment after each on its contour."""
        result = np.arange(len(self.segments)) + 1
        result[self.first[1:] - 1] = self.first[:-1]
        return result

    @cached_property
    def station_mm(self) -> Floats:
        """Arc length from the contour's first vertex to each segment."""
        return np.concatenate([p.contour.stations_mm for p in self.contours])

    @cached_property
    def perimeter_mm(self) -> Floats:
        """Length of each contour."""
        return np.array([p.contour.length_mm for p in self.contours])

    def stations_at(self, index: Indices, fraction: Floats) -> Floats:
        """Return arc lengths along the contour of points on segments, (m,) mm."""
        result: Floats = self.station_mm[index] + fraction * self.segments.length[index]
        return result

    def signed_distances(self, points: Floats) -> tuple[Floats, Indices]:
        """Return distances to the part, negative inside its material, and the nearest segment.

        Parameters
        ----------
        points : (m, 2) float

        Returns
        -------
        (m,) float, (m,) int
        """
        distance, index = self.index.query(points)
        side = sides(self.segments, index, points, before=self.before, after=self.after)
        return np.where(side < 0, -distance, distance), index

    def free_normals(self, index: Indices, fraction: Floats) -> Floats:
        """Return unit normals into the free side, right of travel, (m, 2)."""
        tangent = self.segments.tangents_at(index, fraction)
        return np.column_stack([tangent[:, 1], -tangent[:, 0]])
