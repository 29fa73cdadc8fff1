"""What each requirement costs: the job priced again with one demand a step looser or tighter."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from kerfwright.costing.estimate import estimate
from kerfwright.costing.rates import RateTable
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.units import both, both_roughness, minutes_text
from kerfwright.planning.planner import make_plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.hurt_layer import recast_left_um
from kerfwright.process.passes import passes_for
from kerfwright.process.technology import Pass, PassChoice, Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.material import Wire
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

_ROUNDING = 1e-9
"""Share by which a limit and what is reached may differ and be the same: conversion of inches."""

_STACK_HEIGHT_MM = 80.0
"""Stacks are not made taller unasked: the area rate falls beyond its peak, barrel grows."""
_Demand = tuple[str, str, Callable[[Pass], float], Callable[[float], str]]
"""Name, field of the requirement, what a pass reaches, and how to say a value."""
_QUANTITIES = (2, 5, 10, 25, 50, 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What one way of cutting the job costs.

    Attributes
    ----------
    each : Decimal
        Likely price of one piece at the quantity asked.
    machine_minutes_each : float
    passes : int
    wire_diameter_mm : float
    tolerance_um, ra_um, recast_um : float
        What the last pass holds and leaves.
    refusals : int
        Refusal findings that stand against it.
    """

    each: Decimal
    machine_minutes_each: float
    passes: int
    wire_diameter_mm: float
    tolerance_um: float
    ra_um: float
    recast_um: float
    refusals: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """The job with one demand changed.

    Attributes
    ----------
    demand : str
        ``"tolerance"``, ``"finish"``, ``"recast"``, ``"wire"``, ``"inside radius"``,
        ``"quantity"`` or ``"height"``.
    asked, instead : str
        The demand as it is and as it would be, in both unit systems.
    offer : Offer
    saved_each : Decimal
        Price of one piece as asked less the price so; negative where it costs more.
    sentence : str
        Fit to send to the customer.
    """

    demand: str
    asked: str
    instead: str
    offer: Offer
    saved_each: Decimal
    sentence: str


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
        in price, tolerance and finish is left out.
    """

    currency: str
    quantity: int
    as_asked: Offer
    alternatives: tuple[Alternative, ...]
    front: tuple[Offer, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Shop:
    part: Part
    catalogue: Catalogue
    technology: Technology
    rates: RateTable
    physics: WirePhysics | None
    rules: PlanningRules

    def offer(
        self,
        requirement: Requirement,
        *,
        quantity: int,
        choice: PassChoice | None = None,
        pieces_each: int = 1,
    ) -> Offer | None:
        """Plan and price; None where nothing at all can be cut."""
        loads = -(-quantity // pieces_each)
        plan = make_plan(
            self.part,
            replace(requirement, quantities=(loads,)),
            technology=self.technology,
            catalogue=self.catalogue,
            rules=self.rules,
            choice=choice,
            physics=self.physics,
        )
        if not plan.contours:
            return None
        priced = estimate(plan, build_path(plan, physics=self.physics), rates=self.rates)
        price, last = priced.prices[0], plan.passes[-1]
        return Offer(
            each=(price.likely / quantity).quantize(Decimal("0.01")),
            machine_minutes_each=60 * price.hours.likely / quantity,
            passes=len(plan.passes),
            wire_diameter_mm=plan.choice.wire.diameter_mm,
            tolerance_um=last.tolerance_um,
            ra_um=last.ra_um,
            recast_um=recast_left_um(plan.passes, law=self.technology.spark.surface),
            refusals=sum(f.severity is Severity.REFUSAL for f in plan.findings),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Change:
    demand: str
    asked: str
    instead: str
    requirement: Requirement
    quantity: int
    pieces_each: int = 1


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

    A step of tolerance, finish or recast is what one pass fewer or one more holds: anything in
    between costs the same.  The first of the quantities asked is priced.

    Returns
    -------
    WhatIf or None
        None where no contour can be cut as asked.
    """
    shop = _Shop(
        part=part,
        catalogue=catalogue,
        technology=technology,
        rates=rates,
        physics=wire_physics,
        rules=rules,
    )
    quantity = requirement.quantities[0]
    base = shop.offer(requirement, quantity=quantity)
    if base is None:
        return None
    found = []
    for change in _changes(shop, requirement, base, quantity):
        offer = shop.offer(
            change.requirement, quantity=change.quantity, pieces_each=change.pieces_each
        )
        if offer is not None and offer.refusals <= base.refusals:
            found.append(_alternative(change, base, offer, rates.currency))
    found.sort(key=lambda a: -a.saved_each)
    return WhatIf(
        currency=rates.currency,
        quantity=quantity,
        as_asked=base,
        alternatives=tuple(found),
        front=_front(shop, requirement, base, quantity),
    )


