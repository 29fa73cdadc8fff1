"""How the work stands under the tube for given angles: the proof's own turning of points.

Points are turned by products of unit quaternions, where the planner uses matrices: a slip in one is
not repeated in the other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from kerfwright.trade.drill import AxisLetter, TurningAxis

Vector = tuple[float, float, float]
Quaternion = tuple[float, float, float, float]

NO_TURN: Quaternion = (1.0, 0.0, 0.0, 0.0)
_PLACE = {AxisLetter.A: 1, AxisLetter.B: 2, AxisLetter.C: 3}


def attitude(angles_deg: Sequence[float], axes: Sequence[TurningAxis]) -> Quaternion:
    """Return how the work is turned; the first axis carries the second."""
    total = NO_TURN
    for angle, axis in zip(angles_deg, axes, strict=True):
        half = math.radians(angle if axis.is_right_handed else -angle) / 2
        parts = [math.cos(half), 0.0, 0.0, 0.0]
        parts[_PLACE[axis.letter]] = math.sin(half)
        total = _times(total, (parts[0], parts[1], parts[2], parts[3]))
    return total


def turned(point: Vector, by: Quaternion) -> Vector:
    """Return a point or vector as it stands after the turn, ``q p q*``."""
    w, x, y, z = _times(_times(by, (0.0, *point)), (by[0], -by[1], -by[2], -by[3]))
    del w
    return x, y, z


def _times(p: Quaternion, q: Quaternion) -> Quaternion:
    a, b, c, d = p
    e, f, g, h = q
    return (
        a * e - b * f - c * g - d * h,
        a * f + b * e + c * h - d * g,
        a * g - b * h + c * e + d * f,
        a * h + b * g - c * f + d * e,
    )
