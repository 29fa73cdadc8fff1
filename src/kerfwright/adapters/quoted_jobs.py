"""What the folders of a shop say of each job: quoted, marked, measured."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.adapters.job_folder import ESTIMATE
from kerfwright.adapters.marks_file import read_marks
from kerfwright.app.enquiries import Enquiry
from kerfwright.app.marks import Mark, MarkKind
from kerfwright.app.shop_numbers import WON, JobNumbers, Occupied, Said
from kerfwright.costing.records import TimeKind
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.ranges import Range

Document = dict[str, Any]
Measured = Callable[[Path], tuple[float, float] | None]
"""Returns predicted and measured minutes of the passes of a job that were measured."""


def quoted_jobs(
    folder: EnquiryFolder,
    *,
    measured: Measured,
    remarks: list[Finding],
    progress: Callable[[str, float], None] = lambda _step, _share: None,
) -> Iterator[JobNumbers]:
    """Yield every job of a shop with what was quoted, marked and measured of it.

    Parameters
    ----------
    folder : EnquiryFolder
    measured : callable
    remarks : list of Finding
        Gets what could not be read; the job is then counted without it, or left out.
    progress : callable, optional
    """
    every = list(folder.all())
    for number, enquiry in enumerate(every):
        if not isinstance(enquiry, Enquiry):
            remarks.append(_remark(enquiry.where, enquiry.message, "It is left out."))
            continue
        progress(f"reading {enquiry.id}", number / len(every))
        try:
            yield _job(enquiry, folder.place_of(enquiry.id), measured)
        except (KerfwrightError, LookupError) as fault:
            said = fault.message if isinstance(fault, KerfwrightError) else "it is gone"
            remarks.append(_remark(enquiry.id, said, "It counts by its stage only."))
            yield _bare(enquiry)


def _remark(where: str, said: str, rest: str) -> Finding:
    return Finding(
        code="numbers-unread",
        severity=Severity.WARNING,
        message=f"{where}: {said}. {rest}",
        remedy="Mend the file, or put that of a backup back.",
    )


def _bare(enquiry: Enquiry) -> JobNumbers:
    return JobNumbers(
        id=enquiry.id,
        title=enquiry.title,
        customer=enquiry.asked.get("customer", ""),
        stage=enquiry.stage,
        asked=enquiry.asked,
    )


def _job(enquiry: Enquiry, place: Path, measured: Measured) -> JobNumbers:
    bare = _bare(enquiry)
    if enquiry.stage not in WON:
        return bare
    marks = read_marks(place)
    estimate = _estimate(place)
    cut = measured(place)
    ordered = [m.quantity for m in marks if m.kind is MarkKind.ORDERED]
    quoted = _quoted(estimate, ordered[-1] if ordered else None, where=str(place / ESTIMATE))
    done = _done(marks)
    moments = max((m.moments for m in done), default=0)
    stretches = max((m.stages for m in done), default=0) - moments if moments else 0
    wires = [m.wire_kg for m in done if m.wire_kg is not None]
    return JobNumbers(
        **{name: getattr(bare, name) for name in ("id", "title", "customer", "stage", "asked")},
        quantity=quoted.quantity,
        currency=quoted.currency,
        price=quoted.price,
        attended_min=quoted.minutes.get(TimeKind.MACHINE_ATTENDED),
        alone_min=quoted.minutes.get(TimeKind.MACHINE_UNATTENDED),
        attended_per_h=quoted.per_h.get(TimeKind.MACHINE_ATTENDED),
        alone_per_h=quoted.per_h.get(TimeKind.MACHINE_UNATTENDED),
        wire_kg=quoted.wire_kg,
        attended=_said([m.took_min for m in done], of=moments),
        alone=_said([m.ran_min for m in done], of=stretches),
        wire_used_kg=wires[-1] if wires else None,
        breaks=sum(m.kind is MarkKind.BREAK for m in marks),
        occupied=_occupied(marks),
        cut_predicted_min=None if cut is None else cut[0],
        cut_measured_min=None if cut is None else cut[1],
    )


def _done(marks: Iterable[Mark]) -> list[Mark]:
    """Return what was marked done of the plan that was marked last, each stage once."""
    done = [m for m in marks if m.kind is MarkKind.DONE]
    by_stage = {m.stage: m for m in done if m.stages == done[-1].stages}
    return list(by_stage.values())


def _said(minutes: Sequence[float | None], *, of: int) -> Said:
    known = [one for one in minutes if one is not None]
    return Said(minutes=sum(known), count=len(known), of=of)


def _occupied(marks: Sequence[Mark]) -> Occupied | None:
    steps = [m for m in marks if m.kind in (MarkKind.BEGUN, MarkKind.DONE)]
    if not steps:
        return None
    return Occupied(
        machine=steps[-1].machine,
        begin=min(m.at - timedelta(minutes=m.took_min or 0) for m in steps),
        end=max(m.at for m in steps),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Quoted:
    quantity: int | None
    currency: str
    price: Decimal | None
    minutes: Mapping[TimeKind, Range]
    per_h: Mapping[TimeKind, Decimal]
    wire_kg: Range | None


def _estimate(place: Path) -> Document | None:
    try:
        found = json.loads((place / ESTIMATE).read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as fault:
        raise InputError(
            f"its estimate cannot be read: {fault}", code="estimate-broken",
            where=str(place / ESTIMATE),
        ) from fault  # fmt: skip
    return found if isinstance(found, dict) else None


def _quoted(estimate: Document | None, ordered: int | None, *, where: str) -> _Quoted:
    none = _Quoted(quantity=ordered, currency="", price=None, minutes={}, per_h={}, wire_kg=None)
    if estimate is None:
        return none
    try:
        return _quoted_of(estimate, ordered) or none
    except (KeyError, TypeError, ValueError, ArithmeticError) as fault:
        raise InputError(
            f"its estimate lacks or has odd values: {fault}", code="estimate-broken", where=where
        ) from fault


def _quoted_of(estimate: Document, ordered: int | None) -> _Quoted | None:
    """Return what was quoted for the pieces ordered, or for the only quantity that was priced."""
    prices = {int(p["quantity"]): p for p in estimate["prices"]}
    quantity = ordered or (next(iter(prices)) if len(prices) == 1 else None)
    if quantity not in prices:
        return None
    price = prices[quantity]
    stack = estimate.get("pieces_each", 1)
    if price.get("at_once", stack) != stack:
        # The times kept are those of another stack than this quantity is priced in.
        return _Quoted(
            quantity=quantity,
            currency=str(estimate["currency"]),
            price=Decimal(price["likely"]),
            minutes={},
            per_h={},
            wire_kg=None,
        )
    lines = [(TimeKind(t["kind"]), t, _range(t["minutes"])) for t in estimate["times"]]
    times = _times(lines, hours=float(price["hours"]["likely"]))
    minutes: dict[TimeKind, Range] = {}
    longest: dict[TimeKind, float] = {}
    per_h: dict[TimeKind, Decimal] = {}
    paid = {one["item"]: Decimal(one["likely"]) for one in price["lines"]}
    for kind, line, each in lines:
        whole = each * (times if line["per_piece"] else 1)
        minutes[kind] = minutes[kind] + whole if kind in minutes else whole
        # By the longest line: cents are rounded.
        if line["operation"] in paid and whole.likely > longest.get(kind, 0.0):
            longest[kind] = whole.likely
            per_h[kind] = paid[line["operation"]] * 60 / Decimal(repr(whole.likely))
    wires = [
        _range(c["amount"]) * (times if c["per_piece"] else 1)
        for c in estimate["consumption"]
        if c["item"] == "wire" and c["unit"] == "kg"
    ]
    return _Quoted(
        quantity=quantity,
        currency=str(estimate["currency"]),
        price=Decimal(price["likely"]),
        minutes=minutes,
        per_h=per_h,
        wire_kg=wires[0] if wires else None,
    )


def _times(lines: Iterable[tuple[TimeKind, Document, Range]], *, hours: float) -> int:
    """Return how often what is done for each piece, or each stack of them, is done.

    By the hours on the machine that stand with the price: a stack makes several pieces at once.
    """
    once = each = 0.0
    for kind, line, minutes in lines:
        if kind in (TimeKind.MACHINE_ATTENDED, TimeKind.MACHINE_UNATTENDED):
            if line["per_piece"]:
                each += minutes.likely
            else:
                once += minutes.likely
    return max(1, round((hours * 60 - once) / each)) if each > 0 else 1


def _range(found: Mapping[str, Any]) -> Range:
    return Range(low=float(found["low"]), likely=float(found["likely"]), high=float(found["high"]))
