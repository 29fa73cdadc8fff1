"""What people marked of a job at its machine, and where the job then stands."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.scheduling.hours import Clock
from kerfwright.scheduling.records import Load

MOST_MIN: Final = 100_000.0
"""Longer than two months: minutes and hours, or two numbers, were mistaken."""
MOST_KG: Final = 1000.0
MOST_TEXT: Final = 300
Spans = tuple[tuple[int, int], ...]
Seen = dict[str, tuple[str, Spans]]
"""Machine of each load and begin and end of its stages, in minutes of a clock."""


class MarkKind(StrEnum):
    """What a mark says."""

    BEGUN = "begun"
    """Somebody is at the machine for a moment."""
    DONE = "done"
    """A moment, and all before it, is behind us."""
    BREAK = "break"
    """The wire broke."""
    ORDERED = "ordered"
    """So many pieces were ordered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One thing that a person marked of a job.

    Attributes
    ----------
    id : str
    kind : MarkKind
    at : datetime
        By the clock on the wall.
    machine : str
    stage : int or None
        Number of the moment or stretch in the whole job, from 0.
    stages : int
        How many the job had then.
    moments : int
        How many of them somebody attends; 0 where that was not said.
    name : str
        Of the stage.
    took_min : float or None
        How long somebody was there, minutes.
    ran_min : float or None
        How long the machine ran alone before, by its own clock, minutes.
    stood_min : float or None
        How long it stood after a break, minutes.
    wire_kg : float or None
        Wire used up for the whole job, kg.
    quantity : int or None
        Pieces.
    why, where : str
        Of a break, in a person's words.
    """

    id: str
    kind: MarkKind
    at: datetime
    machine: str = ""
    stage: int | None = None
    stages: int = 0
    moments: int = 0
    name: str = ""
    took_min: float | None = None
    ran_min: float | None = None
    stood_min: float | None = None
    wire_kg: float | None = None
    quantity: int | None = None
    why: str = ""
    where: str = ""

    def __post_init__(self) -> None:
        if self.at.tzinfo is not None:
            raise _odd(f"{self.at.isoformat()} has a zone of time", "Give the clock on the wall.")
        for name, unit, most in (
            ("took_min", "min", MOST_MIN),
            ("ran_min", "min", MOST_MIN),
            ("stood_min", "min", MOST_MIN),
            ("wire_kg", "kg", MOST_KG),
        ):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and 0 <= value <= most):
                raise _odd(
                    f"{name} is {value:g} {unit}, not from 0 to {most:g}",
                    "Correct the number, or leave it out.",
                )
        for text in (self.why, self.where, self.name, self.machine):
            if len(text) > MOST_TEXT or not text.isprintable():
                raise _odd(
                    f"a text has more than {MOST_TEXT} letters, or more than one line",
                    "Say it shorter.",
                )
        self._expect_what_it_says()

    def _expect_what_it_says(self) -> None:
        match self.kind:
            case MarkKind.BEGUN | MarkKind.DONE:
                if self.stage is None or not 0 <= self.stage < self.stages or not self.machine:
                    raise _odd(
                        f"stage {self.stage} of {self.stages} on {self.machine or 'no machine'}"
                        " cannot be marked",
                        "Name machine and stage as the week has them.",
                    )
            case MarkKind.BREAK:
                if not self.why.strip() or not self.machine:
                    raise _odd("a break needs its machine, and why", "Say both; a guess will do.")
            case MarkKind.ORDERED:
                if self.quantity is None or not 1 <= self.quantity <= 1_000_000:
                    raise _odd(f"{self.quantity} pieces cannot be ordered", "Give 1 or more.")


def _odd(message: str, remedy: str) -> InputError:
    return InputError(message, code="mark-odd", remedy=remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where a job stands by what was marked.

    Attributes
    ----------
    machine : str
    ends : tuple of datetime
        When each stage that is behind us ended; those between two marks with the later one.
    begun : datetime or None
        When somebody began with the next one.
    stood_min : float
        How long the machine stood since the last one ended.
    stages : int
        Of the whole job, when it was marked.
    name : str
        Of the stage that was marked last.
    """

    machine: str
    ends: tuple[datetime, ...]
    begun: datetime | None
    stood_min: float
    stages: int
    name: str

    def fits(self, load: Load) -> bool:
        """Return whether a load is the one that was marked: as many stages, of the same name."""
        at = max(0, len(self.ends) - 1)
        return len(load.stages) == self.stages and load.stages[at].name == self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """What people marked at the machines.

    Attributes
    ----------
    standings : mapping of str to Standing
        Where jobs stand, by load.
    is_only : bool
        Whether what was not marked was not done; else it is taken to have gone as told.
    """

    standings: Mapping[str, Standing]
    is_only: bool = False


