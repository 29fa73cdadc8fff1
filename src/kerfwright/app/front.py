"""The front of price against quality: each way at the price of asking for what it promises."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import product

from kerfwright.app.asks import asks_between
from kerfwright.app.demand_kinds import KINDS, names
from kerfwright.app.effects import doubts
from kerfwright.app.offers import Offer, Priced, Shop
from kerfwright.app.other_wires import bounds, is_as_good, is_known_here, most_each, not_told
from kerfwright.foundation.kept import Kept
from kerfwright.process.choice import JobPasses, choose_by_contour, passes_of
from kerfwright.process.technology import StockBy
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Demand, Requirement


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """The offers that no other beats.

    Attributes
    ----------
    offers : tuple of Offer
        Cheapest first.
    remarks : tuple of str
        What to know of them, a sentence or two each: what the job as asked surely holds
        beyond what is asked, and wires of which nothing was measured here.
    """

    offers: tuple[Offer, ...]
    remarks: tuple[str, ...]


def front(
    shop: Shop,
    requirement: Requirement,
    base: Priced,
    quantity: int,
    *,
    others: Sequence[Priced] = (),
    steps: Sequence[Priced] = (),
) -> Front:
    """Return the offers over pass count and wire that no other beats, and the job as asked.

    They are of one group of contours of which the same is asked, that of the offer as asked; the
    others keep what is asked of them.  Every offer is priced with all that it promises asked for.
    The job as asked is always one of them, with what is asked and no more; where all that its
    passes hold costs the same, that stands in its place.

    The passes are the same with any wire, and so is what they hold: of each count the cheapest
    wire counts, and the wire in use unless another saves more than the share below which prices
    are equal; a wire of another diameter has to save as much over those of the one in use.  Wires
    that could not save so much at best are not planned.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    base : Priced
        The job as asked.
    quantity : int
    others : sequence of Priced
        The job as asked with other wires; what saves enough is a row like any.
    steps : sequence of Priced
        The job as asked but for recast, with the lines that ask for it: those that change it on
        just this group are rows too, where no other beats them.
    """
    used = base.plan.choice.wire
    most = len(shop.technology.passes)

    chosen = Kept(most=len(shop.catalogue.wires))

    def own(wire: Wire) -> JobPasses:
        # What the job asks of a wire is the same whatever the count.
        return chosen.once(partial(_own, shop, requirement, wire), wire)

    def counted(wire: Wire, count: int, stock_by: StockBy | None = None) -> Priced | None:
        on = own(wire).of(base.offer.asked_on[0])
        stock_by = stock_by or on.stock_by
        return _counted(shop, requirement, base, wire, count, quantity, stock_by=stock_by)

    best = [
        _with_asks(shop.told_of(one, base.offer.asked_on), requirement)
        for one in others
        if float(one.offer.each) < most_each(shop, base, is_known=is_known_here(shop, one))
    ]
    # Where recast is limited, skims that take more hold less of it with as many passes.
    is_limited = base.offer.asked.max_recast_um is not None
    for count in range(1, most + 1):
        ours = counted(used, count)
        if ours is not None:
            best.append(_cheapest(shop, requirement, ours, counted, quantity))
        if is_limited and count > 1:
            raised = counted(used, count, StockBy.HURT_LAYER)
            best += [raised] if raised is not None else []
    best += [
        shop.told_of(one, base.offer.asked_on)
        for one in steps
        if _is_of(requirement, one.plan.requirement, base)
    ]
    rows = [one.offer for one in best if not one.offer.refusals]
    offers = _with_asked(unbeaten(rows), base.offer)
    wires = dict.fromkeys(not_told(shop, base, one) for one in best if one.offer in offers)
    return Front(offers=offers, remarks=(*_as_asked(shop, base, offers), *filter(None, wires)))


def _with_asked(rows: Sequence[Offer], asked: Offer) -> tuple[Offer, ...]:
    """Return rows with the job as asked, where it can be cut and none stands in its place.

    A row that it beats goes.
    """
    if asked.refusals:
        return tuple(rows)
    if any(stands_as(row, asked) for row in rows):
        return tuple(rows)
    kept = [row for row in rows if not _beats(asked, row) and _worth(asked) != _worth(row)]
    return tuple(sorted([*kept, asked], key=lambda o: o.each))


def stands_as(row: Offer, asked: Offer) -> bool:
    """Return whether a row is the job as asked: its work at its price, and no less promised.

    Parameters
    ----------
    row, asked : Offer
    """
    same = (row.each_at, row.passes, row.wire_diameter_mm, row.wire_name) == (
        asked.each_at, asked.passes, asked.wire_diameter_mm, asked.wire_name,
    )  # fmt: skip
    return same and all(a <= b for a, b in zip(_worth(row), _worth(asked), strict=True))


def _is_of(before: Requirement, after: Requirement, base: Priced) -> bool:
    """Return whether two requirements differ on just the contours that the front is of."""
    ids = base.offer.asked_on
    rest = [c.id for c in base.plan.part.to_cut if c.id not in ids]
    return len({after.demand_on(name) for name in ids}) == 1 and all(
        after.demand_on(name) == before.demand_on(name) for name in rest
    )


def _with_asks(one: Priced, requirement: Requirement) -> Priced:
    """Return the job as asked with another wire, with the line that asks for that wire."""
    wanted = replace(requirement, wire=one.plan.choice.wire)
    return replace(one, offer=replace(one.offer, asks=asks_between(requirement, wanted)))


def whose(base: Priced) -> str:
    """Say whose walls the front tells of where contours differ; empty where they are alike.

    Parameters
    ----------
    base : Priced
    """
    ids = base.offer.asked_on
    rest = [c.target.id for c in base.plan.contours if c.target.id not in ids]
    if not rest:
        return ""
    keeps = "keeps what is asked of it" if len(rest) == 1 else "keep what is asked of them"
    return (
        f"What a row promises is for {names(ids)}, {_OF_MOST_SKIMS}; {names(rest)} {keeps}, at "
        "every price."
    )


_OF_MOST_SKIMS = "the walls with the same demand that skims run over most"


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


def _as_asked(shop: Shop, base: Priced, offers: Sequence[Offer]) -> tuple[str, ...]:
    """Say what of the job as asked is not sure, and what it surely holds beyond that."""
    if base.offer.refusals:
        return ()
    found = [one.sentence for one in doubts(base, shop)]
    unsure = (" ".join((*found, _SO_ELSEWHERE)),) if found else ()
    if base.offer not in offers:
        return unsure
    promised, offer = base.offer.asked, base.offer
    held = (
        (promised.tolerance_um, offer.tolerance_um),
        (promised.ra_um, offer.ra_um),
        # Recast is told where it is limited, as in every row.
        (promised.max_recast_um or 0.0, offer.recast_um),
    )
    unit = base.plan.part.drawing_unit
    better = [
        kind.listed_offer(um)
        for kind, limit, um in (
            (kind, limit, kind.rounded(um, unit))
            for kind, (limit, um) in zip(KINDS, held, strict=True)
        )
        if um < (math.inf if limit is None else limit)
    ]
    if not better:
        return unsure
    beyond = (
        f"The job as asked promises what is asked and no more. {_walls(base)} "
        f"{', '.join(better)} surely, and likely better; neither is promised at this price."
    )
    return beyond, *unsure


_SO_ELSEWHERE = "So it is at every price here that keeps it, unless its sentence says otherwise."


def _walls(base: Priced) -> str:
    """Return whose walls a row tells of, as the beginning of a sentence."""
    ids = base.offer.asked_on
    if len(ids) == len(base.plan.contours):
        return "Its walls hold"
    return f"{names(ids)} {'holds' if len(ids) == 1 else 'hold'}"


def _cheapest(
    shop: Shop,
    requirement: Requirement,
    ours: Priced,
    counted: Callable[[Wire, int], Priced | None],
    quantity: int,
) -> Priced:
    """Return the passes of an offer with the wire that makes them cheapest."""
    used, best = ours.plan.choice.wire, ours
    every = bounds(shop, requirement, ours, quantity)
    # Known wires first, and of these the diameter in use: they run on the offsets that are made.
    for known, is_other in product((True, False), (False, True)):
        limit = most_each(shop, best, is_known=known)
        for bound in every:
            other = bound.wire.diameter_mm != used.diameter_mm
            if other is not is_other or bound.is_known is not known:
                continue
            # The cheapest bounds come first: what follows could save no more either.
            if bound.each >= limit:
                break
            priced = counted(bound.wire, ours.offer.passes)
            if priced is None or not is_as_good(priced, ours):
                continue
            if float(priced.offer.each) < limit:
                best, limit = priced, float(priced.offer.each)
    return best


def _counted(
    shop: Shop,
    requirement: Requirement,
    base: Priced,
    wire: Wire,
    count: int,
    quantity: int,
    *,
    stock_by: StockBy,
) -> Priced | None:
    """Return the offer with a wire and a number of passes on the contours that the front is of.

    It is priced as asked for: with all that these passes hold, to two digits, as demands, so that
    whoever asks for what the row says gets the price that it names.  The other contours keep what
    is asked of them.
    """
    ids = base.offer.asked_on
    passes = passes_of(
        count,
        requirement=requirement,
        wire=wire,
        technology=shop.technology,
        stock_by=stock_by,
    )
    held = shop.held(passes, requirement, wire)
    # The wire that the plan takes unasked is not asked for.
    free = [requirement.wire] if wire == base.plan.choice.wire else []
    for asked_wire in (*free, wire):
        wanted = _asking(requirement, base, held, wire=asked_wire)
        priced = shop.price(wanted, quantity=quantity)
        if priced is None or priced.offer.refusals:
            return None
        priced = shop.told_of(priced, ids)
        if priced.offer.passes == count and priced.plan.choice.wire == wire:
            lines = asks_between(requirement, wanted)
            return replace(priced, offer=replace(priced.offer, asks=lines))
    return None


def _own(shop: Shop, requirement: Requirement, wire: Wire) -> JobPasses:
    """Return the passes that the job asks for with a wire."""
    return choose_by_contour(
        replace(requirement, wire=wire),
        [c.id for c in shop.part.to_cut],
        technology=shop.technology,
        catalogue=shop.catalogue,
    )


def _asking(
    requirement: Requirement, base: Priced, held: Demand, *, wire: Wire | None
) -> Requirement:
    """Return the job asking of a group what is held: recast only where it is limited.

    The job's own lines say it where every other contour has such lines of its own: else those
    would ask it too.
    """
    ids, asked, unit = base.offer.asked_on, base.offer.asked, base.plan.part.drawing_unit
    limits = (
        (held.tolerance_um, True),
        (held.ra_um, True),
        (held.max_recast_um, asked.max_recast_um is not None),
    )
    fields = {
        kind.field: kind.rounded(um, unit)
        for kind, (um, is_told) in zip(KINDS, limits, strict=True)
        if um and is_told
    }
    others = [c.id for c in base.plan.part.to_cut if c.id not in ids]
    of_job = all(
        getattr(requirement.contours.get(name, Demand()), field) is not None
        for name in others
        for field in fields
    )
    own = {
        name: replace(requirement.contours.get(name, Demand()), **fields)
        for name in ids
        if not of_job or name in requirement.contours
    }
    after = replace(requirement, wire=wire, contours={**requirement.contours, **own})
    return replace(after, **fields) if of_job else after  # type: ignore[arg-type]


def _beats(one: Offer, other: Offer) -> bool:
    """Return whether one offer is as good in everything and better in something."""
    mine, theirs = _worth(one), _worth(other)
    return mine != theirs and all(a <= b for a, b in zip(mine, theirs, strict=True))


def _worth(one: Offer) -> tuple[float, ...]:
    """Return price and what is promised, all the better the smaller."""
    promised = one.asked.tolerance_um, one.asked.ra_um, one.asked.max_recast_um
    return float(one.each), *(math.inf if um is None else um for um in promised)
