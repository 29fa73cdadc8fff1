"""Where the trailing wire goes at corners and arcs.

The guides run along the path; the middle of the wire trails them at a constant distance, the lag
``delta``, and always moves towards them: a pursuit curve.  With ``phi`` the angle between the
travel of the guides and the wire that trails, ``d phi / d s = kappa - sin(phi) / delta`` on a
path of curvature ``kappa``.

All errors are on the inside of the turn.  Round an outside corner of the part that is metal lost
from the corner; in an inside corner it is metal left.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.errors import RangeError

Floats = NDArray[np.float64]

_SQUARE: Final = math.pi / 2
_STRAIGHT: Final = 1e-12
"""Turns below this are the rounding of directions: no lag of a wire makes them count."""


def trailing_angle_rad(turn_rad: Floats | float, *, run_over_lag: Floats | float) -> Floats:
    """Return the trailing angle after a corner: ``tan(phi/2) = tan(alpha/2) exp(-s/delta)``.

    Parameters
    ----------
    turn_rad : float or array
        Turn ``alpha`` of the path at the corner, below a half turn.
    run_over_lag : float or array
        Straight run ``s`` of the guides since the corner, in lags.

    References
    ----------
    Tractrix (computed).
    """
    result: Floats = 2 * np.arctan(
        np.tan(np.asarray(turn_rad) / 2) * np.exp(-np.asarray(run_over_lag))
    )
    return result


def corner_error_um(
    turn_rad: Floats | float, *, lag_um: Floats | float, run_um: Floats | float = 0.0
) -> Floats:
    """Return how far the trailing wire is off the wall after a corner: ``e = delta sin(phi)``.

    Parameters
    ----------
    turn_rad : float or array
    lag_um : float or array
        ``delta``, above 0.
    run_um : float or array
        Straight run of the guides since the corner.

    Validity
    --------
    Straight walls longer than about four lags on both sides.
    """
    lag = np.asarray(lag_um, dtype=np.float64)
    if not (lag > 0).all():
        raise RangeError("a lag must be above 0 µm", code="lag-out-of-range")
    angle = trailing_angle_rad(np.abs(turn_rad), run_over_lag=np.asarray(run_um) / lag)
    result: Floats = lag * np.sin(angle)
    return result


def largest_corner_error_um(turn_rad: Floats | float, *, lag_um: Floats | float) -> Floats:
    """Return the largest error after a sharp corner, ``delta sin(min(alpha, 90°))``.

    Measured square to the wall after the corner, so an upper bound for the distance from the
    wanted path, which lies on the wall before it as long as the wire does.

    Parameters
    ----------
    turn_rad : float or array
        Either sign.
    lag_um : float or array
    """
    result: Floats = np.asarray(lag_um) * np.sin(np.minimum(np.abs(turn_rad), _SQUARE))
    return result


def circle_error_um(radius_um: Floats | float, *, lag_um: Floats | float) -> Floats:
    """Return how far inside its circle the wire settles: ``R - sqrt(R^2 - delta^2)``.

    A bore comes out smaller on the radius by this, and so does a pin.  Where the lag is longer
    than the radius the wire cannot settle: it winds into the middle, and the error is ``R``.

    Parameters
    ----------
    radius_um : float or array
        Radius of the path of the wire, not of the wall.
    lag_um : float or array

    References
    ----------
    Steady state of the pursuit curve (computed).  That bores and pins come off-size by lag:
    Sarkar et al., Precision Eng. 35 (2011) 339-347 (read, qualitative).
    """
    radius = np.asarray(radius_um, dtype=np.float64)
    inside = np.sqrt(np.maximum(0.0, 1 - np.minimum(1.0, np.asarray(lag_um) / radius) ** 2))
    # R (1 - c) = R (1 - c^2) / (1 + c) keeps its digits where the lag is small.
    result: Floats = radius * (1 - inside**2) / (1 + inside)
    return result


def arc_error_um(
    radius_um: Floats | float, *, sweep_rad: Floats | float, lag_um: Floats | float
) -> Floats:
    """Return a bound of the error along a rounded corner: never above its circle or sharp corner.

    ``min(R - sqrt(R^2 - delta^2), delta sin(min(alpha, 90°)))``; a radius of 0 is a sharp corner.

    Parameters
    ----------
    radius_um, sweep_rad, lag_um : float or array
    """
    lag, radius = np.asarray(lag_um, dtype=np.float64), np.asarray(radius_um, dtype=np.float64)
    sharp = largest_corner_error_um(sweep_rad, lag_um=lag)
    settles = lag < radius
    circle = circle_error_um(np.where(settles, radius, 1.0), lag_um=np.where(settles, lag, 0.5))
    result: Floats = np.where(settles, np.minimum(sharp, circle), sharp)
    return result


def largest_lag_um(
    allowed_um: Floats | float, *, radius_um: Floats | float, sweep_rad: Floats | float
) -> Floats:
    """Return the lag at which :func:`arc_error_um` reaches an allowance: its inverse.

    Parameters
    ----------
    allowed_um, radius_um, sweep_rad : float or array
        A radius of 0 for a sharp corner.
    """
    allowed, radius = np.asarray(allowed_um), np.asarray(radius_um, dtype=np.float64)
    sine = np.sin(np.minimum(np.abs(sweep_rad), _SQUARE))
    sharp = np.divide(
        allowed,
        sine,
        out=np.full(np.broadcast(allowed, sine).shape, np.inf),
        where=sine > _STRAIGHT,
    )
    inner = np.minimum(allowed, radius)
    circle = np.sqrt(inner * (2 * radius - inner))
    result: Floats = np.maximum(sharp, circle)
    return result
