"""Ruled walls: a lower and an upper chain with one parameter, joined by straight rulings.

A wall of four axes consists of pieces.  Each piece pairs a line, an arc or a point of the lower
chain with one of the upper chain; the same fraction 0..1 of both is joined by a straight ruling,
as the wire does.  Line with parallel line is a plane, arc with concentric arc of the same angles
a cylinder or cone, point with arc a cone to its tip; everything else is a general ruled surface,
which may be warped: then its normal turns along a ruling.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import Floats, Indices, Segments

CROSSING_CHORD_MM = 1e-3
"""Chord error of the sections in which crossings are looked for."""
_SAME_MM = 1e-9
"""Ends of neighbouring pieces may differ by this: far below any program's digit."""
_NO_LENGTH_MM = 1e-9
"""A side shorter than this is a point."""
_NO_TURN_RAD = 1e-7
"""An arc-cosine near 1 knows nothing below 1e-8 rad."""
_FEWEST = 3
"""A section of fewer points has shrunk to a line or point."""
_MOST_STEPS = 4096
"""Steps of one piece: a full turn of 100 mm radius needs 3 142 for 0.05 µm."""


@dataclass(frozen=True, kw_only=True, eq=False)
class RuledWall:
    """A closed ruled wall, material on the left of travel.

    Attributes
    ----------
    lower, upper : Segments
        The two sides of each piece, (n,) each; a side may be a point.
    lower_mm, upper_mm : float
        Heights of the two chains.

    Raises
    ------
    InputError
        ``ruled-heights`` if the upper chain is not above the lower, ``ruled-open`` if a chain
        does not close, ``ruled-counts`` if the chains have no or unequal numbers of pieces.
    """

    lower: Segments
    upper: Segments
    lower_mm: float
    upper_mm: float

    def __post_init__(self) -> None:
        if not self.upper_mm > self.lower_mm:
            raise InputError(
                f"the upper chain must lie above the lower: {self.upper_mm} mm is not above "
                f"{self.lower_mm} mm",
                code="ruled-heights",
            )
        if not len(self.lower) or len(self.lower) != len(self.upper):
            raise InputError(
                f"a ruled wall pairs equal numbers of pieces, got {len(self.lower)} below and "
                f"{len(self.upper)} above",
                code="ruled-counts",
            )
        for name, side in (("lower", self.lower), ("upper", self.upper)):
            gap = np.hypot(*(rolled(side.start, -1) - side.end).T)
            worst = int(np.argmax(gap))
            if gap[worst] > _SAME_MM:
                x, y = side.end[worst]
                raise InputError(
                    f"the {name} chain has a gap of {gap[worst]:.3g} mm after piece {worst}",
                    code="ruled-open",
                    where=place_words(x, y),
                )

    def __len__(self) -> int:
        return len(self.lower)

    @property
    def height_mm(self) -> float:
        """Distance of the two chains."""
        return self.upper_mm - self.lower_mm

    @classmethod
    def upright(cls, contour: Contour, *, lower_mm: float, upper_mm: float) -> RuledWall:
        """Return the straight wall over a contour.

        Parameters
        ----------
        contour : Contour
            Closed, material on the left.
        lower_mm, upper_mm : float
        """
        s = contour.segments
        return cls(lower=s, upper=s, lower_mm=lower_mm, upper_mm=upper_mm)

    def share(self, height_mm: float) -> float:
        """Return how far up a height lies: 0 at the lower chain, 1 at the upper."""
        return (height_mm - self.lower_mm) / self.height_mm

    def points(self, index: Indices, fraction: Floats, height_mm: float) -> Floats:
        """Return points of rulings at a height, (m, 2) mm; heights beyond the chains extend.

        Parameters
        ----------
        index : (m,) int
            Pieces.
        fraction : (m,) float
            0..1 along them.
        height_mm : float
        """
        v = self.share(height_mm)
        low = self.lower.points_at(index, fraction)
        result: Floats = low + (self.upper.points_at(index, fraction) - low) * v
        return result

    def rulings(self, index: Indices, fraction: Floats) -> Floats:
        """Return by how much the upper end of a ruling lies aside of the lower, (m, 2) mm."""
        rise: Floats = self.upper.points_at(index, fraction) - self.lower.points_at(index, fraction)
        return rise

    def lean_rad(self, index: Indices, fraction: Floats) -> Floats:
        """Return the angle of rulings to the vertical, (m,) rad."""
        aside = self.rulings(index, fraction)
        return np.arctan(np.hypot(aside[:, 0], aside[:, 1]) / self.height_mm)

    @cached_property
    def is_point(self) -> tuple[np.ndarray, np.ndarray]:
        """Which lower and which upper sides are points."""
        return self.lower.length <= _NO_LENGTH_MM, self.upper.length <= _NO_LENGTH_MM

    def slopes(self, index: Indices, fraction: Floats) -> tuple[Floats, Floats]:
        """Return the derivatives by the fraction of both chains, (m, 2) mm each.

        At a point the direction of the other chain stands in for its own.
        """
        low = self.lower.tangents_at(index, fraction) * self.lower.length[index][:, None]
        up = self.upper.tangents_at(index, fraction) * self.upper.length[index][:, None]
        low_point, up_point = (p[index] for p in self.is_point)
        return np.where(low_point[:, None], up, low), np.where(up_point[:, None], low, up)

    def normals(self, index: Indices, fraction: Floats) -> tuple[Floats, Floats]:
        """Return unit normals into the waste at both ends of rulings, (m, 3) each.

        ``n = t × r``, with the tangent t of the chain and the ruling r.  The two differ on a
        warped piece only.
        """
        aside = self.rulings(index, fraction)
        low, up = self.slopes(index, fraction)
        return self._normal(low, aside), self._normal(up, aside)

    def _normal(self, tangent: Floats, aside: Floats) -> Floats:
        n = np.column_stack(
            [
                tangent[:, 1] * self.height_mm,
                -tangent[:, 0] * self.height_mm,
                tangent[:, 0] * aside[:, 1] - tangent[:, 1] * aside[:, 0],
            ]
        )
        size = np.sqrt((n * n).sum(axis=1))
        result: Floats = n / np.maximum(size, TINY)[:, None]
        return result

    def warp_rad(self, index: Indices, fraction: Floats) -> Floats:
        """Return by how much the normal turns along rulings, (m,) rad; 0 where developable."""
        low, up = self.normals(index, fraction)
        return 2 * np.arcsin(np.clip(np.hypot(*_two(low - up)) / 2, 0.0, 1.0))

    def steps(self, chord_mm: float, heights_mm: Sequence[float], *, beyond_mm: float) -> Indices:
        """Return into how many equal parts to cut each piece, (n,) int.

        So many that, at every height given, the chord of a part leaves the curve by no more than
        `chord_mm`: for a curve c(t) cut into n parts that is |c''| / (8 n²).

        Parameters
        ----------
        chord_mm : float
        heights_mm : sequence of float
        beyond_mm : float
            Offset of the wire from the wall: its curve is that much rounder than the wall's.
        """
        n = len(self)
        bend = np.zeros(n)
        middle = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
        index, at = np.repeat(np.arange(n), len(middle)), np.tile(middle, n)
        low, up = (_second(side, index, at) for side in (self.lower, self.upper))
        turn = np.maximum(np.abs(self.lower.sweep), np.abs(self.upper.sweep))
        turn = np.maximum(turn, self._turning())
        for z in heights_mm:
            v = self.share(z)
            curve = low + (up - low) * v
            size = np.hypot(curve[:, 0], curve[:, 1]).reshape(n, -1).max(axis=1)
            bend = np.maximum(bend, size)
        bend += beyond_mm * turn**2
        steps = np.ceil(np.sqrt(bend / (8.0 * chord_mm)) - _SAME_MM)
        return np.clip(steps, 1, _MOST_STEPS).astype(np.intp)

    def _turning(self) -> Floats:
        """Return how far the normal turns within each piece at either chain, (n,) rad."""
        every = np.arange(len(self))
        most = np.zeros(len(self))
        first = self.normals(every, np.zeros(len(self)))
        last = self.normals(every, np.ones(len(self)))
        for a, b in zip(first, last, strict=True):
            most = np.maximum(most, np.arccos(np.clip((a * b).sum(axis=1), -1.0, 1.0)))
        return np.where(most < _NO_TURN_RAD, 0.0, most)

    def grid(self, steps: Indices) -> tuple[Indices, Floats]:
        """Return piece and fraction of all stations, the end of each piece left out."""
        index = np.repeat(np.arange(len(self)), steps)
        part = np.arange(len(index)) - np.repeat(np.cumsum(steps) - steps, steps)
        return index, part / steps[index]

    def section(self, height_mm: float, *, chord_mm: float) -> Floats:
        """Return the closed polyline of the wall at a height, (m, 2) mm.

        Its corners lie on the wall; between them it leaves the wall by at most `chord_mm`.
        """
        index, fraction = self.grid(self.steps(chord_mm, [height_mm], beyond_mm=0.0))
        return self.points(index, fraction, height_mm)


