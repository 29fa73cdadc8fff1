"""A week in whole numbers, as those that search want it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.scheduling.fit import fitting
from kerfwright.scheduling.hours import Standing, longest_min
from kerfwright.scheduling.records import Goal, Load, SetUps, Stop, Tell, Week
from kerfwright.trade.catalogue import is_same_wire

NEVER: Final = 10**9
"""A minute after every horizon."""
Pairs = tuple[tuple[int, int], ...]
"""Begins and ends, minutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What people were told already of one load, and what it costs to tell them anew.

    Attributes
    ----------
    machine : int
    begin_min : int
    slack_min : int
        A begin that shifts by no more is the same.
    costs_min : int
        What a move counts in the goal.
    """

    machine: int
    begin_min: int
    slack_min: int
    costs_min: int

    def cost_min(self, machine: int, begin_min: int) -> int:
        """Return what a machine and a begin cost."""
        is_same = machine == self.machine and abs(begin_min - self.begin_min) <= self.slack_min
        return 0 if is_same else self.costs_min


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A load in numbers.

    Attributes
    ----------
    stages : tuple of (int, bool)
        Minutes and whether attended.
    breaks : tuple of float
        Breaks to be expected in each stage that want a hand; empty where there are none.
    machines : tuple of int
        That it may go on.
    ready_min : int
    due_min : int or None
    importance : int
    after : tuple of int
    is_running : bool
    told : Told or None
    """

    stages: tuple[tuple[int, bool], ...]
    breaks: tuple[float, ...]
    machines: tuple[int, ...]
    ready_min: int
    due_min: int | None
    importance: int
    after: tuple[int, ...]
    is_running: bool
    told: Told | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """A week in numbers; loads without a machine, and what waits for them, are left out.

    Attributes
    ----------
    ids : tuple of str
        Of the loads, in the order of ``pieces``.
    pieces : tuple of Piece
    count : int
        Machines.
    downs : tuple of Pairs
        By machine.
    away : Pairs
    extra_min : tuple of tuple of int
        Minutes more or less of the set-up of a load after another one; rows after those of the
        loads are what is on each machine at the begin.
    goal : Goal
    horizon_min : int
    standing : Standing
    depends_on_order : bool
        Whether any set-up is longer or shorter after some load.
    """

    ids: tuple[str, ...]
    pieces: tuple[Piece, ...]
    count: int
    downs: tuple[Pairs, ...]
    away: Pairs
    extra_min: tuple[tuple[int, ...], ...]
    goal: Goal
    horizon_min: int
    standing: Standing = field(compare=False)
    depends_on_order: bool

    @property
    def is_alike(self) -> bool:
        """Whether no load minds which machine it is on: together they are then one resource."""
        return (
            self.count > 1
            and not self.depends_on_order
            and not any(self.downs)
            and all(
                len(p.machines) == self.count and not p.is_running and p.told is None
                for p in self.pieces
            )
        )


def problem_of(
    week: Week,
    *,
    goal: Goal,
    told: Mapping[str, Told] = MappingProxyType({}),
) -> Problem:
    """Return a week in numbers.

    Raises
    ------
    InputError
        Code ``schedule-moment-too-long`` for an attended stage that fits between no two breaks;
        ``schedule-circle`` where loads wait for each other; ``schedule-unknown-load``.
    """
    machines = fitting(week)
    loads = _placeable(week, machines)
    number = {load.id: k for k, load in enumerate(loads)}
    _refuse_long(week, loads)
    pieces = tuple(
        Piece(
            stages=tuple((s.planned_min(week.quantile), s.is_attended) for s in load.stages),
            breaks=_breaks(load),
            machines=machines[load.id],
            ready_min=max(0, load.ready_min),
            due_min=load.due_min,
            importance=load.importance,
            after=tuple(number[one] for one in load.after if one in number),
            is_running=bool(load.running_on),
            told=told.get(load.id),
        )
        for load in loads
    )
    before = [(load.need.wire_mm, load.fixture) for load in loads]
    before += [(m.wire_mm, m.fixture) for m in week.machines]
    extra = tuple(
        tuple(
            _extra(wire, fixture, load, week.set_ups, first=piece.stages[0])
            for load, piece in zip(loads, pieces, strict=True)
        )
        for wire, fixture in before
    )
    return Problem(
        ids=tuple(number),
        pieces=pieces,
        count=len(week.machines),
        downs=tuple(
            tuple(sorted((d.begin_min, d.end_min) for d in m.downs)) for m in week.machines
        ),
        away=(*((s.begin_min, s.end_min) for s in week.away), (week.horizon_min, NEVER)),
        extra_min=extra,
        goal=goal,
        horizon_min=week.horizon_min,
        standing=Standing(week.away),
        depends_on_order=any(any(row) for row in extra),
    )


