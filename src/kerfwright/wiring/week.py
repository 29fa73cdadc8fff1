"""From a folder of kept jobs and the park of a shop to its week."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Final

from kerfwright.adapters import job_folder
from kerfwright.adapters.exact_timetable import has_exact, improve, require_exact
from kerfwright.adapters.hole_folder import is_hole_job
from kerfwright.adapters.job_result import read_request
from kerfwright.adapters.marks_file import read_marks
from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.park_file import down_of, read_park
from kerfwright.adapters.park_text import PARK
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.week_file import read_week
from kerfwright.app.enquiries import Stage
from kerfwright.app.loads import Splitting, Wish, bench_min, load_of
from kerfwright.app.marks import Mark, Marked, standing_of
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobResult
from kerfwright.app.week import JobWish, Park, Search, WeekResult, plan_week, with_downs
from kerfwright.foundation.errors import FileError, InputError, KerfwrightError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.recent import Recent
from kerfwright.scheduling.hours import DAY_MIN, Clock, longest_min
from kerfwright.scheduling.lists import due_order, place
from kerfwright.scheduling.problem import problem_of
from kerfwright.scheduling.records import Goal, Load, SetUps, Stop, Tell, Week
from kerfwright.wiring import job_strip, plan_job
from kerfwright.wiring.ordered import as_left, as_ordered, enquiry_of

_FIRST_DAYS: Final = 28
_MOST_DAYS: Final = 448
_ROOM: Final = 0.5
"""Part of what is planned within which lists by due date have to end: the search wants room."""
_READING: Final = 0.2
"""Part of the progress that reading the jobs is."""
_MOST_PLANS: Final = 100
_plans: Recent[tuple[str, str], JobResult] = Recent(_MOST_PLANS)
"""Plans of kept jobs: a week that is made again need not make them again."""


class Engine(StrEnum):
    """Who makes a timetable."""

    AUTO = "auto"
    """Lists, annealed, and the exact search where it is installed."""
    LISTS = "lists"
    EXACT = "exact"


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekRequest:
    """A week as a person asks for it.

    Attributes
    ----------
    folder : Path
        Of job folders.
    begin : datetime
        By the clock on the wall.
    park : Path or None
        File of the park; without it the one in the folder.
    downs : tuple of str
        Machines that stand, ``"M2: 2026-12-01 08:00 to 2026-12-01 12:00"``.
    quote : Path or None
        Job folder of work to promise a day for.
    is_anew : bool
        Whether what people were told does not count.
    is_by_marks : bool
        Whether what nobody marked as done is not done; else it is taken to have gone as told.
    goal : Goal
    engine : Engine
    budget_s : float
    steps : int or None
    seed : int
    """

    folder: Path
    begin: datetime
    park: Path | None = None
    downs: tuple[str, ...] = ()
    quote: Path | None = None
    is_anew: bool = False
    is_by_marks: bool = False
    goal: Goal = Goal.DUE
    engine: Engine = Engine.AUTO
    budget_s: float = 10.0
    steps: int | None = None
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """A kept job that can be cut."""

    id: str
    result: JobResult
    wish: JobWish
    quantity: int
    marks: tuple[Mark, ...] = ()


def week_of(
    request: WeekRequest,
    *,
    tell: Tell = lambda _what, _share: None,
    stop: Stop = lambda: False,
) -> WeekResult:
    """Read the jobs of a folder and put them on the machines of the park.

    Parameters
    ----------
    request : WeekRequest
    tell : callable, optional
        Told each step and the share done.
    stop : callable, optional
        Asked now and then whether to end with what there is.

    Raises
    ------
    KerfwrightError
        If folder, park or the times given cannot be used.  A job that cannot be read is left out
        with a finding.
    """
    if request.engine is Engine.EXACT:
        require_exact()
    park = read_park(request.park or request.folder / PARK)
    clock = Clock(begin=request.begin)
    machines = frozenset(m.id for m in park.machines)
    downs = tuple(down_of(text, machines) for text in request.downs)
    remarks: list[Finding] = []
    jobs = list(_jobs(request, park, remarks, tell))
    loads = [_load(job, park, clock) for job in jobs]
    quote = None
    if request.quote is not None:
        quote = _quote(request.quote, park, clock)
        loads = [load for load in loads if load.id != quote[0].id]
    marked = {job.id: found for job in jobs if (found := standing_of(job.marks)) is not None}
    week = Week(
        machines=as_left(with_downs(park, clock, downs), loads, marked),
        loads=_known(loads, remarks),
        set_ups=SetUps(
            wire_change_min=round(park.figures.wire_change_min),
            same_fixture_saves_min=round(park.figures.same_fixture_saves_min),
            least_min=max(1, round(park.figures.least_set_up_min)),
        ),
        quantile=park.figures.share_in_time,
    )
    return plan_week(
        _with_horizon(week, park, clock, more=None if quote is None else quote[0]),
        park=park,
        clock=clock,
        search=_search(request, jobs, tell, stop),
        told=None if request.is_anew else read_week(request.folder),
        marked=Marked(standings=marked, is_only=request.is_by_marks),
        quote=quote,
        remarks=tuple(remarks),
    )


def _search(request: WeekRequest, jobs: Sequence[_Job], tell: Tell, stop: Stop) -> Search:
    use_exact = request.engine is not Engine.LISTS and has_exact()
    helps = [
        rates.breaks.help_min
        for job in jobs
        if (rates := load_tables(job.result.request.tables_used).rates).breaks is not None
    ]
    return Search(
        goal=request.goal,
        budget_s=request.budget_s,
        steps=request.steps,
        seed=request.seed,
        exact=improve if use_exact else None,
        help_min=max(helps, default=0.0),
        tell=lambda what, share: tell(what, _READING + (1 - _READING) * share),
        stop=stop,
    )


def _jobs(request: WeekRequest, park: Park, remarks: list[Finding], tell: Tell) -> Iterator[_Job]:
    """Read and plan the jobs of a folder; those that cannot be cut are left out and named."""
    try:
        folders = sorted(p for p in request.folder.iterdir() if (p / job_folder.JOB).is_file())
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}", code="file-unreadable", where=str(request.folder),
            remedy="Name a folder of job folders.",
        ) from fault  # fmt: skip
    remarks += [
        _remark(
            "schedule-unknown-job",
            f"the park speaks of {name}, there is no such job",
            "Correct the name below [job], or take it out.",
        )
        for name in sorted(set(park.wishes) - {p.name for p in folders})
    ]
    for number, folder in enumerate(folders):
        wish = park.wishes.get(folder.name, JobWish())
        tell(f"reading {folder.name}", _READING * number / len(folders))
        if wish.is_left_out:
            continue
        try:
            enquiry = enquiry_of(folder)
            if enquiry is not None and enquiry.stage is not Stage.ORDERED:
                continue
            job = _job(folder, as_ordered(wish, enquiry, read_marks(folder)), remarks)
        except KerfwrightError as fault:
            remarks.append(
                _remark("schedule-unread", f"{folder.name} is left out: {fault.message}",
                        fault.remedy or "Plan the job again.")
            )  # fmt: skip
            continue
        if job is not None:
            yield job


def _planned(folder: Path) -> JobResult:
    """Plan a kept job as far as its price, once for as long as its request stays as it is."""
    request = read_request(folder)
    stamp = (folder / job_folder.JOB).read_text(encoding="utf-8")
    key = (str(folder.resolve()), digest(stamp + repr(request.drawing.stat().st_mtime_ns)))
    return _plans.once(key, lambda: plan_job(request, extent=Extent.PRICED))


def _job(folder: Path, wish: JobWish, remarks: list[Finding]) -> _Job | None:
    if is_hole_job(folder):
        remarks.append(
            _remark("schedule-holes", f"{folder.name} is a job of small holes: it is on no wire "
                    "machine and left out", "Say below [job] from when its parts are ready.",
                    severity=Severity.NOTE)
        )  # fmt: skip
        return None
    if not (folder / job_folder.PROGRAM).is_file():
        raise InputError(
            "it has no proved program", code="schedule-no-program",
            remedy="Plan it so that its program is proved.",
        )  # fmt: skip
    result = _planned(folder)
    if result.estimate is None or result.path is None:
        raise InputError(
            "it has no price any more", code="schedule-no-program", remedy="Plan it again."
        )
    asked = result.request.quantities
    if wish.quantity is None and len(asked) > 1:
        said = ", ".join(map(str, asked))
        remarks.append(
            _remark("schedule-quantity", f"{folder.name} was priced for {said} pieces; "
                    f"{min(asked)} are taken", f"Say quantity = … below [job.{folder.name}], or "
                    "mark how many are ordered.")
        )  # fmt: skip
    quantity = wish.quantity or min(asked)
    remarks += _cut_otherwise(folder, result, quantity)
    return _Job(
        id=folder.name,
        result=result,
        wish=wish,
        quantity=quantity,
        marks=read_marks(folder),
    )


def _cut_otherwise(folder: Path, result: JobResult, quantity: int) -> list[Finding]:
    """Say where a quantity was priced in stacks that the program in the folder is not of."""
    stack = result.requirement.stack
    at_once = result.stacks_found.get(quantity)
    if stack is None or at_once is None or at_once == stack.pieces:
        return []
    return [
        _remark(
            "schedule-stack",
            f"{folder.name} was priced for {quantity} pieces at {at_once} at once; its program is "
            f"of {stack.pieces} at once, and takes the time given here",
            f"Plan it again for {quantity} pieces alone.",
        )
    ]


def _load(job: _Job, park: Park, clock: Clock) -> Load:
    strip = job_strip(job.result)
    assert strip is not None
    wish = job.wish
    load = load_of(
        job.result,
        strip,
        Wish(
            id=job.id,
            quantity=job.quantity,
            ready_min=0 if wish.ready is None else max(0, clock.minute(wish.ready)),
            importance=wish.importance,
            fixture=wish.fixture,
            machines=wish.machines,
            after=wish.after,
        ),
        splitting=_splitting(job.result, park, clock),
    )
    said = job.result.request.due
    due = wish.due or (date.fromisoformat(said) if said else None)
    if due is None:
        return load
    done = park.calendar.back(
        park.calendar.end_of(due), math.ceil(bench_min(job.result, job.quantity))
    )
    return replace(load, due_min=clock.minute(done))


def _splitting(result: JobResult, park: Park, clock: Clock) -> Splitting:
    breaks = load_tables(result.request.tables_used).rates.breaks
    by_itself = result.plan.requirement.machine.threads_itself
    away = park.calendar.away(clock, days=_FIRST_DAYS)
    longest = longest_min(away, horizon_min=_FIRST_DAYS * DAY_MIN)
    return Splitting(
        least_alone_min=park.figures.least_alone_min,
        longest_moment_min=longest - round(park.figures.wire_change_min),
        share_in_time=park.figures.share_in_time,
        hand_share=breaks.help_share if breaks is not None and by_itself else 1.0,
    )


def _quote(folder: Path, park: Park, clock: Clock) -> tuple[Load, float]:
    """Return the load of a quote and its minutes on the bench."""
    wish = park.wishes.get(folder.name, JobWish())
    job = _job(folder, as_ordered(wish, enquiry_of(folder), read_marks(folder)), [])
    if job is None:
        raise InputError(
            "is a job of small holes, which is on no wire machine", code="schedule-holes",
            where=str(folder), remedy="Name a wire job.",
        )  # fmt: skip
    return replace(_load(job, park, clock), due_min=None), bench_min(job.result, job.quantity)


def _known(loads: Sequence[Load], remarks: list[Finding]) -> tuple[Load, ...]:
    """Take away what loads wait for that is not among them, and say so."""
    ids = {load.id for load in loads}
    found = []
    for load in loads:
        gone = [one for one in load.after if one not in ids]
        if gone:
            remarks.append(
                _remark("schedule-after", f"{load.id} comes after {', '.join(gone)}, which is not "
                        "among the jobs and taken as done", "Correct `after` below [job].")
            )  # fmt: skip
        found.append(replace(load, after=tuple(one for one in load.after if one in ids)))
    return tuple(found)


def _with_horizon(week: Week, park: Park, clock: Clock, *, more: Load | None) -> Week:
    """Return the week with as many days as its loads want, by due date, and as many again."""
    days = _FIRST_DAYS
    while True:
        week = replace(week, away=park.calendar.away(clock, days=days), horizon_min=days * DAY_MIN)
        every = week if more is None else replace(week, loads=(*week.loads, more))
        problem = problem_of(every, goal=Goal.END)
        if not problem.pieces:
            return week
        lists = place(problem, due_order(problem), [None] * len(problem.pieces))
        if lists.value <= _ROOM * week.horizon_min or days >= _MOST_DAYS:
            return week
        days *= 2


def _remark(
    code: str, message: str, remedy: str, *, severity: Severity = Severity.WARNING
) -> Finding:
    return Finding(code=code, severity=severity, message=f"{message}.", remedy=remedy)
