"""The wanted wall of a slope for each side, from the drawing and the slopes alone.

Each end of a side is the place in which the two planes meet there: two equations, solved for the
way per mm upwards.  Nothing of what makes the wall is used.
"""

from __future__ import annotations

import numpy as np

from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Indices, Segments
from kerfwright.trade.walls import VariedWall

_PARALLEL = 1e-9
"""Sine of the angle between two lines that run on into each other."""


class VariedSections:
    """Sections of one wall, and the rulings through them.

    Parameters
    ----------
    shape : VariedWall
    """

    def __init__(self, shape: VariedWall) -> None:
        self.shape = shape
        s = shape.contour.segments
        n = len(s)
        self.begin_move, self.end_move = np.zeros((n, 2)), np.zeros((n, 2))
        for k in range(n):
            if s.is_arc[k] and k in shape.rounds:
                self._round(k)
        for k in range(n):
            before = (k - 1) % n
            if k in shape.rounds or before in shape.rounds:
                continue
            way = _joint(
                s.end_tangent[before], s.start_tangent[k], shape.ends[before], shape.begins[k]
            )
            self.end_move[before], self.begin_move[k] = way, way

    def _round(self, k: int) -> None:
        """Set the ways of the ends of a rounding, and of the lines that end there."""
        shape, s = self.shape, self.shape.contour.segments
        before, after = (k - 1) % len(s), (k + 1) % len(s)
        a, b = shape.ends[before], shape.begins[after]
        if k in shape.constant_arcs or abs(a - b) > _PARALLEL:
            first = last = _joint(s.start_tangent[k], s.end_tangent[k], a, b)
        else:
            first, last = a * _normal(s.start_tangent[k]), b * _normal(s.end_tangent[k])
        self.end_move[before], self.begin_move[k] = first, first
        self.end_move[k], self.begin_move[after] = last, last

    def segments(self, height_mm: float) -> Segments:
        """Return the section at a height."""
        s, away = self.shape.contour.segments, height_mm - self.shape.reference_mm
        return Segments.from_ends(
            s.start + self.begin_move * away, s.end + self.end_move * away, s.bulge
        )

    def at(self, index: Indices, share: Floats, height_mm: float) -> tuple[Floats, Floats, Floats]:
        """Return points, normals of the section into the waste, and rulings, (m, 2) each."""
        here = self.segments(height_mm)
        tangent = here.tangents_at(index, share)
        # An arc of the same sweep moves as its ends do: by a shift, or along its spokes.
        low, up = self.begin_move[index], self.end_move[index]
        aside = low + (up - low) * share[:, None]
        arcs = np.flatnonzero(here.is_arc[index] & (np.abs(up - low).max(axis=1) > 0))
        if len(arcs):
            one, two = (
                self.segments(self.shape.reference_mm),
                self.segments(self.shape.reference_mm + 1.0),
            )
            which, at = index[arcs], share[arcs]
            aside[arcs] = two.points_at(which, at) - one.points_at(which, at)
        normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
        return here.points_at(index, share), normal, aside

    def beside(self, points: Floats, height_mm: float) -> Floats:
        """Return the points of the section nearest to others, corners left out, (k, 2) mm."""
        here = self.segments(height_mm)
        nearest = NearestIndex(here)
        _, index = nearest.query(points)
        foot, share = nearest.closest_points(points, index)
        inner = (share > 0.0) & (share < 1.0)
        result: Floats = foot[inner]
        return result


def _joint(first: Floats, last: Floats, a: float, b: float) -> Floats:
    """Return the way per mm upwards of the place in which two sides meet."""
    rows = np.stack([_normal(first), _normal(last)])
    if abs(float(np.linalg.det(rows))) < _PARALLEL:
        along: Floats = a * rows[0]
        return along
    way: Floats = np.linalg.solve(rows, np.array([a, b]))
    return way


def _normal(tangent: Floats) -> Floats:
    return np.array([tangent[1], -tangent[0]])
