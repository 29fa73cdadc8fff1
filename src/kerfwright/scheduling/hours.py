"""When somebody attends: hours by weekday, breaks and holidays, as minutes of a timetable."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.scheduling.records import Span

DAY_MIN: Final = 24 * 60
WEEK: Final = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """The moment at which a timetable begins, by the clock on the wall of the shop.

    A change to or from summer time is not counted: a night in which the clocks change is taken
    an hour too long or too short.
    """

    begin: datetime

    def minute(self, when: datetime) -> int:
        """Return the minute of a moment, rounded down; negative before the begin."""
        return int((when - self.begin).total_seconds() // 60)

    def when(self, minute: int) -> datetime:
        """Return the moment of a minute."""
        return self.begin + timedelta(minutes=minute)


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """When the attendant is there.

    Attributes
    ----------
    hours : mapping of int to tuple of (time, time)
        Begin and end of each spell by weekday, Monday being 0; breaks are what lies between.
    holidays : frozenset of date
        Days on which nobody comes.
    """

    hours: Mapping[int, tuple[tuple[time, time], ...]]
    holidays: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if not any(self.hours.values()):
            raise InputError(
                "nobody ever attends",
                code="schedule-hours",
                remedy='Give hours for a day at least, such as mon = ["07:00-16:00"].',
            )
        for day, spells in self.hours.items():
            flat = [moment for spell in spells for moment in spell]
            if sorted(set(flat)) != flat:
                raise InputError(
                    f"hours of weekday {day + 1} overlap or end before they begin: "
                    + ", ".join(f"{a:%H:%M}-{b:%H:%M}" for a, b in spells),
                    code="schedule-hours",
                    remedy="Give spells in their order, each ending before the next begins.",
                )

    def spells(self, clock: Clock, *, days: int) -> tuple[Span, ...]:
        """Return when somebody attends, from the clock's begin for so many days."""
        found = []
        for number in range(-1, days + 1):
            day = (clock.begin + timedelta(days=number)).date()
            if day in self.holidays:
                continue
            for begin, end in self.hours.get(day.weekday(), ()):
                first = max(clock.minute(datetime.combine(day, begin)), 0)
                last = min(clock.minute(datetime.combine(day, end)), days * DAY_MIN)
                if first < last:
                    found.append(Span(begin_min=first, end_min=last))
        return tuple(found)

    def away(self, clock: Clock, *, days: int) -> tuple[Span, ...]:
        """Return when nobody attends, from the clock's begin for so many days."""
        return gaps(self.spells(clock, days=days), end_min=days * DAY_MIN)

    def end_of(self, day: date) -> datetime:
        """Return the end of the hours of a day, or of the last day before on which anybody comes.

        What is due on a day has to be done by then.
        """
        for back in range(10 * WEEK):
            one = day - timedelta(days=back)
            spells = () if one in self.holidays else self.hours.get(one.weekday(), ())
            if spells:
                return datetime.combine(one, spells[-1][1])
        raise InputError(
            f"nobody attends in the ten weeks before {day.isoformat()}",
            code="schedule-hours",
            remedy="Look at the holidays.",
        )

    def back(self, when: datetime, minutes: int) -> datetime:
        """Return the moment from which so many minutes of hours lie before another.

        Raises
        ------
        InputError
            Code ``schedule-hours`` where ten weeks do not hold them.
        """
        day = when.date()
        for number in range(10 * WEEK):
            one = day - timedelta(days=number)
            spells = () if one in self.holidays else self.hours.get(one.weekday(), ())
            for begin, end in reversed(spells):
                last = min(datetime.combine(one, end), when)
                there = int((last - datetime.combine(one, begin)).total_seconds() // 60)
                if 0 < minutes <= there or (minutes <= 0 <= there):
                    return last - timedelta(minutes=minutes)
                minutes -= max(0, there)
        raise InputError(
            f"ten weeks before {when:%Y-%m-%d} hold no {minutes} min of hours more",
            code="schedule-hours",
            remedy="Look at hours and quantity.",
        )


def gaps(spans: Iterable[Span], *, end_min: int) -> tuple[Span, ...]:
    """Return what lies between spans that ascend, from minute 0 to an end."""
    found, now = [], 0
    for span in spans:
        if span.begin_min > now:
            found.append(Span(begin_min=now, end_min=span.begin_min))
        now = max(now, span.end_min)
    if now < end_min:
        found.append(Span(begin_min=now, end_min=end_min))
    return tuple(found)


def longest_min(away: Sequence[Span], *, horizon_min: int) -> int:
    """Return the longest time that somebody attends without a break."""
    return max((s.end_min - s.begin_min for s in gaps(away, end_min=horizon_min)), default=0)


class Standing:
    """How long a machine stands that stops when nobody is there.

    Parameters
    ----------
    away : sequence of Span
        When nobody attends, ascending.
    """

    def __init__(self, away: Sequence[Span]) -> None:
        self._begins = [s.begin_min for s in away]
        self._away = [(s.begin_min, s.end_min) for s in away]
        self._sums = [0.0]
        for begin, end in self._away:
            self._sums.append(self._sums[-1] + (end - begin) ** 2 / 2)

    def _integral(self, minute: float) -> float:
        """Return the integral of the wait from 0 to a minute: triangles over each absence."""
        k = bisect_right(self._begins, minute)
        total = self._sums[k]
        if k:
            _, end = self._away[k - 1]
            if minute < end:
                total -= (end - minute) ** 2 / 2
        return total

    def wait_min(self, minute: float) -> float:
        """Return how long it is from a minute until somebody attends."""
        k = bisect_right(self._begins, minute) - 1
        return max(0.0, self._away[k][1] - minute) if k >= 0 else 0.0

    def mean_min(self, begin_min: int, end_min: int) -> float:
        """Return the mean wait of a stop at any minute of a span, all being alike.

        Examples
        --------
        >>> night = Standing([Span(begin_min=480, end_min=1440)])
        >>> night.mean_min(480, 1440), night.mean_min(0, 480), night.mean_min(960, 1440)
        (480.0, 0.0, 240.0)
        """
        return (self._integral(end_min) - self._integral(begin_min)) / (end_min - begin_min)
