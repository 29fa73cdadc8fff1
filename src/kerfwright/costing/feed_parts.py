"""What of a price and of its machine time goes with each feed that is less sure than in routine."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from kerfwright.costing.estimate import MINIMUM
from kerfwright.costing.records import Estimate, TimeKind
from kerfwright.costing.stacked import loads_of
from kerfwright.planning.plan import Plan
from kerfwright.process.feed_beyond import feed_unsure
from kerfwright.process.feed_spread import Beyond
from kerfwright.process.technology import Pass, Technology

_RUNNING: Final = frozenset({"wire", "electricity", "filters", "resin"})
"""Items that go with the time of cutting."""
_MACHINE: Final = frozenset({TimeKind.MACHINE_ATTENDED, TimeKind.MACHINE_UNATTENDED})


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedPart:
    """What one unknown beyond routine moves of the price of one piece, in one pass.

    Attributes
    ----------
    level : str
        Names the unknown: plans with the same one share it.
    sigma_log : float
        Standard deviation that it adds to the feed, of the logarithm.
    each : float
        Money that goes with the time of the pass.
    minutes : float
        Machine time that does.
    """

    level: str
    sigma_log: float
    each: float
    minutes: float


def feed_parts(plan: Plan, estimate: Estimate, *, technology: Technology) -> tuple[FeedPart, ...]:
    """Return what the unknowns beyond routine work move, at the first quantity of an estimate.

    Wire breaks have causes of their own and are left out.  A price at the least that is billed is
    taken not to move.

    Parameters
    ----------
    plan : Plan
    estimate : Estimate
    technology : Technology
    """
    price = estimate.prices[0]
    lines = [line for line in estimate.times if line.pass_number is not None]
    cutting_min = math.fsum(line.minutes.likely for line in lines)
    money = {line.item: float(line.likely) / price.quantity for line in price.lines}
    running = math.fsum(money.get(item, 0.0) for item in _RUNNING)
    loads_each = loads_of(plan, price.quantity) / price.quantity
    found = []
    for one in plan.passes:
        own = [line for line in lines if line.pass_number == one.number]
        share = math.fsum(line.minutes.likely for line in own) / cutting_min if own else 0.0
        operations = {line.operation for line in own}
        each = math.fsum(money.get(name, 0.0) for name in operations) + share * running
        minutes = math.fsum(line.minutes.likely for line in own if line.kind in _MACHINE)
        found += [
            FeedPart(
                level=level,
                sigma_log=sigma_log,
                each=0.0 if MINIMUM in money else each,
                minutes=minutes * loads_each,
            )
            for level, sigma_log in _beyond(plan, one, technology)
        ]
    return tuple(found)


def _beyond(plan: Plan, one: Pass, technology: Technology) -> Iterator[tuple[str, float]]:
    """Yield the unknowns of a pass: by the tables, or what the shop's cuts leave of them."""
    asked = plan.requirement
    beyond = feed_unsure(
        is_rough=one.is_rough,
        material=asked.material,
        height_mm=asked.height_mm,
        wire=plan.choice.wire,
        technology=technology,
    ).beyond
    for unknown in beyond:
        yield unknown.level, unknown.sigma_log * _left(one, unknown, beyond)


def _left(one: Pass, unknown: Beyond, beyond: tuple[Beyond, ...]) -> float:
    """Return the share of a deviation that cuts leave: no more than they leave of its kind."""
    if one.learned is None:
        return 1.0
    share = math.fsum(s for who, s in one.learned.feed_shares if who == unknown.what)
    left = one.learned.feed_sigma_log**2 * max(share, 0.0)
    before = math.fsum(other.sigma_log**2 for other in beyond if other.what == unknown.what)
    return min(1.0, math.sqrt(left / before))
