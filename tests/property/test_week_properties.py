"""The check of a timetable against a count minute by minute, and relations between weeks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.week_samples import random_week

from kerfwright.scheduling.check import check, holds
from kerfwright.scheduling.records import Booking, Goal, Span, Timetable, Week
from kerfwright.scheduling.solve import timetable

SEEDS = st.integers(0, 400)


def can_be_worked(week: Week, table: Timetable) -> bool:
    """Count people and machines in every minute: nothing is shared with the check."""
    length = week.horizon_min + 20_000
    loads = {x.id: x for x in week.loads}
    person = np.zeros(length, dtype=int)
    for away in week.away:
        person[away.begin_min : away.end_min] += 1
    for machine in week.machines:
        whole, cutting = np.zeros(length, dtype=int), np.zeros(length, dtype=int)
        for down in machine.downs:
            cutting[down.begin_min : down.end_min] += 1
        for b in (b for b in table.bookings if b.machine == machine.id):
            whole[b.begin_min : b.end_min] += 1
            if b.end_min > week.horizon_min or b.begin_min < loads[b.load].ready_min:
                return False
            for stage, span in zip(loads[b.load].stages, b.spans, strict=True):
                cutting[span.begin_min : span.end_min] += 1
                if stage.is_attended:
                    person[span.begin_min : span.end_min] += 1
        if whole.max() > 1 or cutting.max() > 1:
            return False
    at = {b.load: b for b in table.bookings}
    return person.max() <= 1 and all(
        at[other].end_min <= b.begin_min
        for b in table.bookings
        for other in loads[b.load].after
        if other in at
    )


def moved(table: Timetable, which: int, stage: int, by: int) -> Timetable:
    """Shift one stage of one load and all that follow it in that load."""
    bookings = list(table.bookings)
    one = bookings[which % len(bookings)]
    first = stage % len(one.spans)
    spans = tuple(
        s if k < first else Span(begin_min=s.begin_min + by, end_min=s.end_min + by)
        for k, s in enumerate(one.spans)
    )
    bookings[which % len(bookings)] = Booking(load=one.load, machine=one.machine, spans=spans)
    # A value above any: what it says of itself is not what is looked at here.
    return replace(table, bookings=tuple(bookings), value=10**9)


@settings(max_examples=150, deadline=None)
@given(SEEDS, st.integers(0, 30), st.integers(0, 5), st.integers(-400, 400))
def test_the_check_agrees_with_a_count_minute_by_minute(
    seed: int, which: int, stage: int, by: int
) -> None:
    # Set-ups of equal length whatever came before: a shift may change the order.
    week = random_week(seed, loads=5, machines=2)
    loads = tuple(replace(x, running_on="", fixture="") for x in week.loads)
    machines = tuple(replace(m, wire_mm=None, fixture="", max_height_mm=999) for m in week.machines)
    week = replace(week, loads=loads, machines=machines, set_ups=type(week.set_ups)())
    table = timetable(week, steps=5)
    assert can_be_worked(week, table)
    assert holds(check(week, table))
    other = moved(table, which, stage, by)
    if min(b.begin_min for b in other.bookings) < 0 or any(
        a.end_min > b.begin_min
        for booking in other.bookings
        for a, b in zip(booking.spans, booking.spans[1:], strict=False)
    ):
        assert not holds(check(week, other))
    else:
        assert holds(check(week, other)) == can_be_worked(week, other)


@settings(max_examples=25, deadline=None)
@given(SEEDS, st.integers(2, 4))
def test_all_minutes_times_a_factor_give_that_factor_without_hours(seed: int, factor: int) -> None:
    week = replace(random_week(seed, loads=6, machines=2), away=(), quantile=0.5)
    machines = tuple(replace(m, downs=()) for m in week.machines)
    loads = tuple(
        replace(
            x,
            running_on="",
            stages=tuple(
                replace(s, minutes=type(s.minutes).exact(s.planned_min(0.5)), breaks=0.0)
                for s in x.stages
            ),
        )
        for x in week.loads
    )
    week = replace(week, machines=machines, loads=loads)
    rule = week.set_ups
    larger = replace(
        week,
        horizon_min=week.horizon_min * factor,
        loads=tuple(
            replace(
                x,
                ready_min=x.ready_min * factor,
                due_min=None if x.due_min is None else x.due_min * factor,
                stages=tuple(replace(s, minutes=s.minutes * factor) for s in x.stages),
            )
            for x in loads
        ),
        set_ups=replace(
            rule,
            wire_change_min=rule.wire_change_min * factor,
            same_fixture_saves_min=rule.same_fixture_saves_min * factor,
            least_min=rule.least_min * factor,
        ),
    )
    for goal in Goal:
        one, other = (timetable(w, goal=goal, steps=40, seed=1) for w in (week, larger))
        if one.bookings:
            # A mean of machines is rounded up once.
            assert factor * (one.bound - 1) < other.bound <= factor * one.bound or not one.bound
            assert holds(check(larger, other))


@settings(max_examples=25, deadline=None)
@given(SEEDS)
def test_the_names_of_machines_and_loads_do_not_matter(seed: int) -> None:
    week = random_week(seed, loads=6, machines=3)
    renamed = replace(
        week,
        machines=tuple(replace(m, id=f"X{m.id}") for m in week.machines),
        loads=tuple(
            replace(
                x,
                id=f"Y{x.id}",
                after=tuple(f"Y{n}" for n in x.after),
                running_on=f"X{x.running_on}" if x.running_on else "",
            )
            for x in week.loads
        ),
    )
    one, other = (timetable(w, steps=60, seed=3) for w in (week, renamed))
    assert (one.value, one.bound) == (other.value, other.bound)
    assert [f"Y{b.load}" for b in one.bookings] == [b.load for b in other.bookings]
