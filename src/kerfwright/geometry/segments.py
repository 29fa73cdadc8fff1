"""Many line and arc segments as arrays, with exact distances, points and boxes.

Everything geometric in kerfwright works on this record; a contour owns one.  The angular
membership of a point in an arc is decided by cross products of radius vectors, never by an
angle from ``cos``, which fails for arcs below 1e-7 rad.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.tolerances import TINY

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]

TWO_PI = 2.0 * math.pi
_QUADRANTS = np.arange(4)[:, None] * math.pi / 2
_FLAT_BULGE = 1e-12
"""Below this a bulge is a line: the sagitta of a 1 km chord would be under 1 nm."""


def _frozen(array: Floats) -> Floats:
    array.setflags(write=False)
    return array


def _paired(x: Floats, y: Floats) -> Floats:
    """Return rows of two columns; a quarter of the time of ``numpy.stack`` for a contour."""
    rows = np.empty((len(x), 2))
    rows[:, 0], rows[:, 1] = x, y
    return rows


def _joined(arrays: list[NDArray[Any]]) -> NDArray[Any]:
    array = np.concatenate(arrays)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segments:
    """Independent line and arc segments; all arrays have length n and are read-only.

    Attributes
    ----------
    start, end : (n, 2) float
        End points, mm.
    bulge : (n,) float
        tan(sweep / 4), positive counter-clockwise, 0 for a line (the open DXF convention).
    is_arc : (n,) bool
    centre : (n, 2) float
        Arc centres, mm; 0 for lines.
    radius : (n,) float
        Arc radii, mm; ``inf`` for lines.
    start_angle, sweep : (n,) float
        Angle of the start point about the centre and signed sweep, rad; 0 for lines.
    length : (n,) float
        Arc length, mm.
    start_tangent, end_tangent : (n, 2) float
        Unit tangents in the direction of travel.
    """

    start: Floats
    end: Floats
    bulge: Floats
    is_arc: Flags
    centre: Floats
    radius: Floats
    start_angle: Floats
    sweep: Floats
    length: Floats
    start_tangent: Floats
    end_tangent: Floats

    def __len__(self) -> int:
        return len(self.bulge)

    @classmethod
    def from_ends(cls, start: Floats, end: Floats, bulge: Floats) -> Self:
        """Derive every field from end points and bulges.

        Parameters
        ----------
        start, end : (n, 2) float
            End points, mm.
        bulge : (n,) float
            tan(sweep / 4).
        """
        start = np.array(start, dtype=np.float64).reshape(-1, 2)
        end = np.array(end, dtype=np.float64).reshape(-1, 2)
        bulge = np.array(bulge, dtype=np.float64).reshape(-1)
        chord = end - start
        chord_length = np.hypot(chord[:, 0], chord[:, 1])
        is_arc = np.abs(bulge) > _FLAT_BULGE
        safe = np.where(is_arc, bulge, 1.0)
        radius = np.where(is_arc, chord_length * (1 + safe * safe) / (4 * np.abs(safe)), np.inf)
        # The centre lies on the left normal of the chord's midpoint at chord * (1 - b^2) / (4 b).
        rise = (1 - safe * safe) / (4 * safe)
        left = _paired(-chord[:, 1], chord[:, 0])
        centre = np.where(is_arc[:, None], (start + end) / 2 + left * rise[:, None], 0.0)
        sweep = np.where(is_arc, 4 * np.arctan(bulge), 0.0)
        spoke = start - centre
        start_angle = np.where(is_arc, np.arctan2(spoke[:, 1], spoke[:, 0]), 0.0)
        length = np.where(is_arc, np.where(is_arc, radius, 0.0) * np.abs(sweep), chord_length)
        unit = chord / np.maximum(chord_length, TINY)[:, None]
        cos, sin = np.cos(sweep / 2), np.sin(sweep / 2)
        ux, uy = unit[:, 0], unit[:, 1]
        start_tangent = _paired(ux * cos + uy * sin, -ux * sin + uy * cos)
        end_tangent = _paired(ux * cos - uy * sin, ux * sin + uy * cos)
        is_arc.setflags(write=False)
        return cls(
            start=_frozen(start),
            end=_frozen(end),
            bulge=_frozen(bulge),
            is_arc=is_arc,
            centre=_frozen(centre),
            radius=_frozen(radius),
            start_angle=_frozen(start_angle),
            sweep=_frozen(sweep),
            length=_frozen(length),
            start_tangent=_frozen(start_tangent),
            end_tangent=_frozen(end_tangent),
        )

    @classmethod
    def joined(cls, parts: Sequence[Segments]) -> Segments:
        """Return the segments of several records as one, in order."""
        return cls(
            **{
                name: _joined([getattr(part, name) for part in parts])
                for name in cls.__dataclass_fields__
            }
        )

    def taken(self, index: Indices) -> Segments:
        """Return some of the segments as a record of their own, in the order given."""
        parts = {
            name: getattr(self, name).take(index, axis=0)
            for name in type(self).__dataclass_fields__
        }
        for part in parts.values():
            part.setflags(write=False)
        return type(self)(**parts)

    def moved(self, by_mm: tuple[float, float]) -> Self:
        """Return the segments at another place; lengths, angles and tangents stay to the digit."""
        centre = np.where(self.is_arc[:, None], self.centre + by_mm, 0.0)
        return replace(
            self,
            start=_frozen(self.start + by_mm),
            end=_frozen(self.end + by_mm),
            centre=_frozen(centre),
        )

    def split(self, counts: Indices) -> list[Segments]:
        """Return the segments as several records, the reverse of :meth:`joined`."""
        cut = np.concatenate([[0], np.cumsum(counts)]).tolist()
        every = [getattr(self, name) for name in type(self).__dataclass_fields__]
        names = tuple(type(self).__dataclass_fields__)
        return [
            type(self)(**dict(zip(names, [one[begin:end] for one in every], strict=True)))
            for begin, end in pairwise(cut)
        ]

    def points_at(self, index: Indices, fraction: Floats) -> Floats:
        """Return points at fractions 0..1 of the length of the segments `index`, (m, 2) mm."""
        fraction = np.asarray(fraction, dtype=np.float64)
        arcs = self.is_arc.take(index)
        count = np.count_nonzero(arcs)
        if not count:
            return self._on_lines(index, fraction)
        if count == len(arcs):
            return self._on_arcs(index, fraction)
        points = self._on_lines(index, fraction)
        bent = arcs.nonzero()[0]
        points[bent] = self._on_arcs(index.take(bent), fraction.take(bent))
        return points

    def _on_lines(self, which: Indices, fraction: Floats) -> Floats:
        start = self.start.take(which, axis=0)
        points: Floats = start + (self.end.take(which, axis=0) - start) * fraction[:, None]
        return points

    def _on_arcs(self, which: Indices, fraction: Floats) -> Floats:
        angle = self.sweep.take(which) * fraction
        centre = self.centre.take(which, axis=0)
        x, y = (self.start.take(which, axis=0) - centre).T
        cos, sin = np.cos(angle), np.sin(angle)
        points: Floats = centre + _paired(x * cos - y * sin, x * sin + y * cos)
        return points

    def tangents_at(self, index: Indices, fraction: Floats) -> Floats:
        """Return unit tangents at fractions 0..1 of the segments `index`, (m, 2)."""
        angle = self.sweep.take(index) * np.asarray(fraction, dtype=np.float64)
        cos, sin = np.cos(angle), np.sin(angle)
        tx, ty = self.start_tangent.take(index, axis=0).T
        return _paired(tx * cos - ty * sin, tx * sin + ty * cos)

    def boxes(self, pad_mm: float = 0.0) -> tuple[Floats, Floats, Floats, Floats]:
        """Return tight bounding boxes (xmin, ymin, xmax, ymax), each (n,), grown by `pad_mm`."""
        low = np.minimum(self.start, self.end)
        high = np.maximum(self.start, self.end)
        arcs = np.flatnonzero(self.is_arc)
        if len(arcs):
            sweep = self.sweep[arcs]
            begin = np.where(sweep > 0, self.start_angle[arcs], self.start_angle[arcs] + sweep)
            within = ((_QUADRANTS - begin) % TWO_PI) <= np.abs(sweep)
            for is_hit, (axis, sign) in zip(
                within, ((0, 1), (1, 1), (0, -1), (1, -1)), strict=True
            ):
                hit = arcs[is_hit]
                if not len(hit):
                    continue
                reach = self.centre[hit, axis] + sign * self.radius[hit]
                if sign > 0:
                    high[hit, axis] = np.maximum(high[hit, axis], reach)
                else:
                    low[hit, axis] = np.minimum(low[hit, axis], reach)
        return low[:, 0] - pad_mm, low[:, 1] - pad_mm, high[:, 0] + pad_mm, high[:, 1] + pad_mm

    def distances(self, index: Indices, points: Floats) -> Floats:
        """Return the exact distance of each point to the segment paired with it.

        Parameters
        ----------
        index : (m,) int
            Segment for each point.
        points : (m, 2) float
            Points, mm; one row counts for every segment.

        Returns
        -------
        (m,) float
            Distances, mm.
        """
        arcs = self.is_arc.take(index)
        count = np.count_nonzero(arcs)
        if not count:
            return self._from_lines(index, points)
        if count == len(arcs):
            return self._from_arcs(index, points)
        distance = np.empty(len(index))
        points = np.broadcast_to(points, (len(index), 2))
        flat, bent = (~arcs).nonzero()[0], arcs.nonzero()[0]
        distance[flat] = self._from_lines(index.take(flat), points.take(flat, axis=0))
        distance[bent] = self._from_arcs(index.take(bent), points.take(bent, axis=0))
        return distance

    def _from_lines(self, which: Indices, points: Floats) -> Floats:
        start = self.start.take(which, axis=0)
        along = self.end.take(which, axis=0) - start
        to_point = points - start
        ax, ay, px, py = along[:, 0], along[:, 1], to_point[:, 0], to_point[:, 1]
        fraction = (px * ax + py * ay) / np.maximum(ax * ax + ay * ay, TINY)
        fraction = np.minimum(np.maximum(fraction, 0.0), 1.0)
        distance: Floats = np.hypot(px - ax * fraction, py - ay * fraction)
        return distance

    def _from_arcs(self, which: Indices, points: Floats) -> Floats:
        start, end, centre, bulge = (
            field.take(which, axis=0) for field in (self.start, self.end, self.centre, self.bulge)
        )
        spoke, first, last = points - centre, start - centre, end - centre
        sign = np.sign(bulge)
        after = (first[:, 0] * spoke[:, 1] - first[:, 1] * spoke[:, 0]) * sign >= 0
        before = (spoke[:, 0] * last[:, 1] - spoke[:, 1] * last[:, 0]) * sign >= 0
        within = np.where(np.abs(bulge) <= 1, after & before, after | before)
        radial = np.abs(np.hypot(spoke[:, 0], spoke[:, 1]) - self.radius.take(which))
        to_start, to_end = points - start, points - end
        to_ends = np.minimum(
            np.hypot(to_start[:, 0], to_start[:, 1]), np.hypot(to_end[:, 0], to_end[:, 1])
        )
        distance: Floats = np.where(within, radial, to_ends)
        return distance
