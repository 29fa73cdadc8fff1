"""The wall whose slope differs from side to side of a contour.

Every line of the contour carries a plane of its own slope, or a wall whose slope changes evenly
from one end to the other; two planes meet in a straight edge, so that a sharp corner stays sharp at
every height.  The rounding of a corner between two slopes keeps its radius: it is the cylinder that
touches both planes, its axis parallel to the edge in which they would meet, and a straight wire
makes it exactly.  Where two slopes meet without a corner, the walls part at every other height, and
no straight wire joins them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.ruled import RuledWall, crossing
from kerfwright.geometry.segments import Floats, Segments

_SMOOTH_RAD = 1e-6
_SAME_RISE = 1e-12
"""Slopes that differ by less part by a picometre a metre up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideSlope:
    """The slope of the wall over one side: how far it moves into the waste per mm upwards.

    Attributes
    ----------
    begin, end : float
        At the side's first and last point, evenly between; an arc has one slope.
    """

    begin: float
    end: float


def corner_arcs(contour: Contour) -> frozenset[int]:
    """Return the arcs that round a corner between two lines, by index.

    Parameters
    ----------
    contour : Contour

    Examples
    --------
    >>> quarter = 0.41421356237309503
    >>> sorted(corner_arcs(Contour.from_rows([(1, 0), (3, 0, quarter), (4, 1), (4, 3), (0, 3)])))
    [1]
    """
    s = contour.segments
    n = len(s)
    smooth = np.abs(_turns(s)) <= _SMOOTH_RAD
    return frozenset(
        k
        for k in range(n)
        if s.is_arc[k]
        and not s.is_arc[k - 1]
        and not s.is_arc[(k + 1) % n]
        and smooth[k]
        and smooth[(k + 1) % n]
    )


def varied_wall(
    contour: Contour,
    *,
    slopes: Sequence[SideSlope],
    constant_arcs: frozenset[int],
    reference_mm: float,
    lower_mm: float,
    upper_mm: float,
) -> RuledWall:
    """Return the wall of a slope for each side through a contour.

    Parameters
    ----------
    contour : Contour
        Closed, material on the left.
    slopes : sequence of SideSlope
        One for each segment; that of an arc that rounds a corner is taken from its sides.
    constant_arcs : frozenset of int
        Corner arcs that keep their radius though both sides slope alike.
    reference_mm : float
        Height at which the wall is the contour.
    lower_mm, upper_mm : float
        Heights between which the wall is made.

    Returns
    -------
    RuledWall

    Raises
    ------
    InputError
        ``taper-step`` where two slopes meet without a corner, ``taper-edge-curved`` at a sharp
        corner beside an arc, ``taper-radius-vanishes`` where a side or arc is used up,
        ``rulings-cross`` where the wall passes through itself.

    Examples
    --------
    One side of a square leans outwards by 0.1, the others are upright:

    >>> square = Contour.from_rows([(0, 0), (4, 0), (4, 4), (0, 4)])
    >>> none = SideSlope(begin=0.0, end=0.0)
    >>> wall = varied_wall(
    ...     square, slopes=[SideSlope(begin=0.1, end=0.1), none, none, none],
    ...     constant_arcs=frozenset(), reference_mm=0.0, lower_mm=0.0, upper_mm=10.0,
    ... )
    >>> (wall.upper.start + 0.0).tolist()
    [[0.0, -1.0], [4.0, -1.0], [4.0, 4.0], [0.0, 4.0]]
    """
    begins, ends = _moves(contour, slopes, constant_arcs)
    sides = []
    for z in (lower_mm, upper_mm):
        away = z - reference_mm
        s = contour.segments
        moved = Segments.from_ends(s.start + begins * away, s.end + ends * away, s.bulge)
        _require_left(contour, moved, z)
        sides.append(moved)
    wall = RuledWall(lower=sides[0], upper=sides[1], lower_mm=lower_mm, upper_mm=upper_mm)
    place = crossing(wall)
    if place is not None:
        raise InputError(
            f"{place.height_mm:.4g} mm up the wall would pass through itself",
            code="rulings-cross",
            where=place_words(place.x_mm, place.y_mm),
            remedy="Take smaller angles, a lower piece, or another reference height.",
        )
    return wall


