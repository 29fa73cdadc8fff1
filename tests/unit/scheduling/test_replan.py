"""After a breakdown or a rush job: what has begun stays, the rest moves as little as it can."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from tests.week_samples import CALENDAR, CLOCK, park_of, random_week, stage, week

from kerfwright.app.week import Search, Told, WeekResult, plan_week
from kerfwright.scheduling.check import check, holds
from kerfwright.scheduling.hours import Clock
from kerfwright.scheduling.lists import place, pushed_left
from kerfwright.scheduling.problem import problem_of
from kerfwright.scheduling.records import Goal, Load, ParkMachine, Span, Week
from kerfwright.scheduling.replan import rest_of


def cut(name: str, *, due: int | None = None, rough: int = 200) -> Load:
    return Load(
        id=name,
        stages=(
            stage(30, attended=True),
            stage(rough),
            stage(10, attended=True, name="cut-offs"),
            stage(90, name="skims"),
        ),
        due_min=due,
    )


def planned(here: Week, *, clock: Clock = CLOCK, told: Told | None = None,
            steps: int = 300) -> WeekResult:  # fmt: skip
    return plan_week(here, park=park_of(here), clock=clock, search=Search(steps=steps), told=told)


LOADS = tuple(cut(f"J{k}", due=700 + 400 * k) for k in range(1, 7))


def later(here: Week, minutes: int) -> tuple[Week, Clock]:
    clock = Clock(begin=CLOCK.begin + timedelta(minutes=minutes))
    return replace(here, away=CALENDAR.away(clock, days=28)), clock


def told_of(result: WeekResult) -> Told:
    return Told(begin=result.clock.begin, bookings=result.told)


def test_nothing_moves_where_nothing_happened() -> None:
    first = planned(week(*LOADS))
    here, clock = later(week(*LOADS), 200)
    loads = tuple(replace(x, due_min=(x.due_min or 0) - 200) for x in LOADS)
    again = planned(replace(here, loads=loads), clock=clock, told=told_of(first))
    assert again.moves == ()
    assert again.is_replanned
    assert again.holds


def test_a_breakdown_moves_few_and_what_has_begun_stays_on_its_machine() -> None:
    first = planned(week(*LOADS))
    here, clock = later(week(*LOADS), 100)
    on_m1 = next(b.load for b in first.table.bookings if b.machine == "M1" and b.begin_min < 100)
    broken = (
        ParkMachine(id="M1", downs=(Span(begin_min=0, end_min=3000),)),
        ParkMachine(id="M2"),
    )
    loads = tuple(replace(x, due_min=(x.due_min or 0) - 100) for x in LOADS)
    again = planned(replace(here, loads=loads, machines=broken), clock=clock, told=told_of(first))
    assert again.holds
    stays = again.table.booking(on_m1)
    assert stays.machine == "M1"
    assert stays.spans[0].begin_min >= 3000
    assert on_m1 not in {m.load for m in again.moves}
    anew = planned(replace(here, loads=loads, machines=broken), clock=clock)
    before = {b.load: (b.machine, b.begin_min - 100) for b in first.table.bookings}
    begun = {name for name, (_, begin) in before.items() if begin < 0}

    def moved(result: WeekResult) -> int:
        return sum(
            b.machine != before[b.load][0] or abs(b.begin_min - before[b.load][1]) > 60
            for b in result.table.bookings
            if b.load not in begun
        )

    assert moved(again) == len(again.moves)
    assert moved(again) <= moved(anew)


def test_a_rush_job_finds_its_place_and_says_what_it_moved() -> None:
    first = planned(week(*LOADS))
    rush = replace(cut("rush", due=400), importance=9)
    again = planned(week(*LOADS, rush), told=told_of(first))
    assert again.holds
    assert again.table.booking("rush").end_min <= 400
    said = {m.load for m in again.moves}
    for booking in again.table.bookings:
        if booking.load == "rush":
            continue
        old = first.table.booking(booking.load)
        same = old.machine == booking.machine and abs(old.begin_min - booking.begin_min) <= 60
        assert (booking.load not in said) == same


def test_what_is_done_stays_done_and_a_running_stage_keeps_its_share() -> None:
    load = cut("one")
    spans = ((-300, -270), (-270, -70), (-70, -60), (-60, 30))
    rest = rest_of(load, machine="M2", spans=spans)
    assert rest is not None
    assert [s.name for s in rest.stages] == ["skims"]
    assert rest.stages[0].minutes.likely == pytest.approx(30)
    assert rest.running_on == "M2"
    assert rest_of(load, machine="M2", spans=tuple((a - 100, b - 100) for a, b in spans)) is None
    assert rest_of(load, machine="M2", spans=tuple((a + 300, b + 300) for a, b in spans)) == load


def test_a_timetable_told_again_and_again_keeps_what_was_done() -> None:
    result = planned(week(*LOADS, machines=1))
    base = week(*LOADS, machines=1)
    done: set[str] = set()
    for now in (300, 900, 2000, 4000):
        here, clock = later(base, now)
        loads = tuple(replace(x, due_min=(x.due_min or 0) - now) for x in LOADS)
        result = planned(replace(here, loads=loads), clock=clock, told=told_of(result), steps=50)
        assert result.holds
        left = {b.load for b in result.table.bookings}
        assert not left & done
        done = {x.id for x in LOADS} - left
    assert done


@pytest.mark.parametrize("seed", range(10))
def test_pushing_to_the_left_never_makes_a_stage_later(seed: int) -> None:
    here = random_week(seed)
    problem = problem_of(here, goal=Goal.DUE)
    lists = place(problem, range(len(problem.pieces)), [None] * len(problem.pieces))
    pushed = pushed_left(problem, lists.machines, lists.spans)
    for old, new in zip(lists.spans, pushed.spans, strict=True):
        assert all(b[0] <= a[0] for a, b in zip(old, new, strict=True))
    assert pushed.value <= lists.value


def test_the_timetable_of_a_week_of_a_shop_is_checked() -> None:
    here = week(*LOADS)
    result = planned(here)
    assert holds(check(here, result.table))
    assert [t.when for t in result.touches] == sorted(t.when for t in result.touches)
    assert sum(t.load == "J1" for t in result.touches) == 2
