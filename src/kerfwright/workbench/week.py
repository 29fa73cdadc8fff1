"""Addresses of the week: what is on which machine, the attendant's list, and what is done.

What schedules is imported on demand: the page opens without it.
"""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request, Response
from pydantic import ValidationError

from kerfwright.adapters.park_text import park_text, sample_text
from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import InputError, KerfwrightError, UnknownNameError
from kerfwright.workbench.jobs import OneJob, OurDesk
from kerfwright.workbench.parameters import Mark
from kerfwright.workbench.refusals import content, fault_shape, refusals
from kerfwright.workbench.week_desk import WeekDesk, now
from kerfwright.workbench.week_shapes import (
    DownSaid,
    MarkSaid,
    MarkShape,
    OrderedJob,
    ParkSaid,
    ParkShape,
    WeekDeskShape,
    WeekShape,
    WeekWanted,
    WeekWork,
)

router = APIRouter(prefix="/api", tags=["week"])

_CALENDAR: Final = "text/calendar; charset=utf-8"


def our_week(request: Request) -> WeekDesk:
    """Return the week of the application."""
    week: WeekDesk = request.app.state.week
    return week


OurWeek = Annotated[WeekDesk, Depends(our_week)]


@router.get("/week")
async def week(ours: OurWeek) -> WeekDeskShape:
    """Return what people work by, what was tried, and what is done of the ordered jobs."""
    return await _shape(ours)


@router.post("/week", status_code=202, responses=refusals(400, 404, 422))
async def plan(wanted: WeekWanted, ours: OurWeek, desk: OurDesk) -> WeekDeskShape:
    """Begin to put the ordered jobs on the machines; the events tell when it is there.

    With `quote` a job is put among them that is not ordered, and the first day that may be
    promised for it is found.  What nobody marked as done is taken as not done.
    """
    quote = None if wanted.quote is None else desk.folder.place_of(wanted.quote)
    ours.begin(
        begin=now() if wanted.begin is None else moment_from(wanted.begin),
        budget_s=wanted.seconds,
        quote=quote,
        is_anew=wanted.anew,
    )
    return await _shape(ours)


@router.delete("/week/running", status_code=204)
async def end(ours: OurWeek) -> None:
    """Let the search end with the best that it has."""
    ours.end()


@router.delete("/week/tried", status_code=204)
async def forget(ours: OurWeek) -> None:
    """Forget the timetable that was tried; what people work by stays."""
    ours.forget()


@router.post("/week/keep", responses=refusals(409))
async def keep(ours: OurWeek) -> WeekDeskShape:
    """Let people work by the timetable that was tried."""
    ours.keep()
    return await _shape(ours)


@router.get(
    "/week/calendar.ics", response_class=Response, responses=content(_CALENDAR) | refusals(404, 422)
)
async def calendar(ours: OurWeek) -> Response:
    """Return the attendant's list as a calendar (RFC 5545), to import or to subscribe to."""
    kept = await asyncio.to_thread(_kept, ours)
    if kept is None:
        raise UnknownNameError(
            "no timetable was kept yet", code="week-unknown", remedy="Plan the week and keep it."
        )
    from kerfwright.adapters.calendar_feed import feed_text

    text = feed_text(
        [one.model_dump() for one in kept.touches],
        shop=ours.place.resolve().name,
        written=datetime.now(UTC),
    )
    return Response(text, media_type=_CALENDAR)


@router.get("/park")
async def park(ours: OurWeek) -> ParkShape:
    """Return the file with the machines of the shop and the hours in which somebody attends."""
    return ParkShape(text=park_text(ours.place), sample=sample_text())


@router.put("/park", responses=refusals(400, 409, 422))
async def set_park(said: ParkSaid, ours: OurWeek) -> ParkShape:
    """Keep another file of the park; one that cannot be used is refused whole."""
    from kerfwright.adapters.park_edit import keep_park

    await asyncio.to_thread(keep_park, ours.place, said.text, instead_of=said.instead_of)
    ours.marked()
    return ParkShape(text=park_text(ours.place), sample=sample_text())


