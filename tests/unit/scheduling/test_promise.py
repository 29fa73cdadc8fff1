"""A day that may be promised: from what is on the machines, and with its doubts."""

from __future__ import annotations

from datetime import date

from tests.week_samples import CLOCK, park_of, stage, week

from kerfwright.app.week import Search, plan_week
from kerfwright.scheduling.promise import Promise
from kerfwright.scheduling.records import Load, Week


def asked(here: Week, new: Load, *, bench_min: float = 0.0) -> Promise | None:
    return plan_week(
        here, park=park_of(here), clock=CLOCK, search=Search(steps=150), quote=(new, bench_min)
    ).promise


def cut(name: str, rough: float, *, due: int | None = None, sigma: float = 0.0) -> Load:
    return Load(id=name, stages=(stage(30, attended=True), stage(rough, sigma=sigma)), due_min=due)


def test_an_empty_shop_promises_the_day_on_which_the_work_is_done() -> None:
    found = asked(week(machines=1), cut("new", 300))
    assert found is not None
    # Monday 7:00, 330 minutes.
    assert found.day == found.likely_day == date(2026, 11, 30)
    assert found.held_share == 1.0


def test_time_on_the_bench_and_the_week_end_count() -> None:
    friday = week(cut("old", 4 * 1440 - 60, due=5760), machines=1)
    found = asked(friday, cut("new", 600), bench_min=30)
    assert found is not None
    # Set up on Friday morning, cut until the evening: ready by the end of Monday.
    assert found.day == date(2026, 12, 7)


def test_what_is_there_keeps_its_due_date() -> None:
    here = week(cut("a", 420, due=450), cut("b", 800, due=1440 + 900), machines=1)
    found = asked(here, cut("new", 200))
    assert found is not None
    assert found.later == ()
    assert found.day >= date(2026, 12, 1)


def test_a_wide_range_promises_later_than_is_likely() -> None:
    # 430 minutes leave the middle in time for 16:00, the upper end far from it.
    found = asked(week(machines=1), cut("new", 480, sigma=0.6))
    assert found is not None
    assert found.likely_day == date(2026, 11, 30)
    assert found.day == date(2026, 12, 1)
    assert found.held_share >= 0.9


def test_work_that_goes_on_no_machine_is_promised_no_day() -> None:
    new = Load(id="new", stages=(stage(30),), machines=("M9",))
    assert asked(week(machines=1), new) is None
