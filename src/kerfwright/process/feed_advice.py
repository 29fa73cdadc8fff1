"""Where the feed is taken back so that the trailing wire stays within its allowance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.errors import InputError
from kerfwright.process.corner_error import (
    arc_error_um,
    largest_corner_error_um,
    largest_lag_um,
)
from kerfwright.process.technology import Pass
from kerfwright.process.wire_physics import FeedRules, WirePhysics
from kerfwright.process.wire_shape import pass_shapes
from kerfwright.trade.material import Wire

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_UM: Final = 1000.0
_GONE: Final = math.exp(-20.0)
"""Share of a turn that is left when the search back along the path ends: 2e-9."""
_MOST_RAD: Final = math.radians(179.0)
"""Turns are taken as at most this: at a half turn the wire never comes round."""
_SHARP_RAD: Final = math.radians(1.0)
"""At turns above this the lag on the arc before is added to the turn; below, the joint is taken
as part of a smooth curve, whose arcs have their own limit."""
_ROUNDING: Final = 1e-9
"""Relative slack when a factor is rounded down, so that an exact step is not lost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedLimit:
    """What holds the feed of one pass back.

    Attributes
    ----------
    pass_number : int
    lag_um : float
        By which the wire trails at the pass's usual feed.
    allowed_um : float
        Largest error at corners and arcs.
    feed_exponent : float
        The lag goes with this power of the feed.
    rules : FeedRules
    """

    pass_number: int
    lag_um: float
    allowed_um: float
    feed_exponent: float
    rules: FeedRules

    def lag_at_um(self, factor: Floats) -> Floats:
        """Return the lag at a factor on the feed: ``delta = delta_0 f^n``, µm."""
        lag: Floats = self.lag_um * factor**self.feed_exponent
        return lag

    def factor_for(self, lag_um: Floats) -> Floats:
        """Return the factor on the feed that keeps the lag to a value, rounded down, (0, 1]."""
        exact = (np.minimum(lag_um, self.lag_um) / self.lag_um) ** (1 / self.feed_exponent)
        step = self.rules.factor_step
        stepped = np.floor(exact / step * (1 + _ROUNDING)) * step
        factor: Floats = np.where(exact >= 1, 1.0, np.maximum(stepped, self.rules.least_factor))
        return factor


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeedAdvice:
    """Factors on the feed along a path; all arrays have one entry a move.

    Attributes
    ----------
    arc_factor : (n,) float
        For the whole move; 1 for lines.
    corner_factor : (n,) float
        In the slow zone about the end of the move; 1 where none is needed.
    before_mm, after_mm : (n,) float
        Lengths of the zone before and after the end of the move.
    arc_before_mm, arc_after_mm : (n,) float
        Lengths before and after a slowed arc over which its factor holds as well.
    corner_error_um, arc_error_um : (n,) float
        Predicted with this advice.
    """

    arc_factor: Floats
    corner_factor: Floats
    before_mm: Floats
    after_mm: Floats
    arc_before_mm: Floats
    arc_after_mm: Floats
    corner_error_um: Floats
    arc_error_um: Floats

    def zones(self, length_mm: Floats) -> tuple[Floats, Floats, Floats]:
        """Return begin and end of every slow zone along the path, mm, and its factor.

        Zones may overlap, the smallest factor counts; they may reach beyond the path.

        Parameters
        ----------
        length_mm : (n,) float
            As given to :func:`feed_advice`.
        """
        end = np.cumsum(length_mm)
        begin = np.append(0.0, end[:-1])
        corners, arcs = self.corner_factor < 1, self.arc_factor < 1
        return (
            np.concatenate([(end - self.before_mm)[corners], (begin - self.arc_before_mm)[arcs]]),
            np.concatenate([(end + self.after_mm)[corners], (end + self.arc_after_mm)[arcs]]),
            np.concatenate([self.corner_factor[corners], self.arc_factor[arcs]]),
        )


