"""Stress, break margin, and the mean current at which the wire parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.special import ndtr

from kerfwright.foundation.kept import Kept
from kerfwright.foundation.tolerances import TINY
from kerfwright.process.technology import Flushing
from kerfwright.process.wire_heat import WireTemperature, wire_temperature
from kerfwright.process.wire_physics import BreakLaw, WirePhysics
from kerfwright.trade.material import Wire

Floats = NDArray[np.float64]

PUBLISHED_FROM_MM: Final = 0.15
"""Thinnest wire of which breaks were looked for in print: below it none were found at all.

See *What is not known* in ``docs/process/wire.md``.
"""
_HIGHEST_A: Final = 1e4
"""Stands for a wire that melts before it parts."""
_EXACT: Final = 1e-9
"""Of a break current."""
_THRESHOLDS: Final = Kept(most=256)
_STATES: Final = Kept(most=128)
"""Alternatives of a job have most of their passes in common; a state holds its temperatures."""


def is_below_published(wire: Wire) -> bool:
    """Return whether nothing is published on breaks of so thin a wire."""
    return wire.diameter_mm < PUBLISHED_FROM_MM - TINY


def stress_n_per_mm2(wire: Wire, *, tension_n: float) -> float:
    """Return the mean stress of a taut wire: ``4 T / (pi d^2)``.

    References
    ----------
    22 N on 0.30 mm (Sato et al., read) are 311 N/mm² (computed).
    """
    return 4 * tension_n / (math.pi * wire.diameter_mm**2)


def break_margin(
    temperature: WireTemperature, *, wire: Wire, tension_n: float, physics: WirePhysics
) -> float:
    """Return the smallest ratio of strength to load along the wire; below 1 it parts.

    ``margin = min over x of w(x) r(T(x)) sigma / (4 T / (pi d^2))`` with the section left ``w``
    falling evenly from 1 at the top of the work to ``1 - k I / (A v)`` at the bottom.

    Parameters
    ----------
    temperature : WireTemperature
    wire : Wire
    tension_n : float
    physics : WirePhysics
    """
    points = np.array(physics.metal(wire).hot_strength)
    share = np.interp(temperature.temperature_c, points[:, 0], points[:, 1])
    left = _section_left(temperature, temperature.mean_a, wire=wire, physics=physics)
    held = share * left * wire.tensile_n_per_mm2
    return float(held.min() / stress_n_per_mm2(wire, tension_n=tension_n))


def _section_left(
    temperature: WireTemperature, mean_a: float, *, wire: Wire, physics: WirePhysics
) -> Floats:
    """Return the share of the section that craters leave at a mean current, by cell."""
    way = np.cumsum(temperature.in_work) / max(1, int(temperature.in_work.sum()))
    worn = physics.tension.worn_share(wire, mean_a=mean_a)
    left: Floats = np.maximum(1 - way * worn, TINY)
    return left


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakState:
    """How near a cut is to parting the wire.

    Attributes
    ----------
    threshold_a : float
        Mean current at which the margin is used up.
    utilisation : float
        Mean current over the threshold.
    probability : float
        That the threshold of this wire and cut lies below the current: a rank, not a rate per
        hour, for no published counts over time were found.
    hottest_c, margin : float
        At the current asked for.
    warm : WireTemperature
        Along the wire, at that current.
    """

    threshold_a: float
    utilisation: float
    probability: float
    hottest_c: float
    margin: float
    warm: WireTemperature = field(repr=False, compare=False)


def break_current_a(
    wire: Wire,
    *,
    height_mm: float,
    tension_n: float,
    peak_a: float,
    physics: WirePhysics,
    flushing: Flushing = Flushing.SEALED,
    flow_ratio: float = 1.0,
) -> float:
    """Return the mean current at which the break margin is 1, A.

    Parameters
    ----------
    wire : Wire
    height_mm, tension_n, peak_a : float
    physics : WirePhysics
    flushing : Flushing
    flow_ratio : float

    Returns
    -------
    float
        0 where the cold wire already parts at that tension.

    Notes
    -----
    Spark heat is spread over the height, Joule heat of the feed current is not: so the threshold
    rises with height, but less than in proportion, as in the tests of Sato et al. (read).  A wire
    that runs slower is worn more by the same current, and parts at less.
    """

    def found() -> float:
        # Both heats go with the mean current (the square of the effective one does, too), so one
        # solution at 1 A gives all others: ``T = T_0 + I theta``.
        unit = wire_temperature(
            wire,
            height_mm=height_mm,
            mean_a=1.0,
            peak_a=peak_a,
            physics=physics,
            flushing=flushing,
            flow_ratio=flow_ratio,
        )
        return _threshold_a(unit, wire=wire, tension_n=tension_n, physics=physics)

    key = (height_mm, tension_n, peak_a, flushing, flow_ratio)
    return _THRESHOLDS.once(found, wire, physics, key=key)


def _threshold_a(
    unit: WireTemperature, *, wire: Wire, tension_n: float, physics: WirePhysics
) -> float:
    """Return the mean current at which the margin is 1, of the temperature at 1 A."""
    # Each cell parts where its hot strength has come down to its load: the curve falls, so that
    # temperature, and with it the current, follows from the curve read backwards.
    points = np.array(physics.metal(wire).hot_strength)
    load = stress_n_per_mm2(wire, tension_n=tension_n) / wire.tensile_n_per_mm2
    rise = np.maximum(unit.temperature_c - physics.heat.water_c, TINY)

    def heated_a(worn_at_a: float) -> float:
        """Return the current whose heat parts a wire that another current has worn."""
        needed = load / _section_left(unit, worn_at_a, wire=wire, physics=physics)
        hot_c = np.interp(needed, points[::-1, 1], points[::-1, 0])
        # Below the end of the curve no heat takes the strength: it melts before it parts there.
        amps = np.where(needed >= points[-1, 1], hot_c - physics.heat.water_c, math.inf) / rise
        amps[needed >= points[0, 1]] = 0.0
        return min(max(float(amps.min()), 0.0), _HIGHEST_A)

    unworn_a = heated_a(0.0)
    if unworn_a <= 0 or heated_a(unworn_a) >= unworn_a:
        return unworn_a
    # The more current, the more wear, the less heat is borne: one current does both.
    return float(brentq(lambda amps: heated_a(amps) - amps, 0.0, unworn_a, rtol=_EXACT))


def _times(warm: WireTemperature, factor: float, *, water_c: float) -> WireTemperature:
    """Return the temperature along the wire at a multiple of the mean current."""
    return replace(
        warm,
        temperature_c=water_c + factor * (warm.temperature_c - water_c),
        mean_a=factor * warm.mean_a,
    )


def margins_at(
    near: BreakState,
    *,
    factors: Sequence[float],
    wire: Wire,
    tension_n: float,
    physics: WirePhysics,
) -> tuple[float, ...]:
    """Return the break margins at multiples of the mean current of a state.

    Parameters
    ----------
    near : BreakState
        With its temperatures, which rise in proportion to the current.
    factors : sequence of float
        On the mean current.
    wire : Wire
    tension_n : float
    physics : WirePhysics
    """
    water_c = physics.heat.water_c
    return tuple(
        break_margin(
            _times(near.warm, factor, water_c=water_c),
            wire=wire,
            tension_n=tension_n,
            physics=physics,
        )
        for factor in factors
    )


def break_rank(share: float, *, law: BreakLaw) -> float:
    """Return how many wires of all part at that share of the break current: ``Phi(ln u / s)``.

    Parameters
    ----------
    share : float
    law : BreakLaw
    """
    return float(ndtr(math.log(share) / law.sigma_log))


def break_state_at(
    wire: Wire,
    *,
    threshold_a: float | None,
    height_mm: float,
    mean_a: float,
    tension_n: float,
    peak_a: float,
    physics: WirePhysics,
    flushing: Flushing = Flushing.SEALED,
    flow_ratio: float = 1.0,
) -> BreakState:
    """Return the risk at a mean current: ``P = Phi(ln(I/I_break)/s)``.

    Parameters
    ----------
    wire : Wire
    threshold_a : float or None
        By :func:`break_current_a` for the same wire, sparks, work and nozzles; None to find it.
    height_mm, mean_a, tension_n, peak_a : float
    physics : WirePhysics
    flushing : Flushing
    flow_ratio : float
        Flow of water over the usual one.

    References
    ----------
    Sato et al. (read): breaks come above a threshold of the mean current, not mainly from sparks
    that cluster (none seen in 5 of 11 breaks).
    """

    def found() -> BreakState:
        warm = wire_temperature(
            wire,
            height_mm=height_mm,
            mean_a=mean_a,
            peak_a=peak_a,
            physics=physics,
            flushing=flushing,
            flow_ratio=flow_ratio,
        )
        parts_a = threshold_a
        if parts_a is None:
            unit = _times(warm, 1 / mean_a, water_c=physics.heat.water_c)
            parts_a = _threshold_a(unit, wire=wire, tension_n=tension_n, physics=physics)
        used = mean_a / parts_a if parts_a > 0 else math.inf
        return BreakState(
            threshold_a=parts_a,
            utilisation=used,
            probability=break_rank(used, law=physics.breaking),
            hottest_c=warm.hottest_c,
            margin=break_margin(warm, wire=wire, tension_n=tension_n, physics=physics),
            warm=warm,
        )

    key = (threshold_a, height_mm, mean_a, tension_n, peak_a, flushing, flow_ratio)
    return _STATES.once(found, wire, physics, key=key)
