"""A taper that varies from side to side: from numbered sides to slopes, and what is said."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.tapered import corners_of
from kerfwright.geometry.varied import SideSlope, corner_arcs, varied_wall
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.walls import SideAngle, Taper, VariedWall

_MOST_TOLD = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Varied:
    """A wall whose slope varies along its contour.

    Attributes
    ----------
    ruled : RuledWall
    shape : VariedWall
    reason : str
        Its sides and angles, in plain words.
    """

    ruled: RuledWall
    shape: VariedWall
    reason: str


def varied(one: PartContour, asked: Taper, *, height_mm: float) -> Varied:
    """Return the wall of a contour some of whose sides have an angle of their own.

    Parameters
    ----------
    one : PartContour
    asked : Taper
        With sides.
    height_mm : float
        Of the work.

    Raises
    ------
    InputError
        ``taper-side`` if a side is not there, is named twice, or is the rounding of a corner or
        an arc whose angle is to change; those of :func:`varied_wall`.
    """
    contour, n = one.contour, len(one.contour)
    rounds = corner_arcs(contour)
    usual = asked.rise(one.role)
    slopes = [SideSlope(begin=usual, end=usual)] * n
    named: set[int] = set()
    for side in asked.sides:
        for number in range(side.first, side.last + 1):
            _require(number, side, contour, rounds, named)
            named.add(number)
            slopes[number - 1] = _slope(side, asked, one.role)
    constant = _constant(contour, asked, rounds)
    reference = asked.height_mm(height_mm)
    ruled = varied_wall(
        contour,
        slopes=slopes,
        constant_arcs=constant,
        reference_mm=reference,
        lower_mm=0.0,
        upper_mm=height_mm,
    )
    shape = VariedWall(
        contour=contour,
        begins=tuple(s.begin for s in slopes),
        ends=tuple(s.end for s in slopes),
        rounds=rounds,
        constant_arcs=constant,
        reference_mm=reference,
    )
    return Varied(ruled=ruled, shape=shape, reason=_said(one, asked))


def _require(
    number: int, side: SideAngle, contour: Contour, rounds: frozenset[int], named: set[int]
) -> None:
    n = len(contour)
    if number > n:
        raise InputError(
            f"side {number} is not there: the contour has {n}",
            code="taper-side",
            remedy=f"Lines and arcs count in the order of travel: {_listed(contour)}.",
        )
    x, y = contour.segments.points_at(np.array([number - 1]), np.array([0.5]))[0]
    where = place_words(x, y)
    if number in named:
        raise InputError(f"side {number} has two angles", code="taper-side", where=where)
    if number - 1 in rounds:
        raise InputError(
            f"side {number} is the rounding of a corner, which touches the walls of both its sides",
            code="taper-side",
            where=where,
            remedy="Give the angles of the sides; the rounding follows them.",
        )
    if contour.segments.is_arc[number - 1] and side.begin_deg != side.end_deg:
        raise InputError(
            f"side {number} is an arc: its angle cannot change along it",
            code="taper-side",
            where=where,
            remedy="Give it one angle, or let the angle change along a line.",
        )


def _listed(contour: Contour) -> str:
    """Return the sides with their middles, as many as a person reads."""
    count = min(len(contour), _MOST_TOLD)
    middle = contour.segments.points_at(np.arange(count), np.full(count, 0.5))
    said = [
        f"{k} at {place_words(x, y, decimals=3)}"
        for k, (x, y) in enumerate(middle.tolist(), start=1)
    ]
    return ", ".join(said) + (", …" if count < len(contour) else "")


def _slope(side: SideAngle, asked: Taper, role: Role) -> SideSlope:
    unit = asked.rise(role) / math.tan(math.radians(asked.angle_deg))
    if side.widens is not None and side.widens != asked.widens:
        unit = -unit
    begin, end = (unit * math.tan(math.radians(a)) for a in (side.begin_deg, side.end_deg))
    return SideSlope(begin=begin, end=end)


def _constant(contour: Contour, asked: Taper, rounds: frozenset[int]) -> frozenset[int]:
    """Return the roundings that keep their radius by what was asked of corners."""
    by_arc = {c.key // 2: c.number for c in corners_of(contour) if c.key % 2 == 1}
    return frozenset(
        k for k in rounds if asked.keeps_radius != (by_arc.get(k) in asked.other_corners)
    )


def _said(one: PartContour, asked: Taper) -> str:
    words = []
    for side in asked.sides[:_MOST_TOLD]:
        x, y = one.contour.segments.points_at(np.array([side.first - 1]), np.array([0.5]))[0]
        which = f"{side.first}" if side.first == side.last else f"{side.first} to {side.last}"
        angle = f"{side.begin_deg:g}°"
        if side.end_deg != side.begin_deg:
            angle += f" changing to {side.end_deg:g}°"
        sense = "" if side.widens in {None, asked.widens} else " the other way"
        words.append(f"side {which} (at {place_words(x, y, decimals=3)}) {angle}{sense}")
    more = len(asked.sides) - _MOST_TOLD
    rest = f" and {more} more" if more > 0 else ""
    return "; " + ", ".join(words) + rest
