"""Documents of what a drawing says, made in the worker that read it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.json_shapes import plain
from kerfwright.adapters.papers.words import in_unit
from kerfwright.app.drawing_says import Saying
from kerfwright.app.enquiries import Asked
from kerfwright.app.taking_over import Offer, TakingOver
from kerfwright.trade.part import Part
from kerfwright.trade.statements import Reading
from kerfwright.workbench.cut_shapes import INCHES

Document = dict[str, Any]


def says_shape(sayings: Sequence[Saying], asked: Asked, part: Part) -> list[Document]:
    """Return what a drawing says, with what a person can take over beside what is asked.

    Parameters
    ----------
    sayings : sequence of Saying
    asked : mapping of str to str
        The lines as they are.
    part : Part
    """
    taking = TakingOver(sayings, asked, part, fits=load_fits())
    return [
        {
            "asks": one.statement.asks.value,
            "text": one.statement.text,
            "readings": [_reading(r, taking.offer(r)) for r in one.statement.readings],
            "remark": one.statement.remark,
            "remark_inch": in_unit(one.statement.remark, INCHES),
            "where": plain(one.where),
            "sheet": one.sheet,
        }
        for one in sayings
    ]


def _reading(reading: Reading, offer: Offer) -> Document:
    return {
        "words": reading.words,
        "words_inch": in_unit(reading.words, INCHES),
        "asks": offer.lines,
        "is_taken": offer.is_taken,
        "stays": [plain(said) for said in offer.stays],
        "instead": [plain(said) for said in offer.instead],
        "looser": offer.looser,
        "of_picked": dict(offer.of_picked),
        "closer": list(offer.closer),
    }
