"""Inside the child process: a wall's pieces from a face, whole arcs where the face is round.

A piece pairs a line or an arc at the underside with one at the top.  Beside a plane both are lines;
beside a cylinder or cone about the wire's direction both are arcs, exactly.  Elsewhere the lines of
the face are followed to both ends of the work and replaced by pairs of biarcs (two arcs that meet
with one tangent), halved until they keep to the face at the underside, half way up and at the top.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely
from OCP.GeomAbs import GeomAbs_C1
from OCP.gp import gp_Pnt
from OCP.ShapeAnalysis import ShapeAnalysis_Surface

from kerfwright.adapters.step.faces import Round, WireFace
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.segments import Floats, Segments

FIT_MM: Final = 2.5e-4
"""Half of what splines of drawings may leave: here it is left at two faces and between them."""
_WIDEST_RAD: Final = 3.15
"""An arc that turns more than half round is made of two."""
_MOST_HALVINGS: Final = 9
_FLAT_MM: Final = 1e-6
_BEND_RAD: Final = 1.4
"""A biarc whose ends turn more from its chord is halved."""
_ALIKE: Final = 1e-4
"""Bulges that differ by less are tried as one arc, which then has to keep to the face."""
_STEP: Final = 1e-5
_SAMPLES: Final = 9
_DENSE: Final = 17

Piece = tuple[tuple[float, float, float], tuple[float, float, float]]
"""Start and bulge at the underside and at the top."""
Ends = tuple[Floats, Floats]
"""A ruling: where it meets the underside and the top, (2,) mm each."""


def plane_pieces(first: Ends) -> list[Piece]:
    """Return the piece of a plane that begins at a ruling."""
    return [_piece(first, 0.0, 0.0)]


def _piece(first: Ends, below: float, above: float) -> Piece:
    (a, b), (c, d) = first
    return (float(a), float(b), below), (float(c), float(d), above)


def round_pieces(
    found: Round, first: Ends, *, turn_rad: float, height_mm: float
) -> list[Piece] | None:
    """Return the pieces of a cylinder or cone; None where its tip lies inside the work.

    Parameters
    ----------
    found : Round
    first : pair of points
        Ruling at which it begins.
    turn_rad : float
        How far it turns about its axis, signed.
    height_mm : float
    """
    radii = found.radius_mm, found.radius_at(height_mm)
    if min(radii) < -_FLAT_MM:
        return None
    centre = np.array([found.x_mm, found.y_mm])
    count = max(1, math.ceil(abs(turn_rad) / _WIDEST_RAD))
    bulge = math.tan(turn_rad / count / 4)
    spoke = first[0] - centre if radii[0] >= radii[1] else first[1] - centre
    begin = math.atan2(spoke[1], spoke[0])
    pieces = []
    for k in range(count):
        ends = first
        if k:
            angle = begin + turn_rad * k / count
            way = np.array([math.cos(angle), math.sin(angle)])
            ends = centre + max(radii[0], 0.0) * way, centre + max(radii[1], 0.0) * way
        pieces.append(_piece(ends, *(bulge if r > _FLAT_MM else 0.0 for r in radii)))
    return pieces


class FreeRulings:
    """The rulings of a face that is no plane and not round about the wire's direction.

    Parameters
    ----------
    face : WireFace
    """

    def __init__(self, face: WireFace) -> None:
        self._face = face
        self._along = face.rulings[0]
        self._surface = ShapeAnalysis_Surface(face.surface.Surface().Surface())
        u0, u1, v0, v1 = face.bounds
        self._range = (v0, v1) if self._along == "v" else (u0, u1)
        self.across = (u0, u1) if self._along == "v" else (v0, v1)

    def parameter(self, point: Floats, height_mm: float) -> float:
        """Return which ruling passes a point at a height."""
        uv = self._surface.ValueOfUV(gp_Pnt(point[0], point[1], height_mm), _FLAT_MM)
        return float(uv.X() if self._along == "v" else uv.Y())

    def ends(self, at: Floats) -> tuple[Floats, Floats]:
        """Return where rulings meet the underside and the top, (n, 2) mm each."""
        low, high = (
            self._face.points(at, np.full(len(at), end))
            if self._along == "v"
            else self._face.points(np.full(len(at), end), at)
            for end in self._range
        )
        way = (high - low) / (high[:, 2] - low[:, 2])[:, None]
        down = low - way * low[:, 2:]
        up = low + way * (self._face.height_mm - low[:, 2])[:, None]
        return down[:, :2], up[:, :2]

    def kinks(self, begin: float, end: float) -> list[float]:
        """Return the parameters between two at which the face has no one tangent."""
        surface = self._face.surface
        count = (
            surface.NbUIntervals(GeomAbs_C1)
            if self._along == "v"
            else surface.NbVIntervals(GeomAbs_C1)
        )
        if count < 2:
            return []
        low, high = sorted((begin, end))
        knots = _intervals(surface, self._along, count)
        margin = _STEP * (high - low)
        inside = [k for k in knots if low + margin < k < high - margin]
        return inside if end > begin else inside[::-1]


def _intervals(surface: object, along: str, count: int) -> list[float]:
    from OCP.OCP.collections import Array1_double

    knots = Array1_double(1, count + 1)
    getattr(surface, "UIntervals" if along == "v" else "VIntervals")(knots, GeomAbs_C1)
    return [knots.Value(k) for k in range(1, count + 2)]


def free_pieces(
    rulings: FreeRulings, first: Ends, last: Ends, *, begin: float, end: float
) -> list[Piece]:
    """Return pieces that follow a face from one parameter to another.

    Parameters
    ----------
    rulings : FreeRulings
    first, last : pair of points
        Rulings at which it begins and ends, shared with the neighbours.
    begin, end : float
        Their parameters.
    """
    stops = [begin, *rulings.kinks(begin, end), end]
    pieces: list[Piece] = []
    at = first
    for k in range(len(stops) - 1):
        a, b = stops[k], stops[k + 1]
        to = last if k == len(stops) - 2 else _only(rulings.ends(np.array([b])))
        pieces += _followed(rulings, a, b, at, to, 0)
        at = to
    return pieces


def _only(ends: tuple[Floats, Floats]) -> Ends:
    return ends[0][0], ends[1][0]


def _followed(
    rulings: FreeRulings, a: float, b: float, first: Ends, last: Ends, depth: int
) -> list[Piece]:
    span = b - a
    ways = _tangents(rulings, a, b)
    made = _biarc_pair(first, last, ways)
    if made is not None:
        at = a + span * np.linspace(0.0, 1.0, _SAMPLES + 2)[1:-1]
        true = rulings.ends(at)
        single = _as_one(made)
        if single is not None and _strays(single, last, true) <= FIT_MM:
            return single
        if _strays(made, last, true) <= FIT_MM or depth >= _MOST_HALVINGS:
            return made
    if depth >= _MOST_HALVINGS:
        return [_piece(first, 0.0, 0.0)]
    middle = (a + b) / 2
    there = _only(rulings.ends(np.array([middle])))
    return _followed(rulings, a, middle, first, there, depth + 1) + _followed(
        rulings, middle, b, there, last, depth + 1
    )


def _as_one(made: list[Piece]) -> list[Piece] | None:
    """Return two pieces as one, where both sides of them bend alike."""
    bulges = []
    for side in (0, 1):
        one, two = made[0][side][2], made[1][side][2]
        if abs(one - two) > _ALIKE:
            return None
        bulges.append(math.tan(2 * math.atan((one + two) / 2)))
    (x, y, _), (u, v, _) = made[0]
    return [((x, y, bulges[0]), (u, v, bulges[1]))]


def _tangents(rulings: FreeRulings, a: float, b: float) -> list[tuple[Floats, Floats]]:
    """Return the directions at both ends of a span, at the underside and at the top."""
    step = _STEP * (b - a)
    low, up = rulings.ends(np.array([a, a + step, a + 2 * step, b - 2 * step, b - step, b]))
    # Differences of second order from inside the span, for the face may end or bend there.
    return [(-3 * c[0] + 4 * c[1] - c[2], 3 * c[5] - 4 * c[4] + c[3]) for c in (low, up)]


def _biarc_pair(first: Ends, last: Ends, ways: list[tuple[Floats, Floats]]) -> list[Piece] | None:
    below = _biarc(first[0], last[0], *ways[0])
    above = _biarc(first[1], last[1], *ways[1])
    if below is None or above is None:
        return None
    joint = below[0], above[0]
    return [_piece(first, below[1], above[1]), _piece(joint, below[2], above[2])]


def _biarc(
    start: Floats, end: Floats, ahead: Floats, behind: Floats
) -> tuple[Floats, float, float] | None:
    """Return joint and bulges of two arcs of equal tangents; None where the ends turn too far."""
    chord = end - start
    size = math.hypot(*chord)
    if size < _FLAT_MM:
        return (start + end) / 2, 0.0, 0.0
    a = _angle(chord, ahead)
    b = _angle(behind, chord)
    if max(abs(a), abs(b)) > _BEND_RAD:
        return None
    t1, t2 = (v / max(math.hypot(*v), TINY) for v in (ahead, behind))
    # Tangent length d from  d² (2 − 2 t1·t2) + 2 d (t1 + t2)·chord − chord² = 0.
    square = 2.0 - 2.0 * float(t1 @ t2)
    half = float((t1 + t2) @ chord)
    root = math.sqrt(half * half + square * size * size)
    d = size * size / (half + root)
    joint = (start + d * t1 + end - d * t2) / 2
    bulges = (
        math.tan(_angle(ahead, joint - start) / 2),
        math.tan(_angle(end - joint, behind) / 2),
    )
    one, two = (0.0 if abs(g) * size / 4 < _FLAT_MM / 2 else g for g in bulges)
    return joint, one, two


def _angle(u: Floats, v: Floats) -> float:
    return math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])


def _strays(made: list[Piece], last: Ends, true: tuple[Floats, Floats]) -> float:
    """Return by how much true rulings leave the pieces at underside, middle and top, mm."""
    share = np.linspace(0.0, 1.0, _DENSE)
    chains = []
    for side in (0, 1):
        rows = np.array([p[side] for p in made])
        stops = np.vstack([rows[1:, :2], last[side]])
        s = Segments.from_ends(rows[:, :2], stops, rows[:, 2])
        which = np.repeat(np.arange(len(rows)), _DENSE)
        chains.append((s, s.points_at(which, np.tile(share, len(rows)))))
    worst = 0.0
    for (s, _), points in zip(chains, true, strict=True):
        every = np.arange(len(s))
        away = [s.distances(np.full(len(points), k), points) for k in every]
        worst = max(worst, float(np.min(away, axis=0).max()))
    middle = shapely.LineString((chains[0][1] + chains[1][1]) / 2)
    half = shapely.points((true[0] + true[1]) / 2)
    # The middle line here is of chords: their own error is taken off.
    sag = float(np.max([np.abs(p[side][2]) for p in made for side in (0, 1)], initial=0.0))
    chord = max(math.hypot(*(last[k] - np.array(made[0][k][:2]))) for k in (0, 1))
    chords = sag * chord / (_DENSE - 1) ** 2
    return max(worst, float(shapely.distance(middle, half).max()) - chords)