def _breaks(load: Load) -> tuple[float, ...]:
    found = tuple(0.0 if s.is_attended else s.breaks for s in load.stages)
    return found if any(found) else ()


def _placeable(week: Week, machines: Mapping[str, tuple[int, ...]]) -> list[Load]:
    """Return the loads that have a machine and wait for none that has not.

    A load comes after those that it waits for.
    """
    every = {load.id: load for load in week.loads}
    for load in week.loads:
        for one in load.after:
            if one not in every:
                raise InputError(
                    f"{load.id} comes after {one}, which is not among the loads",
                    code="schedule-unknown-load",
                    remedy="Add it, or leave it out if it is done.",
                )
    found: dict[str, Load] = {}
    waiting = {load.id: load for load in week.loads if machines[load.id]}
    while waiting:
        now = [load for load in waiting.values() if all(one in found for one in load.after)]
        never = [
            load
            for load in waiting.values()
            if any(one not in found and one not in waiting for one in load.after)
        ]
        if not now and not never:
            raise InputError(
                f"these loads wait for each other: {', '.join(sorted(waiting))}",
                code="schedule-circle",
                remedy="Take one `after` away.",
            )
        found |= {load.id: load for load in now}
        for load in (*now, *never):
            del waiting[load.id]
    return [load for load in week.loads if load.id in found]


def _refuse_long(week: Week, loads: list[Load]) -> None:
    most = longest_min(week.away, horizon_min=week.horizon_min)
    for load in loads:
        for stage in load.stages:
            takes = stage.planned_min(week.quantile) + (
                week.set_ups.wire_change_min if stage is load.stages[0] else 0
            )
            if stage.is_attended and takes > most:
                raise InputError(
                    f"{load.id}: {stage.name} keeps the attendant for {takes} min, who is there "
                    f"for {most} min at a time",
                    code="schedule-moment-too-long",
                    remedy="Split it, or lengthen the attendant's hours.",
                )


def _extra(
    wire_mm: float | None, fixture: str, load: Load, set_ups: SetUps, *, first: tuple[int, bool]
) -> int:
    """Return how much longer a set-up is after a wire and a fixture, minutes."""
    minutes, is_attended = first
    if load.running_on or not is_attended:
        return 0
    extra = 0
    if fixture and fixture == load.fixture:
        extra = max(min(set_ups.least_min, minutes), minutes - set_ups.same_fixture_saves_min)
        extra -= minutes
    need = load.need.wire_mm
    if need is not None and wire_mm is not None and not is_same_wire(need, wire_mm):
        extra += set_ups.wire_change_min
    return extra


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """Machines and begins of every stage, in the order of the pieces of a problem.

    Attributes
    ----------
    machines : tuple of int
    spans : tuple of Pairs
    value : int
        What the goal counts.
    beside : float
        What decides between two of the same value.
    """

    machines: tuple[int, ...]
    spans: tuple[Pairs, ...]
    value: int
    beside: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """When an exact search ends.

    Attributes
    ----------
    budget_s : float
    work : float or None
        Amount of its own work, the same on any machine; None for the end of the time.
    seed : int
    gap_share : float
        Proved distance from the best, as a share, that will do.
    workers : int
        Searches at once; more than there are cores, for they are of different kinds.
    """

    budget_s: float
    work: float | None = None
    seed: int = 0
    gap_share: float = 0.0
    workers: int = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Improved:
    """What an exact search found.

    Attributes
    ----------
    order : tuple of int or None
        Pieces by begin; None where it found nothing.
    machines : tuple of int
    value : int
    bound : int
        Proved.
    stopped : bool
    """

    order: tuple[int, ...] | None
    machines: tuple[int, ...]
    spans: tuple[Pairs, ...]
    value: int
    bound: int
    stopped: bool = False


Exact = Callable[[Problem, Placed | None, Limits, Tell, Stop], Improved]
"""An exact search, from a timetable that is known or from none."""
