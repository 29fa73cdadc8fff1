"""The quote: what is offered to the customer, and nothing of how the shop works or counts.

The record is built from a list of what a customer may read.  Messages of planning name wires,
machines and feeds; of them only the code, the contours and figures of the part go over.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from kerfwright.app.changes import ONE_SHAPE
from kerfwright.app.papers.common import (
    ASKS_CLOSER,
    ASKS_OFF_THE_LINE,
    ASKS_OTHER,
    NOT_PLANNED,
    Heading,
    OwnDemand,
    heading_of,
    left_out_ids,
    own_demands,
    zones_off_the_line,
)
from kerfwright.app.papers.same_remarks import alike, ids_of
from kerfwright.app.records import JobResult
from kerfwright.app.requirements import ZONE_OFF_THE_LINE
from kerfwright.app.stack_lines import at_once_text
from kerfwright.app.what_if import Alternative, WhatIf
from kerfwright.foundation.findings import UNIT_DOUBTS, Finding, Severity
from kerfwright.planning.plan import StartKind
from kerfwright.process.misses import MISSED
from kerfwright.trade.part import Role

_SHOWN: Final[Mapping[str, tuple[str, ...]]] = {
    "inside-radius-too-small": ("corners", "limit_mm", "left_mm"),
    "slot-below-kerf": ("needed_mm",),
    "slot-not-roughed": ("needed_mm",),
    "walls-closer-than-kerf": (),
    "tolerance-beyond-process": ("asked_um", "best_um"),
    "finish-beyond-process": ("asked_um", "best_um"),
    "recast-beyond-process": ("asked_um", "best_um"),
    "tolerance-may-be-missed": ("asked_um",),
    "finish-may-be-missed": ("asked_um", "high_um"),
    "recast-may-be-missed": ("asked_um", "high_um"),
    "height-beyond-machine": ("value_mm", "limit_mm"),
    "travel-beyond-machine": ("value_mm", "limit_mm"),
    "weight-beyond-machine": ("value_kg", "limit_kg"),
    "thin-web": ("width_mm", "limit_mm"),
    "start-hole-fits-nowhere": ("needed_mm",),
    "loose-piece-between-contours": ("apart_mm",),
    "frame-too-thin": ("needed_mm",),
    "given-start-crosses-wall": (),
    "poorly-conducting-material": (),
}
"""Findings of planning that concern the customer, and their figures that he may read."""
_OWN_WORDS: Final = frozenset(
    {
        "tolerance-read",
        "finish-read",
        ZONE_OFF_THE_LINE,
        ASKS_CLOSER,
        ASKS_OFF_THE_LINE,
        *ASKS_OTHER,
        *NOT_PLANNED,
    }
)
"""Remarks on the customer's own words."""
_NEGOTIABLE: Final = frozenset(
    {"tolerance", "finish", "recast", "quantity", "inside radius", ONE_SHAPE}
)
"""What the customer asks and could ask otherwise; how the shop cuts is its own affair."""
_AND: Final = " and "
OTHER_REFUSAL: Final = "other-refusal"
Key = tuple[str, str, str]
"""Code, message and place: what makes two findings one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuoteLine:
    """One quantity: ``total`` is exactly ``quantity`` times ``each``.

    ``stacked`` says how the pieces are cut; empty where no stack is asked.
    """

    quantity: int
    each: Decimal
    total: Decimal
    stacked: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CustomerRemark:
    """A finding as far as the customer may read it.

    Attributes
    ----------
    code : str
    is_refusal : bool
    contour_ids : tuple of str
    data : mapping of str to float
        Figures of the part, the largest of all findings of this code.
    message, remedy : str
        Of findings on the customer's own drawing and words only; else empty.  The contours stand
        as :data:`~kerfwright.app.papers.same_remarks.THESE` in them.
    at_mm : (x, y) or None
        Where on the drawing, if it is one place that somebody should look at.
    """

    code: str
    is_refusal: bool
    contour_ids: tuple[str, ...]
    data: Mapping[str, float]
    message: str = ""
    remedy: str = ""
    at_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Saving:
    """What one demand costs: the price of a piece if it were otherwise.

    ``words`` is what would be asked instead, and of which contours.
    """

    words: str
    saved_each: Decimal
    each: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was asked of the wall, and what is offered where nothing was.

    Attributes
    ----------
    tolerance_um, ra_um, recast_um : float or None
    usual_tolerance_um, usual_ra_um : float or None
    not_promised : frozenset of str
        ``"tolerance"``, ``"finish"``, ``"recast layer"``: what is asked and may well be missed.
    own : tuple of OwnDemand
        What is asked of some contours otherwise.
    tolerance_said : str
        The tolerance as it was written, where its zone does not lie about the drawn line; or
        empty.
    """

    tolerance_um: float | None
    ra_um: float | None
    recast_um: float | None
    usual_tolerance_um: float | None
    usual_ra_um: float | None
    not_promised: frozenset[str] = frozenset()
    own: tuple[OwnDemand, ...] = ()
    tolerance_said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quote:
    """All that stands on a quote.

    Attributes
    ----------
    number : str
    made_on, valid_until : date
    heading : Heading
    currency : str
    lines : tuple of QuoteLine
        Empty where nothing is offered.
    asked : Asked
    openings, outlines : int
        Contours that the price covers.
    not_included : tuple of str
        Contours of the drawing that it does not.
    drills_holes : bool
        Whether start holes are drilled for the job.
    remarks : tuple of CustomerRemark
        Doubts of the unit first, then refusals.
    savings : tuple of Saving
        The most saved first; for the first quantity.
    recast_miss : float or None
        Where a limit on the recast layer is asked, the share of pieces that may be beyond it.
    """

    number: str
    made_on: date
    valid_until: date
    heading: Heading
    currency: str
    lines: tuple[QuoteLine, ...]
    asked: Asked
    openings: int
    outlines: int
    not_included: tuple[str, ...]
    drills_holes: bool
    remarks: tuple[CustomerRemark, ...]
    savings: tuple[Saving, ...]
    recast_miss: float | None = None

    @property
    def is_offered(self) -> bool:
        """Whether there is a price at all."""
        return bool(self.lines)


