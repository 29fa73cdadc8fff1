"""A timetable worked through with minutes that vary."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.week_samples import random_week, stage, week

from kerfwright.foundation.ranges import Range
from kerfwright.scheduling.records import Load, Week
from kerfwright.scheduling.simulate import simulate
from kerfwright.scheduling.solve import timetable


def exact(here: Week) -> Week:
    """Return a week whose stages take the minutes kept for them."""
    return replace(
        here,
        loads=tuple(
            replace(
                load,
                stages=tuple(
                    replace(s, minutes=Range.exact(s.planned_min(here.quantile)), breaks=0.0)
                    for s in load.stages
                ),
            )
            for load in here.loads
        ),
    )


@pytest.mark.parametrize("seed", range(20))
def test_work_that_takes_what_is_kept_for_it_is_never_done_later_than_planned(seed: int) -> None:
    here = exact(random_week(seed))
    table = timetable(here, steps=100)
    for one in simulate(here, table, runs=1):
        assert one.minutes.high <= table.booking(one.load).end_min


def test_one_cut_is_done_as_its_range_says() -> None:
    # Closed form: P(30 + X <= 142.5) for ln X ~ N(ln 100, 0.2).
    cut = Load(id="cut", stages=(stage(30, attended=True), stage(100, sigma=0.2)), due_min=142)
    here = week(cut)
    (one,) = simulate(here, timetable(here, steps=2), runs=4000)
    assert one.held_share is not None
    expected = 0.5 * (1 + math.erf(math.log(112 / 100) / 0.2 / math.sqrt(2)))
    assert one.held_share == pytest.approx(expected, abs=0.025)
    assert one.minutes.likely == pytest.approx(130, abs=1.5)
    assert one.minutes.high == pytest.approx(30 + 100 * math.exp(0.2 * 1.28155), abs=3)


def test_a_break_at_night_stands_until_the_morning() -> None:
    # Monday 16:00 to 22:40: one break on the mean, nobody there until Tuesday 7:00.
    cut = Load(id="cut", stages=(stage(400, breaks=1.0),), ready_min=540, due_min=941)
    here = week(cut)
    (one,) = simulate(here, timetable(here, steps=2), runs=4000, help_min=10)
    # No break: e^-1 (Poisson); else it ends after seven.
    assert one.held_share == pytest.approx(math.exp(-1), abs=0.025)
    assert min(m for m in one.samples_min if m > 941) >= 1450


def test_a_seed_gives_the_same_runs() -> None:
    here = random_week(4)
    table = timetable(here, steps=50)
    assert simulate(here, table, runs=20, seed=1) == simulate(here, table, runs=20, seed=1)
    assert simulate(here, table, runs=20, seed=1) != simulate(here, table, runs=20, seed=2)
