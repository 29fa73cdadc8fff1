"""How sure the factors on the breaks of a rough cut are; worked out when somebody asks.

Heat has the spread of a single cut, :func:`kerfwright.process.break_spread.spread_of_factor`.  Dirt
has that of the nozzles: the rate falls as a power ``m`` of the dirt: where its factor is off by
``s``, the dirt is off by ``s / m``.  No cut breaks less often than in clean water.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial
from typing import Final

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Shares
from kerfwright.foundation.spread import Outcome
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.process.break_spread import spread_of_factor
from kerfwright.process.loadings import spread_of
from kerfwright.process.nozzles import NOZZLES
from kerfwright.process.wire_physics import BreakLaw

COUNTED: Final = "the shop's counts and the model"
_HEAT: Final = ("breaks_by_heat", "breaks_closed")
_BOTH: Final = ("breaks_beside", "breaks_unslowed")


def with_ranges(
    state: FlushingState,
    *,
    law: BreakLaw,
    rate_exponent: float,
    feed_sigma_log: float,
    charge_more_log: float = 0.0,
) -> tuple[Reason, ...]:
    """Return the reasons of a state, those on breaks with range and shares.

    Parameters
    ----------
    state : FlushingState
    law : BreakLaw
    rate_exponent : float
        Power by which the rate falls with the dirt.
    feed_sigma_log : float
        Of a single rough cut.
    charge_more_log : float
        By which the charge for a volume is less sure than in steel.
    """
    heat_of = partial(
        _heat, state, law=law, feed_sigma_log=feed_sigma_log, charge_more_log=charge_more_log
    )

    def told(reason: Reason) -> Reason:
        if reason.quantity in _HEAT:
            return _with(reason, heat_of(reason.value))
        beside = reason.quantity == "breaks_beside"
        dirt = _dirt(state, rate_exponent, beside=beside)
        if reason.quantity == "breaks_by_dirt":
            return _with(reason, _cleaned(reason.value, dirt))
        if reason.quantity in _BOTH:
            inputs = dict(reason.inputs)
            c = float(inputs["c_beside" if beside else "c"])
            heat = heat_of(reason.value / c)
            return _with(reason, _together(heat, _cleaned(c, dirt)))
        return reason

    return tuple(told(reason) for reason in state.reasons)


def _with(reason: Reason, found: Outcome) -> Reason:
    if not found.shares:
        return reason
    return replace(reason, range=found.range, shares=found.shares)


def _heat(
    state: FlushingState,
    value: float,
    *,
    law: BreakLaw,
    feed_sigma_log: float,
    charge_more_log: float,
) -> Outcome:
    """Return a factor by heat with its distribution."""
    counted = state.counted_sigma_log
    if counted:
        return Outcome(
            value=value,
            sigma=counted,
            range=Range(
                low=value * state.counted_ends[0],
                likely=value,
                high=value * state.counted_ends[1],
            ),
            loadings=((COUNTED, counted),),
        )
    spread = spread_of_factor(
        law, value, feed_sigma_log=feed_sigma_log, charge_more_log=charge_more_log
    )
    return Outcome(
        value=value,
        sigma=spread.sigma_log,
        range=spread.range,
        loadings=tuple((name, math.sqrt(part) * spread.sigma_log) for name, part in spread.shares),
    )


def _dirt(state: FlushingState, rate_exponent: float, *, beside: bool) -> Shares:
    """Return the spread of the logarithm of the dirt by cause."""
    loadings = state.beside_loadings if beside else state.loadings
    return tuple(
        (name, -slope / rate_exponent) for name, slope in loadings if name.startswith(NOZZLES)
    )


def _cleaned(value: float, dirt: Shares) -> Outcome:
    """Return a factor by dirt with its distribution; 1 is clean water, and known."""
    sigma = spread_of(dirt) if value > 1 else 0.0
    if not sigma:
        return Outcome(value=value, sigma=0.0, range=Range.exact(value), loadings=())
    span = Range.lognormal(value, sigma_log=sigma)
    held = replace(span, low=max(span.low, min(1.0, value)))
    return Outcome(value=value, sigma=sigma, range=held, loadings=dirt)


def _together(heat: Outcome, dirt: Outcome) -> Outcome:
    """Return the product of two that have no cause in common, end by end as far as each goes."""
    value = heat.value * dirt.value
    sigma = math.hypot(heat.sigma, dirt.sigma)
    if not sigma:
        return Outcome(value=value, sigma=0.0, range=Range.exact(value), loadings=())

    def end(name: str, sign: float) -> float:
        logs = [math.log(getattr(one.range, name) / one.value) for one in (heat, dirt)]
        return value * math.exp(sign * math.hypot(*logs))

    return Outcome(
        value=value,
        sigma=sigma,
        range=Range(low=end("low", -1.0), likely=value, high=end("high", 1.0)),
        loadings=(*heat.loadings, *dirt.loadings),
    )