@router.post("/park/downs", status_code=201, responses=refusals(400, 409, 422))
async def stands(said: DownSaid, ours: OurWeek) -> ParkShape:
    """Note that a machine stands; all else in the file of the park stays as it is."""
    from kerfwright.adapters.park_edit import add_down

    why = f", {said.why.strip()}" if said.why.strip() else ""
    span = f"{said.begin.replace('T', ' ')} to {said.end.replace('T', ' ')}{why}"
    await asyncio.to_thread(add_down, ours.place, said.machine, span)
    ours.marked()
    return ParkShape(text=park_text(ours.place), sample=sample_text())


@router.post("/jobs/{job}/marks", status_code=201, responses=refusals(400, 404, 422))
async def mark(enquiry: OneJob, said: MarkSaid, ours: OurWeek, desk: OurDesk) -> MarkShape:
    """Mark what is begun or done of a job, a wire break, or how many pieces were ordered."""
    from kerfwright.adapters.marks_file import add_mark, mark_shape
    from kerfwright.app.marks import MarkKind

    texts = said.model_dump(exclude={"kind", "at"})
    made = await asyncio.to_thread(
        add_mark,
        desk.folder.place_of(enquiry.id),
        kind=MarkKind(said.kind),
        at=now() if said.at is None else moment_from(said.at),
        **texts,
    )
    ours.marked()
    return MarkShape.model_validate(mark_shape(made))


@router.delete("/jobs/{job}/marks/{mark}", status_code=204, responses=refusals(404, 422))
async def unmark(enquiry: OneJob, mark: Mark, ours: OurWeek, desk: OurDesk) -> None:
    """Take a mark back; it stays in the file of the job."""
    from kerfwright.adapters.marks_file import take_mark_back

    place = desk.folder.place_of(enquiry.id)
    await asyncio.to_thread(take_mark_back, place, mark, when=now())
    ours.marked()


def moment_from(text: str) -> datetime:
    """Return a moment by the clock on the wall.

    Raises
    ------
    InputError
        Code ``moment-unreadable``.
    """
    try:
        return datetime.fromisoformat(text)
    except ValueError as fault:
        raise InputError(
            f"{text!r} is no day and time", code="moment-unreadable",
            remedy="Write it as 2027-03-01 08:00.",
        ) from fault  # fmt: skip


def _kept(ours: WeekDesk) -> WeekShape | None:
    """Return the timetable that people work by; None where none was kept."""
    document = ours.kept()
    try:
        return None if document is None else WeekShape.model_validate(document)
    except ValidationError as fault:
        first = fault.errors()[0]
        raise InputError(
            f"{'.'.join(map(str, first['loc']))}: {first['msg']}", code="week-broken",
            where=str(ours.place / "week.json"), remedy="Plan the week anew and keep it.",
        ) from fault  # fmt: skip


async def _shape(ours: WeekDesk) -> WeekDeskShape:
    kept, kept_fault = None, None
    try:
        kept = await asyncio.to_thread(_kept, ours)
    except KerfwrightError as fault:
        kept_fault = fault_shape(fault)
    jobs = await asyncio.to_thread(ours.jobs)
    return WeekDeskShape(
        now=now().isoformat(sep=" ", timespec="minutes"),
        has_park=park_text(ours.place) is not None,
        kept=kept,
        kept_fault=kept_fault,
        tried=None if ours.tried is None else WeekShape.model_validate(ours.tried),
        tried_for=ours.tried_for,
        work=None if ours.work is None else WeekWork(step=ours.work[0], share=ours.work[1]),
        fault=None if ours.fault is None else fault_shape(ours.fault),
        jobs=[_ordered(*one) for one in jobs],
    )


def _ordered(enquiry: Enquiry, marks: list[dict[str, Any]], fault: str) -> OrderedJob:
    return OrderedJob(
        job=enquiry.id,
        title=enquiry.title,
        customer=enquiry.asked.get("customer", ""),
        due=enquiry.asked.get("due", ""),
        quantities=enquiry.asked.get("quantity", "1"),
        stage=enquiry.stage,
        proved=enquiry.proved_revision == enquiry.revision,
        marks=[MarkShape.model_validate(m) for m in marks],
        marks_fault=fault,
    )
