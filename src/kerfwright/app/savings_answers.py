"""Why each step of a what-if, and each way of the front, costs what it does."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from kerfwright.app.offers import Offer
from kerfwright.app.what_if import Alternative, WhatIf
from kerfwright.costing.cut_spread import CUTTING
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Reason, Shares, Source, SourceTag

_COMPUTED: Final = Source(tag=SourceTag.COMPUTED)
_STEP: Final = "what-if what if alternative step changed"
_WAY: Final = "front what-if what if quality passes wire"
_TOGETHER: Final = "what makes both dearer or cheaper"
_TIMES: Final = "cutting rate and people together"
_AGAIN: Final = "the whole job planned and priced again with what is changed"


def savings_answers(found: WhatIf) -> Iterator[Answer]:
    """Yield why each saving and each way of the front is what it is.

    Parameters
    ----------
    found : WhatIf

    Notes
    -----
    What makes the job as asked dear makes it dear with one thing changed too: the ends of a
    difference are those of the two prices, low less low and high less high.  That holds of what
    both are unsure of.  An unknown beyond routine work (a height, a wire, a material) moves each
    price by what goes with it there, by nothing where it has none of it; the difference by what it
    moves one more than the other.  These are independent of the rest, and added by the squares.
    Who brings a range is told cause by cause in the same way.
    """
    for number, one in enumerate(found.alternatives, start=1):
        yield from _step(one, number, found)
    for number, offer in enumerate(found.front, start=1):
        yield from _way(offer, number, found.currency)


def _step(one: Alternative, number: int, found: WhatIf) -> Iterator[Answer]:
    # Of several orders a stack may be told of another one than the first.
    asked, so = one.of, one.offer
    changed = (
        ("changed", one.demand),
        ("step", one.step.rstrip(",")),
        ("as asked", one.asked),
        ("instead", one.instead),
        ("pieces", float(one.pieces)),
    )
    # The contours of a step are found by their numbers too.
    also = f"{_STEP} {one.step}"
    about, money = f"saving {number}", f"amount_{found.currency}"
    # What is refused has no price and no time that anything could be saved from.
    if asked is not None and not found.is_refused:
        prices = _price_of(asked), _price_of(so)
        yield _answer(
            about,
            one.demand,
            (money, float(one.saved_each), _between(*prices)),
            "price of one piece as asked - price with this demand changed, both computed whole",
            (*changed, ("each as asked", float(asked.each)), ("each so", float(so.each))),
            shares=_shares_between(*prices),
            also=also,
        )
    yield _answer(
        about,
        "price each so",
        (money, float(so.each), so.each_range),
        f"{_AGAIN}; one piece",
        (*changed, *_cut_with(so)),
        shares=so.each_shares,
        also=also,
    )
    if asked is None or found.is_refused:
        return
    times = _time_of(asked), _time_of(so)
    yield _answer(
        about,
        "machine time each less",
        ("minutes", one.machine_minutes_saved_each, _between(*times)),
        f"machine time of one piece as asked - {_AGAIN}",
        (
            *changed,
            ("minutes as asked_min", asked.machine_minutes_each),
            ("minutes so_min", so.machine_minutes_each),
        ),
        shares=_shares_between(*times),
        also=also,
    )


def _way(offer: Offer, number: int, currency: str) -> Iterator[Answer]:
    promised = tuple(
        (name, um)
        for name, um in (
            ("asks_um", offer.asked.tolerance_um),
            ("asks_ra_um", offer.asked.ra_um),
            ("asks_recast_um", offer.asked.max_recast_um),
        )
        if um is not None
    )
    yield _answer(
        f"way {number}",
        "price each",
        (f"amount_{currency}", float(offer.each), offer.each_range),
        "price of one piece, computed whole with these passes and this wire and with all "
        "that it asks; a way that another beats in price and in what it asks is left out",
        (
            *_cut_with(offer),
            *promised,
            ("surely holds_um", offer.tolerance_um),
            ("surely ra_um", offer.ra_um),
            ("surely recast_um", offer.recast_um),
            ("machine minutes_min", offer.machine_minutes_each),
        ),
        shares=offer.each_shares,
        also=_WAY,
    )
    yield _answer(
        f"way {number}",
        "machine time each",
        ("minutes", offer.machine_minutes_each, offer.minutes_range),
        "machine hours of all pieces over their number, planned whole with these passes and this "
        "wire and with all that it asks",
        (*_cut_with(offer), *promised),
        shares=((_TIMES, 1.0),),
        also=_WAY,
    )


def _cut_with(offer: Offer) -> tuple[tuple[str, float | str], ...]:
    return (
        ("passes", float(offer.passes)),
        ("wire_mm", offer.wire_diameter_mm),
        ("wire", offer.wire_name),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """One of two amounts whose difference is asked for.

    Attributes
    ----------
    whole : Range
    shares : Shares
        What makes it.
    feeds : str
        That of them which the feeds bring.
    moves : mapping of str to (float, float)
        By unknown beyond routine, what it adds at its quick end and at its slow one (10-90 %).
    """

    whole: Range
    shares: Shares
    feeds: str
    moves: Mapping[str, tuple[float, float]]

    @property
    def routine(self) -> Range:
        """Its range without what is beyond routine."""
        likely = self.whole.likely
        quick, slow = (math.hypot(*(ends[at] for ends in self.moves.values())) for at in (0, 1))
        return Range(
            low=likely - _less(likely - self.whole.low, quick),
            likely=likely,
            high=likely + _less(self.whole.high - likely, slow),
        )

    @property
    def halves(self) -> dict[str, float]:
        """Half of its range by cause, what is beyond routine apart from the other feeds."""
        half = (self.whole.high - self.whole.low) / 2
        found = {cause: half * math.sqrt(max(share, 0.0)) for cause, share in self.shares}
        beyond = {level: (slow - quick) / 2 for level, (quick, slow) in self.moves.items()}
        found[self.feeds] = _less(found.get(self.feeds, 0.0), math.hypot(*beyond.values()))
        return found | beyond


def _price_of(offer: Offer) -> _Side:
    parts = [(part.level, part.sigma_log, part.each) for part in offer.feed_parts]
    moves = _moves(parts)
    return _Side(whole=offer.each_range, shares=offer.each_shares, feeds=CUTTING, moves=moves)


def _time_of(offer: Offer) -> _Side:
    parts = [(part.level, part.sigma_log, part.minutes) for part in offer.feed_parts]
    moves = _moves(parts)
    shares = ((_TOGETHER, 1.0),)
    return _Side(whole=offer.minutes_range, shares=shares, feeds=_TOGETHER, moves=moves)


def _moves(parts: list[tuple[str, float, float]]) -> dict[str, tuple[float, float]]:
    """Return by unknown what its two ends add to a sum of parts, each with its own deviation."""
    found: dict[str, tuple[float, float]] = {}
    for level, sigma_log, value in parts:
        quick, slow = found.get(level, (0.0, 0.0))
        out = Z_10_90 * sigma_log
        found[level] = quick + value * math.expm1(-out), slow + value * math.expm1(out)
    return found


def _less(whole: float, part: float) -> float:
    """Return what of a deviation is left without an independent part of it."""
    return math.sqrt(max(0.0, whole**2 - part**2))


def _between(asked: _Side, so: _Side) -> Range:
    """Return the range of a difference: routine together, each unknown beyond it by itself."""
    mine, theirs = asked.routine, so.routine
    likely = mine.likely - theirs.likely
    pairs = [(mine.low - theirs.low - likely, mine.high - theirs.high - likely)]
    for level in dict.fromkeys((*asked.moves, *so.moves)):
        ours, other = (side.moves.get(level, (0.0, 0.0)) for side in (asked, so))
        pairs.append((ours[0] - other[0], ours[1] - other[1]))
    return Range(
        low=likely - math.hypot(*(min(0.0, *pair) for pair in pairs)),
        likely=likely,
        high=likely + math.hypot(*(max(0.0, *pair) for pair in pairs)),
    )


def _shares_between(asked: _Side, so: _Side) -> Shares:
    """Return who brings the uncertainty of a difference, by cause.

    ``d_c = h_asked,c - h_so,c`` with the half ranges h that each cause makes.
    """
    ours, other = asked.halves, so.halves
    causes = dict.fromkeys((*ours, *other))
    squares = {c: (ours.get(c, 0.0) - other.get(c, 0.0)) ** 2 for c in causes}
    whole = math.fsum(squares.values())
    if not whole:
        return ((_TOGETHER, 1.0),)
    return tuple((cause, square / whole) for cause, square in squares.items() if square)


def _answer(
    about: str,
    name: str,
    what: tuple[str, float, Range],
    formula: str,
    inputs: tuple[tuple[str, float | str], ...],
    *,
    shares: Shares,
    also: str,
) -> Answer:
    quantity, value, span = what
    return Answer(
        about=about,
        name=name,
        path="",
        reason=Reason(
            quantity=quantity,
            value=value,
            formula=formula,
            inputs=inputs,
            source=_COMPUTED,
            range=span,
            shares=shares,
        ),
        also=also,
    )
