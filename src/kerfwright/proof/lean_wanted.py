"""The wanted leaning wall, section by section, from the drawing and the angle alone.

The section of a wall of one taper is the set of points at one distance from the drawn contour; a
point of it is written down directly and kept if the contour is nowhere nearer.  Nothing of the
offset engine is used.  A wall between two contours is that of the claim, which must join the two
drawn contours (:func:`paired_faults`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments
from kerfwright.proof.lean_varied import VariedSections
from kerfwright.trade.walls import LeaningShape, PairedWall, TaperedWall, VariedWall

_SPACING_MM = 0.25
_NEAR_ENDS_MM = np.array([0.001, 0.003, 0.01, 0.02, 0.04, 0.08, 0.15])
"""Closer to the ends of a piece: stock left in corners and spikes show within a wire's width."""
_TURN_RAD = 0.05
"""Most a piece turns between two spots."""
_CORNER_RAD = 0.02
"""What a wire leaves in a corner that turns less is (r + g) turn² / 8, below 0.02 µm."""
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
        self._trees: dict[float, shapely.STRtree] = {}

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

    def tree(self, height_mm: float) -> shapely.STRtree:
        """Return the spots at a height to be looked up by their places."""
        if height_mm not in self._trees:
            points = self.spots(height_mm).points
            self._trees[height_mm] = shapely.STRtree(shapely.points(points))
        return self._trees[height_mm]

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
        points, normals, aside = _moved_pieces(shape, moved)
        away, _ = self._index.query(points)
        kept = away >= abs(moved) - _KEPT_MM
        return WallSpots(points=points[kept], normals=normals[kept], aside=aside[kept])

    @cached_property
    def _varied_sections(self) -> VariedSections:
        assert isinstance(self.shape, VariedWall)
        return VariedSections(self.shape)

    def _varied(self, shape: VariedWall, height_mm: float) -> WallSpots:
        s = shape.contour.segments
        index, at = _spread(s.length, np.abs(s.sweep))
        points, normals, aside = self._varied_sections.at(index, at, height_mm)
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
    return _spread(long, turn)


def _spread(
    length_mm: Floats, turn_rad: Floats, *, is_blunt: Flags | bool = False
) -> tuple[Indices, Floats]:
    """Return where along pieces to look, their ends included.

    Parameters
    ----------
    length_mm, turn_rad : (n,) float
    is_blunt : (n,) bool
        Pieces at neither end of which there is a corner to look into.

    Returns
    -------
    (m,) int, (m,) float
        Piece, and fraction along it, in order.
    """
    even = np.maximum(np.ceil(length_mm / _SPACING_MM), np.ceil(turn_rad / _TURN_RAD))
    even = np.maximum(even, 2).astype(np.intp)
    index = np.repeat(np.arange(len(even)), even + 1)
    first = np.cumsum(even + 1) - (even + 1)
    at = (np.arange(len(index)) - first[index]) / even[index]
    looks_close = length_mm[:, None] / 2 > _NEAR_ENDS_MM
    # As close lie the spots of a short piece by themselves.
    looks_close[is_blunt & (length_mm < _SPACING_MM)] = False
    has, which = np.nonzero(looks_close)
    near = _NEAR_ENDS_MM[which] / np.maximum(length_mm[has], _KEPT_MM)
    index, at = np.concatenate([index, has, has]), np.concatenate([at, near, 1.0 - near])
    order = np.lexsort((at, index))
    index, at = index[order], at[order]
    is_new = np.ones(len(at), dtype=bool)
    is_new[1:] = (np.diff(index) > 0) | (np.diff(at) > 0)
    return index[is_new], at[is_new]


_Spots = tuple[Floats, Floats, Floats]


