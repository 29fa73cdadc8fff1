"""A timetable from an order of loads: each goes on its machine as early as it can.

What runs already comes first.  A load is put behind those that are on its machine; an attended
moment is put where the attendant has room, between others too.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import Final

from kerfwright.scheduling.problem import NEVER, Pairs, Placed, Problem
from kerfwright.scheduling.records import Goal

_STANDING: Final = 1.0
_EARLY: Final = 0.1
"""What a minute of a machine that stands and one by which loads are done earlier count, beside
the goal: common practice, no source."""


def due_order(problem: Problem) -> list[int]:
    """Return the pieces by due date, the longer first: what a shop does without a computer."""

    def key(k: int) -> tuple[int, int]:
        one = problem.pieces[k]
        due = NEVER if one.due_min is None else one.due_min
        return due, -sum(minutes for minutes, _ in one.stages)

    return sorted(range(len(problem.pieces)), key=key)


def place(problem: Problem, order: Sequence[int], choice: Sequence[int | None]) -> Placed:
    """Put loads on machines in an order.

    Parameters
    ----------
    problem : Problem
    order : sequence of int
        Every piece once.  One whose predecessors are not placed yet follows the last of them.
    choice : sequence of int or None
        Machine of each piece; None for the one that is free first.
    """
    pieces, extra = problem.pieces, problem.extra_min
    busy: list[tuple[int, int]] = list(problem.away)
    free = [0] * problem.count
    last = [len(pieces) + m for m in range(problem.count)]
    spans: list[Pairs] = [()] * len(pieces)
    machines = [-1] * len(pieces)
    for k in _possible(problem, order):
        piece = pieces[k]
        ready = piece.ready_min
        for other in piece.after:
            ready = max(ready, spans[other][-1][1])
        chosen = choice[k]
        if chosen is None or len(piece.machines) == 1:
            chosen = (
                _soonest(problem, k, free, last, ready)
                if problem.depends_on_order
                else min(piece.machines, key=free.__getitem__)
            )
        now, found, more = max(free[chosen], ready), [], extra[last[chosen]][k]
        downs = problem.downs[chosen]
        for minutes, is_attended in piece.stages:
            takes = minutes + more
            now = _attend(busy, now, takes, downs) if is_attended else _past(downs, now, takes)
            found.append((now, now + takes))
            now, more = now + takes, 0
        free[chosen], last[chosen], machines[k], spans[k] = now, k, chosen, tuple(found)
    return valued(problem, tuple(machines), tuple(spans))


def _soonest(problem: Problem, k: int, free: list[int], last: list[int], ready: int) -> int:
    """Return the machine on which the set-up of a piece is soonest over."""
    chosen, soonest = -1, 2 * NEVER
    for m in problem.pieces[k].machines:
        at = max(free[m], ready) + problem.extra_min[last[m]][k]
        if at < soonest:
            chosen, soonest = m, at
    return chosen


def _possible(problem: Problem, order: Sequence[int]) -> Sequence[int]:
    """Return an order in which no piece comes before one that it waits for."""
    pieces = problem.pieces
    running = [k for k in order if pieces[k].is_running]
    if running:
        order = running + [k for k in order if not pieces[k].is_running]
    if not any(piece.after for piece in pieces):
        return order
    found: list[int] = []
    missing = [len(piece.after) for piece in pieces]
    free: set[int] = set()
    follow = _followers(problem)
    for k in order:
        if missing[k]:
            free.add(k)
            continue
        stack = [k]
        while stack:
            one = stack.pop()
            found.append(one)
            for other in follow[one]:
                missing[other] -= 1
                if not missing[other] and other in free:
                    stack.append(other)
    return found


def _followers(problem: Problem) -> list[list[int]]:
    follow: list[list[int]] = [[] for _ in problem.pieces]
    for k, piece in enumerate(problem.pieces):
        for other in piece.after:
            follow[other].append(k)
    return follow


def _past(downs: Pairs, now: int, takes: int) -> int:
    """Return the earliest minute from which a machine is up for so long."""
    for begin, end in downs:
        if begin - now >= takes:
            break
        now = max(now, end)
    return now


def _attend(busy: list[tuple[int, int]], now: int, takes: int, downs: Pairs) -> int:
    """Book the attendant for so long, from a minute on; return when that begins."""
    while True:
        if downs:
            now = _past(downs, now, takes)
        k = bisect_right(busy, (now, NEVER))
        begin = now
        if k and busy[k - 1][1] > begin:
            begin = busy[k - 1][1]
        other, end = busy[k] if k < len(busy) else (2 * NEVER, 2 * NEVER)
        while other - begin < takes:
            if end > begin:
                begin = end
            k += 1
            other, end = busy[k] if k < len(busy) else (2 * NEVER, 2 * NEVER)
        if not downs or _past(downs, begin, takes) == begin:
            busy.insert(k, (begin, begin + takes))
            return begin
        now = begin


def pushed_left(problem: Problem, machines: tuple[int, ...], spans: tuple[Pairs, ...]) -> Placed:
    """Begin every stage of a timetable as early as the order of the others lets it.

    Stages are gone through by their begin; each finds its own place still free, or one before it.
    What people were told begins no earlier than they would call the same.
    """
    busy: list[tuple[int, int]] = list(problem.away)
    free = [0] * problem.count
    found: list[list[tuple[int, int]]] = [[] for _ in spans]
    every = sorted((s[0], k, n) for k, stages in enumerate(spans) for n, s in enumerate(stages))
    for _, k, n in every:
        piece, (begin, end) = problem.pieces[k], spans[k][n]
        downs = problem.downs[machines[k]]
        now = found[k][-1][1] if n else max(free[machines[k]], piece.ready_min)
        if not n:
            now = max([now, *(found[other][-1][1] for other in piece.after)])
            if piece.told is not None:
                now = max(now, min(begin, piece.told.begin_min - piece.told.slack_min))
        takes = end - begin
        is_attended = piece.stages[n][1]
        at = _attend(busy, now, takes, downs) if is_attended else _past(downs, now, takes)
        found[k].append((at, at + takes))
        if n + 1 == len(piece.stages):
            free[machines[k]] = at + takes
    return valued(problem, machines, tuple(tuple(one) for one in found))


def valued(problem: Problem, machines: tuple[int, ...], spans: tuple[Pairs, ...]) -> Placed:
    """Return machines and begins with what the goal and what counts beside it make of them."""
    value, moves, weighted, importance, stands = 0, 0, 0, 0, 0.0
    mean = problem.standing.mean_min
    by_due = problem.goal is Goal.DUE
    for piece, machine, found in zip(problem.pieces, machines, spans, strict=True):
        end = found[-1][1]
        if not by_due:
            value = max(value, end)
        elif piece.due_min is not None and end > piece.due_min:
            value += (end - piece.due_min) * piece.importance
        if piece.told is not None:
            moves += piece.told.cost_min(machine, found[0][0])
        weighted += end * piece.importance
        importance += piece.importance
        if piece.breaks:
            stands += sum(
                breaks * mean(begin, stop)
                for breaks, (begin, stop) in zip(piece.breaks, found, strict=True)
                if breaks
            )
    return Placed(
        machines=machines,
        spans=spans,
        value=value + moves,
        beside=_STANDING * stands + _EARLY * weighted / max(importance, 1),
    )


def order_of(placed: Placed) -> tuple[int, ...]:
    """Return the pieces by their begin."""
    return tuple(sorted(range(len(placed.spans)), key=lambda k: (placed.spans[k][0], k)))