def _every_pass(shop: _Shop, requirement: Requirement, wire: Wire) -> tuple[Pass, ...]:
    return passes_for(
        len(shop.technology.passes),
        material=requirement.material,
        height_mm=requirement.height_mm,
        wire=wire,
        machine=requirement.machine,
        technology=shop.technology,
    )


def _changes(
    shop: _Shop, requirement: Requirement, base: Offer, quantity: int
) -> Iterator[_Change]:
    wires = _wires(shop, requirement, base)
    used = next(w for w in wires if w.diameter_mm == base.wire_diameter_mm)
    every = _every_pass(shop, requirement, used)
    demands: tuple[_Demand, ...] = (
        ("tolerance", "tolerance_um", lambda p: p.tolerance_um, lambda v: "±" + both(v)),
        ("finish", "ra_um", lambda p: p.ra_um, both_roughness),
        ("recast", "max_recast_um", lambda p: p.recast_um, both),
    )
    for name, field, reached, said in demands:
        asked = getattr(requirement, field)
        if asked is None:
            continue
        for step in (-1, 1):
            value = _next_step([reached(p) for p in every], asked, step)
            if value is not None:
                yield _Change(
                    demand=name,
                    asked=said(asked),
                    instead=said(value),
                    requirement=replace(requirement, **{field: value}),  # type: ignore[arg-type]
                    quantity=quantity,
                )
    yield from _looser_together(requirement, every, demands, quantity)
    for wire in wires:
        if wire is not used:
            yield _Change(
                demand="wire",
                asked=f"{used.diameter_mm:g} mm",
                instead=f"{wire.diameter_mm:g} mm",
                requirement=replace(requirement, wire=wire),
                quantity=quantity,
            )
    more = next((q for q in _QUANTITIES if q > quantity), None)
    if more is not None:
        yield _Change(
            demand="quantity",
            asked=str(quantity),
            instead=str(more),
            requirement=requirement,
            quantity=more,
        )
    yield from _stacked(requirement, quantity)


def _looser_together(
    requirement: Requirement,
    every: tuple[Pass, ...],
    demands: tuple[_Demand, ...],
    quantity: int,
) -> Iterator[_Change]:
    """Yield every demand a step looser at once: one of them alone seldom spares a pass."""
    fields: dict[str, float] = {}
    words: list[tuple[str, str, str]] = []
    for name, field, reached, said in demands:
        asked = getattr(requirement, field)
        value = None if asked is None else _next_step([reached(p) for p in every], asked, -1)
        if value is not None:
            fields[field] = value
            words.append((name, said(asked), said(value)))
    if len(words) > 1:
        yield _Change(
            demand=" and ".join(name for name, _, _ in words),
            asked=" and ".join(asked for _, asked, _ in words),
            instead=" and ".join(instead for _, _, instead in words),
            requirement=replace(requirement, **fields),  # type: ignore[arg-type]
            quantity=quantity,
        )


def _next_step(reached: list[float], asked: float, step: int) -> float | None:
    """Return the limit of the next looser (−1) or tighter (+1) class of passes."""
    meets = [v for v in reached if v <= asked * (1 + _ROUNDING)]
    if not meets:
        return None
    now = meets[0]
    if step < 0:
        looser = [v for v in reached if v > asked * (1 + _ROUNDING)]
        return min(looser) if looser else None
    tighter = [v for v in reached if v < now * (1 - _ROUNDING)]
    return max(tighter) if tighter else None


