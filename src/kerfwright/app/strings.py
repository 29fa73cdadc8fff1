"""Whether a job is cut as strings: planned both ways, the cheaper one kept."""

from __future__ import annotations

from collections.abc import Callable

from kerfwright.costing.rates import RateTable
from kerfwright.costing.stacked import estimate_pieces
from kerfwright.costing.strings import (
    StringSavings,
    counted,
    does_not_pay,
    no_strings,
    string_finding,
)
from kerfwright.foundation.findings import Finding
from kerfwright.motion.moves import WirePath
from kerfwright.planning.common_walls import common_wall_finding
from kerfwright.planning.plan import Plan
from kerfwright.planning.strings import hindrance, with_strings
from kerfwright.process.technology import Technology
from kerfwright.proof.records import Proof
from kerfwright.trade.strings import StringWish

_NO_LINK = (
    "no channel from part to part keeps clear of walls, kerfs and tabs; their walls lie too far "
    "apart, too near together, or at the edge of the stock"
)


def strung_or_alone(
    plan: Plan,
    path: WirePath,
    *,
    draw: Callable[[Plan], WirePath],
    technology: Technology,
    rates: RateTable,
) -> tuple[Plan, WirePath, tuple[Finding, ...]]:
    """Return the plan, its path and what to say: strings where they pay or are asked for.

    Parameters
    ----------
    plan : Plan
        With a start for each contour.
    path : WirePath
        Of that plan.
    draw : callable
        Draws the path of a plan.
    technology : Technology
    rates : RateTable
    """
    wish = plan.requirement.strings
    if wish is StringWish.NEVER:
        return plan, path, ()
    asked = wish is StringWish.ALWAYS
    wall = common_wall_finding(plan) if asked else None
    more = () if wall is None else (wall,)
    strung = with_strings(plan, technology=technology)
    if strung is None:
        said = (no_strings(hindrance(plan) or _NO_LINK),) if asked else ()
        return plan, path, (*said, *more)
    way = draw(strung)
    alone_cost = estimate_pieces(plan, path, rates=rates)
    strung_cost = estimate_pieces(strung, way, rates=rates)
    savings = StringSavings(
        strung=counted(strung, way, strung_cost), alone=counted(plan, path, alone_cost)
    )
    if not asked and not savings.pays:
        return plan, path, (does_not_pay(savings, currency=alone_cost.currency),)
    said = (string_finding(strung, savings, currency=alone_cost.currency),)
    return strung, way, (*said, *more)


def is_unproved_string(plan: Plan, proof: Proof | None) -> bool:
    """Return whether strings that nobody asked for fail the proof: each contour alone may pass."""
    unasked = plan.requirement.strings is StringWish.AUTO
    return bool(plan.strings) and unasked and proof is not None and not proof.passed
