"""What each requirement costs: the job priced again with one demand a step looser or tighter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product

from kerfwright.app.alternatives import Change, changes, names
from kerfwright.app.asks import Asks, asks_between, asks_of
from kerfwright.app.offers import Offer, Priced, Shop
from kerfwright.costing.rates import RateTable
from kerfwright.foundation.units import minutes_text
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.choice import choose_by_contour, passes_of
from kerfwright.process.held import held_by
from kerfwright.process.misses import MISSED, odds
from kerfwright.process.technology import Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.material import Wire
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Demand, Requirement

__all__ = ["Alternative", "Offer", "WhatIf", "what_if"]

_WHOLE_PERCENT = Decimal("0.01")
"""Below it a whole percent would say 0 %."""
_LEAST_MINUTES = 1.0
"""Differences in time below a minute are not worth a word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """The job with one demand changed.

    Attributes
    ----------
    demand : str
        ``"tolerance"``, ``"finish"``, ``"recast"`` or several with *and*, of the job or of single
        contours; ``"one shape only"``, ``"inside radius"``, ``"wire"``, ``"quantity"`` or
        ``"height"``.
    asked, instead : str
        The demand as it is and as it would be, in both unit systems.
    offer : Offer
    saved_each : Decimal
        Price of one piece as asked less the price so; negative where it costs more.
    saved_share : Decimal
        That over the price as asked.
    machine_minutes_saved_each : float
    sentence : str
        Fit to send to the customer.
    asks : Asks
        Lines of the job that would ask for it; empty where no line can.
    not_counted : str
        What the price leaves out, the last sentence of ``sentence``; empty for nothing.
    """

    demand: str
    asked: str
    instead: str
    offer: Offer
    saved_each: Decimal
    saved_share: Decimal
    machine_minutes_saved_each: float
    sentence: str
    asks: Asks = ()
    not_counted: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """What each demand costs, and the front of price against quality.

    Attributes
    ----------
    currency : str
    quantity : int
    as_asked : Offer
    alternatives : tuple of Alternative
        The most money saved first.
    front : tuple of Offer
        Over pass count and wire diameter, cheapest first; an offer that another beats or equals
        in price, tolerance and finish is left out, and of two wires that cost the same the one
        in use stays.
    front_is_of : str
        Whose tolerance and finish the front tells, a sentence; empty where contours are alike.
    """

    currency: str
    quantity: int
    as_asked: Offer
    alternatives: tuple[Alternative, ...]
    front: tuple[Offer, ...]
    front_is_of: str = ""

    @property
    def quantities(self) -> tuple[int, ...]:
        """All quantities priced, the first being that of the sentences."""
        return tuple(count for count, _ in self.as_asked.each_at)


def what_if(
    part: Part,
    requirement: Requirement,
    *,
    catalogue: Catalogue,
    technology: Technology,
    rates: RateTable,
    rules: PlanningRules,
    wire_physics: WirePhysics | None = None,
) -> WhatIf | None:
    """Price the job with each demand a step looser and tighter, and over passes and wires.

    A step of tolerance, finish or recast is what can be promised of one pass fewer or one more:
    anything in between costs the same.  Sentences and order are of the first quantity; every
    offer has its price at the others too.

    Returns
    -------
    WhatIf or None
        None where no contour can be cut as asked.
    """
    shop = Shop(
        part=part,
        catalogue=catalogue,
        technology=technology,
        rates=rates,
        physics=wire_physics,
        rules=rules,
        quantities=requirement.quantities,
    )
    quantity = requirement.quantities[0]
    base = shop.price(requirement, quantity=quantity)
    if base is None:
        return None
    found: list[tuple[Change, Alternative]] = []
    for change in changes(shop, requirement, base, quantity):
        priced = shop.price(
            change.requirement,
            quantity=change.quantity,
            part=change.part,
        )
        if priced is None or priced.offer.refusals > base.offer.refusals:
            continue
        one = _alternative(change, base.offer, priced, rates)
        if not change.must_save or one.saved_each > 0 or _is_same(change, one.saved_share, rates):
            found.append((change, replace(one, asks=asks_of(requirement, change, quantity))))
    worth = _worth_a_word(found, [c.target.id for c in base.plan.contours])
    worth.sort(key=lambda a: -a.saved_each)
    return WhatIf(
        currency=rates.currency,
        quantity=quantity,
        as_asked=base.offer,
        alternatives=tuple(worth),
        front=_front(shop, requirement, base, quantity),
        front_is_of=_front_is_of(base),
    )


