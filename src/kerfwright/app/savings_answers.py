"""Why each step of a what-if, and each way of the front, costs what it does."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from kerfwright.app.offers import Offer
from kerfwright.app.what_if import Alternative, WhatIf
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.ranges import Range
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
    difference are those of the two prices, low less low and high less high.  Who brings it is told
    cause by cause: each moves both prices together, and the difference by what it moves one more
    than the other.
    """
    for number, one in enumerate(found.alternatives, start=1):
        yield from _step(one, number, found)
    for number, offer in enumerate(found.front, start=1):
        yield from _way(offer, number, found.currency)


def _step(one: Alternative, number: int, found: WhatIf) -> Iterator[Answer]:
    asked, so = found.as_asked, one.offer
    changed = (
        ("changed", one.demand),
        ("step", one.step.rstrip(",")),
        ("as asked", one.asked),
        ("instead", one.instead),
        ("pieces", float(found.quantity)),
    )
    # The contours of a step are found by their numbers too.
    also = f"{_STEP} {one.step}"
    about, money = f"saving {number}", f"amount_{found.currency}"
    # What is refused has no price and no time that anything could be saved from.
    if asked is not None and not found.is_refused:
        yield _answer(
            about,
            one.demand,
            (money, float(one.saved_each), _between(asked.each_range, so.each_range)),
            "price of one piece as asked - price with this demand changed, both computed whole",
            (*changed, ("each as asked", float(asked.each)), ("each so", float(so.each))),
            shares=_shares_between(asked, so),
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
    yield _answer(
        about,
        "machine time each less",
        (
            "minutes",
            one.machine_minutes_saved_each,
            _between(asked.minutes_range, so.minutes_range),
        ),
        f"machine time of one piece as asked - {_AGAIN}",
        (
            *changed,
            ("minutes as asked_min", asked.machine_minutes_each),
            ("minutes so_min", so.machine_minutes_each),
        ),
        shares=((_TOGETHER, 1.0),),
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


def _between(asked: Range, so: Range) -> Range:
    """Return the range of a difference of two that go up and down together."""
    ends = sorted((asked.low - so.low, asked.likely - so.likely, asked.high - so.high))
    likely = asked.likely - so.likely
    return Range(low=ends[0], likely=likely, high=ends[-1])


def _shares_between(asked: Offer, so: Offer) -> Shares:
    """Return who brings the uncertainty of a difference of two prices, by cause.

    ``d_c = s_asked sqrt(w_asked,c) - s_so sqrt(w_so,c)`` with the half ranges s of the prices and
    the shares w of their variance.
    """
    sides = []
    for offer in (asked, so):
        half = (offer.each_range.high - offer.each_range.low) / 2
        sides.append({c: half * math.sqrt(max(share, 0.0)) for c, share in offer.each_shares})
    causes = dict.fromkeys((*sides[0], *sides[1]))
    squares = {c: (sides[0].get(c, 0.0) - sides[1].get(c, 0.0)) ** 2 for c in causes}
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
