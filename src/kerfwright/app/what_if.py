"""What each requirement costs: the job priced again with one demand a step looser or tighter."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from kerfwright.app.alternatives import changes
from kerfwright.app.asks import Asks, asks_of
from kerfwright.app.cautions import cautions
from kerfwright.app.changes import Change
from kerfwright.app.concessions import least_conceded
from kerfwright.app.effects import doubts, is_noise, is_same_price, said_after, sentence
from kerfwright.app.front import front, whose
from kerfwright.app.lifting import lifted, lifting_changes
from kerfwright.app.offers import Offer, Priced, Shop
from kerfwright.app.other_wires import by_diameter_alone, not_told, other_wires
from kerfwright.app.stack_changes import stack_part
from kerfwright.app.why_none import why_none
from kerfwright.costing.rates import RateTable
from kerfwright.planning.guides_off import at_set_up
from kerfwright.planning.leaning import LeaningWalls
from kerfwright.planning.memory import Memory
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.technology import Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.material import Wire
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement

_NEAR_SHARE = Decimal("0.01")
_WIRES_FROM, _CHANGES_FROM, _FRONT_FROM = 0.05, 0.15, 0.75
"""Shares at which these begin, as they fall on a plate of some openings."""
_ONLY_LIFTING = (
    "The job as asked is refused, see the findings: only what lifts every refusal is an offer, "
    "and its price is that of the whole job."
)

__all__ = ["Alternative", "Offer", "WhatIf", "what_if"]


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
    step : str
        Its beginning, up to the effect: what is changed, on which contours.
    asks : Asks
        Lines of the job that would ask for it; empty where no line can.
    not_counted : str
        What the price leaves out, the last sentence of ``sentence``; empty for nothing.
    not_measured : str
        The sentence in it that says that its wire was not measured here, where the one in use was,
        or that its rate is nobody's measurement.
    is_small : bool
        Whether it saves something, and less than prices tell apart.
    is_same_price : bool
        Whether the price differs by less than prices tell apart, also where a wire does it.
    of : Offer or None
        What it is held against, the job as asked at the order that the sentence speaks of; None
        where that is refused.
    pieces : int
        That order.
    """

    demand: str
    asked: str
    instead: str
    offer: Offer
    saved_each: Decimal
    saved_share: Decimal
    machine_minutes_saved_each: float
    sentence: str
    pieces: int
    step: str = ""
    asks: Asks = ()
    not_counted: str = ""
    not_measured: str = ""
    is_small: bool = False
    is_same_price: bool = False
    of: Offer | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """What each demand costs, and the front of price against quality.

    Attributes
    ----------
    currency : str
    quantity : int
        The first of ``quantities``, that of the sentences.
    quantities : tuple of int
        All that are priced.
    as_asked : Offer or None
        None of a job of which nothing can be planned as asked: it has no price and no passes.
    alternatives : tuple of Alternative
        The most money saved first; of a refused job only what lifts every refusal, first the least
        that is eased.
    front : tuple of Offer
        Over pass count and wire diameter, cheapest first; an offer that another beats or equals
        in price and in what is promised is left out, and of two wires that cost the same the one
        in use stays.  Asking for what an offer promises (``asked``) costs what it names.
    front_is_of : str
        Whose walls the front tells of, a sentence; empty where contours are alike.
    front_remarks : tuple of str
        See :class:`kerfwright.app.front.Front`; what is held back is among them.
    held_back : str
        Which wire would save more than those offered, but that nobody measured it.
    """

    currency: str
    quantity: int
    quantities: tuple[int, ...]
    as_asked: Offer | None
    alternatives: tuple[Alternative, ...]
    front: tuple[Offer, ...]
    front_is_of: str = ""
    front_remarks: tuple[str, ...] = ()
    held_back: str = ""

    @property
    def alike(self) -> tuple[int | None, ...]:
        """For each alternative the place of a better one of its kind at nearly the same price.

        None for one that stands for itself.  Prices nearer than a hundredth of the price as asked
        are the same to a customer: the best of such a kind stands for the others.
        """
        near = Decimal(0) if self.as_asked is None else self.as_asked.each * _NEAR_SHARE
        found: list[int | None] = []
        for one in self.alternatives:
            found.append(
                next(
                    (
                        at
                        for at, better in enumerate(found)
                        if better is None
                        and self.alternatives[at].demand == one.demand
                        and self.alternatives[at].saved_each - one.saved_each < near
                    ),
                    None,
                )
            )
        return tuple(found)

    @property
    def is_refused(self) -> bool:
        """Whether something of the job as asked is refused: what lifts that saves from no price."""
        return self.as_asked is None or self.as_asked.refusals > 0