def _front_is_of(base: Priced) -> str:
    """Say whose wall the front tells of where contours differ."""
    by_count = base.plan.contours_by_count()
    most = [name for count, ids in by_count if count == by_count[0][0] for name in ids]
    if len({count for count, _ in by_count}) < 2:
        return ""
    return (
        f"Tolerance and finish here are those of {names(most)}, of which most is asked; the others "
        "keep what is asked of them, or are as coarse as these where these are coarser."
    )


def _worth_a_word(
    found: Sequence[tuple[Change, Alternative]], contour_ids: Sequence[str]
) -> list[Alternative]:
    """Return the alternatives without those that give up more than another and save no more.

    Only demands are compared: changes of wire, shape, height or quantity give up none.
    """
    limits = [_limits(change, contour_ids) if change.is_looser else () for change, _ in found]
    return [
        one
        for (_, one), mine in zip(found, limits, strict=True)
        if not any(
            theirs and other.saved_each >= one.saved_each and _is_looser(mine, theirs)
            for (_, other), theirs in zip(found, limits, strict=True)
        )
    ]


def _limits(change: Change, contour_ids: Sequence[str]) -> tuple[float, ...]:
    """Return every limit that a change leaves on the contours; what is not asked has none."""
    return tuple(
        math.inf if limit is None else limit
        for demand in map(change.requirement.demand_on, contour_ids)
        for limit in (demand.tolerance_um, demand.ra_um, demand.max_recast_um)
    )


