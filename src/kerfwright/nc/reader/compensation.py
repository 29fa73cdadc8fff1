"""Apply the control's offset (G41, G42) to a programmed path.

Every element is shifted along its own normal.  Where the path turns towards the offset side
(inside corner) neighbours are cut at their intersection; where it turns away (outside corner) the
wire rolls about the corner.  The first element, a line, runs from the point where the wire is to
the offset of its end, as RS-274/NGC controls do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES

Floats = NDArray[np.float64]
Codes = NDArray[np.int8]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

_SAME_MM = DEFAULT_TOLERANCES.validity_mm
_SMOOTH_MM = DEFAULT_TOLERANCES.merge_mm
"""Shifted ends nearer than this are one: the rounding of a program bends tangent joints a little,
and a wire that rolls there would make moves far below its last digit."""

_REVERSAL_RAD = math.pi - 1e-9
"""A turn this close to the half turn is a reversal: the wire rolls about its end."""


class VanishedError(Exception):
    """An element is used up by the offset.

    Parameters
    ----------
    element : int
        Index of the element in the chain.
    """

    def __init__(self, element: int) -> None:
        super().__init__(f"element {element} vanishes")
        self.element = element


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """Consecutive lines and arcs; all arrays have length n, lengths in mm.

    Attributes
    ----------
    start, end, centre : (n, 2) float
    turn : (n,) int8
    source : (n,) int
        Programmed move of each element; a rolling arc carries that of the element after it.
    """

    start: Floats
    end: Floats
    centre: Floats
    turn: Codes
    source: Integers


def compensate(chain: Chain, *, offset_mm: float, side: int) -> Chain:
    """Return the path of the wire centre.

    Parameters
    ----------
    chain : Chain
        Programmed path without moves of no length; the first element is a line.
    offset_mm : float
        Distance from the path, not negative.
    side : int
        +1 left of the path (G41), −1 right of it (G42).

    Raises
    ------
    VanishedError
        If an element has no part that can be offset.
    """
    first_tangent, first_radius = _tangents(chain, chain.start)
    last_tangent, last_radius = _tangents(chain, chain.end)
    shift = side * offset_mm
    start = chain.start + shift * _left(first_tangent)
    end = chain.end + shift * _left(last_tangent)
    is_arc = chain.turn != 0
    # Left of a counter-clockwise arc lies its centre.
    start_radius = np.where(is_arc, first_radius - shift * chain.turn, np.inf)
    end_radius = np.where(is_arc, last_radius - shift * chain.turn, np.inf)
    _refuse(is_arc & (np.minimum(start_radius, end_radius) <= _SAME_MM))
    bend = np.arctan2(
        _cross(last_tangent[:-1], first_tangent[1:]), (last_tangent[:-1] * first_tangent[1:]).sum(1)
    )
    is_smooth = np.abs(bend) * offset_mm <= _SMOOTH_MM
    is_outside = ~is_smooth & ((bend * side < 0) | (np.abs(bend) >= _REVERSAL_RAD))
    is_inside = ~is_smooth & ~is_outside
    ends = _Ends(
        chain=chain, start=start, end=end, first_tangent=first_tangent, last_tangent=last_tangent,
        start_radius=start_radius, end_radius=end_radius, shift=shift,
    )  # fmt: skip
    joint = np.where(is_smooth[:, None], (end[:-1] + start[1:]) / 2, np.nan)
    which = np.flatnonzero(is_inside)
    joint[which] = _crossings(ends, which)
    missing = np.isnan(joint[:, 0]) & ~is_outside
    _refuse(np.append(missing, False))
    new_start, new_end = start.copy(), end.copy()
    met = ~is_outside
    new_end[:-1][met] = joint[met]
    new_start[1:][met] = joint[met]
    _refuse(_is_used_up(chain, start, end, new_start, new_end))
    new_start[0] = chain.start[0]
    rolls = np.flatnonzero(is_outside)
    order = np.argsort(
        np.concatenate([2 * np.arange(len(chain.turn)), 2 * rolls + 1]), kind="stable"
    )
    roll_turn = np.full(len(rolls), -side, dtype=np.int8)
    return Chain(
        start=np.concatenate([new_start, end[rolls]])[order],
        end=np.concatenate([new_end, start[rolls + 1]])[order],
        centre=np.concatenate([chain.centre, chain.end[rolls]])[order],
        turn=np.concatenate([chain.turn, roll_turn])[order],
        source=np.concatenate([chain.source, chain.source[rolls + 1]])[order],
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ends:
    """The shifted elements before they are trimmed."""

    chain: Chain
    start: Floats
    end: Floats
    first_tangent: Floats
    last_tangent: Floats
    start_radius: Floats
    end_radius: Floats
    shift: float


def _refuse(is_gone: Flags) -> None:
    if is_gone.any():
        raise VanishedError(int(np.flatnonzero(is_gone)[0]))


def _left(vectors: Floats) -> Floats:
    return np.stack([-vectors[:, 1], vectors[:, 0]], axis=1)


def _cross(a: Floats, b: Floats) -> Floats:
    product: Floats = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return product


def _tangents(chain: Chain, at: Floats) -> tuple[Floats, Floats]:
    """Return unit tangents at one end of each element and the radius there."""
    is_arc = (chain.turn != 0)[:, None]
    spoke = at - chain.centre
    along = np.where(is_arc, _left(spoke) * chain.turn[:, None], chain.end - chain.start)
    length = np.hypot(along[:, 0], along[:, 1])
    return along / length[:, None], length


def _crossings(ends: _Ends, which: Integers) -> Floats:
    """Return where the shifted elements `which` and their followers cross; nan where nowhere."""
    chain, after = ends.chain, which + 1
    corner = chain.end[which]
    arc_before, arc_after = chain.turn[which] != 0, chain.turn[after] != 0
    found = np.full((len(which), 2), np.nan)
    lines = ~arc_before & ~arc_after
    n1, n2 = _left(ends.last_tangent[which]), _left(ends.first_tangent[after])
    along = (n1 + n2) / (1.0 + (n1 * n2).sum(axis=1))[:, None]
    found[lines] = (corner + ends.shift * along)[lines]
    mixed = ~arc_before & arc_after
    found[mixed] = _line_circle(
        ends.end[which][mixed], ends.last_tangent[which][mixed],
        chain.centre[after][mixed], ends.start_radius[after][mixed], corner[mixed],
    )  # fmt: skip
    mixed = arc_before & ~arc_after
    found[mixed] = _line_circle(
        ends.start[after][mixed], ends.first_tangent[after][mixed],
        chain.centre[which][mixed], ends.end_radius[which][mixed], corner[mixed],
    )  # fmt: skip
    both = arc_before & arc_after
    found[both] = _circle_circle(
        chain.centre[which][both], ends.end_radius[which][both],
        chain.centre[after][both], ends.start_radius[after][both], corner[both],
    )  # fmt: skip
    return found


def _nearer(one: Floats, other: Floats, corner: Floats) -> Floats:
    to_one, to_other = one - corner, other - corner
    is_one = (to_one * to_one).sum(axis=1) <= (to_other * to_other).sum(axis=1)
    return np.where(is_one[:, None], one, other)


def _line_circle(
    point: Floats, tangent: Floats, centre: Floats, radius: Floats, corner: Floats
) -> Floats:
    to_centre = centre - point
    along = (to_centre * tangent).sum(axis=1)
    aside = _cross(tangent, to_centre)
    half_squared = (radius - aside) * (radius + aside)
    half = np.sqrt(np.where(half_squared >= 0, half_squared, np.nan))
    return _nearer(
        point + tangent * (along - half)[:, None],
        point + tangent * (along + half)[:, None],
        corner,
    )


def _circle_circle(
    centre: Floats, radius: Floats, other: Floats, other_radius: Floats, corner: Floats
) -> Floats:
    between = other - centre
    distance = np.hypot(between[:, 0], between[:, 1])
    apart = np.where(distance > _SAME_MM, distance, np.nan)
    along = ((radius - other_radius) * (radius + other_radius) / apart + apart) / 2
    half_squared = (radius - along) * (radius + along)
    half = np.sqrt(np.where(half_squared >= 0, half_squared, np.nan))
    unit = between / apart[:, None]
    foot = centre + unit * along[:, None]
    aside = _left(unit) * half[:, None]
    return _nearer(foot - aside, foot + aside, corner)


def _is_used_up(
    chain: Chain, start: Floats, end: Floats, new_start: Floats, new_end: Floats
) -> Flags:
    """Tell which elements are trimmed beyond their other end."""
    is_arc = chain.turn != 0
    forward = ((new_end - new_start) * (chain.end - chain.start)).sum(axis=1)
    length = np.hypot(*(chain.end - chain.start).T)
    line_gone = ~is_arc & (forward < -_SAME_MM * length)
    spoke, last = start - chain.centre, end - chain.centre
    sweep = np.mod(_angle(spoke, last) * chain.turn, 2 * math.pi)
    is_full = np.hypot(*(chain.end - chain.start).T) == 0
    sweep = np.where(is_full, 2 * math.pi, sweep)
    lost = _angle(spoke, new_start - chain.centre) + _angle(new_end - chain.centre, last)
    left_mm = (sweep - lost * chain.turn) * np.hypot(spoke[:, 0], spoke[:, 1])
    gone: Flags = line_gone | (is_arc & (left_mm < -_SAME_MM))
    return gone


def _angle(a: Floats, b: Floats) -> Floats:
    angle: Floats = np.arctan2(_cross(a, b), (a * b).sum(axis=1))
    return angle
