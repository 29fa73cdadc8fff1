"""Other wires for a job: whole prices only of those that could pay, by a bound on each.

A wire of another kind or diameter cuts the same walls in passes of other feeds.  The lines of a
price that was worked out say what it could come to at best: the time of each pass goes with the
feeds, the wire used goes with the time, and neither a break nor a feed held for the wire is
counted.  Only a wire that could still pay so is planned and priced whole.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from kerfwright.app.demand_kinds import wire_text
from kerfwright.app.measured_here import is_known, not_measured
from kerfwright.app.offers import Priced, Shop
from kerfwright.costing.breaks import HELP, RETHREADING
from kerfwright.costing.estimate import MINIMUM, ROUNDING
from kerfwright.costing.records import TimeKind
from kerfwright.costing.stacked import loads_of
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.units import minutes_text
from kerfwright.process.choice import is_guided, passes_of
from kerfwright.process.consumption import wire_kg
from kerfwright.process.technology import Pass
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Requirement

_LEAST_MINUTES = 1.0
"""A wire that saves less of the machine's time a piece is not quicker."""
_SAME_RADIUS_MM = 0.0005
"""Inside radii that come out within it are the same."""
_BREAKS = frozenset({RETHREADING, HELP})
_MACHINE = frozenset({TimeKind.MACHINE_ATTENDED, TimeKind.MACHINE_UNATTENDED})
_RUNNING = frozenset({"electricity", "filters", "resin"})
"""Items that go with the time of cutting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """The best that a wire could do.

    Attributes
    ----------
    wire : Wire
    each : float
        Price of one piece that it does not fall below, to what the length of its path differs.
    minutes_each : float
        The same of the machine's time.
    is_known : bool
        Whether its rate is somebody's measurement.
    """

    wire: Wire
    each: float
    minutes_each: float
    is_known: bool


def bounds(shop: Shop, requirement: Requirement, base: Priced, quantity: int) -> tuple[Bound, ...]:
    """Return the bound of every other wire that the machine guides, the cheapest first.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    base : Priced
        The same passes with the wire in use.
    quantity : int
        At which it was priced.
    """
    used = base.plan.choice.wire
    found = (
        _bound(shop, requirement, base, wire, quantity)
        for wire in shop.catalogue.wires
        if wire != used
        and is_guided(wire, requirement.machine)
        and wire.diameter_mm >= shop.rules.thinnest_wire_mm
    )
    return tuple(sorted(found, key=lambda b: (b.each, b.minutes_each)))


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherWires:
    """What other wires would do for a job.

    Attributes
    ----------
    paying : tuple of Priced
        The cheapest and the quickest on the job's own demands, where they pay.
    held_back : str
        Which wire would have been the cheapest but that nobody measured it, and which such one the
        quickest; empty for none.
    """

    paying: tuple[Priced, ...]
    held_back: str = ""


def other_wires(shop: Shop, requirement: Requirement, base: Priced, quantity: int) -> OtherWires:
    """Return the cheapest and the quickest other wire on the job's own demands, where they pay.

    The cheapest saves at least the share below which prices are equal; the quickest saves that
    share of the machine's time, and a minute, over the wire in use and over the cheapest.  A wire
    whose rate nobody measured must save more than its own uncertainty to stand before a known one.
    Either reaches every corner that the wire in use reaches, and brings no warning that the job has
    not.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    base : Priced
        The job as asked.
    quantity : int
    """
    found = [base]
    for bound in bounds(shop, requirement, base, quantity):
        # What a known wire must beat are known ones: one that is not may come to nothing.
        rivals = [p for p in found if p is base or not bound.is_known or is_known_here(shop, p)]
        if bound.each >= min(float(p.offer.each) for p in rivals) and bound.minutes_each >= min(
            p.offer.machine_minutes_each for p in rivals
        ):
            continue
        priced = shop.price(replace(requirement, wire=bound.wire), quantity=quantity)
        if priced is not None and is_as_good(priced, base):
            found.append(priced)
    best = quick = base
    for known in (True, False):
        some = [p for p in found if p is not base and is_known_here(shop, p) is known]
        if not some:
            continue
        cheapest = min(some, key=lambda p: p.offer.each)
        if float(cheapest.offer.each) <= most_each(shop, best, is_known=known):
            best = cheapest
        least = min(p.offer.machine_minutes_each for p in some)
        # Of those that are as quick within the share, the cheapest.
        within = least * (1 + shop.rates.same_price_share)
        fast = min(
            (p for p in some if p.offer.machine_minutes_each <= within), key=lambda p: p.offer.each
        )
        if _is_quicker(shop, fast, quick):
            quick = fast
    pays = [] if best is base else [best]
    held = _held_back(shop, found, best, base)
    if all(_is_quicker(shop, quick, other) for other in (base, best)):
        first = min(found, key=lambda p: p.offer.each)
        # One that nobody measured either is not offered in place of one that would save more.
        if held and not is_known_here(shop, quick) and quick.offer.each > first.offer.each:
            held = f"{held} {_quickest_held(base, quick)}"
        else:
            pays.append(quick)
            held = "" if quick is first else held
    return OtherWires(paying=tuple(pays), held_back=held)


def by_diameter_alone(
    shop: Shop, requirement: Requirement, base: Priced, wire: Wire, quantity: int
) -> str:
    """Say what the kind of wire in use would save in the diameter of one of another kind.

    Empty where kind or diameter are those in use, or where no such wire can take its place.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    base : Priced
        The job as asked.
    wire : Wire
        The other one.
    quantity : int
    """
    used = base.plan.choice.wire
    if wire.kind == used.kind or wire.diameter_mm == used.diameter_mm:
        return ""
    plain = [
        w for w in shop.catalogue.wires if (w.kind, w.diameter_mm) == (used.kind, wire.diameter_mm)
    ]
    if not plain or not is_guided(plain[0], requirement.machine):
        return ""
    priced = shop.price(replace(requirement, wire=plain[0]), quantity=quantity)
    if priced is None or not is_as_good(priced, base):
        return ""
    saved = base.offer.each - priced.offer.each
    money = f"{shop.rates.currency} {saved} a piece" if saved > 0 else "nothing"
    return f"The kind in use would by itself save {money} in that diameter ({wire_text(plain[0])})."


def most_each(shop: Shop, over: Priced, *, is_known: bool) -> float:
    """Return the price up to which another wire stands before the one that is first so far.

    Parameters
    ----------
    shop : Shop
    over : Priced
        With the wire that is first.
    is_known : bool
        Whether the other's rate is somebody's measurement.
    """
    return (1 - _least_share(shop, over, is_known=is_known)) * float(over.offer.each)


def _least_share(shop: Shop, over: Priced, *, is_known: bool) -> float:
    rates = shop.rates
    if is_known or not is_known_here(shop, over):
        return rates.same_price_share
    return max(rates.same_price_share, rates.unmeasured_saving_share)


def is_known_here(shop: Shop, one: Priced) -> bool:
    """Return whether the rate of the wire of a price is somebody's measurement."""
    return is_known(one.plan.choice.wire, one.plan.passes, law=shop.technology.rough)


