"""The attendant's list: where to be when, what to do, what to mind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from kerfwright.scheduling.hours import Clock
from kerfwright.scheduling.records import Booking, Load, Span, Stage, Timetable, Week


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """One moment in which somebody has to be at a machine.

    Attributes
    ----------
    when : datetime
    minutes : int
    machine, load, name, does : str
    cautions : tuple of str
    alone_min : int
        How long the machine runs alone afterwards.
    stage, stages : int
        Number of the moment in the whole job, from 0, and how many stages that has.
    moments : int
        How many of those stages somebody attends.
    """

    when: datetime
    minutes: int
    machine: str
    load: str
    name: str
    does: str
    cautions: tuple[str, ...]
    alone_min: int
    stage: int
    stages: int
    moments: int


def touches(
    week: Week, table: Timetable, clock: Clock, *, whole: Mapping[str, Load]
) -> tuple[Touch, ...]:
    """Return the attendant's list: where to be when, what to do, what to mind.

    Parameters
    ----------
    week : Week
    table : Timetable
    clock : Clock
    whole : mapping of str to Load
        Each whole job, with the stages that are behind us.
    """
    found = []
    for booking in table.bookings:
        stages = week.load(booking.load).stages
        every = whole[booking.load].stages
        moments = sum(one.is_attended for one in every)
        for number, (stage, span) in enumerate(zip(stages, booking.spans, strict=True)):
            if not stage.is_attended:
                continue
            after = stages[number + 1] if number + 1 < len(stages) else None
            alone = 0
            if after is not None and not after.is_attended:
                nxt = booking.spans[number + 1]
                alone = nxt.end_min - nxt.begin_min
            place = (len(every) - len(stages) + number, len(every), moments)
            found.append(_touch(booking, stage, span, place, clock=clock, alone_min=alone))
    return tuple(sorted(found, key=lambda t: t.when))


def _touch(
    booking: Booking,
    stage: Stage,
    span: Span,
    place: tuple[int, int, int],
    *,
    clock: Clock,
    alone_min: int,
) -> Touch:
    return Touch(
        when=clock.when(span.begin_min),
        minutes=span.end_min - span.begin_min,
        machine=booking.machine,
        load=booking.load,
        name=stage.name,
        does=stage.does,
        cautions=stage.cautions,
        alone_min=alone_min,
        stage=place[0],
        stages=place[1],
        moments=place[2],
    )
