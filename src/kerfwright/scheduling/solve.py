"""From a week to its timetable: lists by due date, annealed, then an exact search from there."""

from __future__ import annotations

import time
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.scheduling.anneal import anneal
from kerfwright.scheduling.fit import why_left
from kerfwright.scheduling.lists import order_of, place, pushed_left
from kerfwright.scheduling.problem import (
    Exact,
    Improved,
    Limits,
    Placed,
    Problem,
    Told,
    problem_of,
)
from kerfwright.scheduling.records import Booking, Goal, Span, Stop, Tell, Timetable, Week

ANNEAL_SHARE: Final = 0.3
"""Part of the time for annealing; with the rest the exact search betters it and proves."""
STEPS_PER_WORK: Final = 10_000
"""Steps of annealing that stand for one unit of the exact search's own measure of work."""
_MOST_STAGES: Final = 1500
"""Stages beyond which the exact search is left out: building its model would take the time."""


def timetable(
    week: Week,
    *,
    goal: Goal = Goal.DUE,
    budget_s: float = 10.0,
    steps: int | None = None,
    seed: int = 0,
    gap_share: float = 0.0,
    told: Mapping[str, Told] = MappingProxyType({}),
    exact: Exact | None = None,
    tell: Tell = lambda _what, _share: None,
    stop: Stop = lambda: False,
) -> Timetable:
    """Put loads on machines.

    Parameters
    ----------
    week : Week
    goal : Goal
    budget_s : float
    steps : int, optional
        End after so many steps in place of the time: the same timetable on any machine.
    seed : int
    gap_share : float
        Proved distance from the best, as a share, that will do.
    told : mapping of str to Told
        What was told already, by load: moves count in the goal.
    exact : callable, optional
        Exact search; without it nothing but the plain bound is proved.
    tell, stop : callable, optional

    Raises
    ------
    InputError
        If a moment fits into no hours, loads wait for each other or the horizon is too short.
    """
    began = time.monotonic()
    problem = problem_of(week, goal=goal, told=told)
    if not problem.pieces:
        return Timetable(bookings=(), goal=goal, value=0, method="nobody", left=_left(week, ()))
    start = _as_told(problem)
    bound = plain_bound(problem)
    first = anneal(
        problem,
        budget_s=budget_s * (1.0 if exact is None else ANNEAL_SHARE),
        steps=steps,
        seed=seed,
        start=start,
        # Beside due dates that are held, work that is done earlier still counts.
        enough=bound if goal is Goal.END else None,
        tell=lambda what, share: tell(what, share * ANNEAL_SHARE),
        stop=stop,
    )
    best, method, stopped = first.placed, f"lists of which {first.steps} were tried", first.stopped
    is_small = sum(len(piece.stages) for piece in problem.pieces) <= _MOST_STAGES
    if exact is not None and is_small and not stopped and best.value > bound:
        found = exact(
            problem,
            best,
            Limits(
                budget_s=max(1.0, budget_s - (time.monotonic() - began)),
                work=None if steps is None else steps / STEPS_PER_WORK,
                seed=seed,
                gap_share=gap_share,
            ),
            lambda what, share: tell(what, ANNEAL_SHARE + (1 - ANNEAL_SHARE) * share),
            stop,
        )
        best, bound = _better(problem, best, found), max(bound, found.bound)
        method, stopped = f"{method}, then an exact search", found.stopped
    tell("", 1.0)
    return _timetable(week, problem, best, bound=bound, method=method, stopped=stopped)


def _as_told(problem: Problem) -> tuple[tuple[int, ...], tuple[int | None, ...]] | None:
    """Return order and machines that people were told, what is new coming first as it is due."""
    if not any(piece.told for piece in problem.pieces):
        return None
    choice = tuple(None if p.told is None else p.told.machine for p in problem.pieces)
    choice = tuple(
        m if m in p.machines else None for m, p in zip(choice, problem.pieces, strict=True)
    )

    def key(k: int) -> int:
        one = problem.pieces[k]
        return one.ready_min if one.told is None else one.told.begin_min

    return tuple(sorted(range(len(problem.pieces)), key=key)), choice


def plain_bound(problem: Problem) -> int:
    """Return what no timetable can do better, seen without a search.

    Every load takes its own time at least, from when it is ready; machines that share the work
    end no earlier than their mean.  Where every load begins with the attendant, machines begin
    one after the other: the one that is i-th stands for the i - 1 shortest set-ups first.
    """
    least = [
        sum(minutes for minutes, _ in p.stages) + min(0, *(row[k] for row in problem.extra_min))
        for k, p in enumerate(problem.pieces)
    ]
    if problem.goal is Goal.DUE:
        return sum(
            p.importance * max(0, p.ready_min + takes - p.due_min)
            for p, takes in zip(problem.pieces, least, strict=True)
            if p.due_min is not None
        )
    longest = max(p.ready_min + takes for p, takes in zip(problem.pieces, least, strict=True))
    by_machine = [0] * problem.count
    shared = 0
    for p, takes in zip(problem.pieces, least, strict=True):
        if len(p.machines) == 1:
            by_machine[p.machines[0]] += takes
        shared += takes
    shared += _stands_first(problem)
    return max(longest, *by_machine, -(-shared // problem.count))


def _stands_first(problem: Problem) -> int:
    """Return how long machines stand together before their first load, minutes at least."""
    pieces, count = problem.pieces, problem.count
    if len(pieces) < count or not all(p.stages[0][1] and not p.is_running for p in pieces):
        return 0
    heads = sorted(
        max(0, p.stages[0][0] + min(row[k] for row in problem.extra_min))
        for k, p in enumerate(pieces)
    )
    return sum((count - i) * head for i, head in enumerate(heads[: count - 1], start=1))


def _better(problem: Problem, known: Placed, found: Improved) -> Placed:
    """Return the better timetable; what was found begins as early as it can."""
    if found.order is None:
        return known
    lists = place(problem, found.order, found.machines)
    pushed = pushed_left(problem, found.machines, found.spans)
    return min(known, lists, pushed, key=lambda one: (one.value, one.beside))


def _left(week: Week, ids: tuple[str, ...]) -> Mapping[str, str]:
    left = {}
    for load in week.loads:
        if load.id not in ids:
            waits = [one for one in load.after if one not in ids]
            left[load.id] = f"it waits for {waits[0]}" if waits else why_left(week, load)
    return MappingProxyType(left)


def _timetable(
    week: Week, problem: Problem, placed: Placed, *, bound: int, method: str, stopped: bool
) -> Timetable:
    late = max(spans[-1][1] for spans in placed.spans)
    if late > problem.horizon_min:
        raise InputError(
            f"the loads do not end within the {problem.horizon_min} min that are planned",
            code="schedule-horizon",
            remedy="Plan more days, give more hours, or take loads out.",
        )
    return Timetable(
        bookings=tuple(
            Booking(
                load=problem.ids[k],
                machine=week.machines[placed.machines[k]].id,
                spans=tuple(Span(begin_min=b, end_min=e) for b, e in placed.spans[k]),
            )
            for k in order_of(placed)
        ),
        goal=problem.goal,
        value=placed.value,
        bound=min(bound, placed.value),
        method=method,
        stopped=stopped,
        left=_left(week, problem.ids),
    )