def _is_looser(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """Return whether limits are nowhere tighter than others, and somewhere looser."""
    return (
        len(one) == len(other)
        and one != other
        and all(a >= b for a, b in zip(one, other, strict=True))
    )


def _alternative(change: Change, base: Offer, priced: Priced, rates: RateTable) -> Alternative:
    currency, offer = rates.currency, priced.offer
    saved = base.each - offer.each
    share = saved / base.each if base.each else Decimal(0)
    minutes = base.machine_minutes_each - offer.machine_minutes_each
    time = ""
    if abs(minutes) >= _LEAST_MINUTES and saved:
        time = f", {minutes_text(abs(minutes))} of machine time {'less' if minutes > 0 else 'more'}"
    if _is_same(change, share, rates):
        effect, time = f"costs the same within {rates.same_price_share:.0%}", ""
    elif saved > 0 and change.is_looser and change.also_decides and not time:
        effect = (
            f"saves {currency} {saved} a piece ({_percent(share)}), off the machine only: "
            f"{_also(change)} the same work there"
        )
    elif saved > 0:
        effect = f"saves {currency} {saved} a piece ({_percent(share)})"
    elif saved < 0:
        effect = f"costs {currency} {-saved} a piece more ({_percent(share)})"
    elif not change.is_looser and change.also_decides:
        effect = "costs nothing more"
    elif change.also_decides:
        effect = f"saves nothing by itself: {_also(change)} the same work"
    else:
        effect = "changes nothing in the price"
    subject = change.wording.format(asked=change.asked, instead=change.instead)
    return Alternative(
        demand=change.demand,
        asked=change.asked,
        instead=change.instead,
        offer=offer,
        saved_each=saved,
        saved_share=share,
        machine_minutes_saved_each=minutes,
        sentence=f"{subject} {effect}{time}."
        + _missed(priced)
        + (f" {change.not_counted}" if change.not_counted else ""),
        not_counted=change.not_counted,
    )


def _missed(priced: Priced) -> str:
    """Say which demands would often be missed all the same, a sentence each."""
    found = {f.code: f for f in priced.plan.findings if f.code in MISSED}
    return "".join(
        f" The {MISSED[code]} asked is not sure: {odds(float(one.data['chance']))} would miss."
        for code, one in found.items()
    )


def _also(change: Change) -> str:
    """Say what else decides, with its verb."""
    others = change.also_decides
    return f"{' and '.join(others)} {'need' if len(others) > 1 else 'needs'}"


def _is_same(change: Change, share: Decimal, rates: RateTable) -> bool:
    """Return whether another wire makes a difference that prices are too coarse to tell."""
    return change.is_by_wire and abs(share) < rates.same_price_share


def _percent(share: Decimal) -> str:
    """Return a share in whole percent, a small one with a digit more."""
    return f"{abs(share):.0%}" if abs(share) >= _WHOLE_PERCENT else f"{abs(share):.1%}"


def _front(shop: Shop, requirement: Requirement, base: Priced, quantity: int) -> tuple[Offer, ...]:
    """Return the offers over pass count and wire that no other beats.

    The passes are the same with any wire, and so is what they hold: of each count the cheapest
    wire counts, and the wire in use unless another saves more than the share below which prices
    are equal.  With the number of passes the difference between two wires grows or shrinks
    steadily, for every skim adds to it on the same side: a wire that saves nothing with the rough
    pass alone and nothing with all passes saves nothing between them.
    """
    used = base.plan.choice.wire
    most = len(shop.technology.passes)
    ours = {n: _counted(shop, requirement, base, used, n, quantity) for n in range(1, most + 1)}
    least_share = Decimal(repr(1 - shop.rates.same_price_share))
    best = dict(ours)
    for wire in shop.wires(used, requirement):
        if wire.diameter_mm == used.diameter_mm:
            continue
        ends = {n: _counted(shop, requirement, base, wire, n, quantity) for n in (1, most)}
        if not any(_saves(ends[n], ours[n], least_share) for n in ends):
            continue
        between = {n: _counted(shop, requirement, base, wire, n, quantity) for n in range(2, most)}
        for n, offer in (ends | between).items():
            if _saves(offer, best[n], least_share if best[n] is ours[n] else Decimal(1)):
                best[n] = offer
    return unbeaten([o for o in best.values() if o is not None])


def unbeaten(offers: Sequence[Offer]) -> tuple[Offer, ...]:
    """Return the offers that no other beats, cheapest first; of equal ones the first.

    Parameters
    ----------
    offers : sequence of Offer
    """
    kept = [
        one
        for n, one in enumerate(offers)
        if not any(_beats(other, one) for other in offers)
        and not any(_worth(other) == _worth(one) for other in offers[:n])
    ]
    return tuple(sorted(kept, key=lambda o: o.each))


def _saves(one: Offer | None, other: Offer | None, share: Decimal) -> bool:
    """Return whether an offer costs less than a share of another."""
    return one is not None and (other is None or one.each < share * other.each)


def _counted(
    shop: Shop, requirement: Requirement, base: Priced, wire: Wire, count: int, quantity: int
) -> Offer | None:
    """Return the offer with a wire and a number of passes on the contours that need most.

    It is priced as asked for: with the demands that just these passes meet, so that whoever asks
    for it gets the price that it names.  The other contours keep what they ask, or are as coarse
    where they would need more passes.
    """
    if wire == base.plan.choice.wire and count == len(base.plan.passes):
        return base.offer
    own = choose_by_contour(
        replace(requirement, wire=wire),
        [c.id for c in shop.part.to_cut],
        technology=shop.technology,
        catalogue=shop.catalogue,
    )
    passes = passes_of(
        count,
        requirement=requirement,
        wire=wire,
        technology=shop.technology,
        stock_by=own.most.stock_by,
    )
    held = held_by(passes, technology=shop.technology)
    changed = [
        c.id
        for c in shop.part.to_cut
        if c.id not in own.beyond
        and len(own.of(c.id).passes) >= min(count + 1, len(own.most.passes))
    ]
    # The wire that the plan takes unasked is not asked for; and a finish that nobody asked is asked
    # only where the tolerance alone needs fewer passes.
    free = [requirement.wire] if wire == base.plan.choice.wire else []
    for asks_finish, asked_wire in product((False, True), (*free, wire)):
        wanted = _asking(requirement, changed, held, wire=asked_wire, asks_finish=asks_finish)
        priced = shop.price(wanted, quantity=quantity)
        if priced is None or priced.offer.refusals > base.offer.refusals:
            return None
        if len(priced.plan.passes) == count and priced.plan.choice.wire == wire:
            return replace(priced.offer, asks=asks_between(requirement, wanted))
    return None


def _asking(
    requirement: Requirement,
    contour_ids: Sequence[str],
    held: Demand,
    *,
    wire: Wire | None,
    asks_finish: bool,
) -> Requirement:
    """Return the job asking of some contours what is held, where it asks anything."""

    def fields(asked: Demand) -> dict[str, float | None]:
        return {
            name: getattr(held, name)
            for name in ("tolerance_um", "ra_um", "max_recast_um")
            if getattr(asked, name) is not None
            or name == "tolerance_um"
            or (name == "ra_um" and asks_finish)
        }

    own = {
        name: Demand(**fields(requirement.demand_on(name)))
        for name in contour_ids
        if name in requirement.contours
    }
    after = replace(requirement, wire=wire, contours={**requirement.contours, **own})
    if len(own) == len(contour_ids):
        return after
    return replace(after, **fields(requirement.demand))  # type: ignore[arg-type]


def _beats(one: Offer, other: Offer) -> bool:
    """Return whether one offer is as good in everything and better in something."""
    mine, theirs = _worth(one), _worth(other)
    return mine != theirs and all(a <= b for a, b in zip(mine, theirs, strict=True))


def _worth(one: Offer) -> tuple[float, float, float]:
    """Return price and quality, all the better the smaller."""
    return float(one.each), one.tolerance_um, one.ra_um
