"""Documents of what each demand costs, made in the worker that priced it."""

from __future__ import annotations

from typing import Any

from kerfwright.adapters.json_shapes import plain
from kerfwright.adapters.papers.words import Units, in_unit
from kerfwright.app.offers import Offer
from kerfwright.app.records import JobResult
from kerfwright.app.what_if import WhatIf
from kerfwright.trade.part import LengthUnit
from kerfwright.workbench.outcome import nothing_instead

Document = dict[str, Any]
_INCHES = Units(unit=LengthUnit.INCH)
_MILLIMETRES = Units(unit=LengthUnit.MILLIMETRE)


def savings_shape(found: WhatIf) -> Document:
    """Return the savings, ranked, and the front of price against quality."""
    return {
        "currency": found.currency,
        "quantity": found.quantity,
        "is_refused": found.is_refused,
        "as_asked": None if found.as_asked is None else _offer(found.as_asked),
        "alternatives": [
            {
                "demand": one.demand,
                "asked": one.asked,
                "instead": in_unit(one.instead, _MILLIMETRES),
                "instead_inch": in_unit(one.instead, _INCHES),
                "saved_each": str(one.saved_each),
                "sentence": one.sentence,
                "sentence_inch": in_unit(one.sentence, _INCHES),
                "asks": dict(one.asks),
                "like": like,
                "offer": _offer(one.offer),
            }
            for one, like in zip(found.alternatives, found.alike, strict=True)
        ],
        "front": [_offer(one) for one in found.front],
        "front_remarks": [
            {"metric": in_unit(text, _MILLIMETRES), "inch": in_unit(text, _INCHES)}
            for text in (found.front_is_of, *found.front_remarks)
            if text
        ],
    }


def nothing_shape(found: JobResult, why: str) -> Document:
    """Return that nothing can be asked instead of a refused job, and why.

    Parameters
    ----------
    found : JobResult
    why : str
        The sentence, as the page says it.
    """
    return nothing_instead(
        in_unit(why, _MILLIMETRES),
        in_unit(why, _INCHES),
        currency=found.estimate.currency if found.estimate else "",
        quantity=found.request.quantities[0],
    )


def _offer(offer: Offer) -> Document:
    return {
        "each": str(offer.each),
        "machine_minutes_each": plain(offer.machine_minutes_each),
        "passes": offer.passes,
        "wire_mm": offer.wire_diameter_mm,
        "wire_name": offer.wire_name,
        "tolerance_um": plain(offer.tolerance_um),
        "ra_um": plain(offer.ra_um),
        "recast_um": plain(offer.recast_um),
        "asked": {
            "tolerance_um": plain(offer.asked.tolerance_um),
            "ra_um": plain(offer.asked.ra_um),
            "max_recast_um": plain(offer.asked.max_recast_um),
        },
        "asks": dict(offer.asks),
    }