def _two(v: Floats) -> tuple[Floats, Floats]:
    """Return a vector of three as two lengths whose root of squares is its own."""
    return np.hypot(v[:, 0], v[:, 1]), v[:, 2]


def _second(side: Segments, index: Indices, fraction: Floats) -> Floats:
    """Return the second derivative of chains by the fraction: −(r − c) sweep² on arcs."""
    arcs = side.is_arc[index]
    result = np.zeros((len(index), 2))
    which = index[arcs]
    spoke = side.points_at(which, fraction[arcs]) - side.centre[which]
    result[arcs] = -spoke * (side.sweep[which] ** 2)[:, None]
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class WallPlace:
    """The worst place of something on a ruled wall.

    Attributes
    ----------
    x_mm, y_mm, height_mm : float
    value : float
        What is worst there, in the unit that the function names.
    """

    x_mm: float
    y_mm: float
    height_mm: float
    value: float


def steepest(wall: RuledWall) -> WallPlace:
    """Return the ruling that leans most, at its lower end; the value is the angle, rad."""
    index, fraction = _looked_at(wall)
    lean = wall.lean_rad(index, fraction)
    k = int(np.argmax(lean))
    x, y = wall.points(index[k : k + 1], fraction[k : k + 1], wall.lower_mm)[0]
    return WallPlace(x_mm=float(x), y_mm=float(y), height_mm=wall.lower_mm, value=float(lean[k]))