def quote_of(
    result: JobResult,
    *,
    number: str,
    made_on: date,
    valid_days: int,
    found: WhatIf | None = None,
    allowed_miss: float | None = None,
) -> Quote:
    """Return the quote of a job.

    A job without a proved program is not offered: its quote says what would help, and no price.

    Parameters
    ----------
    result : JobResult
    number : str
    made_on : date
    valid_days : int
    found : WhatIf, optional
        What each demand costs.
    allowed_miss : float, optional
        Share of pieces that may miss a recast layer that is promised.
    """
    planned = result.plan.contours
    return Quote(
        number=number,
        made_on=made_on,
        valid_until=made_on + timedelta(days=valid_days),
        heading=heading_of(result),
        currency=result.estimate.currency if result.estimate else "",
        lines=_lines(result),
        asked=_asked(result),
        openings=sum(c.target.role is Role.OPENING for c in planned),
        outlines=sum(c.target.role is Role.OUTLINE for c in planned),
        not_included=left_out_ids(result),
        drills_holes=result.program is not None
        and any(c.start.kind is StartKind.DRILLED for c in planned),
        remarks=_remarks(result),
        recast_miss=allowed_miss if _limits_recast(result) else None,
        savings=_savings(found) if found is not None and result.program is not None else (),
    )


def _limits_recast(result: JobResult) -> bool:
    asked = (result.requirement.demand_on(c.target.id) for c in result.plan.contours)
    return any(demand.max_recast_um is not None for demand in asked)


def _lines(result: JobResult) -> tuple[QuoteLine, ...]:
    if result.program is None or result.estimate is None:
        return ()
    is_stacked = result.requirement.stack is not None
    return tuple(
        QuoteLine(
            quantity=p.quantity,
            each=p.each,
            total=p.likely,
            stacked=at_once_text(p) if is_stacked else "",
        )
        for p in result.estimate.prices
    )


def _asked(result: JobResult) -> Asked:
    wanted = result.requirement
    usual = [
        c.passes[-1] for c in result.plan.contours if wanted.demand_on(c.target.id) == wanted.demand
    ]
    missed = {MISSED[f.code] for f in result.findings if f.code in MISSED}
    off = zones_off_the_line(result).get(None)
    return Asked(
        tolerance_um=wanted.tolerance_um,
        ra_um=wanted.ra_um,
        recast_um=wanted.max_recast_um,
        usual_tolerance_um=max((p.tolerance_um for p in usual), default=None),
        usual_ra_um=max((p.ra_um for p in usual), default=None),
        not_promised=frozenset(missed | ({"tolerance"} if off else set())),
        own=own_demands(result),
        tolerance_said=off.said if off else "",
    )