def what_if(
    part: Part,
    requirement: Requirement,
    *,
    catalogue: Catalogue,
    technology: Technology,
    rates: RateTable,
    rules: PlanningRules,
    wire_physics: WirePhysics | None = None,
    lean: LeaningWalls | None = None,
    memory: Memory | None = None,
    progress: Callable[[str, float], None] = lambda _step, _share: None,
    lifts_only: bool = False,
) -> WhatIf | None:
    """Price the job with each demand a step looser and tighter, and over passes and wires.

    A step of tolerance, finish or recast is what can be promised of the passes that the next limit
    takes: anything in between costs the same.  Sentences and order are of the first quantity; every
    offer has its price at the others too.  Of leaning walls no corners are rounded and no stack is
    made.  ``progress`` is told each step and the share done, several times for each price.  With
    ``lifts_only``, for a job refused as a whole, only what lifts every refusal is priced.

    Returns
    -------
    WhatIf or None
        None where nothing can be cut as asked, and nothing of what could be asked lifts that.
    """
    now = "pricing the job as asked", 0.0
    shop = Shop(
        part=part if lean is None else lean.part,
        lean=lean,
        catalogue=catalogue,
        technology=at_set_up(technology, rules=rules, physics=wire_physics),
        rates=rates,
        physics=wire_physics,
        rules=rules,
        quantities=requirement.quantities,
        # What a leaning wire does is no part of what plans have in common.
        memory=Memory() if memory is None or lean is not None else memory,
        tell=lambda: progress(*now),
    )
    quantity = requirement.quantities[0]
    base = shop.price(requirement, quantity=quantity)
    if base is None or lifts_only:
        return _lifting(shop, requirement, base, quantity)
    found: list[tuple[Change, Alternative]] = []
    steps: list[Priced] = []
    now = "pricing other wires", _WIRES_FROM
    by_wire = other_wires(shop, requirement, base, quantity)
    wires = [one.plan.choice.wire for one in by_wire.paying]
    now = "finding what could be asked instead", _CHANGES_FROM
    wanted_ones = _wanted(shop, requirement, base, quantity, wires)
    for n, wanted in enumerate(wanted_ones):
        share = _CHANGES_FROM + (_FRONT_FROM - _CHANGES_FROM) * n / len(wanted_ones)
        now = f"pricing change {n + 1} of {len(wanted_ones)}", share
        least = _least(shop, wanted)
        if least is None:
            continue
        change, priced = least
        one = _alternative(change, base, priced, asked=requirement, shop=shop, quantity=quantity)
        same = is_same_price(change, one.saved_share, shop)
        if change.must_cost and one.saved_each > 0:
            continue
        if not change.must_save or one.saved_each > 0 or same:
            found.append((change, one))
            if change.demand == "recast":
                # It promises less than a row of passes, and costs less.
                steps.append(replace(priced, offer=replace(priced.offer, asks=one.asks)))
    worth = _worth_a_word(found, [c.target.id for c in base.plan.contours])
    led_by = next((a for change, a in found if change.is_lifting), None)
    worth.sort(key=lambda a: (a is not led_by, -a.saved_each))
    now = "pricing each number of passes", _FRONT_FROM
    of_quality = front(shop, requirement, base, quantity, others=by_wire.paying, steps=steps)
    remarks = _refused_said(base, bool(worth)), *of_quality.remarks, by_wire.held_back
    return WhatIf(
        currency=rates.currency,
        quantity=quantity,
        quantities=shop.quantities,
        as_asked=base.offer,
        alternatives=tuple(worth),
        front=of_quality.offers,
        front_is_of=whose(base),
        front_remarks=tuple(filter(None, remarks)),
        held_back=by_wire.held_back,
    )


def _priced(shop: Shop, change: Change) -> Priced | None:
    return change.priced or shop.price(
        change.requirement, quantity=change.quantity, part=change.part
    )