def _moves(
    contour: Contour, slopes: Sequence[SideSlope], constant_arcs: frozenset[int]
) -> tuple[Floats, Floats]:
    """Return how the first and the last point of each segment move per mm upwards, (n, 2) each."""
    s = contour.segments
    n = len(s)
    rounds = corner_arcs(contour)
    turn = _turns(s)
    begins, ends = np.zeros((n, 2)), np.zeros((n, 2))
    for k in range(n):
        if k in rounds:
            continue
        before = (k - 1) % n
        if before in rounds:
            first, last = _of_arc(s, before, slopes, is_constant=before in constant_arcs)
            ends[before - 1], begins[before] = first, first
            ends[before], begins[k] = last, last
            continue
        a, b = slopes[before].end, slopes[k].begin
        ends[before] = begins[k] = _of_joint(s, k, a, b, is_smooth=abs(turn[k]) <= _SMOOTH_RAD)
    return begins, ends


def _of_arc(
    s: Segments, k: int, slopes: Sequence[SideSlope], *, is_constant: bool
) -> tuple[Floats, Floats]:
    """Return how both ends of the rounding of a corner move per mm upwards."""
    a, b = slopes[k - 1].end, slopes[(k + 1) % len(s)].begin
    first, last = _right(s.start_tangent[k]), _right(s.end_tangent[k])
    if abs(a - b) <= _SAME_RISE and not is_constant:
        return a * first, b * last
    shift = _meeting(first, last, a, b)
    return shift, shift


def _of_joint(s: Segments, k: int, a: float, b: float, *, is_smooth: bool) -> Floats:
    """Return how the joint before segment k moves per mm upwards."""
    first, last = _right(s.end_tangent[k - 1]), _right(s.start_tangent[k])
    x, y = s.start[k]
    if is_smooth:
        if abs(a - b) > _SAME_RISE:
            raise InputError(
                "two slopes meet here without a corner: "
                f"the walls part by {abs(a - b):.4f} mm for every mm up, and no straight wire "
                "joins them",
                code="taper-step",
                where=place_words(x, y),
                remedy="Let the slope change evenly along the side (5:0°-2°), give both sides one "
                "angle, or change it at a corner.",
            )
        return a * first
    if s.is_arc[k - 1] or s.is_arc[k]:
        if max(abs(a), abs(b)) <= _SAME_RISE:
            return np.zeros(2)
        raise InputError(
            "the edge at a sharp corner beside an arc would be curved: no straight wire makes it",
            code="taper-edge-curved",
            where=place_words(x, y),
            remedy="Round the corner with an arc tangent to both sides.",
        )
    return _meeting(first, last, a, b)


def _meeting(first: Floats, last: Floats, a: float, b: float) -> Floats:
    """Return the shift by which two lines moved by `a` and `b` along their normals still meet."""
    sine = float(first[0] * last[1] - first[1] * last[0])
    turned = np.array([[last[1], -last[0]], [-first[1], first[0]]])
    shift: Floats = (a * turned[0] + b * turned[1]) / sine
    return shift


def _require_left(contour: Contour, moved: Segments, height_mm: float) -> None:
    """Refuse sides and arcs that are used up on the way to a height."""
    s = contour.segments
    along = ((moved.end - moved.start) * s.start_tangent).sum(axis=1)
    # A chord of an arc keeps its direction while the radius keeps its sign.
    chord = ((moved.end - moved.start) * (s.end - s.start)).sum(axis=1)
    gone = np.flatnonzero(np.where(s.is_arc, chord, along) <= 0)
    if len(gone):
        k = int(gone[0])
        x, y = s.points_at(np.array([k]), np.array([0.5]))[0]
        what = f"radius of {s.radius[k]:.4f} mm" if s.is_arc[k] else f"side {k + 1}"
        raise InputError(
            f"the {what} here is used up before {height_mm:.4g} mm up",
            code="taper-radius-vanishes",
            where=place_words(x, y),
            remedy="Take smaller angles, keep the radius of the corner, or take a lower piece.",
        )


def _turns(s: Segments) -> Floats:
    """Return by how much the contour turns at the start of each segment, rad."""
    a, b = np.roll(s.end_tangent, 1, axis=0), s.start_tangent
    turn: Floats = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    return turn


def _right(tangent: Floats) -> Floats:
    return np.array([tangent[1], -tangent[0]])
