"""Hours, breaks and holidays become minutes; a stop waits until somebody is there."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from tests.week_samples import CALENDAR, CLOCK, SPELLS

from kerfwright.foundation.errors import InputError
from kerfwright.scheduling.hours import Calendar, Clock, Standing, gaps
from kerfwright.scheduling.records import Span


def pairs(spans: tuple[Span, ...]) -> list[tuple[int, int]]:
    return [(s.begin_min, s.end_min) for s in spans]


def test_hours_begin_at_the_clock_and_leave_the_break_and_the_night_out() -> None:
    assert pairs(CALENDAR.spells(CLOCK, days=2)) == [
        (0, 300), (330, 540), (1440, 1740), (1770, 1980)
    ]  # fmt: skip
    assert pairs(CALENDAR.away(CLOCK, days=1)) == [(300, 330), (540, 1440)]


def test_a_timetable_that_begins_in_a_spell_has_the_rest_of_it() -> None:
    noon = Clock(begin=CLOCK.begin + timedelta(hours=4, minutes=50))
    assert pairs(CALENDAR.spells(noon, days=1))[:2] == [(0, 10), (40, 250)]


def test_the_week_end_and_a_holiday_have_no_hours() -> None:
    shut = Calendar(hours=dict.fromkeys(range(5), SPELLS), holidays=frozenset({date(2026, 12, 1)}))
    days = {CLOCK.when(s.begin_min).date().isoformat() for s in shut.spells(CLOCK, days=8)}
    assert sorted(days) == ["2026-11-30", "2026-12-02", "2026-12-03", "2026-12-04", "2026-12-07"]


def test_spells_past_midnight_of_the_day_before_count() -> None:
    night = Clock(begin=datetime.fromisoformat("2026-12-01 06:00"))
    spells = Calendar(hours={1: ((time(5), time(8)),)}).spells(night, days=1)
    assert pairs(spells) == [(0, 120)]


def test_what_is_due_on_a_sunday_has_to_be_done_on_friday() -> None:
    assert CALENDAR.end_of(date(2026, 12, 6)) == datetime.fromisoformat("2026-12-04 16:00")
    assert CALENDAR.end_of(date(2026, 12, 2)) == datetime.fromisoformat("2026-12-02 16:00")


@pytest.mark.parametrize(
    "hours",
    [{}, {0: ()}, {0: ((time(9), time(8)),)}, {0: ((time(7), time(12)), (time(11), time(16)))}],
)
def test_hours_that_cannot_be_are_refused(hours: dict[int, tuple[tuple[time, time], ...]]) -> None:
    with pytest.raises(InputError) as refused:
        Calendar(hours=hours)
    assert refused.value.code == "schedule-hours"
    assert refused.value.remedy


def test_the_mean_wait_is_that_of_stops_at_every_minute() -> None:
    away = CALENDAR.away(CLOCK, days=6)
    standing = Standing(away)
    for begin, end in ((0, 540), (100, 2000), (500, 700), (4000, 8000), (310, 320)):
        by_minute = [standing.wait_min(m + 0.5) for m in range(begin, end)]
        assert standing.mean_min(begin, end) == pytest.approx(sum(by_minute) / (end - begin))
    assert standing.wait_min(200) == 0
    assert standing.wait_min(540) == 900


def test_gaps_are_what_lies_between() -> None:
    spans = [Span(begin_min=5, end_min=7), Span(begin_min=6, end_min=9)]
    assert pairs(gaps(spans, end_min=12)) == [(0, 5), (9, 12)]
