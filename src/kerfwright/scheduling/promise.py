"""The earliest day on which work may be promised, seen from what is on the machines."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np

from kerfwright.scheduling.hours import Calendar, Clock
from kerfwright.scheduling.records import Load, Timetable, Week
from kerfwright.scheduling.simulate import Ends

HELD_SHARE: Final = 0.9
"""Upper end of the 80 % range."""
_MOST_DAYS: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """When a load may be promised.

    Attributes
    ----------
    load : str
    day : date
        First day by whose end it is done in so many runs.
    held_share : float
        Share of runs in which it is.
    likely_day : date
        The same with one run in two.
    later : tuple of str
        Loads that were on time without it and no longer are.
    """

    load: str
    day: date
    held_share: float
    likely_day: date
    later: tuple[str, ...] = ()


def promise(
    new: Load,
    *,
    week: Week,
    calendar: Calendar,
    clock: Clock,
    bench_min: float = 0.0,
    held_share: float = HELD_SHARE,
    work_through: Callable[[Week], tuple[Timetable, tuple[Ends, ...]]],
    before: tuple[Timetable, Sequence[Ends]],
) -> Promise | None:
    """Return the earliest day that a new load holds, what is there keeping its due dates.

    The new load is put where it delays nothing that has a due date, and worked through with all
    others; the day is the first by whose end it is done in the share asked.

    Parameters
    ----------
    new : Load
        Without a due date.
    week : Week
        What is on the machines.
    calendar, clock
    bench_min : float
        From the last cut to ready for collection.
    held_share : float
    work_through : callable
        Makes a timetable of a week and works through it.
    before : (Timetable, sequence of Ends)
        The same without the new load.

    Returns
    -------
    Promise or None
        None where it goes on no machine or does not end within what is planned.
    """
    table, ends = work_through(replace(week, loads=(*week.loads, replace(new, due_min=None))))
    mine = next((one for one in ends if one.load == new.id), None)
    if mine is None:
        return None
    done = np.array(mine.samples_min) + bench_min
    day = _day(done, held_share, calendar=calendar, clock=clock)
    likely = _day(done, 0.5, calendar=calendar, clock=clock)
    if day is None or likely is None:
        return None
    return Promise(
        load=new.id,
        day=day[0],
        held_share=day[1],
        likely_day=likely[0],
        later=_later(week, before[0], table),
    )


def _day(
    done_min: np.ndarray, share: float, *, calendar: Calendar, clock: Clock
) -> tuple[date, float] | None:
    """Return the first working day by whose end so many runs are done."""
    for number in range(_MOST_DAYS):
        day = (clock.begin + timedelta(days=number)).date()
        end = calendar.end_of(day)
        if end.date() != day:
            continue
        held = float((done_min <= clock.minute(end)).mean())
        if held >= share and not math.isnan(held):
            return day, held
    return None


def _later(week: Week, before: Timetable, after: Timetable) -> tuple[str, ...]:
    found = []
    for load in week.loads:
        if load.due_min is None or load.id in before.left or load.id in after.left:
            continue
        if before.booking(load.id).end_min <= load.due_min < after.booking(load.id).end_min:
            found.append(load.id)
    return tuple(found)