def most_warped(wall: RuledWall) -> WallPlace:
    """Return the ruling along which the normal turns most; the value is that turn, rad."""
    index, fraction = _looked_at(wall)
    warp = wall.warp_rad(index, fraction)
    k = int(np.argmax(warp))
    x, y = wall.points(index[k : k + 1], fraction[k : k + 1], wall.lower_mm)[0]
    return WallPlace(x_mm=float(x), y_mm=float(y), height_mm=wall.lower_mm, value=float(warp[k]))


def _looked_at(wall: RuledWall) -> tuple[Indices, Floats]:
    at = np.linspace(0.0, 1.0, 9)
    return np.repeat(np.arange(len(wall)), len(at)), np.tile(at, len(wall))


def fans(wall: RuledWall, *, widest_rad: float) -> tuple[WallPlace, ...]:
    """Return the pieces on which the wire stands at one end and swings through too wide an angle.

    Parameters
    ----------
    wall : RuledWall
    widest_rad : float
        Swing of the ruling that is still taken for a corner.
    """
    found = []
    ends = np.array([0.0, 1.0])
    for k in np.flatnonzero(wall.is_point[0] != wall.is_point[1]):
        which = np.array([k, k], dtype=np.intp)
        aside = wall.rulings(which, ends)
        way = np.column_stack([aside, np.full(2, wall.height_mm)])
        way /= np.sqrt((way * way).sum(axis=1))[:, None]
        swing = 2 * math.asin(min(float(np.linalg.norm(way[1] - way[0])) / 2, 1.0))
        if swing > widest_rad:
            height = wall.lower_mm if wall.is_point[0][k] else wall.upper_mm
            x, y = wall.points(which[:1], ends[:1], height)[0]
            found.append(WallPlace(x_mm=float(x), y_mm=float(y), height_mm=height, value=swing))
    return tuple(found)