def feed_limits(
    passes: Sequence[Pass], *, wire: Wire, height_mm: float, physics: WirePhysics
) -> tuple[FeedLimit, ...]:
    """Return lag and allowance of each pass.

    Parameters
    ----------
    passes : sequence of Pass
        The rough pass first.
    wire : Wire
    height_mm : float
    physics : WirePhysics
        ``feeds.tolerance_share`` of a pass's own tolerance is the allowance: the other half is
        left to gap, machine and heat.  The rough pass is held as well, since what it leaves
        unevenly at a corner the next pass cuts unevenly.  Between guides far off a pass holds
        more than the stock left for the later ones: that stock takes the place of its tolerance
        then, and the other half of it stays for what the pass scatters.
    """
    shapes = pass_shapes(passes, wire=wire, height_mm=height_mm, physics=physics)
    return tuple(
        FeedLimit(
            pass_number=this.number,
            lag_um=shape.lag_um,
            allowed_um=physics.feeds.tolerance_share * borne_um(this, passes[k + 1 :]),
            feed_exponent=physics.push.feed_exponent,
            rules=physics.feeds,
        )
        for k, (this, shape) in enumerate(zip(passes, shapes, strict=True))
    )


def borne_um(this: Pass, later: Sequence[Pass]) -> float:
    """Return what a pass may be off in all, µm: what it holds by itself, within the later stock.

    Never less than with guides close to the work, which the tables know.

    Parameters
    ----------
    this : Pass
    later : sequence of Pass
        Those that are cut after it; the last pass bears what it holds.
    """
    itself_um = this.tolerance_um / this.undercut_factor
    if not later:
        return itself_um
    left_um = sum(p.stock_um for p in later)
    return min(itself_um, max(left_um, itself_um / this.guides_factor))


def feed_advice(
    *,
    length_mm: Floats,
    turn_rad: Floats,
    radius_mm: Floats,
    sweep_rad: Floats,
    limit: FeedLimit,
    in_waste: Flags | None = None,
) -> FeedAdvice:
    """Return where a pass must slow down, and by how much.

    A corner is slowed to the feed at which ``delta sin(phi)`` meets the allowance, an arc to that
    at which ``R - sqrt(R^2 - delta^2)`` does.  After a corner the zone lasts until the wire has
    come round so far that the lag at full feed, too, keeps the allowance:
    ``s = delta ln(tan(phi/2) / tan(phi_1/2))``, ``sin(phi_1) = allowance / delta_0``.

    Parameters
    ----------
    length_mm : (n,) float
        Of each move.
    turn_rad : (n,) float
        Signed turn of the path at the end of each move; 0 at joints that do not count.
    radius_mm : (n,) float
        Of the path of the wire; 0 for lines.
    sweep_rad : (n,) float
        Of arcs; 0 for lines.
    limit : FeedLimit
    in_waste : (n,) bool, optional
        Moves whose end needs no care: the wire turns there, off the part.

    Raises
    ------
    InputError
        If the arrays differ in length.

    Notes
    -----
    Corners closer than a few lags add up: ``2 tan(phi/2)`` is carried along the path, exact for
    one corner and for many small ones (a curve drawn as chords).  The lag is the usual one there,
    which is on the safe side within slow zones.  The lag follows the feed by a power (common
    practice, no source) over the length before the corner.
    """
    n = len(length_mm)
    if not all(len(a) == n for a in (turn_rad, radius_mm, sweep_rad)):
        raise InputError("feed advice needs arrays of one length", code="feed-advice-shape")
    is_arc = radius_mm > 0
    phi = _corner_rad(turn_rad, length_mm, radius_mm, lag_mm=limit.lag_um / _UM)
    if in_waste is not None:
        phi = np.where(in_waste, 0.0, phi)
    no_radius = np.zeros(n)
    corner = limit.factor_for(largest_lag_um(limit.allowed_um, radius_um=no_radius, sweep_rad=phi))
    before, after = _zone(phi, corner, limit)
    arc, arc_error = _arcs(radius_mm, sweep_rad, limit)
    bent = np.divide(limit.lag_at_um(arc) / _UM, radius_mm, out=np.zeros(n), where=is_arc)
    arc_before, arc_after = _zone(np.arcsin(np.minimum(1.0, bent)), arc, limit)
    return FeedAdvice(
        arc_factor=arc,
        corner_factor=corner,
        before_mm=before,
        after_mm=after,
        arc_before_mm=arc_before,
        arc_after_mm=arc_after,
        corner_error_um=largest_corner_error_um(phi, lag_um=limit.lag_at_um(corner)),
        arc_error_um=arc_error,
    )


