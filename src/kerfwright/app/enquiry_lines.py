"""The lines of an enquiry: what their texts may mean, and the request they make."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from enum import StrEnum
from pathlib import Path

from kerfwright.app.enquiries import CONTOUR, LAYER, LINES, Asked, Enquiry
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import read_contour_demands
from kerfwright.foundation.errors import InputError, UnknownNameError
from kerfwright.foundation.units import length_mm
from kerfwright.planning.rules import CornerStyle
from kerfwright.process.technology import Flushing
from kerfwright.trade import roughness
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.fits import FitTable, tolerance_of_wall
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import LayerUse, LengthUnit

_MOST_LETTERS = 200
"""No line of a note block is longer; what is, was pasted by mistake."""
_MOST_PIECES = 100_000
"""More pieces than any wire machine cuts of one drawing."""


def request_of(
    enquiry: Enquiry, drawing: Path, *, tables: Path | None = None, shop: Path | None = None
) -> JobRequest | None:
    """Return the request of an enquiry; None while it lacks material or height."""
    if enquiry.missing:
        return None
    asked = enquiry.asked
    return JobRequest(
        drawing=drawing,
        material=asked["material"],
        height=asked["height"],
        quantities=read_quantities(asked.get("quantity", "1")),
        tolerance=asked.get("tolerance"),
        finish=asked.get("finish"),
        recast=asked.get("recast"),
        wire=asked.get("wire"),
        machine=asked.get("machine"),
        stock_margin=asked.get("stock-margin"),
        units=units_of(asked),
        nozzles=Flushing(asked.get("nozzles", Flushing.SEALED)),
        outside_corners=CornerStyle(asked.get("corners", CornerStyle.ROLL)),
        # A plain mapping: the request travels to another process.
        layer_uses=layer_uses_of(asked),
        contours=contours_of(asked),
        customer=asked.get("customer"),
        reference=asked.get("reference"),
        revision=asked.get("revision"),
        due=asked.get("due"),
        tables=tables,
        shop=shop,
    )


def units_of(asked: Asked) -> LengthUnit | None:
    """Return the unit that somebody said the drawing has."""
    return LengthUnit(asked["units"]) if asked.get("units") else None


def layer_uses_of(asked: Asked) -> dict[str, LayerUse]:
    """Return what somebody said the layers of the drawing are for."""
    return {
        name.removeprefix(LAYER): LayerUse(use)
        for name, use in asked.items()
        if name.startswith(LAYER)
    }


def contours_of(asked: Asked) -> dict[str, str]:
    """Return the demands on single contours."""
    return {
        name.removeprefix(CONTOUR): text for name, text in asked.items() if name.startswith(CONTOUR)
    }


def read_quantities(text: str) -> tuple[int, ...]:
    """Read ``"1, 5, 25"``: ascending, each once.

    Raises
    ------
    InputError
        Code ``quantity-unreadable``.
    """
    words = text.replace(";", ",").split(",")
    try:
        numbers = sorted({int(word) for word in words})
    except ValueError:
        numbers = []
    if not numbers or numbers[0] < 1 or numbers[-1] > _MOST_PIECES:
        raise InputError(
            f"{text!r} is not a number of pieces",
            code="quantity-unreadable",
            remedy=f"Write whole numbers from 1 to {_MOST_PIECES}, such as 4 or 1, 5, 25.",
        )
    return tuple(numbers)


def check_line(
    name: str,
    text: str,
    *,
    catalogue: Catalogue,
    machine_of: Callable[[str], Machine],
    fits: FitTable,
) -> None:
    """Refuse a text that its line cannot mean.

    Parameters
    ----------
    name : str
        One of :data:`LINES`.
    text : str
        Empty to take the line away.
    catalogue : Catalogue
    machine_of : callable
        Finds a machine by the name people write.
    fits : FitTable
        For a size with its fit, ``"12 H7"``.

    Raises
    ------
    KerfwrightError
        The message names the accepted forms, or the nearest names.
    """
    if name not in LINES and not name.startswith((LAYER, CONTOUR)):
        raise UnknownNameError(
            f"there is no line {name!r}; there are {', '.join(LINES)}", code="line-unknown"
        )
    if max(len(text), len(name)) > _MOST_LETTERS:
        raise InputError(
            f"{max(len(text), len(name))} letters are too many; a line has {_MOST_LETTERS}",
            code="line-too-long",
        )
    said = text.strip()
    if not said:
        return
    readers: dict[str, Callable[[str], object]] = {
        "material": catalogue.material,
        "height": lambda t: _above_nothing(length_mm(t, what="height"), t),
        "quantity": read_quantities,
        "tolerance": lambda t: tolerance_of_wall(t, table=fits),
        "finish": roughness.finish,
        "recast": lambda t: _above_nothing(length_mm(t, what="recast layer"), t),
        "wire": catalogue.wire,
        "machine": machine_of,
        "stock-margin": lambda t: _above_nothing(length_mm(t, what="stock margin"), t),
        "units": lambda t: _choice(t, LengthUnit),
        "nozzles": lambda t: _choice(t, Flushing),
        "corners": lambda t: _choice(t, CornerStyle),
        "due": _day,
    }
    if name.startswith(LAYER):
        _choice(said, LayerUse)
    elif name.startswith(CONTOUR):
        read_contour_demands({name.removeprefix(CONTOUR): said}, fits=fits)
    elif name in readers:
        readers[name](said)


def _above_nothing(value_mm: float, said: str) -> float:
    if not value_mm > 0:
        raise InputError(f"{said!r} must be above 0", code="requirement-value")
    return value_mm


def _choice(said: str, kind: type[StrEnum]) -> StrEnum:
    try:
        return kind(said)
    except ValueError:
        raise InputError(
            f"{said!r} is not one of {', '.join(m.value for m in kind)}", code="choice-unknown"
        ) from None


def _day(said: str) -> date:
    try:
        return date.fromisoformat(said)
    except ValueError:
        raise InputError(
            f"{said!r} is no date",
            code="date-unreadable",
            remedy="Write year, month and day, such as 2027-03-31: 3/4 means two days.",
        ) from None