def _moved_pieces(shape: TaperedWall, moved_mm: float) -> _Spots:
    """Return points, normals and rulings of fans and segments of the section, in order.

    The fan at the start of segment k comes before it.
    """
    fans, of_fans = _fans(shape, moved_mm)
    pieces, of_pieces = _pieces(shape, moved_mm)
    order = np.argsort(np.concatenate([2 * fans, 2 * pieces + 1]), kind="stable")
    points, normals, aside = (
        np.concatenate([a, b])[order] for a, b in zip(of_fans, of_pieces, strict=True)
    )
    return points, normals, aside


def _fans(shape: TaperedWall, moved_mm: float) -> tuple[Indices, _Spots]:
    """Return the spots round vertices from one normal to the next, with their segments."""
    s = shape.contour.segments
    before, turn = _right(np.roll(s.end_tangent, 1, axis=0)), _turns(s)
    constant = [key // 2 for key in shape.constant_keys if key % 2 == 0]
    is_fan = np.abs(turn) >= _SHARP_RAD
    is_fan[constant] = False
    k = np.flatnonzero(is_fan)
    row, at = _spread(np.abs(turn[k] * moved_mm), np.abs(turn[k]))
    # The ends of a blunt one are those of the segments beside it.
    needed = (np.abs(turn[k]) > _CORNER_RAD)[row] | ((at > 0.0) & (at < 1.0))
    row, at = row[needed], at[needed]
    which = k[row]
    cos, sin = np.cos(turn[which] * at), np.sin(turn[which] * at)
    x, y = before[which].T
    spokes = np.column_stack([x * cos - y * sin, x * sin + y * cos])
    return which, (s.start[which] + moved_mm * spokes, spokes, shape.rise * spokes)


def _turns(s: Segments) -> Floats:
    """Return by how much the way turns at the start of each segment, (n,) rad."""
    before, here = np.roll(s.end_tangent, 1, axis=0), s.start_tangent
    turn: Floats = np.arctan2(
        before[:, 0] * here[:, 1] - before[:, 1] * here[:, 0], (before * here).sum(axis=1)
    )
    return turn


def _pieces(shape: TaperedWall, moved_mm: float) -> tuple[Indices, _Spots]:
    """Return the spots of segments, each moved as its kind moves, with their segments."""
    s = shape.contour.segments
    n = len(s)
    # Ends of lines move along their own normals, but at corners that keep their radius.
    at_start, at_end = _right(s.start_tangent), _right(s.start_tangent)
    kept = np.array(sorted({key // 2 for key in shape.constant_keys}), dtype=np.intp)
    for k in {int(j) % n for one in kept for j in (one - 1, one, one + 1)}:
        at_start[k] = _end_shift(shape, k, at_start=True)
        at_end[k] = _end_shift(shape, k, at_start=False)
    first, last = s.start + moved_mm * at_start, s.end + moved_mm * at_end
    shifted = np.array([k for k in kept if 2 * k + 1 in shape.constant_keys], dtype=np.intp)
    is_line = ~s.is_arc
    is_line[shifted] = False
    length = np.where(is_line, np.hypot(*(last - first).T), s.length)
    corner = np.abs(_turns(s)) > _CORNER_RAD
    which, at = _spread(
        length,
        np.where(is_line, 0.0, np.abs(s.sweep)),
        is_blunt=~(corner | np.roll(corner, -1)),
    )
    normals = _normals(s, which, at)
    straight = first[which] + (last - first)[which] * at[:, None]
    bent = s.points_at(which, at) + moved_mm * normals
    points = np.where(is_line[which, None], straight, bent)
    aside = shape.rise * normals
    for k in shifted:
        rows = which == k
        shift = _mitre(_right(s.end_tangent[k - 1]), _right(s.start_tangent[(k + 1) % n]))
        points[rows] = s.points_at(which[rows], at[rows]) + moved_mm * shift
        aside[rows] = shape.rise * shift
    return which, (points, normals, aside)


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
    """Return tangents turned to the right, (..., 2)."""
    return np.stack([tangent[..., 1], -tangent[..., 0]], axis=-1)


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
