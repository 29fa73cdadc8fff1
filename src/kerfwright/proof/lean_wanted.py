"""The wanted leaning wall, section by section, from the drawing and the angle alone.

The section of a wall of one taper is the set of points at one distance from the drawn contour; a
point of it is written down directly and kept if the contour is nowhere nearer.  Nothing of the
offset engine is used.  A wall between two contours is that of the claim, which must join the two
drawn contours (:func:`paired_faults`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Indices, Segments
from kerfwright.proof.lean_varied import VariedSections
from kerfwright.trade.walls import LeaningShape, PairedWall, TaperedWall, VariedWall

_SPACING_MM = 0.25
_NEAR_ENDS_MM = np.array([0.001, 0.003, 0.01, 0.02, 0.04, 0.08, 0.15])
"""Closer to the ends of a piece: stock left in corners and spikes show within a wire's width."""
_TURN_RAD = 0.05
"""Most a piece turns between two spots."""
_KEPT_MM = 1e-6
"""A spot counts if the contour is no nearer than wanted by this."""
_SHARP_RAD = 1e-6
_ON_CONTOUR_MM = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WallSpots:
    """Points of a wall at one height.

    Attributes
    ----------
    points : (m, 2) float
        In order of travel.
    normals : (m, 2) float
        Unit normals of the section, into the waste.
    aside : (m, 2) float
        Ruling through each, mm aside per mm up.
    """

    points: Floats
    normals: Floats
    aside: Floats

    def __len__(self) -> int:
        return len(self.points)


