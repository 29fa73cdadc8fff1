"""Other stacks and other quantities of a job, as a what-if prices them, and what each brings."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from kerfwright.app.changes import Change
from kerfwright.app.demand_kinds import size_text
from kerfwright.app.offers import Priced, Shop
from kerfwright.app.stack_prices import StackPrices
from kerfwright.app.stacks import prices_of
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import Stack

COVER_METAL = "The metal of the sheets that cover the stack is not counted."
_QUANTITIES = (1, 2, 5, 10, 25, 50, 100, 250, 500, 1000)


def quantity_and_stack_changes(
    shop: Shop, requirement: Requirement, base: Priced, quantity: int
) -> Iterator[Change]:
    """Yield the next larger and smaller order, and the job in the stack that costs least.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    base : Priced
        The job as asked.
    quantity : int
    """
    prices = prices_of(shop, requirement)
    for count in (
        next((q for q in _QUANTITIES if q > quantity), None),
        next((q for q in reversed(_QUANTITIES) if q < quantity), None),
    ):
        if count is not None:
            yield _of_quantity(requirement, prices, base, quantity, count)
    if shop.lean is None:
        yield from _stacked(shop, requirement, prices, quantity)


def stack_part(change: Change, base: Priced, priced: Priced, *, currency: str) -> str:
    """Say which part of another order's saving its stack brings, and not its quantity.

    Empty where the order as asked is cut in the stack that is best for it, as the other one is.

    Parameters
    ----------
    change : Change
    base, priced : Priced
        The job as asked, and changed.
    currency : str
    """
    if change.own_stack is None:
        return ""
    pieces, each = change.own_stack
    by_stack, by_quantity = base.offer.each - each, each - priced.offer.each
    effect = (
        f"saves {currency} {by_quantity} a piece"
        if by_quantity > 0
        else f"costs {currency} {-by_quantity} a piece more"
        if by_quantity
        else "changes nothing"
    )
    return (
        f"The order of {change.asked}, {_how(pieces)}, would save {currency} {by_stack} a piece by "
        f"itself; against that the order of {change.instead} {effect}."
    )


def _of_quantity(
    requirement: Requirement,
    prices: StackPrices,
    base: Priced,
    quantity: int,
    count: int,
) -> Change:
    asked = requirement.stack
    # Nobody cuts ten left over of fifty as a stack of ten because forty were asked at once.
    wanted = requirement if asked is None else prices.chosen(prices.cheapest(count))
    stack = wanted.stack
    is_restacked = stack is not None and asked is not None and stack.pieces != asked.pieces
    how = f", {_how(stack.pieces)}," if stack is not None and is_restacked else ""
    return Change(
        demand="quantity",
        asked=str(quantity),
        instead=str(count),
        wording="An order of {instead} instead of {asked}" + how,
        requirement=wanted,
        quantity=count,
        own_stack=_own_stack(prices, asked, base, quantity) if is_restacked else None,
        not_counted=_left_out(stack),
    )


def _own_stack(
    prices: StackPrices, asked: Stack | None, base: Priced, quantity: int
) -> tuple[int, Decimal] | None:
    """Return the stack that is best for the order as asked, and its price; None if it is that."""
    pieces = prices.cheapest(quantity)
    priced = prices.price(pieces, quantity)
    if priced is None or asked is None or pieces == asked.pieces:
        return None
    return (pieces, priced.offer.each) if priced.offer.each < base.offer.each else None


def _how(pieces: int) -> str:
    return "cut one at a time" if pieces == 1 else f"in stacks of {pieces}"


def _left_out(stack: Stack | None) -> str:
    """Say what the price of a stack leaves out; empty of none."""
    if stack is None or stack.pieces == 1:
        return ""
    return COVER_METAL if stack.covers else ""


def _stacked(
    shop: Shop, requirement: Requirement, prices: StackPrices, quantity: int
) -> Iterator[Change]:
    """Yield the job cut in the stack that costs least, where it is not cut in that yet."""
    asked = requirement.stack
    if asked is not None and asked.is_chosen:
        return
    now = 1 if asked is None else asked.pieces
    best = {count: prices.cheapest(count) for count in (shop.quantities or (quantity,))}
    # The sentence is of the first order that is cut otherwise.
    count, pieces = next(((q, n) for q, n in best.items() if n != now), (quantity, now))
    priced = {q: prices.price(n, q) for q, n in best.items()}
    if pieces == now or None in priced.values():
        return
    stack = prices.stack(pieces)
    own = ", each quantity its own number" if len(set(best.values())) > 1 else ""
    order = f" for an order of {count}," if count != quantity else ""
    one = "one at a time"
    height = size_text(stack.height_mm)
    yield Change(
        demand="height",
        asked=one if now == 1 else f"stacks of {now}",
        instead=(one if pieces == 1 else f"a stack of {pieces}, {height} high") + own,
        wording="Cutting {instead}, instead of {asked}," + order,
        requirement=prices.chosen(pieces),
        quantity=count,
        # A given stack may cost less within what a lower one is taken for its ease.
        must_save=asked is not None,
        each_at=tuple((q, one.offer.each) for q, one in priced.items() if one is not None),
        not_counted=_left_out(stack),
        priced=priced[count],
    )
