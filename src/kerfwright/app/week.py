"""The week of a shop: kept jobs on its machines, what the attendant does, what may be promised."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from types import MappingProxyType
from typing import Final

from kerfwright.app.marks import Marked, Seen, as_marked
from kerfwright.app.touches import Touch, touches
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sources import Source
from kerfwright.scheduling.check import check, holds
from kerfwright.scheduling.hours import Calendar, Clock
from kerfwright.scheduling.problem import Exact
from kerfwright.scheduling.promise import Promise, promise
from kerfwright.scheduling.records import (
    Booking,
    Goal,
    Load,
    ParkMachine,
    Span,
    Stop,
    Tell,
    Timetable,
    Week,
)
from kerfwright.scheduling.replan import Move, MoveCosts, moves, rest_of, told_of
from kerfwright.scheduling.simulate import Ends, simulate
from kerfwright.scheduling.solve import timetable

_DOUBTFUL: Final = 0.8
"""Share of runs in time below which a person should know: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What a timetable reckons with.

    Attributes
    ----------
    wire_change_min, same_fixture_saves_min, least_set_up_min, least_alone_min : float
    share_in_time : float
    move_slack_min, move_costs_min : float
    promise_share : float
    sources : mapping of str to Source
    """

    wire_change_min: float
    same_fixture_saves_min: float
    least_set_up_min: float
    least_alone_min: float
    share_in_time: float
    move_slack_min: float
    move_costs_min: float
    promise_share: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobWish:
    """What the shop says of one kept job; None and empty where nothing was said.

    Attributes
    ----------
    quantity : int or None
    due : date or None
    ready : datetime or None
    importance : int
    fixture : str
    machines, after : tuple of str
    is_left_out : bool
        Kept, but not ordered.
    """

    quantity: int | None = None
    due: date | None = None
    ready: datetime | None = None
    importance: int = 1
    fixture: str = ""
    machines: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    is_left_out: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Down:
    """A machine that stands from one moment to another."""

    machine: str
    begin: datetime
    end: datetime
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Park:
    """Machines and attendant of a shop.

    Attributes
    ----------
    machines : tuple of ParkMachine
        Without their downs.
    calendar : Calendar
    downs : tuple of Down
    figures : Figures
    wishes : mapping of str to JobWish
        By the name of the job's folder.
    """

    machines: tuple[ParkMachine, ...]
    calendar: Calendar
    downs: tuple[Down, ...]
    figures: Figures
    wishes: Mapping[str, JobWish] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A timetable that people work by, as it was kept.

    Attributes
    ----------
    begin : datetime
    bookings : tuple of Booking
        In minutes from its begin.
    """

    begin: datetime
    bookings: tuple[Booking, ...]

    def seen_from(self, clock: Clock) -> Seen:
        """Return machine and stages of each load in minutes of another clock."""
        shift = clock.minute(self.begin)
        return {
            b.load: (b.machine, tuple((s.begin_min + shift, s.end_min + shift) for s in b.spans))
            for b in self.bookings
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Search:
    """How a timetable is searched for.

    Attributes
    ----------
    goal : Goal
    budget_s : float
    steps : int or None
    seed : int
    exact : callable or None
    help_min : float
        What a wire break keeps a person for.
    tell, stop : callable
    """

    goal: Goal = Goal.DUE
    budget_s: float = 10.0
    steps: int | None = None
    seed: int = 0
    exact: Exact | None = None
    help_min: float = 0.0
    tell: Tell = lambda _what, _share: None
    stop: Stop = lambda: False


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekResult:
    """A timetable with what follows from it.

    Attributes
    ----------
    week : Week
    clock : Clock
    table : Timetable
    ends : tuple of Ends
        When each load is done, worked through many times.
    touches : tuple of Touch
        The attendant's list, in order.
    moves : tuple of Move
        What is not as it was told; empty where nothing was.
    is_replanned : bool
    told : tuple of Booking
        All stages of every load, those behind us too, in minutes of the clock: what is kept.
    promise : Promise or None
    findings : tuple of Finding
    """

    week: Week
    clock: Clock
    table: Timetable
    ends: tuple[Ends, ...]
    touches: tuple[Touch, ...]
    moves: tuple[Move, ...]
    is_replanned: bool
    told: tuple[Booking, ...]
    promise: Promise | None
    findings: tuple[Finding, ...]

    @property
    def is_refused(self) -> bool:
        """Whether any finding is a refusal."""
        return any(f.severity is Severity.REFUSAL for f in self.findings)

    @property
    def holds(self) -> bool:
        """Whether the timetable may be worked by."""
        return holds(self.findings)


def with_downs(park: Park, clock: Clock, more: tuple[Down, ...] = ()) -> tuple[ParkMachine, ...]:
    """Return the machines with the times at which they stand, in minutes of a clock."""
    found = []
    for machine in park.machines:
        spans = [
            Span(begin_min=max(0, clock.minute(d.begin)), end_min=clock.minute(d.end), why=d.why)
            for d in (*park.downs, *more)
            if d.machine == machine.id and clock.minute(d.end) > 0
        ]
        spans.sort(key=lambda s: s.begin_min)
        found.append(replace(machine, downs=tuple(spans)))
    return tuple(found)


def plan_week(
    week: Week,
    *,
    park: Park,
    clock: Clock,
    search: Search,
    told: Told | None = None,
    marked: Marked | None = None,
    quote: tuple[Load, float] | None = None,
    remarks: tuple[Finding, ...] = (),
) -> WeekResult:
    """Put the loads of a week on the machines, check that, and work through it.

    Parameters
    ----------
    week : Week
    park : Park
    clock : Clock
    search : Search
    told : Told, optional
        What people work by: begun work stays, other moves are few.
    marked : Marked, optional
        What people marked at the machines; goes before what was told.
    quote : (Load, float), optional
        Work to promise a day for, and its minutes on the bench.
    remarks : tuple of Finding
        Of reading the jobs.
    """
    costs = MoveCosts(
        slack_min=round(park.figures.move_slack_min), costs_min=round(park.figures.move_costs_min)
    )
    seen: Seen = {} if told is None else told.seen_from(clock)
    whole = {load.id: load for load in week.loads}
    before = {name: (machine, spans[0][0]) for name, (machine, spans) in seen.items()}
    if marked is not None:
        seen, odd = as_marked(
            seen, week.loads, marked.standings,
            clock=clock, quantile=week.quantile, is_only=marked.is_only,
        )  # fmt: skip
        remarks = (*remarks, *odd)
    week, done = _begun(week, seen)
    remarks = (*remarks, *done)
    table = _searched(week, search, before, costs)
    ends = simulate(week, table, seed=search.seed, help_min=search.help_min)
    promised = None
    if quote is not None:
        promised = _promised(quote, week, park, clock, search, (table, ends), before, costs)
    return WeekResult(
        week=week,
        clock=clock,
        table=table,
        ends=ends,
        touches=touches(week, table, clock, whole=whole),
        moves=moves(week, before, table, costs=costs),
        is_replanned=told is not None,
        told=_told_now(seen, week, table),
        promise=promised,
        findings=(*remarks, *check(week, table), *_likely_late(week, table, ends)),
    )


def _searched(
    week: Week, search: Search, before: Mapping[str, tuple[str, int]], costs: MoveCosts
) -> Timetable:
    return timetable(
        week,
        goal=search.goal,
        budget_s=search.budget_s,
        steps=search.steps,
        seed=search.seed,
        told=told_of(week, before, costs=costs),
        exact=search.exact,
        tell=search.tell,
        stop=search.stop,
    )


def _told_now(seen: Seen, week: Week, table: Timetable) -> tuple[Booking, ...]:
    """Return what people are told from now on, with the stages that are behind us."""
    now = {b.load: b for b in table.bookings}
    running = {load.id for load in week.loads if load.running_on}
    found = []
    for name in dict.fromkeys((*seen, *now)):
        machine, spans = seen.get(name, ("", ()))
        if name in now:
            machine, ahead = now[name].machine, [(s.begin_min, s.end_min) for s in now[name].spans]
            behind = list(spans[: len(spans) - len(ahead)]) if name in running else []
            if name in running and spans[len(behind)][0] < 0:
                # As long as it was told, so that a share of it is one of the whole.
                begin, end = spans[len(behind)]
                ahead[0] = (min(-1, ahead[0][1] - (end - begin)), ahead[0][1])
            spans = (*behind, *ahead)
        found.append(
            Booking(
                load=name,
                machine=machine,
                spans=tuple(Span(begin_min=b, end_min=e) for b, e in spans),
            )
        )
    return tuple(found)


def _begun(week: Week, seen: Seen) -> tuple[Week, tuple[Finding, ...]]:
    """Return the week with what is left of loads that have begun, and which are done."""
    left, done = [], []
    for load in week.loads:
        if load.id not in seen or len(seen[load.id][1]) != len(load.stages):
            left.append(load)
            continue
        machine, spans = seen[load.id]
        rest = rest_of(load, machine=machine, spans=spans)
        if rest is None:
            done.append(load.id)
        else:
            left.append(rest)
    gone = set(done)
    loads = tuple(
        replace(load, after=tuple(one for one in load.after if one not in gone)) for load in left
    )
    found: tuple[Finding, ...] = ()
    if done:
        found = (
            Finding(
                code="schedule-done",
                severity=Severity.NOTE,
                message=f"taken as done, as told or marked: {', '.join(sorted(done))}.",
            ),
        )
    return replace(week, loads=loads), found


def _promised(
    quote: tuple[Load, float],
    week: Week,
    park: Park,
    clock: Clock,
    search: Search,
    known: tuple[Timetable, tuple[Ends, ...]],
    before: Mapping[str, tuple[str, int]],
    costs: MoveCosts,
) -> Promise | None:
    new, bench = quote
    table, _ = known
    # What is there keeps its place: the new load finds its own among it.
    kept = dict(before) | {b.load: (b.machine, b.begin_min) for b in table.bookings}

    def work_through(more: Week) -> tuple[Timetable, tuple[Ends, ...]]:
        again = _searched(more, search, kept, costs)
        return again, simulate(more, again, seed=search.seed, help_min=search.help_min)

    return promise(
        new,
        week=week,
        calendar=park.calendar,
        clock=clock,
        bench_min=bench,
        held_share=park.figures.promise_share,
        work_through=work_through,
        before=known,
    )


def _likely_late(week: Week, table: Timetable, ends: tuple[Ends, ...]) -> tuple[Finding, ...]:
    """Return what is in time by the timetable, and late in one run of five or more."""
    found = []
    for one in ends:
        due = week.load(one.load).due_min
        if due is None or one.held_share is None:
            continue
        if table.booking(one.load).end_min <= due and one.held_share < _DOUBTFUL:
            found.append(
                Finding(
                    code="schedule-doubtful",
                    severity=Severity.NOTE,
                    message=f"{one.load} is planned in time and held in {one.held_share:.0%} of "
                    "runs with minutes and wire breaks as they vary.",
                    remedy="Give it more importance, or keep more minutes (share_in_time).",
                    data={"held_share": one.held_share, "load": one.load},
                )
            )
    return tuple(found)