class Wanted:
    """Spots and sections of one wanted wall.

    Parameters
    ----------
    shape : TaperedWall, VariedWall or PairedWall
    """

    def __init__(self, shape: LeaningShape) -> None:
        self.shape = shape
        self._spots: dict[float, WallSpots] = {}

    def spots(self, height_mm: float) -> WallSpots:
        """Return points of the wall at a height."""
        if height_mm not in self._spots:
            match self.shape:
                case TaperedWall():
                    self._spots[height_mm] = self._tapered(self.shape, height_mm)
                case PairedWall():
                    self._spots[height_mm] = self._paired(self.shape, height_mm)
                case VariedWall():
                    self._spots[height_mm] = self._varied(self.shape, height_mm)
        return self._spots[height_mm]

    def section(self, height_mm: float) -> Contour:
        """Return the section at a height as a contour of chords."""
        points = self.spots(height_mm).points
        moved = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > _KEPT_MM
        return Contour(np.column_stack([points[moved], np.zeros(int(moved.sum()))]))

    def polygon(self, height_mm: float) -> shapely.Polygon:
        """Return the area inside the section at a height."""
        return shapely.Polygon(self.spots(height_mm).points)

    def beside(self, points: Floats, height_mm: float) -> Floats:
        """Return points of the wall at a height beside others, (k, 2) mm.

        Beside a corner that keeps its radius none is returned: the spots there are close.
        """
        match self.shape:
            case TaperedWall():
                return self._beside_tapered(self.shape, points, height_mm)
            case PairedWall():
                return self._beside_paired(self.shape, points, height_mm)
            case VariedWall():
                return self._varied_sections.beside(points, height_mm)

    def _beside_tapered(self, shape: TaperedWall, points: Floats, height_mm: float) -> Floats:
        moved = shape.rise * (height_mm - shape.reference_mm)
        s = shape.contour.segments
        away, index = self._index.query(points)
        foot, fraction = self._index.closest_points(points, index)
        spoke = (points - foot) / np.maximum(away, TINY)[:, None]
        normal = _normals(s, index, fraction)
        # A path inside the contour has its foot's normal behind it.
        spoke *= np.sign((spoke * normal).sum(axis=1))[:, None]
        found = foot + moved * spoke
        near, _ = self._index.query(found)
        kept = (near >= abs(moved) - _KEPT_MM) & (away > _KEPT_MM)
        for key in shape.constant_keys:
            place = s.start[key // 2]
            reach = 3 * abs(moved) + (s.length[key // 2] if key % 2 else 0.0) + _SPACING_MM
            kept &= np.hypot(*(foot - place).T) > reach
        return found[kept]

    def _beside_paired(self, shape: PairedWall, points: Floats, height_mm: float) -> Floats:
        index, at = _paired_grid(shape)
        ring = self.spots(height_mm).points
        run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
        line = shapely.LineString(ring)
        along = shapely.line_locate_point(line, shapely.points(points))
        k = np.clip(np.searchsorted(run, along, side="right") - 1, 0, len(ring) - 2)
        share = (along - run[k]) / np.maximum(run[k + 1] - run[k], TINY)
        same = index[k] == index[k + 1]
        k, share = k[same], share[same]
        return shape.ruled.points(index[k], at[k] + (at[k + 1] - at[k]) * share, height_mm)

    @cached_property
    def _index(self) -> NearestIndex:
        assert isinstance(self.shape, TaperedWall)
        return NearestIndex(self.shape.contour.segments)

    def _tapered(self, shape: TaperedWall, height_mm: float) -> WallSpots:
        moved = shape.rise * (height_mm - shape.reference_mm)
        pieces = list(_moved_pieces(shape, moved))
        points, normals, aside = (np.vstack(column) for column in zip(*pieces, strict=True))
        away, _ = self._index.query(points)
        kept = away >= abs(moved) - _KEPT_MM
        return WallSpots(points=points[kept], normals=normals[kept], aside=aside[kept])

    @cached_property
    def _varied_sections(self) -> VariedSections:
        assert isinstance(self.shape, VariedWall)
        return VariedSections(self.shape)

    def _varied(self, shape: VariedWall, height_mm: float) -> WallSpots:
        s = shape.contour.segments
        fractions = [
            _fractions(float(a), abs(float(b))) for a, b in zip(s.length, s.sweep, strict=True)
        ]
        index = np.repeat(np.arange(len(s)), [len(f) for f in fractions])
        points, normals, aside = self._varied_sections.at(
            index, np.concatenate(fractions), height_mm
        )
        return WallSpots(points=points, normals=normals, aside=aside)

    def _paired(self, shape: PairedWall, height_mm: float) -> WallSpots:
        wall = shape.ruled
        index, at = _paired_grid(shape)
        low, up = wall.slopes(index, at)
        way = low + (up - low) * wall.share(height_mm)
        way /= np.maximum(np.hypot(*way.T), TINY)[:, None]
        return WallSpots(
            points=wall.points(index, at, height_mm),
            normals=np.column_stack([way[:, 1], -way[:, 0]]),
            aside=wall.rulings(index, at) / wall.height_mm,
        )


def _paired_grid(shape: PairedWall) -> tuple[Indices, Floats]:
    """Return piece and fraction of the spots of a paired wall."""
    wall = shape.ruled
    long = np.maximum(wall.lower.length, wall.upper.length)
    turn = np.maximum(np.abs(wall.lower.sweep), np.abs(wall.upper.sweep))
    fractions = [_fractions(float(a), float(b)) for a, b in zip(long, turn, strict=True)]
    index = np.repeat(np.arange(len(wall)), [len(f) for f in fractions])
    return index, np.concatenate(fractions)


def _fractions(length_mm: float, turn_rad: float) -> Floats:
    """Return where along a piece to look, its ends included."""
    even = max(2, int(np.ceil(length_mm / _SPACING_MM)), int(np.ceil(turn_rad / _TURN_RAD)))
    near = _NEAR_ENDS_MM[length_mm / 2 > _NEAR_ENDS_MM] / max(length_mm, _KEPT_MM)
    every = np.concatenate([np.linspace(0.0, 1.0, even + 1), near, 1.0 - near])
    return np.unique(every)


def _moved_pieces(shape: TaperedWall, moved_mm: float) -> Iterator[tuple[Floats, Floats, Floats]]:
    """Yield points, normals and rulings of each fan and segment of the section, in order."""
    s = shape.contour.segments
    n = len(s)
    for k in range(n):
        before, here = _right(s.end_tangent[k - 1]), _right(s.start_tangent[k])
        if 2 * k not in shape.constant_keys:
            spokes = _fan(before, here, moved_mm)
            yield s.start[k] + moved_mm * spokes, spokes, shape.rise * spokes
        if 2 * k + 1 in shape.constant_keys:
            at = _fractions(float(s.length[k]), abs(float(s.sweep[k])))
            which = np.full(len(at), k)
            shift = _mitre(_right(s.end_tangent[k - 1]), _right(s.start_tangent[(k + 1) % n]))
            normals = _normals(s, which, at)
            aside = np.tile(shape.rise * shift, (len(at), 1))
            yield s.points_at(which, at) + moved_mm * shift, normals, aside
        elif s.is_arc[k]:
            at = _fractions(float(s.length[k]), abs(float(s.sweep[k])))
            which = np.full(len(at), k)
            normals = _normals(s, which, at)
            yield s.points_at(which, at) + moved_mm * normals, normals, shape.rise * normals
        else:
            first = s.start[k] + moved_mm * _end_shift(shape, k, at_start=True)
            last = s.end[k] + moved_mm * _end_shift(shape, k, at_start=False)
            at = _fractions(float(np.hypot(*(last - first))), 0.0)
            normals = np.tile(here, (len(at), 1))
            yield first + (last - first) * at[:, None], normals, shape.rise * normals


def _normals(s: Segments, which: Indices, at: Floats) -> Floats:
    tangent = s.tangents_at(which, at)
    return np.column_stack([tangent[:, 1], -tangent[:, 0]])


def _end_shift(shape: TaperedWall, k: int, *, at_start: bool) -> Floats:
    """Return how an end of line k moves, per mm that the wall moves."""
    s = shape.contour.segments
    n = len(s)
    own = _right(s.start_tangent[k])
    vertex, beside = (k, (k - 1) % n) if at_start else ((k + 1) % n, (k + 1) % n)
    if 2 * vertex in shape.constant_keys:
        tangent = s.end_tangent[beside] if at_start else s.start_tangent[beside]
        return _mitre(own, _right(tangent))
    if 2 * beside + 1 in shape.constant_keys:
        far = (k - 2) % n if at_start else (k + 2) % n
        tangent = s.end_tangent[far] if at_start else s.start_tangent[far]
        return _mitre(own, _right(tangent))
    return own


def _mitre(first: Floats, second: Floats) -> Floats:
    shift: Floats = (first + second) / (1.0 + float(first @ second))
    return shift


def _right(tangent: Floats) -> Floats:
    return np.array([tangent[1], -tangent[0]])


def _fan(before: Floats, here: Floats, moved_mm: float) -> Floats:
    """Return unit vectors round a vertex from one normal to the next."""
    turn = float(np.arctan2(before[0] * here[1] - before[1] * here[0], before @ here))
    if abs(turn) < _SHARP_RAD:
        return np.zeros((0, 2))
    angle = turn * _fractions(abs(turn * moved_mm), abs(turn))
    cos, sin = np.cos(angle), np.sin(angle)
    return np.column_stack([before[0] * cos - before[1] * sin, before[0] * sin + before[1] * cos])


def paired_faults(shape: PairedWall) -> float:
    """Return how far a claimed pairing strays from its two contours, mm; `inf` if it is broken.

    Each chain must lie on its contour, meet every vertex of it and go round once.
    """
    worst = 0.0
    for side, contour in ((shape.ruled.lower, shape.lower), (shape.ruled.upper, shape.upper)):
        if abs(float(side.length.sum()) - contour.length_mm) > _ON_CONTOUR_MM * len(side):
            return float("inf")
        worst = max(worst, _strays(side, contour.segments), _strays(contour.segments, side))
    return worst


def _strays(these: Segments, those: Segments) -> float:
    real = np.flatnonzero(those.length > _ON_CONTOUR_MM)
    index = NearestIndex(Segments.from_ends(those.start[real], those.end[real], those.bulge[real]))
    every = np.arange(len(these))
    points = np.vstack([these.points_at(every, np.full(len(these), at)) for at in (0.0, 0.5)])
    return float(index.query(points)[0].max())
