"""What each contour costs on the machine: the part of the price that goes with it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final

from kerfwright.app.strip import Stretch, Strip
from kerfwright.app.strip_answers import amounts_of, lines_of, rate_of, shares_of
from kerfwright.costing.rates import RateTable
from kerfwright.costing.records import Estimate
from kerfwright.costing.times import Times
from kerfwright.costing.uncertainty import total
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.sources import Reason, Source, SourceTag
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import loads_for

COST: Final = "cost on the machine"
"""Name of the reason, behind that of the contour."""
_CENT: Final = Decimal("0.01")


def costs_by_contour(strip: Strip, rates: RateTable, *, pieces: float) -> dict[str, Decimal]:
    """Return what the machine time of each contour costs, of one piece, in whole cents.

    Set-up, loading, programming, bench work and consumables belong to no single contour.

    Parameters
    ----------
    strip : Strip
    rates : RateTable
    pieces : int
        Of those asked that one cut makes, by :func:`pieces_per_cut`.
    """
    found = {}
    for name, own in _by_contour(strip).items():
        money = sum(
            _minutes(own, is_attended=there) * _per_min(rates, is_attended=there)
            for there in (True, False)
        )
        found[name] = Decimal(money / pieces).quantize(_CENT)
    return found


def contour_cost_answers(
    strip: Strip, times: Times, *, estimate: Estimate, rates: RateTable, pieces: float
) -> Iterator[Answer]:
    """Yield why the machine time of each contour costs what it does, and how sure that is.

    Parameters
    ----------
    strip : Strip
    times : Times
        Of the same plan and path.
    estimate : Estimate
    rates : RateTable
    pieces : int
        Of those asked that one cut makes, by :func:`pieces_per_cut`.
    """
    lines = {line.line.operation: line for line in times.lines}
    each = estimate.prices[0].each
    costs = costs_by_contour(strip, rates, pieces=pieces)
    for name, own in _by_contour(strip).items():
        amounts = [
            replace(amount, likely=amount.likely * _per_min(rates, is_attended=attended) / pieces)
            for attended in (True, False)
            for amount in amounts_of([s for s in own if s.is_attended is attended], lines)
        ]
        span = total(amounts)
        rate = rate_of(lines_of(own, lines), lines)
        inputs = (
            ("with_somebody_there_min", _minutes(own, is_attended=True)),
            ("alone_min", _minutes(own, is_attended=False)),
            ("machine_attended_per_h", float(rates.hour.machine_attended_per_h)),
            ("machine_unattended_per_h", float(rates.hour.machine_unattended_per_h)),
            ("pieces_of_a_cut", float(pieces)),
            ("share_of_the_price_of_a_piece", float(costs[name] / each) if each else 0.0),
        )
        yield Answer(
            about=name,
            name=COST,
            path="",
            reason=Reason(
                quantity=f"amount_{estimate.currency}",
                value=float(costs[name]),
                formula="minutes of this contour on the machine, with somebody there and alone, "
                "times the price of the hour, over the pieces asked that one cut makes (the last "
                "stack is paid whole); set-up, loading, programming, bench work and "
                "consumables are of no single contour and not in it",
                inputs=inputs,
                source=Source(tag=SourceTag.COMPUTED),
                range=span,
                shares=shares_of(amounts, rate=rate) if span.low < span.high else (),
            ),
            also="contour",
        )


def pieces_per_cut(requirement: Requirement) -> float:
    """Return how many of the pieces asked one cut makes in the mean, as the price has it.

    Of 10 pieces in stacks of 8 each of two stacks is paid whole and brings 5.
    """
    stack = requirement.stack
    if stack is None:
        return 1.0
    quantity = requirement.quantities[0]
    return quantity / loads_for(quantity, stack.pieces)


def _by_contour(strip: Strip) -> dict[str, list[Stretch]]:
    found: dict[str, list[Stretch]] = defaultdict(list)
    for one in strip.stretches:
        if one.contour_id is not None:
            found[one.contour_id].append(one)
    return found


def _minutes(own: Sequence[Stretch], *, is_attended: bool) -> float:
    return sum(one.minutes for one in own if one.is_attended is is_attended)


def _per_min(rates: RateTable, *, is_attended: bool) -> float:
    hour = rates.hour
    per_h = hour.machine_attended_per_h if is_attended else hour.machine_unattended_per_h
    return float(per_h) / 60
