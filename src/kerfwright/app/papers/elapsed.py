"""When each cut begins and ends, counted from the start of the program on one piece."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.costing.rates import HumanMinutes
from kerfwright.motion.moves import Cut, WirePath
from kerfwright.planning.plan import Operation, OperationKind, Plan, Span
from kerfwright.trade.machine import Machine

_S_PER_MIN = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One cut with its moments.

    Attributes
    ----------
    operation : Operation
    begin_s, end_s : float
        From the start of the program: threading, positioning, cutting and stops, all at their
        likely times.
    stop_after : str
        What the attendant does after the cut; empty where the program does not stop there.
    threads : bool
    """

    operation: Operation
    begin_s: float
    end_s: float
    stop_after: str
    threads: bool

    @property
    def is_attended(self) -> bool:
        """Whether somebody must be there at any moment of it."""
        return self.operation.attended or bool(self.stop_after)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """Cuts in a row that are alike: what an operator plans the day by.

    Attributes
    ----------
    kinds : tuple of OperationKind
        In order of first coming.  A skim of a tab's face belongs to the cut-off.
    pass_numbers : tuple of int
    is_attended : bool
    begin_s, end_s : float
    contour_ids : tuple of str
        In order, each once.
    first, last : int
        Numbers of the operations.
    """

    kinds: tuple[OperationKind, ...]
    pass_numbers: tuple[int, ...]
    is_attended: bool
    begin_s: float
    end_s: float
    contour_ids: tuple[str, ...]
    first: int
    last: int


def steps_of(plan: Plan, path: WirePath, *, minutes: HumanMinutes) -> tuple[Step, ...]:
    """Return the moments of every operation.

    Parameters
    ----------
    plan : Plan
    path : WirePath
        Of that plan: one cut for each operation.
    minutes : HumanMinutes
        How long threading and a stop take.
    """
    return tuple(_steps(plan, path, minutes))


def _steps(plan: Plan, path: WirePath, minutes: HumanMinutes) -> Iterator[Step]:
    machine = plan.requirement.machine
    thread_min = (
        minutes.threading_automatic if machine.threads_itself else minutes.threading_by_hand
    )
    now_s = 0.0
    here = None
    for operation, cut in zip(plan.operations, path.cuts, strict=True):
        begin_s = now_s
        stops = (cut.stop_before is not None) + (cut.stop_after is not None)
        now_s += _S_PER_MIN * (minutes.attended_stop * stops + thread_min * cut.threads)
        now_s += _way_s(cut, here, machine) + cutting_s(cut)
        here = cut.moves.end_mm[-1] if len(cut.moves) else cut.moves.start_mm
        yield Step(
            operation=operation,
            begin_s=begin_s,
            end_s=now_s,
            stop_after=cut.stop_after.instruction if cut.stop_after else "",
            threads=cut.threads,
        )


def cutting_s(cut: Cut) -> float:
    """Return the time of a cut at its programmed feeds, s."""
    if not len(cut.moves):
        return 0.0
    return _S_PER_MIN * float((cut.moves.lengths_mm() / cut.moves.feed_mm_per_min).sum())


def _way_s(cut: Cut, here: object, machine: Machine) -> float:
    """Return the time from the end of the cut before to the start of this one."""
    if here is None:
        return 0.0
    way_mm = float(np.hypot(*(cut.moves.start_mm - np.asarray(here))))
    return _S_PER_MIN * way_mm / machine.idle_speed_mm_per_min


def stages_of(steps: Sequence[Step]) -> tuple[Stage, ...]:
    """Join steps that follow each other, are of one kind, and need somebody or nobody alike.

    Skims of several passes that run alone are one stage: nobody comes between them.  So are all
    cuts in a row at which somebody stands.
    """
    groups: list[list[Step]] = []
    for one in steps:
        if groups and _alike(groups[-1][-1], one):
            groups[-1].append(one)
        else:
            groups.append([one])
    return tuple(
        Stage(
            kinds=tuple(dict.fromkeys(_kind(s.operation) for s in group)),
            pass_numbers=tuple(sorted({s.operation.pass_number for s in group})),
            is_attended=group[0].is_attended,
            begin_s=group[0].begin_s,
            end_s=group[-1].end_s,
            contour_ids=tuple(dict.fromkeys(s.operation.contour_id for s in group)),
            first=group[0].operation.number,
            last=group[-1].operation.number,
        )
        for group in groups
    )


def _alike(one: Step, other: Step) -> bool:
    if one.is_attended != other.is_attended:
        return False
    return one.is_attended or _kind(one.operation) is _kind(other.operation)


def _kind(operation: Operation) -> OperationKind:
    return OperationKind.CUT_OFF if operation.span is Span.TAB else operation.kind
