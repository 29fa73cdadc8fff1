"""What each demand costs, and the front of price against quality, as the terminal shows them."""

from __future__ import annotations

from kerfwright.app.changes import ONE_SHAPE
from kerfwright.app.enquiries import CONTOUR
from kerfwright.app.front import stands_as
from kerfwright.app.what_if import Alternative, Offer, WhatIf
from kerfwright.cli.output import Page
from kerfwright.cli.words import Show
from kerfwright.foundation.counts import counted
from kerfwright.foundation.directed import Use
from kerfwright.foundation.units import minutes_text


def _what_if_title(found: WhatIf) -> str:
    pieces = counted(found.quantity, "piece")
    if found.as_asked is None or found.as_asked.refusals:
        return f"What could be cut instead, for {pieces}: the job as asked is refused"
    return f"What each demand costs, for {pieces} at {found.currency} {found.as_asked.each}"


def show_what_if(page: Page, found: WhatIf, show: Show) -> None:
    """Show what each demand costs, in sentences, and the front of price against quality."""
    said = [
        pair for pair in zip(found.alternatives, found.alike, strict=True) if not pair[0].is_small
    ]
    page.heading(_what_if_title(found))
    for one, like in said:
        if like is None:
            page.line(show.told(one.sentence), indent=2)
    small = len(found.alternatives) - len(said)
    if small:
        page.line(
            f"{counted(small, 'other change')} of demands would save less than prices tell apart; "
            "--json has them.",
            indent=2,
        )
    if found.held_back:
        page.line(show.told(f"Held back: {found.held_back}"), indent=2)
    if any(like is not None for _, like in said):
        page.heading("More of the same kind, at nearly the price of one above")
    for one, like in said:
        if like is not None:
            page.line(show.told(one.sentence), indent=2)
    by_quantity = [
        *_row_as_asked(found),
        *(
            (show.told(f"{_label(one)}: {one.instead}"), *_each_at(one.offer))
            for one in found.alternatives
            if one.demand != "quantity"
        ),
    ]
    if found.quantities[1:] and by_quantity:
        page.heading("Each piece by quantity")
        page.table(("", *(str(q) for q in found.quantities)), by_quantity, left=(0,))
    if found.front:
        _show_front(page, found, show)
    for text in filter(None, (found.front_is_of, *found.front_remarks)):
        if text != found.held_back:
            page.line(show.told(text), indent=2)


def _row_as_asked(found: WhatIf) -> list[tuple[str, ...]]:
    asked = found.as_asked
    return [] if asked is None or asked.refusals else [("as asked", *_each_at(asked))]


def _show_front(page: Page, found: WhatIf, show: Show) -> None:
    """Show the front of price against quality."""
    page.heading("The cheapest for each quality asked for, wires of measured rate before others")
    with_recast = any(o.asked.max_recast_um is not None for o in found.front)
    asked = found.as_asked
    # What stands as asked is a demand, as in the sentences; what else stands there is promised.
    uses = [(o, Use.ASKED if asked and stands_as(o, asked) else Use.HELD) for o in found.front]
    page.table(
        (
            "passes", f"wire {show.unit.value}", "of", "each",
            *(f"at {q}" for q in found.quantities[1:]),
            f"± {show.tiny_unit}", f"Ra {show.roughness_unit}",
            *((f"recast {show.layer_unit}",) if with_recast else ()), "machine time", "",
        ),
        [
            (
                str(o.passes), show.wire(o.wire_diameter_mm), o.wire_name, *_each_at(o),
                show.limit(o.asked.tolerance_um, use=use),
                show.limit(o.asked.ra_um, use=use, is_roughness=True),
                *(
                    (show.limit(o.asked.max_recast_um, use=use, is_roughness=True),)
                    if with_recast else ()
                ),
                minutes_text(o.machine_minutes_each),
                "price as asked" if use is Use.ASKED else "",
            )
            for o, use in uses
        ],
        whole=(2,),
    )  # fmt: skip


def _label(one: Alternative) -> str:
    """Return what is changed, and where the demands are kept where that is what differs."""
    kept = "; ".join(name.removeprefix(CONTOUR) for name, _ in one.asks if name.startswith(CONTOUR))
    if one.demand == ONE_SHAPE:
        # Where the job's own lines change too, those contours keep what they ask now.
        is_alone = all(name.startswith(CONTOUR) for name, _ in one.asks)
        return f"{kept} alone" if is_alone else f"all but {kept}"
    return f"{one.demand}, {kept}" if kept else one.demand


def _each_at(offer: Offer) -> tuple[str, ...]:
    return tuple(str(each) for _, each in offer.each_at)
