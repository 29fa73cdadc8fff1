"""The lines of an enquiry: what their texts may mean, and the request they make."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Final
from unicodedata import category

from kerfwright.app.asked_stacks import covers_asked, pieces_asked
from kerfwright.app.clamp_zones import clamps_asked
from kerfwright.app.enquiries import (
    CONTOUR,
    CORELESS,
    LAYER,
    LEAD_IN,
    LINES,
    OF_CONTOURS,
    PLACES,
    ROLE,
    START,
    TAB,
    TAB_WIDTH,
    TAPER,
    Asked,
    Enquiry,
    single_lines,
)
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import (
    ALL_CONTOURS,
    DEMANDS,
    named_demands,
    read_contour_demands,
    read_height_mm,
    read_recast_um,
)
from kerfwright.app.tapers import as_wall, check_wall_line
from kerfwright.foundation.errors import InputError, UnknownNameError
from kerfwright.foundation.places import place_mm
from kerfwright.foundation.units import length_mm
from kerfwright.planning.rules import CornerStyle
from kerfwright.process.technology import Flushing
from kerfwright.trade import roughness
from kerfwright.trade.asked_sizes import not_of_a_size, read_asked_limits
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.fits import FitTable, is_symbol, tolerance_of_wall
from kerfwright.trade.machine import Machine
from kerfwright.trade.part import ContourUse, LayerUse, LengthUnit
from kerfwright.trade.stack import Holding
from kerfwright.trade.strings import StringWish
from kerfwright.trade.wire_ways import way_asked

_MOST_LETTERS = 200
"""No line of a note block is longer; what is, was pasted by mistake."""
_SUCH_AS = {"layer": "WINDOWS", "contour": "H1"}
_NO_LETTERS = frozenset({"Cc", "Cs"})
"""Controls, and halves of a letter (Unicode, general categories)."""
_BEFORE_PIECES = re.compile(r"(?:qty\.?:?|quantity:?)\s*")
_PIECES = re.compile(r"(\d{1,6})\s*(?:x|off|pcs?\.?|pieces?|req'?d\.?|required|ea\.?)?")
_THOUSANDS = re.compile(r"[1-9]\d{0,2}(?:\s\d{3})+")
"""A blank is a thousands mark too (ISO 80000-1, 7.3.1, from memory)."""
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
        height=asked.get("height", ""),
        quantities=read_quantities(asked.get("quantity", "1")),
        stack=asked.get("stack"),
        holding=Holding(asked.get("holding", Holding.CLAMPED)),
        covers=asked.get("covers"),
        tolerance=asked.get("tolerance"),
        finish=asked.get("finish"),
        recast=asked.get("recast"),
        wire=asked.get("wire"),
        machine=asked.get("machine"),
        stock_margin=asked.get("stock-margin"),
        clamps=asked.get("clamps"),
        units=units_of(asked),
        solid=solid_of(asked),
        wire_along=asked.get("wire-along"),
        nozzles=Flushing(asked.get("nozzles", Flushing.SEALED)),
        strings=StringWish(asked.get("strings", StringWish.NEVER)),
        outside_corners=CornerStyle(asked.get("corners", CornerStyle.ROLL)),
        # A plain mapping: the request travels to another process.
        layer_uses=layer_uses_of(asked),
        contours=texts_of(asked, CONTOUR),
        roles=roles_of(asked),
        starts=texts_of(asked, START),
        lead_ins=texts_of(asked, LEAD_IN),
        tabs=texts_of(asked, TAB),
        tab_widths=texts_of(asked, TAB_WIDTH),
        coreless=coreless_of(asked),
        tapers={name: as_wall(text) for name, text in texts_of(asked, TAPER).items()},
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


def solid_of(asked: Asked) -> int | None:
    """Return which solid of its file somebody named."""
    return _count(asked["solid"]) if asked.get("solid") else None


def layer_uses_of(asked: Asked) -> dict[str, LayerUse]:
    """Return what somebody said the layers of the drawing are for."""
    return {
        name.removeprefix(LAYER): LayerUse(use)
        for name, use in asked.items()
        if name.startswith(LAYER)
    }


def texts_of(asked: Asked, begin: str) -> dict[str, str]:
    """Return what the lines of one beginning say, by contour."""
    return {
        name.removeprefix(begin): text for name, text in asked.items() if name.startswith(begin)
    }


def roles_of(asked: Asked) -> dict[str, ContourUse]:
    """Return what somebody said that single contours are."""
    return {name: ContourUse(text) for name, text in texts_of(asked, ROLE).items()}


def coreless_of(asked: Asked) -> dict[str, str]:
    """Return what somebody said of the inside of openings, by contour and for all of them."""
    found = texts_of(asked, CORELESS)
    return found | {ALL_CONTOURS: asked["coreless"]} if asked.get("coreless") else found


def own_lines(asked: Asked, contour_ids: Iterable[str], demands: Mapping[str, str]) -> Asked:
    """Return the lines by which some contours ask something of their own.

    What each of them asks beside it stays.

    Parameters
    ----------
    asked : mapping of str to str
    contour_ids : iterable of str
    demands : mapping of str to str
        By the name of the demand, ``"tolerance"``; an empty text leaves it to the job again.

    Raises
    ------
    InputError
        If a demand has another name.

    Examples
    --------
    >>> own_lines({"contour H1": "finish=Ra 0.4 µm"}, ["H1", "H2"], {"tolerance": "±2 µm"})
    {'contour H1': 'tolerance=±2 µm, finish=Ra 0.4 µm', 'contour H2': 'tolerance=±2 µm'}
    """
    odd = [name for name in demands if name not in DEMANDS]
    if odd:
        raise UnknownNameError(
            f"a contour has no demand {odd[0]!r} of its own; it has {', '.join(DEMANDS)}",
            code="demand-unknown",
        )
    lines = {}
    for name in (f"{CONTOUR}{one.upper()}" for one in contour_ids):
        before = named_demands(asked[name], name) if asked.get(name) else {}
        after = before | {what: text.strip() for what, text in demands.items()}
        lines[name] = ", ".join(f"{what}={after[what]}" for what in DEMANDS if after.get(what))
    return lines


def read_quantities(text: str) -> tuple[int, ...]:
    """Read ``"1, 5, 25"``, ``"1 5 25"``, ``"4 off"``, ``"qty 4"``: ascending, each once.

    Between numbers stand commas, semicolons, slashes, blanks or the word *and*.

    Raises
    ------
    InputError
        Code ``quantity-unreadable``, or ``quantity-ambiguous`` where a blank may be a thousands
        mark.

    Examples
    --------
    >>> read_quantities("25 pcs 1 5"), read_quantities("qty 4"), read_quantities("1/5;25")
    ((1, 5, 25), (4,), (1, 5, 25))
    """
    said = text.strip().lower()
    if _THOUSANDS.fullmatch(said):
        raise InputError(
            f"{text!r} may be one number of pieces or several",
            code="quantity-ambiguous",
            remedy=f"Write {''.join(said.split())} for one, or {', '.join(said.split())}.",
        )
    parts = re.split(r"\s*(?:[,;/]|\band\b)\s*", said)
    words = [w for part in parts for w in re.split(r"\s+(?=\d)", _BEFORE_PIECES.sub("", part))]
    found = [_PIECES.fullmatch(word) for word in words]
    numbers = sorted({int(match[1]) for match in found if match is not None})
    if len(found) != sum(match is not None for match in found):
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
    if name not in LINES and not name.startswith((LAYER, *OF_CONTOURS)):
        raise UnknownNameError(
            f"there is no line {name!r}; there are {', '.join(LINES)}", code="line-unknown"
        )
    _expect_writable(name, text)
    said = text.strip()
    if not said:
        return
    readers: dict[str, Callable[[str], object]] = {
        "material": catalogue.material,
        "height": read_height_mm,
        "quantity": read_quantities,
        "stack": pieces_asked,
        "holding": lambda t: _choice(t, Holding),
        "covers": covers_asked,
        "tolerance": lambda t: tolerance_of_wall(not_of_a_size(t), table=fits),
        "finish": roughness.finish,
        "recast": lambda t: _above_nothing(read_recast_um(t), t),
        "wire": catalogue.wire,
        "machine": machine_of,
        "stock-margin": lambda t: _above_nothing(length_mm(t, what="stock margin"), t),
        "units": lambda t: _choice(t, LengthUnit),
        "solid": _count,
        "wire-along": way_asked,
        "nozzles": lambda t: _choice(t, Flushing),
        "corners": lambda t: _choice(t, CornerStyle),
        "coreless": lambda t: _choice(t, CorelessWish),
        "clamps": clamps_asked,
        "strings": lambda t: _choice(t, StringWish),
        "due": _day,
    }
    if name.startswith(LAYER):
        _choice(said, LayerUse)
    elif name.startswith(ROLE):
        _choice(said, ContourUse)
    elif name.startswith(CORELESS):
        _choice(said, CorelessWish)
    elif name.startswith(TAPER):
        check_wall_line(name.removeprefix(TAPER), said)
    elif name.startswith(PLACES):
        place_mm(said, what=name)
    elif name.startswith(TAB_WIDTH):
        _above_nothing(length_mm(said, what=name), said)
    elif name.startswith(CONTOUR):
        read_contour_demands(_of_some_size(name.removeprefix(CONTOUR), said), fits=fits)
    elif name in readers:
        readers[name](said)


def _expect_writable(name: str, text: str) -> None:
    """Refuse a line that names nothing, is too long, or holds signs that nobody writes."""
    names = single_lines(name)
    if not names or name.strip() == LAYER.strip():
        what = "layer" if name.strip() == LAYER.strip() else "contour"
        raise InputError(
            f"the line {name!r} names no {what}",
            code="line-names-nothing",
            remedy=f"Write the {what} behind it: {name.strip()} {_SUCH_AS[what]}.",
        )
    longest = max(len(one) for one in (text, *names))
    if longest > _MOST_LETTERS:
        raise InputError(
            f"{longest} letters are too many; a line has {_MOST_LETTERS}",
            code="line-too-long",
            remedy="Say it in fewer words.",
        )
    odd = next((c for c in name + text if category(c) in _NO_LETTERS and c not in "\t\r\n"), "")
    if odd:
        raise InputError(
            f"the line holds U+{ord(odd):04X}, which is no letter and shows nowhere",
            code="line-unprintable",
            remedy="Write the line anew rather than paste it.",
        )


def _of_some_size(ids: str, said: str) -> dict[str, str]:
    """Return a demand to be checked where its contours, and so their sizes, are not known."""
    texts = named_demands(said, ids)
    tolerance = texts.get("tolerance", "")
    if is_symbol(tolerance):
        texts["tolerance"] = f"{_ANY_SIZE_MM} {tolerance}"
    elif (limits := read_asked_limits(tolerance)) is not None:
        texts["tolerance"] = limits.words
    return {ids: ", ".join(f"{what}={text}" for what, text in texts.items())}


_ANY_SIZE_MM: Final = 10
"""A size for which every usual letter and grade has a zone: whether they are known is asked."""


def _above_nothing(value_mm: float, said: str) -> float:
    if not value_mm > 0:
        raise InputError(
            f"{said!r} must be above 0",
            code="requirement-value",
            remedy="Write how much it is, or leave the line empty to ask nothing of it.",
        )
    return value_mm


def _choice(said: str, kind: type[StrEnum]) -> StrEnum:
    try:
        return kind(said)
    except ValueError:
        raise InputError(
            f"{said!r} is not one of {', '.join(m.value for m in kind)}", code="choice-unknown"
        ) from None


def _count(said: str) -> int:
    """Read which of several, counted from 1."""
    if re.fullmatch(r"[1-9]\d{0,4}", said.strip()) is None:
        raise InputError(
            f"{said!r} is not the number of a solid",
            code="solid-unknown",
            remedy="Count from 1, in the order in which the file is refused without a number.",
        )
    return int(said)


def _day(said: str) -> date:
    try:
        return date.fromisoformat(said)
    except ValueError:
        raise InputError(
            f"{said!r} is no date",
            code="date-unreadable",
            remedy="Write year, month and day, such as 2027-03-31: 3/4 means two days.",
        ) from None