def not_told(shop: Shop, base: Priced, other: Priced) -> str:
    """Say that nothing was measured with a wire: here, where that in use was, or by anybody.

    Parameters
    ----------
    shop : Shop
    base : Priced
        The job as asked.
    other : Priced
        The same with another wire, perhaps.

    Returns
    -------
    str
        Empty where its rate is measured, or it is the same wire.
    """
    here = not_measured(base, other)
    wire = other.plan.choice.wire
    if here or wire == base.plan.choice.wire or is_known_here(shop, other):
        return here
    return (
        f"The rate of wire of {wire_text(wire)} is common practice and nobody's measurement; a "
        "recorded cut with it would tell."
    )


def _held_back(shop: Shop, found: list[Priced], best: Priced, base: Priced) -> str:
    """Say which wire would be cheapest by a rate that nobody measured, and by how much."""
    one = min(found, key=lambda p: p.offer.each)
    ours, theirs = float(best.offer.each), float(one.offer.each)
    if theirs > (1 - shop.rates.same_price_share) * ours or is_known_here(shop, one):
        return ""
    return (
        f"Wire of {wire_text(one.plan.choice.wire)} would cost {shop.rates.currency} "
        f"{one.offer.each} a piece, {1 - theirs / ours:.0%} less than "
        f"{wire_text(best.plan.choice.wire)} at {best.offer.each}, by a rate that is common "
        "practice and nobody's measurement; it is put first from "
        f"{_least_share(shop, best, is_known=False):.0%} on. A recorded cut with it would tell."
        + (f" No wire of measured rate saves {shop.rates.same_price_share:.0%}." * (best is base))
    )


