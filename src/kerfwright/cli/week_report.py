"""A timetable for people: the week by machine, the attendant's list, what is held."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import groupby
from pathlib import Path

from kerfwright.app.week import WeekResult
from kerfwright.cli import report
from kerfwright.cli.output import Page
from kerfwright.cli.words import Show
from kerfwright.foundation.counts import counted
from kerfwright.foundation.units import minutes_text
from kerfwright.scheduling.records import Booking, Goal


def show(result: WeekResult, *, show: Show, kept: Path | None, days: int) -> None:
    """Print a timetable, the attendant's list for so many days."""
    page = Page()
    if result.table.bookings:
        _show_machines(page, result, show)
        _show_touches(page, result, days)
        _show_due(page, result)
    else:
        page.heading("Nothing to do")
        page.line("No job of the folder goes on a machine.", indent=2)
    _show_moves(page, result)
    _show_promise(page, result)
    _show_quality(page, result)
    report.show_findings(page, result.findings, show=show)
    report.show_cautions(page)
    if not result.holds:
        page.line("The timetable does not hold: do not work by it.", indent=2, style="bold red")
    elif kept is not None:
        page.heading(f"Kept in {kept}")


def _show_machines(page: Page, result: WeekResult, show: Show) -> None:
    """Show each machine with its jobs, and when it cuts alone."""
    page.heading(f"The week from {_moment(result.clock.begin)}")
    unit = show.unit.value
    page.table(
        (
            "machine",
            "job",
            f"wire {unit}",
            "begins",
            "ends",
            "with you",
            "alone",
            "waits",
            "out of hours",
        ),
        [_machine_row(result, b, show) for b in _by_machine(result)],
        left=(0, 1, 3, 4),
    )
    for machine in result.week.machines:
        for down in machine.downs:
            begin, end = (result.clock.when(m) for m in (down.begin_min, down.end_min))
            why = f", {down.why}" if down.why else ""
            page.line(f"{machine.id} stands {_moment(begin)} to {_moment(end)}{why}.", indent=2)


def _by_machine(result: WeekResult) -> Iterator[Booking]:
    for machine in result.week.machines:
        yield from (b for b in result.table.bookings if b.machine == machine.id)


def _machine_row(result: WeekResult, booking: Booking, show: Show) -> tuple[str, ...]:
    load, clock = result.week.load(booking.load), result.clock
    pairs = list(zip(load.stages, booking.spans, strict=True))
    attended = sum(s.end_min - s.begin_min for stage, s in pairs if stage.is_attended)
    alone = sum(s.end_min - s.begin_min for stage, s in pairs if not stage.is_attended)
    waits = booking.end_min - booking.begin_min - attended - alone
    night = sum(
        max(0, min(s.end_min, away.end_min) - max(s.begin_min, away.begin_min))
        for stage, s in pairs
        if not stage.is_attended
        for away in result.week.away
    )
    return (
        booking.machine,
        booking.load + (" (on it)" if load.running_on else ""),
        "" if load.need.wire_mm is None else show.wire(load.need.wire_mm),
        _moment(clock.when(booking.begin_min)),
        _moment(clock.when(booking.end_min)),
        *(f"{m / 60:.1f} h" if m else "" for m in (attended, alone, waits, night)),
    )


def _show_touches(page: Page, result: WeekResult, days: int) -> None:
    """Show the attendant's list, day by day."""
    page.heading("Where you have to be")
    by_day = [(day, list(t)) for day, t in groupby(result.touches, key=lambda t: t.when.date())]
    for day, rows in by_day[:days]:
        page.line(f"{day:%A %Y-%m-%d}", indent=2)
        page.table(
            ("at", "for", "machine", "job", "what", "then alone"),
            [
                (
                    f"{t.when:%H:%M}", f"{t.minutes} min", t.machine, t.load,
                    f"{t.name}: {t.does}", minutes_text(t.alone_min) if t.alone_min else "",
                )
                for t in rows
            ],
            left=(0, 2, 3, 4),
        )  # fmt: skip
        for caution in dict.fromkeys(c for t in rows for c in t.cautions):
            page.line(f"Mind: {caution}.", indent=2)
    rest = sum(len(rows) for _, rows in by_day[days:])
    if rest:
        page.line(f"… and {rest} more on later days: --list-days, or --json", indent=2)


def _show_due(page: Page, result: WeekResult) -> None:
    page.heading("What is held")
    ends = {one.load: one for one in result.ends}
    rows = []
    for booking in sorted(result.table.bookings, key=lambda b: b.end_min):
        load, end = result.week.load(booking.load), ends[booking.load]
        due = load.due_min
        rows.append(
            (
                booking.load,
                "" if due is None else _moment(result.clock.when(due)),
                _moment(result.clock.when(booking.end_min)),
                _moment(result.clock.when(round(end.minutes.low))),
                _moment(result.clock.when(round(end.minutes.high))),
                "" if end.held_share is None else f"{end.held_share:.0%}",
            )
        )
    page.table(
        ("job", "off the machine by", "planned", "10 %", "90 %", "held"), rows, left=range(5)
    )
    page.line(
        "10 and 90 %: one run in ten ends before, one after, with minutes and wire breaks as they "
        "vary. Held: share of runs in time. Off the machine by: the due date less the bench.",
        indent=2,
    )


def _show_moves(page: Page, result: WeekResult) -> None:
    if not result.is_replanned:
        return
    page.heading("What moved")
    for move in result.moves:
        where = (
            f"from {move.from_machine} to {move.to_machine}"
            if move.from_machine != move.to_machine
            else f"on {move.to_machine}"
        )
        begin, end = (_moment(result.clock.when(m)) for m in (move.from_min, move.to_min))
        page.line(f"{move.load} {where}: {begin} becomes {end}", indent=2)
    if not result.moves:
        page.line("nothing", indent=2)


def _show_promise(page: Page, result: WeekResult) -> None:
    promised = result.promise
    if promised is None:
        return
    page.heading(f"A day for {promised.load}")
    page.line(
        f"{promised.day:%A %Y-%m-%d}, held in {promised.held_share:.0%} of runs; as likely as not "
        f"{promised.likely_day:%A %Y-%m-%d}.",
        indent=2,
    )
    if promised.later:
        page.line(
            f"It would make late: {', '.join(promised.later)}.", indent=2, style="bold yellow"
        )
    else:
        page.line("Nothing that is in time would be late for it.", indent=2)


def _show_quality(page: Page, result: WeekResult) -> None:
    """Say how good the timetable is known to be, and no more."""
    table = result.table
    page.heading("How good it is")
    what = {
        Goal.DUE: "minutes late times importance" + (", with moves" if result.is_replanned else ""),
        Goal.END: "minutes to the last end",
    }[table.goal]
    if table.is_proved:
        known = "proved: none has less"
    else:
        known = (
            f"not proved to be best: none has less than {table.bound}, "
            f"a gap of {100 * table.gap_share:.0f} %"
        )
    stopped = "; ended before its time" if table.stopped else ""
    page.line(f"{table.value} {what}; {known}. Made by {table.method}{stopped}.", indent=2)
    left = counted(len(table.left), "job") if table.left else ""
    if left:
        page.line(f"{left} left out: see the findings.", indent=2, style="bold red")


def _moment(moment: datetime) -> str:
    return f"{moment:%a %d %b %H:%M}"