def _arcs(radius_mm: Floats, sweep_rad: Floats, limit: FeedLimit) -> tuple[Floats, Floats]:
    """Return the factor of each arc and the error predicted with it; 1 and 0 for lines."""
    factor, error = np.ones(len(radius_mm)), np.zeros(len(radius_mm))
    arcs = np.flatnonzero(radius_mm > 0)
    radius_um, sweep = radius_mm[arcs] * _UM, sweep_rad[arcs]
    allowed = largest_lag_um(limit.allowed_um, radius_um=radius_um, sweep_rad=sweep)
    factor[arcs] = limit.factor_for(allowed)
    lag = limit.lag_at_um(factor[arcs])
    error[arcs] = arc_error_um(radius_um, sweep_rad=sweep, lag_um=lag)
    return factor, error


def _zone(phi: Floats, factor: Floats, limit: FeedLimit) -> tuple[Floats, Floats]:
    """Return lengths before and after, mm; 0 where the factor is 1."""
    shortest, lag_mm = limit.rules.shortest_zone_mm, limit.lag_um / _UM
    end = math.asin(min(1.0, limit.allowed_um / limit.lag_um))
    slowed = factor < 1
    ratio = np.tan(phi / 2) / math.tan(end / 2)
    run = limit.lag_at_um(factor) / _UM * np.log(np.maximum(ratio, 1.0))
    before = np.where(slowed, max(limit.rules.lags_before * lag_mm, shortest), 0.0)
    after = np.where(slowed, np.maximum(run, shortest), 0.0)
    return before, after


def _corner_rad(turn_rad: Floats, length_mm: Floats, radius_mm: Floats, *, lag_mm: float) -> Floats:
    """Return the trailing angle at the end of each move, lag on the arc before it included."""
    turns = np.clip(turn_rad, -_MOST_RAD, _MOST_RAD)
    phi = _trailing_rad(turns, length_mm, lag_mm=lag_mm)
    relative = np.divide(lag_mm, radius_mm, out=np.zeros(len(phi)), where=radius_mm > 0)
    bent = np.arcsin(np.minimum(1.0, relative))
    angle: Floats = np.where(np.abs(turns) > _SHARP_RAD, np.minimum(phi + bent, _MOST_RAD), phi)
    return angle


def _trailing_rad(turn_rad: Floats, length_mm: Floats, *, lag_mm: float) -> Floats:
    """Return the trailing angle just after the end of each move, ≥ 0.

    ``y_k = y_(k-1) exp(-s_k / delta) + 2 tan(alpha_k / 2)`` by doubling: after m rounds each entry
    holds the 2^m moves before it, so that no loop over moves is needed.
    """
    carried = 2 * np.tan(turn_rad / 2)
    along = np.cumsum(length_mm) / lag_mm
    reach = 1
    while reach < len(carried):
        left = np.exp(along[:-reach] - along[reach:])
        if left.max() < _GONE:
            break
        carried[reach:] = carried[reach:] + left * carried[:-reach]
        reach *= 2
    angle: Floats = 2 * np.arctan(np.abs(carried) / 2)
    return np.minimum(angle, _MOST_RAD)
