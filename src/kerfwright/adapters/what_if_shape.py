"""The JSON shape of a what-if."""

from __future__ import annotations

from typing import Any

from kerfwright.app.what_if import Offer, WhatIf


def what_if_shape(found: WhatIf) -> dict[str, Any]:
    """Return what each demand costs as JSON; prices are texts, to the cent.

    ``like`` is the place, from 0, of a better alternative of the same kind at nearly the same
    price; null for one that stands for itself.  ``as_asked`` is null where nothing can be planned
    as asked.
    """
    return {
        "currency": found.currency,
        "quantity": found.quantity,
        "quantities": list(found.quantities),
        "as_asked": None if found.as_asked is None else _offer_shape(found.as_asked),
        "alternatives": [
            {
                "demand": one.demand,
                "asked": one.asked,
                "instead": one.instead,
                "saved_each": str(one.saved_each),
                "saved_share": round(float(one.saved_share), 4),
                "machine_minutes_saved_each": round(one.machine_minutes_saved_each, 3),
                "sentence": one.sentence,
                "not_counted": one.not_counted,
                "not_measured": one.not_measured,
                "like": like,
                "offer": _offer_shape(one.offer),
            }
            for one, like in zip(found.alternatives, found.alike, strict=True)
        ],
        "front": [_offer_shape(one) for one in found.front],
        "front_is_of": found.front_is_of,
        "front_remarks": list(found.front_remarks),
    }


def _offer_shape(offer: Offer) -> dict[str, Any]:
    return {
        "each": str(offer.each),
        "each_at": [{"quantity": q, "each": str(each)} for q, each in offer.each_at],
        "machine_minutes_each": round(offer.machine_minutes_each, 3),
        "passes": offer.passes,
        "wire_diameter_mm": offer.wire_diameter_mm,
        "wire_name": offer.wire_name,
        "tolerance_um": offer.tolerance_um,
        "ra_um": offer.ra_um,
        "recast_um": offer.recast_um,
        "asked": {
            "tolerance_um": offer.asked.tolerance_um,
            "ra_um": offer.asked.ra_um,
            "max_recast_um": offer.asked.max_recast_um,
        },
        "asked_on": list(offer.asked_on),
        "refusals": offer.refusals,
    }
