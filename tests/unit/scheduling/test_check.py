"""The check sees every way in which a timetable may be wrong, and only those."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.week_samples import stage, week

from kerfwright.scheduling.check import check, holds
from kerfwright.scheduling.records import (
    Booking,
    Goal,
    Load,
    Need,
    ParkMachine,
    SetUps,
    Span,
    Timetable,
)

DIE = Load(
    id="die",
    stages=(stage(40, attended=True), stage(120), stage(10, attended=True, name="cut-offs")),
    due_min=300,
    need=Need(height_mm=30.0, wire_mm=0.25, definition="ours"),
    fixture="vice",
)
PUNCH = Load(id="punch", stages=(stage(30, attended=True), stage(60)), after=("die",), ready_min=5)
PARK = (
    ParkMachine(
        id="M1",
        definition="ours",
        max_height_mm=100.0,
        wire_diameters_mm=(0.2, 0.25),
        wire_mm=0.25,
        downs=(Span(begin_min=1500, end_min=1600),),
    ),
    ParkMachine(id="M2", definition="ours", max_height_mm=25.0),
)
WEEK = week(DIE, PUNCH, machines=PARK)


def book(load: str, machine: str, *spans: tuple[int, int]) -> Booking:
    return Booking(
        load=load,
        machine=machine,
        spans=tuple(Span(begin_min=a, end_min=b) for a, b in spans),
    )


DIE_AT = book("die", "M1", (0, 40), (40, 160), (160, 170))
PUNCH_AT = book("punch", "M2", (170, 200), (200, 260))


def table(*bookings: Booking, value: int = 0, bound: int = 0) -> Timetable:
    return Timetable(bookings=bookings, goal=Goal.DUE, value=value, bound=bound)


def test_a_timetable_that_holds_gives_no_finding() -> None:
    assert check(WEEK, table(DIE_AT, PUNCH_AT)) == ()


@pytest.mark.parametrize(
    ("die", "punch", "code"),
    [
        (DIE_AT, None, "schedule-count"),
        (DIE_AT, book("punch", "M3", (170, 200), (200, 260)), "schedule-machine"),
        (DIE_AT, book("punch", "M2", (170, 200)), "schedule-stages"),
        (DIE_AT, book("punch", "M2", (170, 199), (200, 260)), "schedule-minutes"),
        (DIE_AT, book("punch", "M2", (170, 200), (200, 259)), "schedule-minutes"),
        (DIE_AT, book("punch", "M2", (170, 200), (199, 259)), "schedule-order"),
        (DIE_AT, book("punch", "M2", (169, 199), (199, 259)), "schedule-before"),
        (DIE_AT, book("punch", "M1", (165, 195), (195, 255)), "schedule-overlap"),
        (book("die", "M2", (0, 40), (40, 160), (160, 170)), PUNCH_AT, "schedule-misfit"),
        # 12:00 to 12:30 nobody is there: minutes 300 to 330.
        (DIE_AT, book("punch", "M2", (290, 320), (320, 380)), "schedule-hours"),
        (DIE_AT, book("punch", "M2", (530, 560), (560, 620)), "schedule-hours"),
        (DIE_AT, book("punch", "M1", (1480, 1510), (1600, 1660)), "schedule-down"),
        (DIE_AT, book("punch", "M1", (1465, 1495), (1599, 1659)), "schedule-down"),
        (
            DIE_AT,
            book("punch", "M2", (28 * 1440 - 1440, 28 * 1440 - 1410), (28 * 1440, 28 * 1440 + 60)),
            "schedule-horizon",
        ),
    ],
)  # fmt: skip
def test_a_planted_fault_is_seen(die: Booking, punch: Booking | None, code: str) -> None:
    found = check(WEEK, table(die, *([punch] if punch else [])))
    assert code in [f.code for f in found]
    assert not holds(found)


def test_two_moments_at_once_are_seen() -> None:
    free = replace(PUNCH, after=())
    found = check(
        week(DIE, free, machines=PARK),
        table(DIE_AT, book("punch", "M2", (30, 60), (60, 120))),
    )
    assert [f.code for f in found] == ["schedule-attendant"]


def test_a_load_that_begins_before_it_is_ready_is_seen() -> None:
    late = replace(PUNCH, after=(), ready_min=175)
    found = check(week(DIE, late, machines=PARK), table(DIE_AT, PUNCH_AT))
    assert [f.code for f in found] == ["schedule-ready"]


def test_another_wire_and_a_fixture_that_stays_change_the_set_up() -> None:
    rule = SetUps(wire_change_min=20, same_fixture_saves_min=15)
    thin = Load(id="thin", stages=(stage(30, attended=True),), need=Need(wire_mm=0.2))
    same = Load(
        id="same", stages=(stage(30, attended=True),), need=Need(wire_mm=0.2), fixture="vice"
    )
    park = (PARK[0],)
    after_die = book("thin", "M1", (170, 220))
    shorter = book("same", "M1", (220, 250))
    here = week(DIE, thin, same, machines=park, set_ups=rule)
    assert check(here, table(DIE_AT, after_die, shorter)) == ()
    swapped = check(
        here, table(DIE_AT, book("same", "M1", (170, 205)), book("thin", "M1", (205, 235)))
    )
    assert swapped == ()
    plain = check(here, table(DIE_AT, book("thin", "M1", (170, 200)), shorter))
    assert [f.code for f in plain] == ["schedule-minutes"]


def test_what_runs_is_first_on_its_machine() -> None:
    running = replace(PUNCH, after=(), running_on="M1", ready_min=0, stages=(stage(60),))
    found = check(week(DIE, running, machines=PARK), table(DIE_AT, book("punch", "M1", (200, 260))))
    assert [f.code for f in found] == ["schedule-running"]


def test_a_due_date_that_is_passed_is_a_warning_and_the_timetable_holds() -> None:
    late = book("die", "M1", (400, 440), (440, 560), (1440, 1450))
    punch = book("punch", "M2", (1450, 1480), (1480, 1540))
    found = check(WEEK, table(late, punch, value=1150))
    assert [f.code for f in found] == ["schedule-late"]
    assert found[0].data["late_min"] == 1150
    assert holds(found)


def test_a_timetable_that_calls_itself_better_than_it_is_is_seen() -> None:
    late = book("die", "M1", (400, 440), (440, 560), (1440, 1450))
    punch = book("punch", "M2", (1450, 1480), (1480, 1540))
    assert "schedule-value" in [f.code for f in check(WEEK, table(late, punch, value=1149))]
    wrong = table(DIE_AT, PUNCH_AT, value=0, bound=1)
    assert [f.code for f in check(WEEK, wrong)] == ["schedule-value"]