def standing_of(marks: Sequence[Mark]) -> Standing | None:
    """Return where a job stands; None where nothing of it was begun.

    A stage that is marked done takes all before it along.

    Parameters
    ----------
    marks : sequence of Mark
        In the order in which they were made, without those taken back.
    """
    steps = sorted(
        (m for m in marks if m.kind in (MarkKind.BEGUN, MarkKind.DONE)), key=lambda m: m.at
    )
    if not steps:
        return None
    last = steps[-1]
    steps = [m for m in steps if m.stages == last.stages]
    ends: list[datetime] = []
    begun: dict[int, datetime] = {}
    for one in steps:
        assert one.stage is not None
        if one.kind is MarkKind.BEGUN:
            begun[one.stage] = one.at
        else:
            ends += [one.at] * (one.stage + 1 - len(ends))
    since = ends[-1] if ends else None
    stood = sum(
        m.stood_min or 0.0
        for m in marks
        if m.kind is MarkKind.BREAK and (since is None or m.at >= since)
    )
    done = [m for m in steps if m.kind is MarkKind.DONE]
    named = max(done, key=lambda m: m.stage or 0) if done else None
    first = min(steps, key=lambda m: m.stage or 0)
    return Standing(
        machine=last.machine,
        ends=tuple(ends),
        begun=begun.get(len(ends)),
        stood_min=stood,
        stages=last.stages,
        name=named.name if named is not None else first.name if first.stage == 0 else "",
    )


def as_marked(
    seen: Mapping[str, tuple[str, Spans]],
    loads: Iterable[Load],
    standings: Mapping[str, Standing],
    *,
    clock: Clock,
    quantile: float,
    is_only: bool,
) -> tuple[Seen, tuple[Finding, ...]]:
    """Return what was told, corrected by what was marked.

    Parameters
    ----------
    seen : mapping
        As it was told, in minutes of the clock.
    loads : iterable of Load
        Whole.
    standings : mapping of str to Standing
        By load.
    clock : Clock
    quantile : float
        Share of stages that take no longer than the minutes kept for them.
    is_only : bool
        Whether a load without a mark has not begun; else it is taken to have gone as told.
    """
    found = {} if is_only else dict(seen)
    remarks = []
    for load in loads:
        standing = standings.get(load.id)
        if standing is None:
            continue
        found.pop(load.id, None)
        if not standing.fits(load):
            remarks.append(
                Finding(
                    code="schedule-marks-of-another-plan",
                    severity=Severity.WARNING,
                    message=f"{load.id}: what was marked is of {standing.stages} stages, its plan "
                    f"has {len(load.stages)} now: taken as not begun.",
                    remedy="Mark anew what is done, or take the job's plan of before back.",
                    data={"load": load.id},
                )
            )
        elif standing.ends or standing.begun:
            found[load.id] = (standing.machine, _spans(load, standing, clock, quantile))
    return found, tuple(remarks)


def _spans(load: Load, standing: Standing, clock: Clock, quantile: float) -> Spans:
    """Return the stages of a load: those behind us as marked, the others as they may follow.

    A stretch that runs alone began when the moment before it ended, and goes on for as long as
    the machine stood after a break.  Where its minutes are over it is taken to have ended: the
    machine waits for somebody.  A moment never ends by itself.
    """
    spans: list[tuple[int, int]] = []
    count = len(standing.ends)
    ends = [clock.minute(end) for end in standing.ends]
    # From the last to the first, each a minute at least, and all behind us.
    limit = 0
    for k in reversed(range(count)):
        end = min(ends[k], limit)
        limit = min(ends[k - 1] if k else end - 1, end - 1)
        spans.insert(0, (limit, end))
    now = spans[-1][1] if spans else 0
    for k, stage in enumerate(load.stages[count:]):
        minutes = stage.planned_min(quantile)
        begin = now if k == 0 and not stage.is_attended else max(0, now)
        end = begin + minutes
        if k == 0:
            if stage.is_attended and standing.begun is not None:
                begin = min(-1, clock.minute(standing.begun))
                end = max(1, begin + minutes)
            elif not stage.is_attended:
                end += math.ceil(standing.stood_min)
        spans.append((begin, end))
        now = end
    return tuple(spans)
