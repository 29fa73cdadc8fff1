"""Lines of the ledger: how each is called, and what may be written into it."""

from __future__ import annotations

from typing import Final

from kerfwright.app.clamp_zones import ZONE_FORM
from kerfwright.app.enquiries import (
    CONTOUR,
    CORELESS,
    LAYER,
    LEAD_IN,
    LINES,
    ROLE,
    START,
    TAB,
    TAB_WIDTH,
    TAPER,
)
from kerfwright.app.tapers import TAPER_SHORT
from kerfwright.foundation.places import PLACE_FORMS
from kerfwright.foundation.units import LENGTH_FORMS, TOLERANCE_FORMS
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.part import ContourUse
from kerfwright.trade.stack import MOST_SHEETS, Holding
from kerfwright.trade.strings import StringWish

_MOST_NAMED: Final = 6
TITLES: Final = {
    "customer": ("Customer", "Name or number of the customer"),
    "reference": ("Their number", "Order or enquiry number of the customer, for the papers"),
    "revision": ("Drawing revision", "As on the drawing: A, 3, C2"),
    "due": ("Wanted by", "Year-month-day, such as 2027-03-31"),
    "material": ("Material", "A name the trade uses: D2, 1.2379, C270 brass"),
    "height": ("Height", f"Along the wire: {LENGTH_FORMS}"),
    "quantity": ("Quantity", "4, or several to price: 1, 5, 25 or 1 5 25"),
    "stack": (
        "Stack",
        (
            f"Sheets that become parts at once, 1 to {MOST_SHEETS}, or auto for what costs least "
            "at each quantity; Height is then that of one sheet"
        ),
    ),
    "holding": ("Holding", f"What keeps a stack together: {', '.join(Holding)}"),
    "covers": ("Covers", "Scrap sheets of a stack, above and below: a whole number, 0 for none"),
    "tolerance": ("Tolerance", TOLERANCE_FORMS),
    "finish": ("Finish", "Ra 0.8 µm, 32 µin, N6"),
    "recast": ("Recast layer", "Deepest allowed, such as 5 µm or 0.0002 in"),
    "wire": ("Wire", "Left empty, the plan chooses; else 0.25 mm or 0.010 in, unit or not"),
    "machine": ("Machine", "Name of a machine definition"),
    "units": ("Drawing is in", "mm or in, where the drawing does not say"),
    "solid": ("Solid", "Which one, where the file holds several: 1, 2"),
    "wire-along": ("Wire along", "Its way through the solid: x, -y, z, or such as 0 0.5 1"),
    "nozzles": ("Nozzles", "How far they close on the faces: sealed, one-open, both-open"),
    "corners": ("Outside corners", "roll round them, or extend past them"),
    "coreless": ("Insides", f"Cut away whole instead of a slug: {', '.join(CorelessWish)}"),
    "strings": (
        "Threading",
        f"Once for outlines that lie side by side, on a string: {', '.join(StringWish)}",
    ),
    "stock-margin": ("Stock around", "Where no stock is drawn, such as 8 mm"),
    "clamps": ("Clamps", f"Which the nozzles keep away from: {ZONE_FORM}; several with ; between"),
}


_OF_LAYERS: Final = "What a layer is for: opening, outline, ignore, start, stock or clamp"
_OF_CONTOURS: Final = {
    CONTOUR: ("Contour", "Demands of its own: tolerance ±0.0025 mm, finish Ra 0.4 µm"),
    ROLE: ("Role of", f"What a contour is: {', '.join(ContourUse)}"),
    START: ("Start of", f"Where its start hole is: {PLACE_FORMS}"),
    LEAD_IN: ("Lead-in of", f"Where it meets the wall: {PLACE_FORMS}"),
    TAB: ("Tab of", f"Where its middle is on the wall: {PLACE_FORMS}"),
    TAB_WIDTH: ("Tab width of", "How wide it is, such as 2 mm or 0.08 in"),
    TAPER: ("Taper of", f"{TAPER_SHORT}; land=3mm, relief=0.5°; sides=2:0° 4-5:2° after a comma"),
    CORELESS: ("Inside of", f"Cut away whole instead of a slug: {', '.join(CorelessWish)}"),
}


def title_and_hint(name: str) -> tuple[str, str]:
    """Return title and hint of a line; of one about a layer or single contours with their names."""
    if name in TITLES:
        return TITLES[name]
    if name.startswith(LAYER):
        return f"Layer {name.removeprefix(LAYER)}", (_OF_LAYERS)
    begin = next(b for b in _OF_CONTOURS if name.startswith(b))
    title, hint = _OF_CONTOURS[begin]
    ids = name.removeprefix(begin).split(",")
    if begin == CONTOUR and len(ids) > 1:
        title = "Contours"
    return f"{title} {first_ids(ids)}", hint


def first_ids(ids: list[str]) -> str:
    """Return names of contours, the first of many."""
    shown = ", ".join(ids[:_MOST_NAMED])
    return f"{shown} and {len(ids) - _MOST_NAMED} more" if len(ids) > _MOST_NAMED else shown


def lines_said() -> str:
    """Return every line with what may be written into it, a line each."""
    each = [f"- `{name}`: {TITLES[name][1]}" for name in LINES]
    each.append(f"- `{LAYER}NAME`: {_OF_LAYERS}")
    each += [f"- `{begin}H1`: {hint}" for begin, (_, hint) in _OF_CONTOURS.items()]
    return "\n".join(each)
