"""A contour: a chain of lines and true arcs as read-only vertices (x, y, bulge)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Self, overload

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import Floats, Indices, Segments

_MIN_CLOSED = 2
"""Two arcs close a contour (a circle); two lines would be a doubled line."""


@dataclass(frozen=True, eq=False)
class Contour:
    """Closed loop or open chain of lines and arcs.

    Parameters
    ----------
    vertices : (n, 3) float
        Rows x, y, bulge in mm; the bulge tan(sweep / 4) belongs to the segment that leaves
        the vertex.  Of an open chain the last bulge is ignored.
    is_closed : bool
        Whether a segment joins the last vertex to the first.

    Raises
    ------
    InputError
        If the array has another shape, holds a value that is not finite, or has too few
        vertices (2 for an open chain or a closed loop).

    Examples
    --------
    >>> round(Contour.circle((0.0, 0.0), radius_mm=1.0).area_mm2, 6)
    3.141593
    """

    vertices: Floats
    is_closed: bool = True

    def __post_init__(self) -> None:
        vertices = np.array(self.vertices, dtype=np.float64)
        if vertices.ndim != 2 or vertices.shape[1] != 3:
            raise InputError(
                f"a contour takes rows of x, y, bulge; got an array of shape {vertices.shape}",
                code="contour-shape",
            )
        if len(vertices) < _MIN_CLOSED:
            raise InputError(
                f"a contour needs at least 2 vertices, got {len(vertices)}", code="contour-short"
            )
        if not np.isfinite(vertices).all():
            row = int(np.flatnonzero(~np.isfinite(vertices).all(axis=1))[0])
            raise InputError(
                f"vertex {row} of a contour is not finite: {vertices[row].tolist()}",
                code="contour-not-finite",
            )
        vertices.setflags(write=False)
        object.__setattr__(self, "vertices", vertices)

    def __len__(self) -> int:
        """Return the number of segments."""
        return len(self.vertices) if self.is_closed else len(self.vertices) - 1

    @classmethod
    def from_rows(cls, rows: Iterable[Sequence[float]], *, is_closed: bool = True) -> Self:
        """Build from rows (x, y) or (x, y, bulge) in mm."""
        full = [(r[0], r[1], r[2] if len(r) > 2 else 0.0) for r in rows]
        return cls(np.array(full, dtype=np.float64).reshape(-1, 3), is_closed)

    @classmethod
    def circle(cls, centre_mm: tuple[float, float], *, radius_mm: float) -> Self:
        """Return a counter-clockwise circle of two half turns."""
        x, y = centre_mm
        return cls.from_rows([(x + radius_mm, y, 1.0), (x - radius_mm, y, 1.0)])

    @cached_property
    def segments(self) -> Segments:
        """The segments in order of travel."""
        moved: tuple[Contour, tuple[float, float]] | None = vars(self).get("_moved_from")
        if moved is not None:
            first, by_mm = moved
            return first.segments.moved(by_mm)
        v = self.vertices
        if self.is_closed:
            return Segments.from_ends(v[:, :2], rolled(v[:, :2], -1), v[:, 2])
        return Segments.from_ends(v[:-1, :2], v[1:, :2], v[:-1, 2])

    @cached_property
    def length_mm(self) -> float:
        """Length along the lines and arcs, mm."""
        return float(self.segments.length.sum())

    @cached_property
    def area_mm2(self) -> float:
        """Signed enclosed area, mm², positive when counter-clockwise; 0 for an open chain.

        Shoelace sum plus the circular segments R² (θ − sin θ) / 2.
        """
        if not self.is_closed:
            return 0.0
        s = self.segments
        # Coordinates relative to the first vertex: far-away parts keep their digits.
        p, q = s.start - s.start[0], s.end - s.start[0]
        twice = float(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]))
        arcs = s.is_arc
        r, a = s.radius[arcs], s.sweep[arcs]
        return 0.5 * (twice + float(np.sum(r * r * (a - np.sin(a)))))

    @cached_property
    def bounds_mm(self) -> tuple[float, float, float, float]:
        """Tight box (xmin, ymin, xmax, ymax), mm."""
        x0, y0, x1, y1 = self.segments.boxes()
        return float(x0.min()), float(y0.min()), float(x1.max()), float(y1.max())

    @cached_property
    def stations_mm(self) -> Floats:
        """Arc length from the first vertex to the start of each segment, (n,) mm."""
        return np.concatenate([[0.0], np.cumsum(self.segments.length)[:-1]])

    def reversed(self) -> Self:
        """Return the same contour travelled the other way, from the same first vertex."""
        v = self.vertices
        if self.is_closed:
            points = rolled(v[::-1, :2], 1)
            return type(self)(np.column_stack([points, -v[::-1, 2]]), True)
        bulge = np.append(-v[-2::-1, 2], 0.0)
        return type(self)(np.column_stack([v[::-1, :2], bulge]), False)

    def transformed(
        self,
        *,
        scale: float = 1.0,
        turn_rad: float = 0.0,
        shift_mm: tuple[float, float] = (0.0, 0.0),
        mirror_x: bool = False,
    ) -> Self:
        """Return a copy mirrored in the Y axis if asked, then scaled, turned and shifted."""
        points = self.vertices[:, :2] * scale
        bulge = self.vertices[:, 2]
        if mirror_x:
            points = points * [-1.0, 1.0]
            bulge = -bulge
        cos, sin = np.cos(turn_rad), np.sin(turn_rad)
        turned = np.column_stack(
            [points[:, 0] * cos - points[:, 1] * sin, points[:, 0] * sin + points[:, 1] * cos]
        )
        return type(self)(np.column_stack([turned + shift_mm, bulge]), self.is_closed)

    def moved(self, by_mm: tuple[float, float]) -> Self:
        """Return the contour at another place; all that a place does not change stays the same.

        To the last digit, which segments worked out anew from moved vertices would not.
        """
        vertices: Floats = self.vertices + np.array([*by_mm, 0.0])
        vertices.setflags(write=False)
        made = object.__new__(type(self))
        vars(made).update(
            vertices=vertices,
            is_closed=self.is_closed,
            _moved_from=(self, by_mm),
            length_mm=self.length_mm,
            area_mm2=self.area_mm2,
            stations_mm=self.stations_mm,
        )
        return made

    def locate(self, station_mm: Floats) -> tuple[Indices, Floats]:
        """Return segment indices and fractions 0..1 at arc lengths along the contour."""
        station = np.asarray(station_mm, dtype=np.float64)
        if self.is_closed:
            station = np.mod(station, self.length_mm)
        index = self.stations_mm.searchsorted(station, side="right") - 1
        index = np.minimum(np.maximum(index, 0), len(self) - 1)
        fraction = (station - self.stations_mm[index]) / np.maximum(
            self.segments.length[index], TINY
        )
        return index, np.minimum(np.maximum(fraction, 0.0), 1.0)

    def points_at(self, station_mm: Floats) -> Floats:
        """Return the points at arc lengths along the contour, (m, 2) mm."""
        index, fraction = self.locate(station_mm)
        return self.segments.points_at(index, fraction)


class MovedContours(Sequence[Contour]):
    """Contours at another place, each moved when it is looked at.

    Parameters
    ----------
    contours : sequence of Contour
    by_mm : (float, float)
    """

    def __init__(self, contours: Sequence[Contour], by_mm: tuple[float, float]) -> None:
        self._contours = contours
        self._by_mm = by_mm

    @cached_property
    def _moved(self) -> tuple[Contour, ...]:
        return tuple(c.moved(self._by_mm) for c in self._contours)

    def __len__(self) -> int:
        """Return the number of contours."""
        return len(self._contours)

    @overload
    def __getitem__(self, index: int) -> Contour: ...

    @overload
    def __getitem__(self, index: slice) -> Sequence[Contour]: ...

    def __getitem__(self, index: int | slice) -> Contour | Sequence[Contour]:
        """Return one contour, or some."""
        return self._moved[index]


def joined_segments(contours: Sequence[Contour]) -> Segments:
    """Return the segments of closed contours as one record, each contour's own kept with it.

    Thousands of small contours, as corners are, are worked out at one go so.

    Parameters
    ----------
    contours : sequence of Contour
        At least one; closed.
    """
    rows = np.vstack([c.vertices for c in contours])
    counts = np.array([len(c) for c in contours])
    # The next vertex of each, but after the last of a contour its first again.
    after = np.arange(1, len(rows) + 1)
    last = np.cumsum(counts)
    after[last - 1] = last - counts
    every = Segments.from_ends(rows[:, :2], rows[after, :2], rows[:, 2])
    for contour, own in zip(contours, every.split(counts), strict=True):
        # Where a cached property keeps its value.
        vars(contour).setdefault("segments", own)
    return every
