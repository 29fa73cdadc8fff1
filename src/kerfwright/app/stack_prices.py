"""What pieces cost at every number of sheets in a stack, each height planned once."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Final

from kerfwright.app.offers import Priced, Shop
from kerfwright.foundation.findings import Severity
from kerfwright.planning.stacking import most_pieces, stack_of, stacked
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import Holding, Stack, loads_for

_MOST_POINTS: Final = 24
"""Counts that are priced at most; a curve through more says nothing new."""
SAME: Final = Decimal("0.01")
"""Share of the price below which a lower stack is taken for its ease."""
_HALF: Final = Decimal("0.005")
"""Half a cent, to which a price is rounded."""


def counts_for(quantity: int, most: int) -> tuple[int, ...]:
    """Return the numbers a stack worth pricing: those that share the quantity out evenly.

    ``L`` stacks want ``ceil(q / L)`` each; more in a stack would save no stack.

    >>> counts_for(40, 12)
    (1, 2, 3, 4, 5, 6, 7, 8, 10)
    """
    every = sorted({-(-quantity // loads) for loads in range(1, quantity + 1)})
    fit = [n for n in every if n <= most] or [1]
    if len(fit) <= _MOST_POINTS:
        return tuple(fit)
    step = (len(fit) - 1) / (_MOST_POINTS - 1)
    return tuple(dict.fromkeys(fit[round(k * step)] for k in range(_MOST_POINTS)))


class StackPrices:
    """Prices of a sheet cut singly and in stacks, at any quantity.

    What is planned and drawn for a height serves every quantity: only the sum is made anew.

    Parameters
    ----------
    shop : Shop
    single : Requirement
        Of one sheet.
    holding : Holding
    covers : int or None
        Scrap sheets of a stack; None for those that its sheet wants.
    """

    def __init__(
        self, shop: Shop, single: Requirement, *, holding: Holding, covers: int | None = None
    ) -> None:
        self.shop = shop
        self._single = single
        self._holding = holding
        self._covers = covers
        self._planned: dict[int, Priced | None] = {}
        self.most = most_pieces(
            single.machine.max_height_mm,
            sheet_mm=single.height_mm,
            rules=shop.rules,
            covers=covers,
        )

    def stack(self, pieces: int) -> Stack:
        """Return the stack of so many pieces."""
        return stack_of(
            pieces,
            sheet_mm=self._single.height_mm,
            rules=self.shop.rules,
            holding=self._holding,
            covers=self._covers if pieces > 1 or self._covers is None else 0,
        )

    def chosen(self, pieces: int) -> Requirement:
        """Return what a stack of so many pieces asks, its number found by price."""
        return stacked(self._single, replace(self.stack(pieces), is_chosen=True))

    @property
    def most_known(self) -> int:
        """The most pieces whose sheets, covers with them, are known to be cut as one."""
        known = self.shop.rules.stack_known_sheets
        pieces = self.most if math.isinf(known) else max(1, min(self.most, int(known)))
        while pieces > 1 and self.stack(pieces).sheets > known:
            pieces -= 1
        return pieces

    def counts(self, quantity: int) -> tuple[int, ...]:
        """Return the numbers in a stack that are worth a price for a quantity, known or not."""
        known = self.most_known
        beyond = (n for n in counts_for(quantity, self.most) if n > known)
        return (*counts_for(quantity, known), *beyond)

    def price(self, pieces: int, quantity: int) -> Priced | None:
        """Return what a quantity costs in stacks of so many; None where nothing can be cut."""
        if pieces not in self._planned:
            wanted = stacked(self._single, self.stack(pieces))
            self._planned[pieces] = self.shop.price(wanted, quantity=quantity)
        planned = self._planned[pieces]
        return None if planned is None else self.shop.at_quantity(planned, quantity)

    def cheapest(self, quantity: int) -> int:
        """Return the number in a stack at which a piece costs least, as the curve ends at.

        None is found beyond what is known to be cut as one: that is a person's to ask by number.
        """
        counts = counts_for(quantity, self.most_known)
        loads = [loads_for(quantity, pieces) for pieces in counts]
        return counts[cheapest(partial(self._each, counts, quantity), loads)]

    def _each(self, counts: tuple[int, ...], quantity: int, k: int) -> Decimal | None:
        """Price a count; None where it is refused for what a single sheet is not."""
        here, first = (self.price(counts[one], quantity) for one in (k, 0))
        if here is None or (first is not None and refused(here).keys() - refused(first).keys()):
            return None
        return here.offer.each


def refused(priced: Priced) -> dict[str, str]:
    """Return what is refused of a plan, by code."""
    return {f.code: f.message for f in priced.plan.findings if f.severity is Severity.REFUSAL}


def cheapest(each: Callable[[int], Decimal | None], loads: Sequence[int]) -> int:
    """Return the index that a curve of all prices ends at, most often after a few of them.

    A higher stack takes no less to cut, so that ``L`` loads cost at least ``L / M`` of what ``M``
    loads of a lower one do.  Where that is above the least price known, none is computed.  The
    lowest index within :data:`SAME` of the least price is taken.

    Parameters
    ----------
    each : callable
        Price of a piece by index; None where it cannot be cut so.
    loads : sequence of int
        Stacks that the quantity takes, falling: a higher stack is a later index.
    """
    prices: dict[int, Decimal] = {}

    def look(k: int) -> None:
        price = each(k)
        if price is not None:
            prices[k] = price

    def most() -> Decimal:
        return min(prices.values(), default=Decimal("Infinity")) * (1 + SAME)

    def bound(k: int) -> Decimal:
        """Return what a piece costs at least, prices being rounded to cents."""
        return max(
            ((price - _HALF) * loads[k] / loads[j] - _HALF for j, price in prices.items() if j < k),
            default=Decimal(0),
        )

    last = len(loads) - 1
    for k in sorted({0, last}):
        look(k)
    for k in range(1, last):
        if bound(k) <= most():
            look(k)
    return min((k for k, price in prices.items() if price <= most()), default=0)
