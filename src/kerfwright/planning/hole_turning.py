"""Angles that bring a hole upright under the tube, and where its mouth then lies.

The work is carried: the first axis of the machine carries the second, and that the work.  A point
p of the drawing comes to ``q = R1(a) R2(b) (p - c)`` with the centre of turning c; the hole is
upright when ``R1(a) R2(b) v = (0, 0, -1)``.  With u the first axis and w the second, b follows from
``u . R2(b) v = 0``, which is ``(u.v) cos b + (u . (w x v)) sin b = 0`` as u is square to w, and
a is the angle about u from ``R2(b) v`` to straight down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.trade.drill import AxisLetter, TurningAxis

Floats = NDArray[np.float64]

_UNIT: Final = {
    AxisLetter.A: (1.0, 0.0, 0.0),
    AxisLetter.B: (0.0, 1.0, 0.0),
    AxisLetter.C: (0.0, 0.0, 1.0),
}
_DOWN: Final = np.array([0.0, 0.0, -1.0])
_UPRIGHT_DEG: Final = 1e-6
"""A lean below this is rounding of the entry vector."""
_TURN_DEG: Final = 360.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Turned:
    """Angles for each hole.

    Attributes
    ----------
    angles_deg : array, shape (n, axes)
        As the control counts them; nan where the hole cannot be brought upright.
    beyond_deg : array, shape (n,)
        0 where it can; else by how much the least way there passes a limit, or the lean that no
        axis takes away.
    """

    angles_deg: Floats
    beyond_deg: Floats


def rotation(axis: Sequence[float] | Floats, angle_rad: Floats) -> Floats:
    """Return matrices (n, 3, 3) that turn about an axis by the right-hand rule (Rodrigues)."""
    u = np.asarray(axis, dtype=np.float64)
    cross = np.array([[0.0, -u[2], u[1]], [u[2], 0.0, -u[0]], [-u[1], u[0], 0.0]])
    sine, cosine = np.sin(angle_rad)[:, None, None], np.cos(angle_rad)[:, None, None]
    turned: Floats = np.eye(3) * cosine + cross * sine + np.outer(u, u) * (1 - cosine)
    return turned


def turns_of(angles_deg: Floats, axes: Sequence[TurningAxis]) -> Floats:
    """Return the turn of the work (n, 3, 3) for angles (n, axes)."""
    total = np.broadcast_to(np.eye(3), (len(angles_deg), 3, 3))
    for column, axis in enumerate(axes):
        sign = 1.0 if axis.is_right_handed else -1.0
        total = total @ rotation(_UNIT[axis.letter], np.radians(angles_deg[:, column]) * sign)
    return total


def angles_for(into: Floats, axes: Sequence[TurningAxis]) -> Turned:
    """Return the angles that bring entry vectors upright, the least turning within the limits.

    Parameters
    ----------
    into : array, shape (n, 3)
        Entry vectors of length 1.
    axes : sequence of TurningAxis
        None, one or two.
    """
    count = len(into)
    lean = np.degrees(np.arccos(np.clip(-into[:, 2], -1.0, 1.0)))
    if not axes:
        upright = lean <= _UPRIGHT_DEG
        return Turned(angles_deg=np.zeros((count, 0)), beyond_deg=np.where(upright, 0.0, lean))
    best = np.full((count, len(axes)), np.nan)
    cost = np.full(count, np.inf)
    beyond = np.full(count, np.inf)
    for angles, left_deg in _ways(into, axes):
        fitted, over = _within(angles, axes)
        over = np.where(left_deg > _UPRIGHT_DEG, left_deg, over)
        turning = np.abs(fitted).sum(axis=1)
        better = (over <= 0) & (turning < cost)
        best[better], cost[better] = fitted[better], turning[better]
        beyond = np.minimum(beyond, over)
    beyond[np.isfinite(cost)] = 0.0
    return Turned(angles_deg=best, beyond_deg=beyond)


def _ways(into: Floats, axes: Sequence[TurningAxis]) -> list[tuple[Floats, Floats]]:
    """Return the ways to turn, and the lean that each leaves."""
    signs = np.array([1.0 if a.is_right_handed else -1.0 for a in axes])
    first = np.array(_UNIT[axes[0].letter])
    if len(axes) == 1:
        angle, left = _last_turn(into, first)
        return [(angle[:, None] * signs, left)]
    second = np.array(_UNIT[axes[1].letter])
    across, along = into @ first, np.cross(second, into) @ first
    base = np.degrees(np.arctan2(-across, along))
    # Along the second axis itself every angle will do.
    base = np.where(np.hypot(across, along) < math.radians(_UPRIGHT_DEG), 0.0, base)
    found = []
    for half in (0.0, 180.0):
        inner = base + half
        turned = (rotation(second, np.radians(inner)) @ into[:, :, None])[:, :, 0]
        outer, left = _last_turn(turned, first)
        found.append((np.stack([outer, inner], axis=1) * signs, left))
    return found


def _last_turn(vectors: Floats, axis: Floats) -> tuple[Floats, Floats]:
    """Return the angle about an axis that brings vectors nearest to straight down."""
    sine = np.cross(vectors, _DOWN) @ axis
    cosine = vectors @ _DOWN
    left = np.degrees(np.arcsin(np.clip(np.abs(vectors @ axis), 0.0, 1.0)))
    return np.degrees(np.arctan2(sine, cosine)), left


def _within(angles: Floats, axes: Sequence[TurningAxis]) -> tuple[Floats, Floats]:
    """Add whole turns to come near 0; return the angles and how far they pass a limit."""
    fitted = (angles + _TURN_DEG / 2) % _TURN_DEG - _TURN_DEG / 2
    over = np.zeros(len(angles))
    for column, axis in enumerate(axes):
        turns = np.stack([fitted[:, column] + k * _TURN_DEG for k in (0, -1, 1)], axis=1)
        passed = np.maximum(turns - axis.high_deg, axis.low_deg - turns)
        passed = np.maximum(passed, 0.0)
        pick = np.argmin(passed, axis=1)
        rows = np.arange(len(angles))
        fitted[:, column] = turns[rows, pick]
        over = np.maximum(over, passed[rows, pick])
    return fitted, over
