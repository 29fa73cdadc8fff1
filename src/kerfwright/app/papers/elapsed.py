"""When each cut begins and ends, counted from the start of the program on one piece."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.app.strip import strip_of
from kerfwright.costing.rates import HumanMinutes
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import Operation, OperationKind, Plan, Span

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
    is_seen_over : bool
        Whether somebody raises the head over a clamp on the way to it.
    """

    operation: Operation
    begin_s: float
    end_s: float
    stop_after: str
    threads: bool
    is_seen_over: bool = False

    @property
    def is_attended(self) -> bool:
        """Whether somebody must be there at any moment of it."""
        return self.operation.attended or bool(self.stop_after) or self.is_seen_over


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
    strip = strip_of(plan, path, minutes=minutes)
    minutes_of: defaultdict[int | None, float] = defaultdict(float)
    for stretch in strip.stretches:
        minutes_of[stretch.cut] += stretch.minutes
    steps = []
    # The program begins when the piece is clamped and loaded.
    now_min = begin_min = minutes_of[None]
    for number, (operation, cut) in enumerate(zip(plan.operations, path.cuts, strict=True)):
        end_min = now_min + minutes_of[number]
        steps.append(
            Step(
                operation=operation,
                begin_s=_S_PER_MIN * (now_min - begin_min),
                end_s=_S_PER_MIN * (end_min - begin_min),
                stop_after=cut.stop_after.instruction if cut.stop_after else "",
                threads=cut.threads,
                is_seen_over=cut.way.stop_after is not None,
            )
        )
        now_min = end_min
    return tuple(steps)


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
