"""How long a stack takes to lay, and to take apart."""

from __future__ import annotations

from kerfwright.costing.rates import HumanMinutes
from kerfwright.foundation.counts import counted
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
                f"{counted(stack.sheets, 'sheet')}, {how}"
            ),
        ),
        (
            "taking the stack apart",
            people.unstack_per_sheet * stack.sheets,
            f"{people.unstack_per_sheet:g} min for each of {counted(stack.sheets, 'sheet')}",
        ),
    ]


def measured_words(measured: float, per_load: float) -> str:
    """Say how many pieces of a load are measured, to follow what one takes.

    >>> measured_words(5.0, 40.0)
    ', 5 of the 40 pieces to a stack measured'
    """
    if measured == per_load:
        return of_stack_words(per_load)
    return f", {measured:.3g} of the {per_load:.3g} pieces to a stack measured"


def of_stack_words(per_load: float) -> str:
    """Say how many pieces a load has, nothing where it is one."""
    return f", {per_load:.3g} pieces to a stack" if per_load != 1 else ""
