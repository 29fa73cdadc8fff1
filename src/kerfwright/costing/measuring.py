"""How much longer tight contours take to measure."""

from __future__ import annotations

from kerfwright.costing.rates import HumanMinutes
from kerfwright.planning.plan import Plan


def measuring_factors(plan: Plan, people: HumanMinutes) -> tuple[float, ...]:
    """Return for each contour how much longer it takes to measure than a usual one.

    By the ratio of the usual tolerance to the one asked, from 1 to the most of the rates.
    """
    asked = [plan.requirement.demand_on(c.target.id).tolerance_um for c in plan.contours]
    usual, most = people.inspection_usual_um, people.inspection_most
    return tuple(1.0 if um is None else min(max(usual / um, 1.0), most) for um in asked)
