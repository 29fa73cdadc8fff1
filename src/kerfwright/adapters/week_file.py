"""A timetable as a document, and the one that people work by, kept beside its jobs."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters import json_shapes
from kerfwright.adapters.whole_files import write_whole
from kerfwright.app.touches import Touch
from kerfwright.app.week import Told, WeekResult
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.foundation.version import __version__
from kerfwright.scheduling.hours import DAY_MIN, gaps
from kerfwright.scheduling.records import Booking, ParkMachine, Span

WEEK: Final = "week.json"
_FORMAT, _VERSION = "kerfwright-week", 1
Document = dict[str, Any]


def week_shape(result: WeekResult) -> Document:
    """Return a timetable with its list, doubts and findings; moments by the clock on the wall."""
    table, clock = result.table, result.clock
    ends = {one.load: one for one in result.ends}
    return {
        "format": _FORMAT,
        "version": _VERSION,
        "kerfwright": __version__,
        "begin": _said(clock.begin),
        "holds": result.holds,
        "goal": table.goal.value,
        "value_min": table.value,
        "at_least_min": table.bound,
        "gap_share": table.gap_share,
        "proved": table.is_proved,
        "method": table.method,
        "stopped": table.stopped,
        "machines": [_machine(result, m) for m in result.week.machines],
        "there": _there(result),
        "bookings": [_booking(result, b, ends) for b in table.bookings],
        "left": dict(table.left),
        "touches": [touch_shape(t) for t in result.touches],
        "told": [
            {
                "job": b.load,
                "machine": b.machine,
                "stages": [
                    [_said(clock.when(s.begin_min)), _said(clock.when(s.end_min))] for s in b.spans
                ],
            }
            for b in result.told
        ],
        "replanned": result.is_replanned,
        "moves": [
            {
                "job": m.load,
                "from_machine": m.from_machine,
                "to_machine": m.to_machine,
                "from": _said(clock.when(m.from_min)),
                "to": _said(clock.when(m.to_min)),
            }
            for m in result.moves
        ],
        "promise": None
        if result.promise is None
        else {
            "job": result.promise.load,
            "day": result.promise.day.isoformat(),
            "held_share": result.promise.held_share,
            "likely_day": result.promise.likely_day.isoformat(),
            "later": list(result.promise.later),
        },
        "findings": [json_shapes.finding_shape(f) for f in result.findings],
    }


def _machine(result: WeekResult, machine: ParkMachine) -> Document:
    when = result.clock.when
    return {
        "id": machine.id,
        "name": machine.name,
        "wire_mm": machine.wire_mm,
        "downs": [
            {"begin": _said(when(d.begin_min)), "end": _said(when(d.end_min)), "why": d.why}
            for d in machine.downs
        ],
    }


def _there(result: WeekResult) -> list[list[str]]:
    """Return when somebody attends, up to the day after the last load is done."""
    last = max((b.end_min for b in result.table.bookings), default=0) + DAY_MIN
    when = result.clock.when
    return [
        [_said(when(s.begin_min)), _said(when(s.end_min))]
        for s in gaps(result.week.away, end_min=result.week.horizon_min)
        if s.begin_min < last
    ]


def _booking(result: WeekResult, booking: Booking, ends: Document) -> Document:
    load, clock = result.week.load(booking.load), result.clock
    end = ends[booking.load]
    whole = next(len(b.spans) for b in result.told if b.load == booking.load)
    return {
        "job": booking.load,
        "machine": booking.machine,
        "wire_mm": load.need.wire_mm,
        "running": bool(load.running_on),
        "first_stage": whole - len(load.stages),
        "moments": next((t.moments for t in result.touches if t.load == booking.load), 0),
        "due": None if load.due_min is None else _said(clock.when(load.due_min)),
        "done": [
            _said(clock.when(round(m)))
            for m in (end.minutes.low, end.minutes.likely, end.minutes.high)
        ],
        "held_share": end.held_share,
        "stages": [
            {
                "name": stage.name,
                "attended": stage.is_attended,
                "begin": _said(clock.when(span.begin_min)),
                "end": _said(clock.when(span.end_min)),
                "breaks": stage.breaks,
            }
            for stage, span in zip(load.stages, booking.spans, strict=True)
        ],
    }


def touch_shape(touch: Touch) -> Document:
    """Return a moment of the attendant's list as a document."""
    return {
        "when": _said(touch.when),
        "minutes": touch.minutes,
        "machine": touch.machine,
        "job": touch.load,
        "name": touch.name,
        "does": touch.does,
        "cautions": list(touch.cautions),
        "alone_min": touch.alone_min,
        "stage": touch.stage,
        "stages": touch.stages,
        "moments": touch.moments,
    }


def _said(moment: datetime) -> str:
    return moment.isoformat(sep=" ", timespec="minutes")


def keep_week(result: WeekResult, folder: Path) -> Path:
    """Keep a timetable as the one that people work by; return its file.

    Raises
    ------
    FileError
        Code ``file-unwritable``.
    """
    return keep_document(week_shape(result), folder)


def keep_document(document: Document, folder: Path) -> Path:
    """Keep a timetable that is a document already, see :func:`keep_week`.

    Raises
    ------
    FileError
    """
    place = folder / WEEK
    write_whole(place, json_shapes.to_text(document))
    return place


def read_document(folder: Path) -> Document | None:
    """Return the whole document of the timetable that people work by; None where there is none.

    Raises
    ------
    FileError
        Code ``file-unreadable``.
    InputError
        Code ``week-broken``.
    """
    place = folder / WEEK
    try:
        document = json.loads(place.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}", code="file-unreadable", where=str(place),
            remedy="Check the path.",
        ) from fault  # fmt: skip
    except ValueError as fault:
        raise _broken(place, f"is no JSON: {fault}") from fault
    if not isinstance(document, dict) or (document.get("format"), document.get("version")) != (
        _FORMAT, _VERSION,
    ):  # fmt: skip
        raise _broken(place, f"is no timetable of version {_VERSION}")
    return document


def read_week(folder: Path) -> Told | None:
    """Return the timetable that people work by; None where none was kept.

    Raises
    ------
    FileError
        Code ``file-unreadable``.
    InputError
        Code ``week-broken``.
    """
    document = read_document(folder)
    if document is None:
        return None
    place = folder / WEEK
    try:
        begin = datetime.fromisoformat(document["begin"])

        def minute(text: str) -> int:
            return int((datetime.fromisoformat(text) - begin).total_seconds() // 60)

        return Told(
            begin=begin,
            bookings=tuple(
                Booking(
                    load=str(b["job"]),
                    machine=str(b["machine"]),
                    spans=tuple(
                        Span(begin_min=minute(first), end_min=minute(last))
                        for first, last in b["stages"]
                    ),
                )
                for b in document["told"]
            ),
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise _broken(place, f"lacks or has odd values: {fault}") from fault


def _broken(place: Path, what: str) -> InputError:
    return InputError(
        what, code="week-broken", where=str(place),
        remedy="Plan anew with --anew, or put the file back.",
    )  # fmt: skip