def crossing(
    wall: RuledWall, *, levels: int = 9, chord_mm: float = CROSSING_CHORD_MM
) -> WallPlace | None:
    """Return where rulings cross, so that the wall passes through itself; None if nowhere.

    Looked at in sections at equal heights, both chains included.  Two ways of crossing are seen:
    the section runs backwards (neighbouring rulings cross), or it meets itself.  The value is the
    height, mm.

    Parameters
    ----------
    wall : RuledWall
    levels : int
    chord_mm : float
        Of the sections.
    """
    index, fraction = _looked_at(wall)
    low, up = wall.slopes(index, fraction)
    for v in np.linspace(0.0, 1.0, levels):
        z = wall.lower_mm + v * wall.height_mm
        way = low * (1 - v) + up * v
        # Against the chain that is nearer: a section that turns back has crossed rulings.
        back = (way * low).sum(axis=1) < 0 if v < 0.5 else (way * up).sum(axis=1) < 0
        if back.any():
            k = np.flatnonzero(back)[:1]
            x, y = wall.points(index[k], fraction[k], z)[0]
            return WallPlace(x_mm=float(x), y_mm=float(y), height_mm=float(z), value=float(z))
    for v in np.linspace(0.0, 1.0, levels):
        z = wall.lower_mm + v * wall.height_mm
        place = _meets_itself(wall.section(float(z), chord_mm=chord_mm))
        if place is not None:
            x, y = place
            return WallPlace(x_mm=x, y_mm=y, height_mm=float(z), value=float(z))
    return None


def _meets_itself(points: Floats) -> tuple[float, float] | None:
    moved = np.hypot(*(rolled(points, -1) - points).T) > _SAME_MM
    if moved.sum() < _FEWEST:
        return float(points[0, 0]), float(points[0, 1])
    polygon = shapely.Polygon(points[moved])
    if polygon.is_valid:
        return None
    reason = shapely.is_valid_reason(polygon)
    numbers = reason[reason.find("[") + 1 : reason.find("]")].split()
    return float(numbers[0]), float(numbers[1])


def inside_radius(wall: RuledWall, height_mm: float) -> WallPlace | None:
    """Return the smallest inside radius of the wall at a height; None where it has no inside bend.

    An inside bend turns right, for the material lies left of travel; a sharp inside corner has
    radius 0.  On pieces that are no circle at this height the radius is that at the tightest of
    nine places.  The value is the radius, mm.

    Parameters
    ----------
    wall : RuledWall
    height_mm : float

    Examples
    --------
    >>> hole = Contour.circle((0.0, 0.0), radius_mm=5.0).reversed()
    >>> wall = RuledWall.upright(hole, lower_mm=0.0, upper_mm=10.0)
    >>> round(inside_radius(wall, 4.0).value, 6)
    5.0
    """
    v = wall.share(height_mm)
    index, fraction = _looked_at(wall)
    low, up = wall.slopes(index, fraction)
    low = np.where(wall.is_point[0][index][:, None], 0.0, low)
    up = np.where(wall.is_point[1][index][:, None], 0.0, up)
    first = low * (1 - v) + up * v
    second = (
        _second(wall.lower, index, fraction) * (1 - v) + _second(wall.upper, index, fraction) * v
    )
    cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    speed = np.hypot(first[:, 0], first[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.where((cross < 0) & (speed > _NO_LENGTH_MM), speed**3 / -cross, np.inf)
    place = int(np.argmin(radius))
    best = (float(radius[place]), index[place], fraction[place])
    corner = _sharp_inside(wall, v)
    if corner is not None:
        best = (0.0, np.intp(corner), np.float64(1.0))
    if math.isinf(best[0]):
        return None
    x, y = wall.points(np.array([best[1]]), np.array([best[2]]), height_mm)[0]
    return WallPlace(x_mm=float(x), y_mm=float(y), height_mm=height_mm, value=best[0])


def _sharp_inside(wall: RuledWall, v: float) -> int | None:
    """Return a piece at whose end the section turns right sharply, or None."""
    n = len(wall)
    every = np.arange(n)

    def way(at: float) -> Floats:
        fraction = np.full(n, at)
        low = wall.lower.tangents_at(every, fraction) * wall.lower.length[:, None]
        up = wall.upper.tangents_at(every, fraction) * wall.upper.length[:, None]
        result: Floats = low * (1 - v) + up * v
        return result

    begin, end = way(0.0), way(1.0)
    real = np.flatnonzero(np.hypot(*begin.T) > _NO_LENGTH_MM)
    if len(real) < 2:
        return None
    a, b = end[real], rolled(begin[real], -1)
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    worst = int(np.argmin(turn))
    return int(real[worst]) if turn[worst] < -_SHARP_RAD else None


_SHARP_RAD = 1e-6
"""A joint that turns by less is smooth."""
