"""How long a stack takes to lay, and to take apart."""

from __future__ import annotations

from kerfwright.costing.rates import HumanMinutes
from kerfwright.planning.plan import Plan
from kerfwright.trade.stack import Holding


def stack_minutes(plan: Plan, people: HumanMinutes) -> list[tuple[str, float, str]]:
    """Return operation, minutes and basis of what people do for each stack besides cutting it.

    Parameters
    ----------
    plan : Plan
        Without a stack there is nothing to do.
    people : HumanMinutes
    """
    stack = plan.requirement.stack
    if stack is None or stack.sheets == 1:
        return []
    bolts = int(plan.rules.stack_bolts)
    held = {
        Holding.CLAMPED: 0.0,
        Holding.BOLTED: people.stack_per_bolt * bolts,
        Holding.WELDED: people.stack_weld,
    }[stack.holding]
    how = {
        Holding.CLAMPED: "clamped",
        Holding.BOLTED: f"{people.stack_per_bolt:g} min for each of {bolts} screws",
        Holding.WELDED: f"{people.stack_weld:g} min to weld",
    }[stack.holding]
    return [
        (
            "stacking",
            people.stack_base + people.stack_per_sheet * stack.sheets + held,
            (
                f"{people.stack_base:g} min, {people.stack_per_sheet:g} min for each of "
                f"{stack.sheets} sheets, {how}"
            ),
        ),
        (
            "taking the stack apart",
            people.unstack_per_sheet * stack.sheets,
            f"{people.unstack_per_sheet:g} min for each of {stack.sheets} sheets",
        ),
    ]
