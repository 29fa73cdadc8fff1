"""Whether a timetable holds, by other code than what makes it.

Nothing that searches is imported here; fits, set-ups and minutes are worked out anew from the
records.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.scheduling.records import (
    Booking,
    Goal,
    Load,
    ParkMachine,
    Span,
    Timetable,
    Week,
)

LATE: Final = "schedule-late"
LEFT: Final = "schedule-left"
FAULTS: Final = frozenset(
    f"schedule-{what}"
    for what in (
        "count", "machine", "stages", "minutes", "order", "ready", "horizon", "misfit", "down",
        "before", "overlap", "running", "attendant", "hours", "value",
    )
)  # fmt: skip
"""Codes of what makes a timetable one that cannot be worked by."""
_SAME_WIRE: Final = 0.02
"""Sizes of the trade in inches round to millimetres within it: 0.010 in is sold as 0.25 mm."""
_Named = tuple[str, Span]


def check(week: Week, table: Timetable) -> tuple[Finding, ...]:
    """Check a timetable against its week.

    Parameters
    ----------
    week : Week
    table : Timetable

    Returns
    -------
    tuple of Finding
        Refusals of what cannot be done; warnings of due dates that are passed.
    """
    found = list(_counts(week, table))
    loads = {one.id: one for one in week.loads}
    machines = {one.id: one for one in week.machines}
    known = [b for b in table.bookings if b.load in loads and b.machine in machines]
    for booking in known:
        load, machine = loads[booking.load], machines[booking.machine]
        found += _stages(week, booking, load)
        found += _machine(booking, load, machine)
        found += _order(booking, load, {b.load: b for b in known})
    for machine in week.machines:
        here = sorted((b for b in known if b.machine == machine.id), key=lambda b: b.begin_min)
        found += _one_at_a_time(here, machine)
        found += _set_ups(week, machine, here, loads)
    found += _attendant(week, known, loads)
    found += _due(known, loads)
    if holds(found):
        found += _value(table, known, loads)
    return tuple(found)


def holds(findings: Sequence[Finding]) -> bool:
    """Return whether a timetable with these findings can be worked by."""
    return not any(f.code in FAULTS for f in findings)


def _counts(week: Week, table: Timetable) -> Iterator[Finding]:
    asked = Counter(one.id for one in week.loads)
    seen = Counter(b.load for b in table.bookings) + Counter(list(table.left))
    for name in sorted(asked | seen):
        if asked[name] != seen[name]:
            yield _refusal(
                "schedule-count", f"{name} is asked {asked[name]} times and booked {seen[name]}"
            )
    names = {m.id for m in week.machines}
    for booking in table.bookings:
        if booking.machine not in names:
            yield _refusal("schedule-machine", f"{booking.load}: no machine {booking.machine}")
    for name, why in table.left.items():
        yield Finding(
            code=LEFT,
            severity=Severity.REFUSAL,
            message=f"{name} goes on no machine: {why}.",
            remedy="Plan it for a machine of the park, or take it out.",
        )


def _stages(week: Week, booking: Booking, load: Load) -> Iterator[Finding]:
    if len(booking.spans) != len(load.stages):
        yield _refusal(
            "schedule-stages",
            f"{load.id} has {len(load.stages)} stages, {len(booking.spans)} are booked",
        )
        return
    for number, (stage, span) in enumerate(zip(load.stages, booking.spans, strict=True)):
        takes, kept = stage.planned_min(week.quantile), span.end_min - span.begin_min
        # The first one is looked at with the set-ups, which know the load before.
        if number and takes != kept:
            yield _refusal(
                "schedule-minutes", f"{load.id}: {stage.name} takes {takes} min, {kept} are kept"
            )
    for before, after in pairwise(booking.spans):
        if after.begin_min < before.end_min:
            yield _refusal("schedule-order", f"{load.id}: its stages are not one after the other")
    if booking.begin_min < max(0, load.ready_min):
        yield _refusal(
            "schedule-ready",
            f"{load.id} begins at minute {booking.begin_min}, ready at {load.ready_min}",
        )
    if booking.end_min > week.horizon_min:
        yield _refusal("schedule-horizon", f"{load.id} ends after what is planned")


def _machine(booking: Booking, load: Load, machine: ParkMachine) -> Iterator[Finding]:
    if load.running_on:
        wrong = load.running_on != machine.id
    else:
        need = load.need
        pairs = (
            (need.size_x_mm, machine.travel_x_mm),
            (need.size_y_mm, machine.travel_y_mm),
            (need.height_mm, machine.max_height_mm),
            (need.mass_kg, machine.max_mass_kg),
            (need.angle_deg, machine.max_angle_deg),
        )
        guides = machine.wire_diameters_mm
        wrong = (
            any(value is not None and value > most for value, most in pairs)
            or (
                need.wire_mm is not None
                and bool(guides)
                and all(_differ(need.wire_mm, g) for g in guides)
            )
            or (bool(need.definition) and need.definition != machine.definition)
            or (bool(load.machines) and machine.id not in load.machines)
        )
    if wrong:
        yield _refusal("schedule-misfit", f"{load.id} does not go on {machine.id}")
    for down in machine.downs:
        for stage, span in zip(load.stages, booking.spans, strict=False):
            if _meet(span, down):
                yield _refusal(
                    "schedule-down",
                    f"{load.id}: {stage.name} runs on {machine.id} while that stands",
                )


def _order(booking: Booking, load: Load, every: dict[str, Booking]) -> Iterator[Finding]:
    for name in load.after:
        if name in every and every[name].end_min > booking.begin_min:
            yield _refusal("schedule-before", f"{load.id} begins before {name} is done")
        if name not in every:
            yield _refusal("schedule-before", f"{load.id} comes after {name}, which is not booked")


def _one_at_a_time(here: Sequence[Booking], machine: ParkMachine) -> Iterator[Finding]:
    for before, after in pairwise(here):
        if after.begin_min < before.end_min:
            yield _refusal(
                "schedule-overlap",
                f"{before.load} and {after.load} are on {machine.id} at the same time",
            )


def _set_ups(
    week: Week, machine: ParkMachine, here: Sequence[Booking], loads: dict[str, Load]
) -> Iterator[Finding]:
    """Look at the minutes of each first stage, which depend on what was on the machine before."""
    wire, fixture = machine.wire_mm, machine.fixture
    for number, booking in enumerate(here):
        load = loads[booking.load]
        if load.running_on and number and not loads[here[number - 1].load].running_on:
            yield _refusal("schedule-running", f"{load.id} runs already and is not first")
        stage, rule = load.stages[0], week.set_ups
        takes = stage.planned_min(week.quantile)
        if stage.is_attended and not load.running_on:
            if fixture and fixture == load.fixture:
                takes = max(min(rule.least_min, takes), takes - rule.same_fixture_saves_min)
            if _differ(wire, load.need.wire_mm):
                takes += rule.wire_change_min
        if booking.spans:
            kept = booking.spans[0].end_min - booking.spans[0].begin_min
            if kept != takes:
                yield _refusal(
                    "schedule-minutes",
                    f"{load.id}: {stage.name} takes {takes} min there, {kept} are kept",
                )
        wire, fixture = load.need.wire_mm, load.fixture


def _attendant(week: Week, known: Sequence[Booking], loads: dict[str, Load]) -> Iterator[Finding]:
    moments: list[_Named] = sorted(
        (
            (f"{b.load}: {stage.name}", span)
            for b in known
            for stage, span in zip(loads[b.load].stages, b.spans, strict=False)
            if stage.is_attended
        ),
        key=lambda one: one[1].begin_min,
    )
    last: _Named | None = None
    for name, span in moments:
        if last is not None and span.begin_min < last[1].end_min:
            yield _refusal("schedule-attendant", f"{last[0]} and {name} want the attendant at once")
        if last is None or span.end_min > last[1].end_min:
            last = name, span
        if any(_meet(span, away) for away in week.away):
            yield _refusal("schedule-hours", f"{name} wants the attendant when nobody is there")


def _due(known: Sequence[Booking], loads: dict[str, Load]) -> Iterator[Finding]:
    for booking in known:
        due = loads[booking.load].due_min
        if due is not None and booking.spans and booking.end_min > due:
            late = booking.end_min - due
            yield Finding(
                code=LATE,
                severity=Severity.WARNING,
                message=f"{booking.load} is done {late / 60:.1f} h after it is due.",
                remedy="Tell the customer now, or give it more importance.",
                data={"late_min": late, "load": booking.load},
            )


def _value(table: Timetable, known: Sequence[Booking], loads: dict[str, Load]) -> Iterator[Finding]:
    """Look whether the timetable says of itself what is so; moves may only add to it."""
    if table.goal is Goal.END:
        value = max((b.end_min for b in known), default=0)
    else:
        value = sum(
            loads[b.load].importance * max(0, b.end_min - due)
            for b in known
            if (due := loads[b.load].due_min) is not None
        )
    if value > table.value:
        yield _refusal("schedule-value", f"it is said to be worth {table.value} min, it is {value}")
    if table.bound > table.value:
        yield _refusal("schedule-value", f"{table.bound} min are said to be the least that is left")


def _differ(one_mm: float | None, other_mm: float | None) -> bool:
    """Return whether two wires are known and not one trade size."""
    if one_mm is None or other_mm is None:
        return False
    return abs(one_mm - other_mm) > _SAME_WIRE * min(one_mm, other_mm)


def _meet(one: Span, other: Span) -> bool:
    return one.begin_min < other.end_min and other.begin_min < one.end_min


def _refusal(code: str, message: str) -> Finding:
    assert code in FAULTS, code
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=f"{message}.",
        remedy="This is a fault of the timetable: do not work by it, and report it.",
    )