def _remarks(result: JobResult) -> tuple[CustomerRemark, ...]:
    # Notes on the drawing say how the file was read, kind of entity by kind: the shop's business.
    notes = {_key(f) for f in result.part.findings if f.severity is Severity.NOTE}
    drawn = {_key(f) for f in result.part.findings} - notes
    groups: dict[tuple[str, bool], list[Finding]] = {}
    for one in result.findings:
        is_refusal = one.severity is Severity.REFUSAL
        own = _key(one) in drawn or one.code in _OWN_WORDS
        matters = is_refusal or one.severity is Severity.WARNING
        if not own and not (matters and one.code in _SHOWN) and not is_refusal:
            continue
        code = one.code if own or one.code in _SHOWN else OTHER_REFUSAL
        groups.setdefault((code, is_refusal), []).append(one)
    found = [
        remark
        for (code, is_refusal), group in groups.items()
        for remark in _grouped(code, group, is_refusal=is_refusal, drawn=drawn)
    ]
    return tuple(sorted(found, key=lambda r: (r.code not in UNIT_DOUBTS, not r.is_refusal)))


def _key(one: Finding) -> Key:
    return one.code, one.message, str(one.where)


def _grouped(
    code: str, group: list[Finding], *, is_refusal: bool, drawn: set[Key]
) -> Iterable[CustomerRemark]:
    """Yield one remark for all findings of planning of a code, or one for each of the drawing."""
    if _key(group[0]) in drawn or code in _OWN_WORDS:
        for (message, remedy), same in alike(group).items():
            one = same[0]
            x_mm, y_mm = one.where.x_mm, one.where.y_mm
            is_one = len(same) == 1 and one.severity is not Severity.NOTE
            yield CustomerRemark(
                code=code,
                is_refusal=is_refusal,
                contour_ids=tuple(dict.fromkeys(name for f in same for name in ids_of(f))),
                data={},
                message=message,
                remedy=remedy,
                at_mm=(x_mm, y_mm) if is_one and x_mm is not None and y_mm is not None else None,
            )
        return
    figures: dict[str, float] = {}
    for one in group:
        for name in _SHOWN.get(code, ()):
            value = one.data.get(name)
            if isinstance(value, int | float):
                before = figures.get(name, 0.0)
                figures[name] = before + value if name == "corners" else max(before, value)
    ids = dict.fromkeys(f.where.contour_id for f in group if f.where.contour_id)
    yield CustomerRemark(code=code, is_refusal=is_refusal, contour_ids=tuple(ids), data=figures)


def _savings(found: WhatIf) -> tuple[Saving, ...]:
    alone: dict[str, Decimal] = {}
    for one in found.alternatives:
        alone[one.demand] = max(alone.get(one.demand, Decimal(0)), one.saved_each)

    def is_told(one: Alternative) -> bool:
        """Several demands looser at once are worth a line where they save more than one of them."""
        parts = one.demand.split(_AND)
        more = len(parts) == 1 or all(one.saved_each > alone.get(p, Decimal(0)) for p in parts)
        is_worth_it = one.saved_each > 0 and not one.is_same_price
        return more and is_worth_it and set(parts) <= _NEGOTIABLE

    return tuple(
        Saving(
            words=_wish(one),
            saved_each=one.saved_each,
            each=one.offer.each,
        )
        for one, like in zip(found.alternatives, found.alike, strict=True)
        # Of single contours only what stands for itself: a customer reads a line or three.
        if is_told(one) and (one.demand != ONE_SHAPE or like is None)
    )


def _wish(one: Alternative) -> str:
    """Return what a saving asks the customer to allow, in the words of the what-if.

    How an inside radius lets another wire in is the shop's affair.
    """
    if one.demand == "inside radius":
        return f"{one.instead} instead of {one.asked}"
    words = one.step.removeprefix("Asking ").rstrip(",")
    return words[:1].lower() + words[1:]
