"""The numbers of a shop as a document, and as tables for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any, Final

from kerfwright.adapters.json_shapes import finding_shape
from kerfwright.app.shop_numbers import JobNumbers, Said, ShopNumbers
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.proportions import Share
from kerfwright.foundation.ranges import Range

Document = dict[str, Any]
TABLES: Final = ("jobs", "machines", "won")
_FORMAT, _VERSION = "kerfwright-numbers", 1
_FORMULA: Final = tuple("=+-@\t\r")
"""First characters by which a spreadsheet takes a text for a formula: customers' names come from
strangers."""


def numbers_shape(found: ShopNumbers, remarks: Sequence[Finding]) -> Document:
    """Return the numbers as a document; moments by the clock on the wall."""
    return {
        "format": _FORMAT,
        "version": _VERSION,
        "begin": _moment(found.begin),
        "end": _moment(found.end),
        "jobs": [_job(one) for one in found.jobs],
        "against": [
            {
                "what": one.what,
                "quoted_min": _real(one.quoted_min),
                "marked_min": _real(one.marked_min),
                "inside": _share(one.inside),
                "jobs": list(one.jobs),
            }
            for one in found.against
        ],
        "machines": [
            {
                "machine": one.machine,
                "hours": _real(one.hours),
                "of_hours": _real(one.of_hours),
                "breaks": one.breaks,
                "jobs": list(one.jobs),
            }
            for one in found.used
        ],
        "won": [
            {
                "way": one.way.value,
                "group": one.group,
                "share": _share(one.share),
                "won": list(one.won),
                "lost": list(one.lost),
                "waiting": list(one.waiting),
            }
            for one in found.won
        ],
        "findings": [finding_shape(one) for one in remarks],
    }


def _job(one: JobNumbers) -> Document:
    at_marked = one.price_at_marked
    return {
        "job": one.id,
        "title": one.title,
        "customer": one.customer,
        "stage": one.stage.value,
        "quantity": one.quantity,
        "currency": one.currency,
        "price": None if one.price is None else str(one.price),
        "price_at_marked": None if at_marked is None else str(at_marked),
        "quoted_why": _quoted_why(one),
        "attended_quoted_min": _range(one.attended_min),
        "attended": _said(one.attended),
        "alone_quoted_min": _range(one.alone_min),
        "alone": _said(one.alone),
        "wire_quoted_kg": _range(one.wire_kg),
        "wire_used_kg": one.wire_used_kg,
        "breaks": one.breaks,
        "machine": "" if one.occupied is None else one.occupied.machine,
        "begin": "" if one.occupied is None else _moment(one.occupied.begin),
        "end": "" if one.occupied is None else _moment(one.occupied.end),
        "cut_predicted_min": _real(one.cut_predicted_min),
        "cut_measured_min": _real(one.cut_measured_min),
    }


def csv_text(document: Document, table: str) -> str:
    """Return one table of the numbers as CSV: UTF-8 with a mark at the head (RFC 4180).

    Parameters
    ----------
    document : dict
        As :func:`numbers_shape`.
    table : str
        One of :data:`TABLES`.
    """
    rows: dict[str, Callable[[Document], Document]] = {"jobs": _job_row, "won": _won_row}
    found = [rows.get(table, dict)(one) for one in document[table]]
    text = io.StringIO()
    text.write("\ufeff")
    names = list(found[0]) if found else ["nothing"]
    writer = csv.DictWriter(text, names, lineterminator="\r\n")
    writer.writeheader()
    for row in found:
        writer.writerow({name: _cell(value) for name, value in row.items()})
    return text.getvalue()


def _job_row(one: Document) -> Document:
    row: Document = {}
    for name, value in one.items():
        if name in {"attended", "alone"}:
            row |= {
                f"{name}_marked_min": value["minutes"],
                f"{name}_said": value["count"],
                f"{name}_said_of": value["of"],
            }
        elif name in {"attended_quoted_min", "alone_quoted_min", "wire_quoted_kg"}:
            low, likely, high = value or ("", "", "")
            row |= {f"{name}_low": low, name: likely, f"{name}_high": high}
        else:
            row[name] = value
    return row


def _won_row(one: Document) -> Document:
    share = one["share"]
    known = share["of"] > 0
    return {
        "way": one["way"],
        "group": one["group"],
        "won": share["count"],
        "decided": share["of"],
        "waiting": len(one["waiting"]),
        "share_low": share["low"] if known else "",
        "share_high": share["high"] if known else "",
        "jobs_won": one["won"],
        "jobs_lost": one["lost"],
        "jobs_waiting": one["waiting"],
    }


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, list):
        return "; ".join(value)
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return value


def _share(share: Share) -> Document:
    return {
        "count": share.count,
        "of": share.of,
        "low": _real(share.low),
        "high": _real(share.high),
    }


def _said(said: Said) -> Document:
    return {
        "minutes": _real(said.minutes),
        "count": said.count,
        "of": said.of,
        "whole": said.is_whole,
    }


def _quoted_why(one: JobNumbers) -> str:
    """Say why a job has no times and no wire quoted; empty where it has."""
    if one.price is None:
        return "no price is kept for the pieces ordered"
    if one.attended_min is None and one.alone_min is None:
        return "priced in a stack of its own, whose times are not kept with the job"
    return ""


def _range(found: Range | None) -> list[float] | None:
    return None if found is None else [round(v, 3) for v in (found.low, found.likely, found.high)]


def _real(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _moment(moment: datetime) -> str:
    return moment.isoformat(sep=" ", timespec="minutes")