def _least(shop: Shop, wanted: Change) -> tuple[Change, Priced] | None:
    """Return a change with the least given up for what it saves; None where it is no offer."""
    priced = _priced(shop, wanted)
    # What is still refused is no offer, whatever the job as asked is refused for.
    if priced is None or priced.offer.refusals:
        return None
    return least_conceded(shop, wanted, priced)


def _wanted(
    shop: Shop, requirement: Requirement, base: Priced, quantity: int, wires: Sequence[Wire]
) -> list[Change]:
    """Return every change worth a price, first what lifts the refusals of the job."""
    first = lifting_changes(shop, requirement, base.plan, quantity)
    return [*first, *changes(shop, requirement, base, quantity, wires=wires)]


def _lifting(
    shop: Shop, requirement: Requirement, base: Priced | None, quantity: int
) -> WhatIf | None:
    """Return what lifts every refusal of a job that is refused as a whole; None for nothing."""
    plan = shop.planned(requirement, quantity=quantity) if base is None else base.plan
    found = []
    for change in lifting_changes(shop, requirement, plan, quantity):
        priced = _priced(shop, change)
        if priced is not None and not priced.offer.refusals:
            # What is refused has no price, and nothing is saved from it.
            told = f"{change.subject} {lifted(plan, priced, currency=shop.rates.currency)}."
            told += cautions(priced.plan.findings, asked=plan.findings)
            found.append(
                Alternative(
                    demand=change.demand,
                    asked=change.asked,
                    instead=change.instead,
                    step=change.subject,
                    offer=priced.offer,
                    saved_each=Decimal(0),
                    saved_share=Decimal(0),
                    machine_minutes_saved_each=0.0,
                    sentence=told + said_after(doubts(priced, shop)),
                    pieces=quantity,
                    asks=asks_of(requirement, change, quantity),
                )
            )
    if not found:
        return None
    return WhatIf(
        currency=shop.rates.currency,
        quantity=quantity,
        quantities=shop.quantities,
        as_asked=None if base is None else base.offer,
        alternatives=tuple(found),
        front=(),
        front_remarks=(_ONLY_LIFTING,),
    )


def _refused_said(base: Priced, has_steps: bool) -> str:  # noqa: FBT001 one answer of two
    """Say why a refused job has few steps or none; empty of one that is not refused."""
    if not base.offer.refusals:
        return ""
    return _ONLY_LIFTING if has_steps else why_none(base.plan.findings)


def _worth_a_word(
    found: Sequence[tuple[Change, Alternative]], contour_ids: Sequence[str]
) -> list[Alternative]:
    """Return the alternatives without those that give up more than another and save no more.

    Only demands are compared: changes of wire,
    shape, height or quantity give up none.
    """
    limits = [_limits(change, contour_ids) if change.is_looser else () for change, _ in found]
    return [
        one
        for (change, one), mine in zip(found, limits, strict=True)
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


def _alternative(
    change: Change, base: Priced, priced: Priced, *, asked: Requirement, shop: Shop, quantity: int
) -> Alternative:
    if change.each_at:
        # Each quantity is cut in its own way; the sentence holds those of one together.
        base, quantity = shop.at_quantity(base, change.quantity), change.quantity
        priced = replace(priced, offer=replace(priced.offer, each_at=change.each_at))
    saved = base.offer.each - priced.offer.each
    share = saved / base.offer.each if base.offer.each else Decimal(0)
    unmeasured = not_told(shop, base, priced)
    told = sentence(change, base, priced, asked=asked, shop=shop, quantity=quantity)
    if change.demand == "wire":
        wire = priced.plan.choice.wire
        by_size = by_diameter_alone(shop, asked, base, wire, quantity)
        told = " ".join(filter(None, (told, by_size)))
    of_stack = stack_part(change, base, priced, currency=shop.rates.currency)
    return Alternative(
        demand=change.demand,
        asked=change.asked,
        instead=change.instead,
        step=change.subject,
        offer=priced.offer,
        saved_each=saved,
        saved_share=share,
        machine_minutes_saved_each=base.offer.machine_minutes_each
        - priced.offer.machine_minutes_each,
        sentence=" ".join(filter(None, (told, of_stack, unmeasured, change.not_counted))),
        not_counted=change.not_counted,
        not_measured=unmeasured,
        asks=asks_of(asked, change, quantity),
        is_small=is_noise(change, share, shop),
        is_same_price=abs(share) < shop.rates.same_price_share,
        of=base.offer,
        pieces=quantity,
    )
