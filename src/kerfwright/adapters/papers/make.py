"""All papers of a job: from its result to the bytes of each file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from kerfwright.adapters.papers import for_customer, for_shop, pictures
from kerfwright.adapters.papers.path_files import path_dxf, path_svg
from kerfwright.adapters.papers.pictures import Picture
from kerfwright.adapters.papers.rules import PaperRules
from kerfwright.adapters.papers.typeset import SIZES_MM, Paper, typeset
from kerfwright.adapters.papers.words import Units
from kerfwright.app.papers.common import Digests, PaperKind
from kerfwright.app.papers.holes import HoleSheet, holes_of
from kerfwright.app.papers.inspection import Limiter, inspection_of, wall_limits
from kerfwright.app.papers.quote import Quote, quote_of
from kerfwright.app.papers.set_up import SetUpSheet, set_up_of
from kerfwright.app.plan_job import Progress
from kerfwright.app.records import JobResult
from kerfwright.app.what_if import WhatIf
from kerfwright.costing.rates import RateTable
from kerfwright.trade.part import LengthUnit

FILES: Final[Mapping[PaperKind, tuple[str, ...]]] = {
    PaperKind.QUOTE: ("quote.pdf",),
    PaperKind.SET_UP: ("set-up.pdf",),
    PaperKind.INSPECTION: ("inspection.pdf",),
    PaperKind.HOLES: ("holes.pdf",),
    PaperKind.PATH: ("path.dxf", "path.svg"),
}
EVERY_NAME: Final = frozenset(name for names in FILES.values() for name in names)
_MOST_BESIDE: Final = 16
"""With more contours than this a picture takes the width of the page, for its names to be read."""
_LONG: Final = 2.0
"""A part this many times longer than high gains by the whole width."""
_TALL_MM: Final = 128.0
"""Half of the page: the rest tells what the picture cannot."""
_LOW_MM: Final = 62.0
"""Enough for the names of a few contours, where the sizes then stand on the same page."""
_MARGINS_MM: Final = 30.0
"""Left and right margin of the templates."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """Which papers are wanted, and how.

    Attributes
    ----------
    kinds : tuple of PaperKind
    paper : Paper
    unit : LengthUnit or None
        None for that of the drawing.
    number : str
        Of the quote; empty for one that follows from the job.
    made_on : date
    asks_what_if : bool
        Whether the quote says what each demand costs.
    shows_pages : bool
        Whether the pages are wanted as pictures too.
    """

    kinds: tuple[PaperKind, ...] = tuple(PaperKind)
    paper: Paper = Paper.A4
    unit: LengthUnit | None = None
    number: str = ""
    made_on: date
    asks_what_if: bool = False
    shows_pages: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Desk:
    """What papers are made from beside the result.

    Attributes
    ----------
    rules : PaperRules
    rates : RateTable
    digests : Digests
    program : str
        Name of the program's file.
    wire_tension_n : float or None
    found : WhatIf or None
    limiter : Limiter
        Gives each size of the inspection sheet its limits.
    allowed_miss : float or None
        Share of pieces that may miss a recast layer that is promised.
    """

    rules: PaperRules
    rates: RateTable
    digests: Digests
    program: str
    wire_tension_n: float | None = None
    found: WhatIf | None = None
    limiter: Limiter = wall_limits
    allowed_miss: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Papers:
    """The papers of a job.

    Attributes
    ----------
    files : mapping of str to bytes
        By file name.
    pages : mapping of str to tuple of bytes
        Pages of each paper as SVG, where they were wanted.
    """

    files: dict[str, bytes]
    pages: dict[str, tuple[bytes, ...]]


def papers_of(
    result: JobResult, order: Order, desk: Desk, *, progress: Progress = lambda _step, _share: None
) -> Papers:
    """Return the papers of a job.

    Parameters
    ----------
    result : JobResult
    order : Order
    desk : Desk
    progress : callable, optional
        Told which paper is set, and the share done.

    Raises
    ------
    MissingPackageError
        If Typst is not installed and a paper is wanted.
    """
    units = Units(unit=order.unit or result.part.drawing_unit)
    made: dict[str, bytes] = {}
    pages: dict[str, tuple[bytes, ...]] = {}
    for number, kind in enumerate(order.kinds):
        progress(f"setting the papers: {kind.value}", number / len(order.kinds))
        if kind is PaperKind.PATH:
            if result.program is not None and result.path is not None:
                made["path.dxf"] = path_dxf(result.plan, result.path, unit=units.unit)
                made["path.svg"] = path_svg(result.plan, result.path, unit=units.unit)
            continue
        data = _data(kind, result, order, desk, units)
        (name,) = FILES[kind]
        sheets = typeset(
            kind.value,
            data,
            paper=order.paper,
            made_on=order.made_on,
            shows_pages=order.shows_pages,
        )
        made[name], pages[name] = sheets.pdf, sheets.pages
    return Papers(files=made, pages=pages)


def _data(
    kind: PaperKind, result: JobResult, order: Order, desk: Desk, units: Units
) -> Mapping[str, Any]:
    wide = SIZES_MM[order.paper][0] - _MARGINS_MM
    match kind:
        case PaperKind.QUOTE:
            quote = _quote(result, order, desk)
            return for_customer.quote_shape(
                quote, units=units, rules=desk.rules, picture=_quote_picture(result, units, wide)
            )
        case PaperKind.INSPECTION:
            high, low = (_TALL_MM, 100.0) if _is_crowd(result) else (100.0, _LOW_MM)
            return for_customer.inspection_shape(
                inspection_of(result, limiter=desk.limiter),
                units=units,
                rules=desk.rules,
                picture=_part(result, units, wide, high),
                small_picture=_part(result, units, wide, low),
            )
        case PaperKind.HOLES:
            holes = holes_of(result, law=desk.rates.drilling)
            return for_shop.holes_shape(
                holes, units=units, picture=_holes(result, holes, units, wide)
            )
        case PaperKind.SET_UP:
            sheet = set_up_of(
                result,
                digests=desk.digests,
                minutes=desk.rates.minutes,
                program=desk.program,
                clamp_clearance_mm=desk.rules.clamp_clearance_mm,
                clamp_grip_mm=desk.rules.clamp_grip_mm,
                wire_tension_n=desk.wire_tension_n,
            )
            return for_shop.set_up_shape(
                sheet, units=units, picture=_set_up(result, sheet, units, wide)
            )
        case _:
            raise AssertionError(f"{kind} is not typeset")


def _quote(result: JobResult, order: Order, desk: Desk) -> Quote:
    return quote_of(
        result,
        number=order.number,
        made_on=order.made_on,
        valid_days=desk.rules.valid_days,
        found=desk.found,
        allowed_miss=desk.allowed_miss,
    )


def _is_crowd(result: JobResult) -> bool:
    """Return whether a picture beside other things would be too small to read."""
    if len(result.part.contours) > _MOST_BESIDE:
        return True
    boxes = [c.contour.bounds_mm for c in result.part.contours]
    if not boxes:
        return False
    wide_mm = max(b[2] for b in boxes) - min(b[0] for b in boxes)
    high_mm = max(b[3] for b in boxes) - min(b[1] for b in boxes)
    return wide_mm > _LONG * high_mm


def _quote_picture(result: JobResult, units: Units, wide_mm: float) -> Picture:
    """Return a small picture beside the price, or one in which many names can be read."""
    if _is_crowd(result):
        return _part(result, units, wide_mm, _TALL_MM)
    return _part(result, units, 90.0, 90.0)


def _part(result: JobResult, units: Units, width_mm: float, height_mm: float) -> Picture:
    return pictures.part_picture(
        result.part,
        ids=frozenset(c.target.id for c in result.plan.contours),
        units=units,
        width_mm=width_mm,
        height_mm=height_mm,
        with_names=True,
    )


def _holes(result: JobResult, sheet: HoleSheet, units: Units, width_mm: float) -> Picture | None:
    if not sheet.rows:
        return None
    return pictures.holes_picture(
        result.plan,
        numbers={row.start_id: row.number for row in sheet.rows},
        units=units,
        width_mm=width_mm,
        height_mm=_TALL_MM,
    )


def _set_up(result: JobResult, sheet: SetUpSheet, units: Units, width_mm: float) -> Picture | None:
    if sheet.room is None:
        return None
    # Few contours stand beside the facts; many take the whole width.
    beside = not _is_crowd(result)
    return pictures.set_up_picture(
        result.plan,
        clear=sheet.room.keep_clear,
        units=units,
        width_mm=100.0 if beside else width_mm,
        height_mm=100.0 if beside else _TALL_MM,
    )
