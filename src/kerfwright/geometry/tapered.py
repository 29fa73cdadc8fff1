"""The wall of one taper: a contour, the height at which it holds, and a slope.

At every height the section is the exact offset of the contour by the slope times the distance
from its height: that is a wall of constant slope, planes over lines and cones over arcs and
corners.  A corner between two lines may keep its radius at every height instead; there the wall
leans more than elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import NoReturn

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import offset_contour
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Floats, Segments

_SHARP_RAD = 1e-6
"""A joint that turns by less is smooth."""
_EDGE_MM = 5e-4
"""An edge may leave a straight line by half a micrometre, as chords may."""
_SAME_RAD = 1e-9
_SAME_MM = 1e-7
"""Offset loops are closed to this."""


class CornerForm(StrEnum):
    """What a corner does under taper."""

    CONICAL = "conical"
    """The wall leans by the same angle round the corner: a radius that grows or shrinks with
    height; a sharp edge opens into a cone where the wall moves out."""
    CONSTANT = "constant"
    """The same radius at every height (0 stays sharp): in the corner the wall leans more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A corner of a contour that can be given a form.

    Attributes
    ----------
    number : int
        From 1, in the order of travel.
    key : int
        2 k for the vertex before segment k, 2 k + 1 for the arc k.
    x_mm, y_mm : float
        The vertex, or the middle of the arc.
    radius_mm : float
        0 where it is sharp.
    is_inside : bool
        Whether the material lies around it: it turns right.
    """

    number: int
    key: int
    x_mm: float
    y_mm: float
    radius_mm: float
    is_inside: bool


def corners_of(contour: Contour) -> tuple[Corner, ...]:
    """Return the sharp corners of a contour, and the arcs that round a corner between two lines.

    Parameters
    ----------
    contour : Contour
        Closed, material on the left.

    Examples
    --------
    >>> [c.radius_mm for c in corners_of(Contour.from_rows([(0, 0), (4, 0), (0, 3)]))]
    [0.0, 0.0, 0.0]
    """
    s = contour.segments
    n = len(s)
    found: list[Corner] = []
    turn = _turns(s)
    for k in range(n):
        if abs(turn[k]) > _SHARP_RAD:
            x, y = s.start[k]
            found.append(_corner(found, 2 * k, x, y, 0.0, inside=bool(turn[k] < 0)))
        if s.is_arc[k] and _rounds(s, turn, k):
            x, y = s.points_at(np.array([k]), np.array([0.5]))[0]
            inside = bool(s.bulge[k] < 0)
            found.append(_corner(found, 2 * k + 1, x, y, float(s.radius[k]), inside=inside))
    return tuple(found)


def _corner(
    found: Sequence[Corner], key: int, x: float, y: float, radius: float, *, inside: bool
) -> Corner:
    return Corner(
        number=len(found) + 1,
        key=key,
        x_mm=float(x),
        y_mm=float(y),
        radius_mm=radius,
        is_inside=inside,
    )


def _turns(s: Segments) -> Floats:
    """Return by how much the contour turns at the start of each segment, rad."""
    a, b = np.roll(s.end_tangent, 1, axis=0), s.start_tangent
    result: Floats = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    return result


def _rounds(s: Segments, turn: Floats, k: int) -> bool:
    n = len(s)
    before, after = (k - 1) % n, (k + 1) % n
    lines = not s.is_arc[before] and not s.is_arc[after]
    return bool(lines and abs(turn[k]) <= _SHARP_RAD and abs(turn[after]) <= _SHARP_RAD)


def tapered_wall(
    contour: Contour,
    *,
    rise: float,
    reference_mm: float,
    lower_mm: float,
    upper_mm: float,
    corners: CornerForm = CornerForm.CONICAL,
    other_corners: frozenset[int] = frozenset(),
) -> RuledWall:
    """Return the wall of constant slope through a contour.

    Parameters
    ----------
    contour : Contour
        Closed, material on the left.
    rise : float
        How far the wall moves into the waste per mm upwards: the tangent of its angle, negative
        where it moves into the material.
    reference_mm : float
        Height at which the wall is the contour.
    lower_mm, upper_mm : float
        Heights between which the wall is made.
    corners : CornerForm
        Of every corner that can have it; those beside an arc are conical.
    other_corners : frozenset of int
        Numbers of the corners (:func:`corners_of`) that take the other form.

    Returns
    -------
    RuledWall

    Raises
    ------
    InputError
        ``taper-closes-up`` where a section falls apart or vanishes, ``taper-radius-vanishes``
        where an arc or edge is used up before the end of the wall, ``taper-corner`` where a
        corner cannot have the form asked for, ``taper-edge-curved`` where a sharp corner beside an
        arc would make a curved edge.

    Examples
    --------
    >>> hole = Contour.circle((0.0, 0.0), radius_mm=5.0).reversed()
    >>> wall = tapered_wall(hole, rise=0.1, reference_mm=10.0, lower_mm=0.0, upper_mm=10.0)
    >>> [round(float(side.radius[0]), 9) for side in (wall.lower, wall.upper)]
    [6.0, 5.0]
    """
    lower = _Section(contour, rise * (lower_mm - reference_mm), lower_mm)
    upper = _Section(contour, rise * (upper_mm - reference_mm), upper_mm)
    keys = constant_keys(
        contour,
        crosses=lower.moved_mm * upper.moved_mm < 0,
        corners=corners,
        other_corners=other_corners,
    )
    for corner in corners_of(contour):
        if corner.key in keys:
            lower.keep_radius(corner)
            upper.keep_radius(corner)
    _require_straight_edges(lower, upper, contour, rise, reference_mm, keys)
    rows = _paired(lower, upper)
    return RuledWall(
        lower=_segments([low for low, _ in rows]),
        upper=_segments([up for _, up in rows]),
        lower_mm=lower_mm,
        upper_mm=upper_mm,
    )


def _require_straight_edges(
    lower: _Section,
    upper: _Section,
    contour: Contour,
    rise: float,
    reference_mm: float,
    keys: frozenset[int],
) -> None:
    """Refuse sharp corners beside an arc whose edge is no straight line.

    A point at equal distances from a line and an arc moves along a curve as the distance grows;
    a straight wire would cut into it or leave stock.
    """
    middle_mm = (lower.height_mm + upper.height_mm) / 2
    middle: _Section | None = None
    for corner in corners_of(contour):
        first = corner.key + 1
        sections = [lower, upper]
        if corner.radius_mm or corner.key in keys or lower.is_between_lines(corner):
            continue
        if any(corner.key in s.sides or first not in s.sides for s in sections):
            continue
        middle = middle or _Section(contour, rise * (middle_mm - reference_mm), middle_mm)
        if first not in middle.sides:
            continue
        low, up, half = (np.array(s.sides[first].start) for s in (*sections, middle))
        off = float(np.hypot(*(half - (low + up) / 2)))
        if off > _EDGE_MM:
            raise InputError(
                f"the edge at corner {corner.number}, between a line or arc and an arc, would be "
                f"curved: half way up it lies {off:.4f} mm off the straight line",
                code="taper-edge-curved",
                where=place_words(corner.x_mm, corner.y_mm),
                remedy="Round the corner with an arc tangent to both sides, or let the contour "
                "hold at the other face.",
            )


def constant_keys(
    contour: Contour, *, crosses: bool, corners: CornerForm, other_corners: frozenset[int]
) -> frozenset[int]:
    """Return the keys of the corners that keep their radius.

    Parameters
    ----------
    contour : Contour
    crosses : bool
        Whether the reference height lies inside the wall.  Sharp corners then stay sharp: the tip
        of the cone would lie inside the wall, and no wire goes round a tip.
    corners, other_corners
        As for :func:`tapered_wall`.
    """
    is_arc = contour.segments.is_arc
    n = len(contour)
    keys = set()
    for corner in corners_of(contour):
        is_named = corner.number in other_corners
        form = _other(corners) if is_named else corners
        if crosses and corner.radius_mm == 0.0:
            form, is_named = CornerForm.CONSTANT, True
        k = corner.key // 2
        after = (k + 1) % n if corner.key % 2 else k
        if form is CornerForm.CONSTANT and (is_named or not (is_arc[k - 1] or is_arc[after])):
            keys.add(corner.key)
    return frozenset(keys)


def _other(form: CornerForm) -> CornerForm:
    return CornerForm.CONSTANT if form is CornerForm.CONICAL else CornerForm.CONICAL


@dataclass(frozen=True, slots=True)
class _Side:
    """One side of a piece."""

    start: tuple[float, float]
    end: tuple[float, float]
    bulge: float = 0.0


def _segments(sides: Sequence[_Side]) -> Segments:
    return Segments.from_ends(
        np.array([s.start for s in sides]),
        np.array([s.end for s in sides]),
        np.array([s.bulge for s in sides]),
    )


class _Section:
    """The section at one height: sides by the key of what they come from."""

    def __init__(self, contour: Contour, moved_mm: float, height_mm: float) -> None:
        self.contour = contour
        self.moved_mm = moved_mm
        self.height_mm = height_mm
        # The offset is positive to the left, the wall moves to the right.
        loops = offset_contour(contour, distance_mm=-moved_mm).loops
        x, y = contour.vertices[0, :2]
        if len(loops) != 1:
            raise InputError(
                f"{height_mm:.4g} mm up the tapered wall has moved by {moved_mm:.4f} mm; its "
                f"section is {'gone' if not loops else f'in {len(loops)} pieces'} there",
                code="taper-closes-up",
                where=f"contour from {place_words(x, y)}",
                remedy="Take a smaller angle, a lower piece, or another reference height.",
            )
        s = loops[0].contour.segments
        self.sides: dict[int, _Side] = {}
        for k, source in enumerate(loops[0].source.tolist()):
            key = 2 * source + 1 if source >= 0 else 2 * (-1 - source)
            if key in self.sides:
                self._refuse_broken(key)
            self.sides[key] = _Side(_pair(s.start[k]), _pair(s.end[k]), float(s.bulge[k]))

    def _refuse_broken(self, key: int) -> None:
        x, y = self.contour.segments.start[key // 2]
        raise InputError(
            f"{self.height_mm:.4g} mm up another part of the tapered wall cuts through this one",
            code="taper-closes-up",
            where=place_words(x, y),
            remedy="Take a smaller angle, a lower piece, or another reference height.",
        )

    def is_between_lines(self, corner: Corner) -> bool:
        """Return whether the segments beside a corner are lines."""
        is_arc = self.contour.segments.is_arc
        before, after = self._beside(corner)
        return not is_arc[before] and not is_arc[after]

    def _beside(self, corner: Corner) -> tuple[int, int]:
        n = len(self.contour)
        k = corner.key // 2
        # A rounded corner is its own segment; at a sharp one the next begins.
        return (k - 1) % n, (k + 1) % n if corner.key % 2 == 1 else k

    def keep_radius(self, corner: Corner) -> None:
        """Shift a corner along the lines beside it, its radius unchanged."""
        s = self.contour.segments
        k = corner.key // 2
        is_arc = corner.key % 2 == 1
        before, after = self._beside(corner)
        first, last = self.sides.get(2 * before + 1), self.sides.get(2 * after + 1)
        if not self.is_between_lines(corner):
            raise InputError(
                f"corner {corner.number} cannot keep its radius: it does not lie between two lines",
                code="taper-corner",
                where=place_words(corner.x_mm, corner.y_mm),
                remedy="Leave it conical, or draw it with a radius between two lines.",
            )
        if first is None or last is None:
            self.refuse_vanished(2 * (before if first is None else after) + 1)
        n1, n2 = _right(s.end_tangent[before]), _right(s.start_tangent[after])
        shift = self.moved_mm * (n1 + n2) / (1.0 + float(n1 @ n2))
        begin, end = s.start[k] + shift, (s.end[k] if is_arc else s.start[k]) + shift
        self.sides[2 * before + 1] = _Side(first.start, _pair(begin), 0.0)
        last = self.sides[2 * after + 1]
        self.sides[2 * after + 1] = _Side(_pair(end), last.end, 0.0)
        for line in (before, after):
            side = self.sides[2 * line + 1]
            if (np.array(side.end) - side.start) @ s.start_tangent[line] <= 0:
                self.refuse_vanished(2 * line + 1)
        if is_arc:
            self.sides[corner.key] = _Side(_pair(begin), _pair(end), float(s.bulge[k]))
        else:
            self.sides.pop(corner.key, None)

    def refuse_vanished(self, key: int) -> NoReturn:
        """Refuse a line or arc that is used up on the way to this height."""
        s = self.contour.segments
        k = key // 2
        x, y = s.points_at(np.array([k]), np.array([0.5]))[0]
        what = f"radius of {s.radius[k]:.4f} mm" if s.is_arc[k] else "edge"
        raise InputError(
            f"the {what} here is used up before {self.height_mm:.4g} mm up, where the tapered wall "
            f"has moved by {abs(self.moved_mm):.4f} mm",
            code="taper-radius-vanishes",
            where=place_words(x, y),
            remedy="Let the corner keep its radius, draw a larger one, or take a smaller angle.",
        )


def _pair(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _right(tangent: Floats) -> Floats:
    return np.array([tangent[1], -tangent[0]])


def _paired(lower: _Section, upper: _Section) -> list[tuple[_Side, _Side]]:
    """Return the sides of both sections piece by piece; what one lacks is a point of it."""
    s = lower.contour.segments
    rows: list[tuple[_Side, _Side]] = []
    keys = sorted(lower.sides.keys() | upper.sides.keys())
    ends = [_last_end(section, keys) for section in (lower, upper)]
    for key in keys:
        sides = []
        for place, section in enumerate((lower, upper)):
            side = section.sides.get(key)
            if side is None:
                if key % 2 == 1:
                    section.refuse_vanished(key)
                side = _Side(ends[place], ends[place])
            else:
                side = _Side(ends[place], side.end, side.bulge)
            ends[place] = side.end
            sides.append(side)
        low, up = sides
        if key % 2 == 1 and s.is_arc[key // 2] and low.bulge and up.bulge:
            rows += _same_angles(s, key // 2, low, up)
        else:
            rows.append((low, up))
    return rows


def _last_end(section: _Section, keys: Sequence[int]) -> tuple[float, float]:
    last = max(key for key in keys if key in section.sides)
    first = min(key for key in keys if key in section.sides)
    begin, end = section.sides[first].start, section.sides[last].end
    assert math.dist(begin, end) <= _SAME_MM, (begin, end)
    return end


def _same_angles(s: Segments, k: int, low: _Side, up: _Side) -> list[tuple[_Side, _Side]]:
    """Cut two arcs of one cone so that equal angles pair; what is over meets a point.

    Arcs of a corner that keeps its radius have another centre each but the same angles.
    """
    arcs = _segments([low, up])
    direction = np.stack([arcs.start - arcs.centre, arcs.end - arcs.centre])
    own = s.start[k] - s.centre[k]
    turned = np.arctan2(
        own[0] * direction[..., 1] - own[1] * direction[..., 0], direction @ own
    ) * np.sign(s.bulge[k])
    begin, end = turned[0], turned[0] + np.abs(arcs.sweep)
    first, last = float(begin.max()), float(end.min())
    if max(np.ptp(begin), np.ptp(end)) <= _SAME_RAD or last - first <= _SAME_RAD:
        return [(low, up)]
    cuts = [_cut(arcs, side, (first - begin[side], last - begin[side])) for side in (0, 1)]
    rows = list(zip(*cuts, strict=True))
    return [(a, b) for a, b in rows if a.start != a.end or b.start != b.end]


def _cut(arcs: Segments, side: int, at_rad: tuple[float, float]) -> list[_Side]:
    """Return an arc in three parts, cut at two angles from its start; a part may be a point."""
    whole = float(abs(arcs.sweep[side]))
    marks = [0.0, *(min(max(a / whole, 0.0), 1.0) for a in at_rad), 1.0]
    marks = [0.0 if m <= _SAME_RAD else 1.0 if m >= 1.0 - _SAME_RAD else m for m in marks]
    which = np.full(4, side)
    points = [_pair(p) for p in arcs.points_at(which, np.array(marks))]
    points[0] = _pair(arcs.start[side])
    points[3] = _pair(arcs.end[side])
    for place in (1, 2):
        if marks[place] in {0.0, 1.0}:
            points[place] = points[0] if marks[place] == 0.0 else points[3]
    return [
        _Side(points[i], points[i + 1], math.tan(arcs.sweep[side] * (b - a) / 4))
        for i, (a, b) in enumerate(pairwise(marks))
    ]
