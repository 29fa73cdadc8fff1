"""Timetables of lists and annealing: the same for a seed, honest about what they prove."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from tests.week_samples import random_week, stage, week

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.ranges import Range
from kerfwright.scheduling.check import check, holds
from kerfwright.scheduling.lists import place
from kerfwright.scheduling.problem import problem_of
from kerfwright.scheduling.records import Goal, Load, Need, ParkMachine, SetUps, Stage
from kerfwright.scheduling.solve import plain_bound, timetable


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("goal", Goal)
def test_a_timetable_of_any_week_holds_by_the_other_code(seed: int, goal: Goal) -> None:
    here = random_week(seed)
    table = timetable(here, goal=goal, steps=150, seed=seed)
    assert holds(check(here, table))
    assert {b.load for b in table.bookings} | set(table.left) == {x.id for x in here.loads}


def test_a_seed_and_steps_give_the_same_timetable() -> None:
    here = random_week(3, loads=12)
    one, two = (timetable(here, steps=400, seed=5) for _ in range(2))
    assert one == two
    assert any(timetable(here, steps=400, seed=k).bookings != one.bookings for k in range(6, 9))


def test_nothing_is_called_proved_that_is_not() -> None:
    here = random_week(5)
    table = timetable(here, steps=20)
    assert table.value > table.bound == plain_bound(problem_of(here, goal=Goal.DUE))
    assert not table.is_proved
    assert 0 < table.gap_share <= 1


@pytest.mark.parametrize("goal", Goal)
def test_the_plain_bound_is_below_every_order_of_a_small_week(goal: Goal) -> None:
    for seed in range(6):
        problem = problem_of(random_week(seed, loads=4, machines=2), goal=goal)
        count = len(problem.pieces)
        least = min(
            place(problem, order, choice).value
            for order in itertools.permutations(range(count))
            for choice in itertools.product(*(p.machines for p in problem.pieces))
        )
        assert plain_bound(problem) <= least


def test_a_machine_waits_for_the_attendant_and_cuts_through_the_night() -> None:
    # Set up at 15:30, rough until 20:30; the slugs wait for seven in the morning.
    one = Load(id="one", stages=(stage(30, attended=True), stage(300), stage(5, attended=True)),
               ready_min=510)  # fmt: skip
    (booking,) = timetable(week(one), steps=10).bookings
    assert [(s.begin_min, s.end_min) for s in booking.spans] == [
        (510, 540), (540, 840), (1440, 1445)
    ]  # fmt: skip


def test_breaks_of_the_wire_are_kept_out_of_the_night_where_that_costs_nothing() -> None:
    # Both end in time either way; the risky one is better cut by day.
    safe = Load(id="safe", stages=(stage(30, attended=True), stage(420)))
    risky = Load(id="risky", stages=(stage(30, attended=True), stage(420, breaks=2.0)))
    found = timetable(week(safe, risky, machines=1), steps=60)
    assert [b.load for b in found.bookings] == ["risky", "safe"]


def test_loads_of_one_wire_and_fixture_follow_each_other() -> None:
    loads = tuple(
        Load(
            id=f"L{k}",
            stages=(stage(30, attended=True), stage(10)),
            need=Need(wire_mm=(0.2, 0.25)[k % 2]),
            fixture=("vice", "plate")[k % 2],
        )
        for k in range(4)
    )
    rule = SetUps(wire_change_min=25, same_fixture_saves_min=20)
    here = week(*loads, machines=1, set_ups=rule)
    table = timetable(here, goal=Goal.END, steps=200)
    wires = [here.load(b.load).need.wire_mm for b in table.bookings]
    assert wires[0] == wires[1] != wires[2] == wires[3]
    assert table.value == 4 * 40 + 25 - 2 * 20
    assert holds(check(here, table))


def test_a_load_that_fits_nowhere_is_left_with_the_reason_of_every_machine() -> None:
    tall = Load(id="tall", stages=(stage(30),), need=Need(height_mm=120.0))
    next_one = Load(id="next", stages=(stage(30),), after=("tall",))
    low = ParkMachine(id="M1", max_height_mm=100.0)
    table = timetable(week(tall, next_one, machines=(low,)), steps=5)
    assert table.bookings == ()
    assert "120.0000 mm (4.72441 in)" in table.left["tall"]
    assert table.left["next"] == "it waits for tall"


def test_a_longer_share_of_the_range_keeps_more_minutes() -> None:
    cut = Stage(name="rough", minutes=Range(low=70, likely=100, high=150), is_attended=False)
    assert [cut.planned_min(q) for q in (0.1, 0.5, 0.7, 0.9)] == [70, 100, 119, 150]


@pytest.mark.parametrize(
    ("loads", "code"),
    [
        ((Load(id="a", stages=(stage(400, attended=True),)),), "schedule-moment-too-long"),
        (
            (Load(id="a", stages=(stage(5),), after=("b",)),
             Load(id="b", stages=(stage(5),), after=("a",))),
            "schedule-circle",
        ),
        ((Load(id="a", stages=(stage(5),), after=("z",)),), "schedule-unknown-load"),
        ((Load(id="a", stages=(stage(50_000),)),), "schedule-horizon"),
    ],
)  # fmt: skip
def test_a_week_that_cannot_be_is_refused_with_a_remedy(loads: tuple[Load, ...], code: str) -> None:
    with pytest.raises(InputError) as refused:
        timetable(week(*loads), steps=5)
    assert refused.value.code == code
    assert refused.value.remedy


def test_names_and_shares_are_checked() -> None:
    one = Load(id="a", stages=(stage(5),))
    with pytest.raises(InputError, match="names of their own"):
        week(one, one)
    with pytest.raises(InputError, match=r"0\.99"):
        week(one, quantile=0.99)
    with pytest.raises(InputError, match="importance"):
        replace(one, importance=0)


def test_the_search_tells_how_far_it_is_and_ends_when_asked() -> None:
    said: list[float] = []
    table = timetable(
        random_week(3), budget_s=30, tell=lambda _what, share: said.append(share),
        stop=lambda: len(said) > 3,
    )  # fmt: skip
    assert table.stopped
    assert said == sorted(said)