def _wires(shop: _Shop, requirement: Requirement, base: Offer) -> list[Wire]:
    """Return the wire in use and its neighbours in diameter that the machine guides."""
    usual = requirement.wire or shop.catalogue.default_wire
    same = sorted(
        (
            w
            for w in shop.catalogue.wires
            if w.kind == usual.kind and w.diameter_mm in requirement.machine.wire_diameters_mm
        ),
        key=lambda w: w.diameter_mm,
    )
    here = next((k for k, w in enumerate(same) if w.diameter_mm == base.wire_diameter_mm), None)
    if here is None:
        return [usual]
    return same[max(here - 1, 0) : here + 2]


def _stacked(requirement: Requirement, quantity: int) -> Iterator[_Change]:
    """Yield the job cut as a stack, where more than one piece is asked."""
    tallest = min(_STACK_HEIGHT_MM, requirement.machine.max_height_mm)
    pieces = min(quantity, int(tallest // requirement.height_mm))
    if pieces > 1:
        height = pieces * requirement.height_mm
        yield _Change(
            demand="height",
            asked="one at a time",
            instead=f"a stack of {pieces}, {height:g} mm",
            requirement=replace(requirement, height_mm=height),
            quantity=quantity,
            pieces_each=pieces,
        )


def _alternative(change: _Change, base: Offer, offer: Offer, currency: str) -> Alternative:
    saved = base.each - offer.each
    share = abs(saved) / base.each if base.each else Decimal(0)
    minutes = base.machine_minutes_each - offer.machine_minutes_each
    if saved > 0:
        effect = f"saves {currency} {saved} a piece ({share:.0%})"
    elif saved < 0:
        effect = f"costs {currency} {-saved} a piece more ({share:.0%})"
    else:
        effect = "changes nothing in the price"
    time = ""
    if abs(minutes) >= 1:
        time = f", {minutes_text(abs(minutes))} of machine time {'less' if minutes > 0 else 'more'}"
    wording = {
        "tolerance": "A tolerance of {instead} instead of {asked}",
        "finish": "A finish of {instead} instead of {asked}",
        "recast": "A recast layer up to {instead} instead of {asked}",
        "wire": "Wire of {instead} instead of {asked}",
        "quantity": "An order of {instead} instead of {asked}",
        "height": "Cutting {instead}, instead of {asked},",
    }.get(change.demand, "Asking {instead} instead of {asked}")
    return Alternative(
        demand=change.demand,
        asked=change.asked,
        instead=change.instead,
        offer=offer,
        saved_each=saved,
        sentence=f"{wording.format(asked=change.asked, instead=change.instead)} {effect}{time}.",
    )


def _front(shop: _Shop, requirement: Requirement, base: Offer, quantity: int) -> tuple[Offer, ...]:
    """Return the offers over pass count and wire that no other beats."""
    offers = []
    for wire in _wires(shop, requirement, base):
        for count in range(1, len(shop.technology.passes) + 1):
            passes = passes_for(
                count,
                material=requirement.material,
                height_mm=requirement.height_mm,
                wire=wire,
                machine=requirement.machine,
                technology=shop.technology,
            )
            choice = PassChoice(wire=wire, passes=passes, limiting="none", further=(), findings=())
            offer = shop.offer(requirement, quantity=quantity, choice=choice)
            if offer is not None and offer.refusals <= base.refusals:
                offers.append(offer)
    kept = [o for o in offers if not any(_beats(other, o) for other in offers)]
    return tuple(sorted(kept, key=lambda o: o.each))


def _beats(one: Offer, other: Offer) -> bool:
    """Return whether one offer is as good in everything and better in something."""
    mine = (float(one.each), one.tolerance_um, one.ra_um)
    theirs = (float(other.each), other.tolerance_um, other.ra_um)
    return mine != theirs and all(a <= b for a, b in zip(mine, theirs, strict=True))