def _quickest_held(base: Priced, quick: Priced) -> str:
    """Say which wire would be the quickest by such a rate too."""
    minutes = base.offer.machine_minutes_each - quick.offer.machine_minutes_each
    return (
        f"By such a rate too wire of {wire_text(quick.plan.choice.wire)} takes "
        f"{minutes_text(minutes)} of machine time less, at {quick.offer.each}."
    )


def _is_quicker(shop: Shop, one: Priced, other: Priced) -> bool:
    share = _least_share(shop, other, is_known=is_known_here(shop, one))
    mine, theirs = one.offer.machine_minutes_each, other.offer.machine_minutes_each
    return theirs - mine >= max(share * theirs, _LEAST_MINUTES)


def is_as_good(one: Priced, base: Priced) -> bool:
    """Return whether nothing is refused, warned of or cut short that is not so with the base.

    Parameters
    ----------
    one : Priced
        With another wire.
    base : Priced
        With the wire in use.
    """
    if one.offer.refusals:
        return False
    known = {f.code for f in base.plan.findings if f.severity is Severity.WARNING}
    if any(f.severity is Severity.WARNING and f.code not in known for f in one.plan.findings):
        return False
    before = base.short_radii_mm
    return all(
        radius_mm <= before.get(name, -math.inf) + _SAME_RADIUS_MM
        for name, radius_mm in one.short_radii_mm.items()
    )


def _bound(shop: Shop, requirement: Requirement, base: Priced, wire: Wire, quantity: int) -> Bound:
    plan, price = base.plan, base.estimate.prices[0]
    passes = passes_of(
        len(plan.passes),
        requirement=requirement,
        wire=wire,
        technology=shop.technology,
        stock_by=plan.choice.stock_by,
    )
    by_pass = {
        one.number: one.feed_mm_per_min / other.feed_mm_per_min
        for one, other in zip(plan.passes, passes, strict=True)
    }
    # The wire in use may be held to its margin in the rough pass; this one perhaps is not.
    by_pass[1] *= min(c.flushing.least_margin_factor for c in plan.contours)
    factors = dict.fromkeys(_BREAKS, 0.0)
    saved_min = before_min = after_min = 0.0
    for line in base.estimate.times:
        minutes, factor = line.minutes.likely, factors.get(line.operation, 1.0)
        if line.pass_number is not None:
            factor = factors[line.operation] = by_pass[line.pass_number]
            before_min += minutes
            after_min += minutes * factor
        if line.kind in _MACHINE:
            saved_min += minutes * (1 - factor)
    running = after_min / before_min if before_min else 1.0
    factors |= dict.fromkeys(_RUNNING, running)
    theirs = _worth_a_minute(wire) * min(_use(p) for p in passes)
    ours = _worth_a_minute(plan.choice.wire) * max(_use(p) for p in plan.passes)
    # Wire that costs nothing tells nothing of what another costs: nothing is ruled out by it.
    factors["wire"] = running * theirs / ours if ours else 0.0
    total = math.fsum(
        float(line.likely) * factors.get(line.item, 1.0)
        for line in price.lines
        if line.item not in {MINIMUM, ROUNDING}
    )
    loads_each = loads_of(plan, quantity) / quantity
    return Bound(
        wire=wire,
        each=max(total, float(shop.rates.minimum_order)) / quantity,
        minutes_each=base.offer.machine_minutes_each - saved_min * loads_each,
        is_known=is_known(wire, passes, law=shop.technology.rough),
    )


def _worth_a_minute(wire: Wire) -> float:
    """Return what the wire of a minute costs, as the tables have it."""
    return wire_kg(1.0, wire=wire) * wire.price_per_kg


def _use(one: Pass) -> float:
    """Return the factor on the wire used in a minute that was measured for a pass."""
    return one.learned.wire_factor if one.learned else 1.0
