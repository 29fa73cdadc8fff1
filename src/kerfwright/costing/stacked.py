"""The price of pieces that are cut as a stack."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.costing.estimate import estimate
from kerfwright.costing.rates import RateTable
from kerfwright.costing.records import Estimate
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import Plan
from kerfwright.trade.stack import loads_for


def estimate_pieces(plan: Plan, path: WirePath, *, rates: RateTable) -> Estimate:
    """Estimate a job; where it is cut as stacks, its quantities still count pieces.

    ``n`` pieces a stack give ``ceil(q / n)`` stacks for ``q`` pieces, each cut at the full height;
    inspection is paid for the pieces of each stack that are measured (``stack_measured`` of
    ``planning.toml``).

    Parameters
    ----------
    plan : Plan
    path : WirePath
    rates : RateTable

    Returns
    -------
    Estimate
        Times and consumption are those of one stack, full unless fewer pieces are asked.

    Raises
    ------
    InputError
        As :func:`estimate`.
    """
    stack = plan.requirement.stack
    if stack is None:
        return estimate(plan, path, rates=rates)
    prices = []
    for quantity in plan.requirement.quantities:
        loads = loads_of(plan, quantity)
        one = estimate(
            _of_loads(plan, loads),
            path,
            rates=rates,
            per_load=quantity / loads,
            measured=measured_each(plan, quantity),
        )
        prices.append(replace(one.prices[0], at_once=stack.pieces))
    full = full_load(plan)
    whole = estimate(
        _of_loads(plan, 1), path, rates=rates, per_load=full, measured=measured_each(plan, full)
    )
    return replace(whole, prices=tuple(prices), pieces_each=stack.pieces)


def loads_of(plan: Plan, quantity: int) -> int:
    """Return how many loads a quantity of pieces takes: stacks, or the pieces themselves."""
    stack = plan.requirement.stack
    return quantity if stack is None else loads_for(quantity, stack.pieces)


def full_load(plan: Plan) -> int:
    """Return how many pieces a load has: a full stack, unless fewer pieces are asked."""
    stack = plan.requirement.stack
    return 1 if stack is None else min(stack.pieces, max(plan.requirement.quantities))


def measured_each(plan: Plan, quantity: int) -> float:
    """Return how many pieces of a load are measured, mean over the loads of a quantity."""
    stack = plan.requirement.stack
    if stack is None:
        return 1.0
    most = int(plan.rules.stack_measured)
    full, left = divmod(quantity, stack.pieces)
    return (full * min(stack.pieces, most) + min(left, most)) / loads_of(plan, quantity)


def _of_loads(plan: Plan, loads: int) -> Plan:
    return replace(plan, requirement=replace(plan.requirement, quantities=(loads,)))
