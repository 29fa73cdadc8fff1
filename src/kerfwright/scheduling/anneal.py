"""Annealing of the order of loads: the start of an exact search, and the end of a short one."""

from __future__ import annotations

import math
import random
import time
from dataclasses import dataclass
from typing import Final

from kerfwright.scheduling.lists import due_order, place
from kerfwright.scheduling.problem import Placed, Problem
from kerfwright.scheduling.records import Stop, Tell

_BESIDE: Final = 0.05
"""Weight of what counts beside the goal while searching."""
_WARM: Final = 0.005
"""First temperature as a share of what is to be lowered."""
_NEAR: Final = 8
"""Places by which a load is shifted mostly."""
_FAR: Final = 0.1
_OTHER_MACHINE: Final = 0.2
"""How often it goes anywhere, or another machine is tried: these four by trial on random weeks of
forty loads, three times better after as many orders than shifts to anywhere."""
_LEAST: Final = 1e-6
"""Keeps a share of no time and a heat of nothing from dividing."""
_LOOK_EVERY: Final = 32
"""Steps between two looks at the clock."""
_STILL: Final = 4000
"""Steps without anything better after which a search begins anew from the best."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Annealed:
    """What annealing found.

    Attributes
    ----------
    placed : Placed
    steps : int
    stopped : bool
        Whether somebody stopped it.
    """

    placed: Placed
    steps: int
    stopped: bool = False


@dataclass(slots=True)
class _State:
    order: list[int]
    choice: list[int | None]
    cost: float


def anneal(
    problem: Problem,
    *,
    budget_s: float,
    steps: int | None = None,
    seed: int = 0,
    start: tuple[tuple[int, ...], tuple[int | None, ...]] | None = None,
    enough: int | None = None,
    tell: Tell = lambda _what, _share: None,
    stop: Stop = lambda: False,
) -> Annealed:
    """Better the order of loads by swaps, shifts and other machines.

    Parameters
    ----------
    problem : Problem
    budget_s : float
        Time; without effect where steps are given.
    steps : int, optional
        End after so many orders: the same result on any machine.
    seed : int
    start : optional
        Order and machines to begin from; without it the due dates.
    enough : int, optional
        Value at which to end.
    tell, stop : callable, optional
    """
    rng = random.Random(seed)  # noqa: S311 no secret: a search that can be repeated
    order, choice = start or (due_order(problem), [None] * len(problem.pieces))
    best = place(problem, order, choice)
    now = _State(order=list(order), choice=list(choice), cost=_cost(best))
    kept = (list(order), list(choice))
    begin, count, since, share = time.monotonic(), 0, 0, 0.0
    stopped, is_alike = False, problem.is_alike
    while len(problem.pieces) > 1 or count == 0:
        if steps is not None and count >= steps:
            break
        if enough is not None and best.value <= enough:
            break
        if count % _LOOK_EVERY == 0:
            spent = time.monotonic() - begin
            share = count / steps if steps is not None else spent / max(budget_s, _LEAST)
            stopped = stop()
            if share >= 1 or stopped:
                break
            tell(f"orders tried: {count}, {best.value} min", share)
        count += 1
        since += 1
        tried = _State(order=now.order[:], choice=now.choice[:], cost=0.0)
        _change(problem, tried, rng, is_alike=is_alike)
        placed = place(problem, tried.order, tried.choice)
        tried.cost = _cost(placed)
        heat = _WARM * now.cost * max(1 - share, _LEAST) ** 2
        rise = tried.cost - now.cost
        if rise <= 0 or rng.random() < math.exp(-rise / max(heat, _LEAST)):
            now = tried
        if (placed.value, placed.beside) < (best.value, best.beside):
            best, kept, since = placed, (tried.order[:], tried.choice[:]), 0
        elif since > _STILL:
            now, since = _State(order=kept[0][:], choice=kept[1][:], cost=_cost(best)), 0
    return Annealed(placed=best, steps=count, stopped=stopped)


def _cost(placed: Placed) -> float:
    return placed.value + _BESIDE * placed.beside


def _change(problem: Problem, state: _State, rng: random.Random, *, is_alike: bool) -> None:
    """Swap two loads, shift one, or try another machine.

    Mostly near each other: an order that is good is seldom bettered from end to end.
    """
    order, count = state.order, len(state.order)
    if not is_alike and rng.random() < _OTHER_MACHINE:
        k = rng.randrange(count)
        state.choice[k] = rng.choice((None, *problem.pieces[k].machines))
        return
    i = rng.randrange(count)
    if rng.random() < _FAR:
        j = rng.randrange(count)
    else:
        j = min(count - 1, max(0, i + rng.randint(-_NEAR, _NEAR)))
    if rng.random() < 0.5:
        order[i], order[j] = order[j], order[i]
    else:
        order.insert(j, order.pop(i))
