"""What becomes of a timetable when work takes longer or shorter than the minutes kept for it.

Machines keep their order of loads.  The attendant goes to the moment that is first in the
timetable among those that wait; to one ahead of its time only where that is over before the next
one of the timetable is due, and to none that does not end before nobody is there.  Work goes on
early where it can.  A wire that breaks so that it wants a hand stops the machine until
somebody is there and has threaded it.

Cuts of one load are taken to be too slow or too fast together, loads apart from each other: a
table that is wrong for all of them makes the true ranges wider.
"""

from __future__ import annotations

import heapq
from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.scheduling.hours import Standing
from kerfwright.scheduling.records import Load, Span, Timetable, Week

RUNS: Final = 400
"""At which a chance of one half is known to 2.5 % (one standard error)."""
_SAME_MIN: Final = 1e-9
"""Minutes nearer than this are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """When one load is done.

    Attributes
    ----------
    load : str
    minutes : Range
        10 %, median and 90 %.
    held_share : float or None
        How often it was done by its due date; None where there is none.
    samples_min : tuple of float
        Every run, ascending.
    """

    load: str
    minutes: Range
    held_share: float | None
    samples_min: tuple[float, ...] = field(repr=False, default=())


@dataclass(frozen=True, slots=True)
class _Plan:
    """A timetable as the runs want it."""

    loads: Sequence[Load]
    order: Mapping[str, Sequence[int]]
    rank: Sequence[Sequence[int]]
    extra: Sequence[int]
    after: Sequence[Sequence[int]]
    machine: Sequence[str]
    downs: Mapping[str, Sequence[Span]]
    away: Sequence[Span]
    help_min: float


def simulate(
    week: Week, table: Timetable, *, runs: int = RUNS, seed: int = 0, help_min: float = 0.0
) -> tuple[Ends, ...]:
    """Work through a timetable many times with minutes drawn from their ranges.

    Parameters
    ----------
    week : Week
    table : Timetable
    runs : int
    seed : int
    help_min : float
        What a wire break keeps a person for.

    Returns
    -------
    tuple of Ends
        In the order of the bookings.
    """
    plan = _plan(week, table, help_min=help_min)
    rng = np.random.default_rng(seed)
    ends = np.array([_run(plan, rng) for _ in range(runs)]).reshape(runs, len(plan.loads))
    found = []
    for k, load in enumerate(plan.loads):
        sorted_min = np.sort(ends[:, k])
        low, middle, high = np.quantile(sorted_min, (0.1, 0.5, 0.9)).tolist()
        due = load.due_min
        found.append(
            Ends(
                load=load.id,
                minutes=Range(low=low, likely=middle, high=high),
                held_share=None if due is None else float((sorted_min <= due).mean()),
                samples_min=tuple(sorted_min.tolist()),
            )
        )
    return tuple(found)


def _plan(week: Week, table: Timetable, *, help_min: float) -> _Plan:
    loads = tuple(week.load(b.load) for b in table.bookings)
    number = {load.id: k for k, load in enumerate(loads)}
    order: dict[str, list[int]] = {}
    for k, booking in sorted(enumerate(table.bookings), key=lambda one: one[1].begin_min):
        order.setdefault(booking.machine, []).append(k)
    return _Plan(
        loads=loads,
        order=order,
        rank=[[s.begin_min for s in b.spans] for b in table.bookings],
        extra=[
            b.spans[0].end_min - b.begin_min - load.stages[0].planned_min(week.quantile)
            for b, load in zip(table.bookings, loads, strict=True)
        ],
        after=[[number[name] for name in load.after if name in number] for load in loads],
        machine=[b.machine for b in table.bookings],
        downs={m.id: sorted(m.downs, key=lambda d: d.begin_min) for m in week.machines},
        away=week.away,
        help_min=help_min,
    )


def _minutes(load: Load, extra: int, rng: np.random.Generator) -> list[float]:
    """Draw the minutes of every stage."""
    together = float(rng.standard_normal())
    found = []
    for number, stage in enumerate(load.stages):
        z = float(rng.standard_normal()) if stage.is_attended else together
        low, likely, high = stage.minutes.low, stage.minutes.likely, stage.minutes.high
        if likely <= 0 or low <= 0:
            found.append(likely)
            continue
        ratio = high / likely if z >= 0 else likely / low
        minutes = likely * ratio ** (z / Z_10_90)
        found.append(max(1.0, minutes + extra) if number == 0 else minutes)
    return found


def _run(plan: _Plan, rng: np.random.Generator) -> list[float]:
    """Work through once; return when each load is done."""
    run = _Run(plan, rng)
    while run.coming or run.waiting:
        if run.waiting and run.serves():
            continue
        run.goes_on()
    return run.ends


class _Run:
    """One run: what comes next on each machine, and what waits for the attendant."""

    def __init__(self, plan: _Plan, rng: np.random.Generator) -> None:
        self.plan, self.rng = plan, rng
        self.takes = [
            _minutes(load, more, rng) for load, more in zip(plan.loads, plan.extra, strict=True)
        ]
        self.standing = Standing(plan.away)
        self.ends = [-1.0] * len(plan.loads)
        self.free: dict[str, float] = dict.fromkeys(plan.order, 0.0)
        self.queue = {name: list(reversed(here)) for name, here in plan.order.items()}
        self.coming: list[tuple[float, int, int]] = []
        self.waiting: list[tuple[float, int, int]] = []
        self.attendant = 0.0
        self.told = sorted(
            (plan.rank[k][s], k, s)
            for k, load in enumerate(plan.loads)
            for s, stage in enumerate(load.stages)
            if stage.is_attended
        )
        for name in self.queue:
            self.next_load(name)

    def next_load(self, name: str) -> None:
        """Let the next load of a machine come, unless it waits for another."""
        if not self.queue[name]:
            return
        k = self.queue[name][-1]
        ends = [self.ends[other] for other in self.plan.after[k]]
        if min(ends, default=0.0) < 0:
            return
        self.queue[name].pop()
        ready = max(self.free[name], self.plan.loads[k].ready_min, *ends, 0.0)
        heapq.heappush(self.coming, (ready, k, 0))

    def serves(self) -> bool:
        """Let the attendant go to the first that waits; return whether there was time for one."""
        plan = self.plan
        now = max(self.attendant, min(at for at, _, _ in self.waiting))
        if self.coming and self.coming[0][0] <= now:
            return False
        ready = [one for one in self.waiting if one[0] <= now]
        one = min(ready, key=lambda w: plan.rank[w[1]][w[2]])
        _, k, stage = one
        begin = _attended(plan, k, now, self.takes[k][stage])
        end = begin + self.takes[k][stage]
        until = self._sooner(begin, min(end, plan.rank[k][stage]))
        if until is not None:
            # Another one is due before this one would be over: whatever comes until then is seen.
            self.attendant = min(until, self.coming[0][0]) if self.coming else until
            return self.attendant >= until
        if self.coming and self.coming[0][0] <= begin:
            # It cannot begin before others have come: they may be first then.
            self.attendant = self.coming[0][0]
            return False
        self.waiting.remove(one)
        self.told.remove((plan.rank[k][stage], k, stage))
        self.attendant = end
        self._done(k, stage, end)
        return True

    def _sooner(self, begin: float, end: float) -> float | None:
        """Return when another moment is due that has not come, within a span."""
        there = {(k, stage) for _, k, stage in self.waiting}
        first = bisect_right(self.told, (begin, len(self.ends), 0))
        for due, k, stage in self.told[first:]:
            if due >= end:
                break
            if (k, stage) not in there:
                return due
        return None

    def goes_on(self) -> None:
        """Let what comes next run, or wait for the attendant."""
        at, k, stage = heapq.heappop(self.coming)
        if self.plan.loads[k].stages[stage].is_attended:
            self.waiting.append((at, k, stage))
            return
        takes = self.takes[k][stage]
        begin = _clear(self.plan.downs[self.plan.machine[k]], at, takes)
        self._done(k, stage, self._broken(k, stage, begin, begin + takes))

    def _done(self, k: int, stage: int, end: float) -> None:
        if stage + 1 < len(self.plan.loads[k].stages):
            heapq.heappush(self.coming, (end, k, stage + 1))
            return
        self.ends[k] = end
        mine = self.plan.machine[k]
        self.free[mine] = end
        for name, queue in self.queue.items():
            if name == mine or (queue and k in self.plan.after[queue[-1]]):
                self.next_load(name)

    def _broken(self, k: int, stage: int, begin: float, end: float) -> float:
        """Return when a stretch ends that may be stopped by wire breaks."""
        mean = self.plan.loads[k].stages[stage].breaks
        if not mean:
            return end
        shift = 0.0
        breaks = self.rng.random(int(self.rng.poisson(mean)))
        for share in np.sort(breaks).tolist():
            at = begin + share * (end - begin) + shift
            shift += self.standing.wait_min(at) + self.plan.help_min
        return end + shift


def _attended(plan: _Plan, k: int, at: float, takes: float) -> float:
    """Return when the attendant can begin and end without leaving; long moments are broken off."""
    downs = plan.downs[plan.machine[k]]
    begins = [s.begin_min for s in plan.away]
    now = at
    while True:
        now = _clear(downs, now, takes)
        i = bisect_left(begins, now + _SAME_MIN) - 1
        if i >= 0 and plan.away[i].end_min > now:
            now = float(plan.away[i].end_min)
            continue
        following = plan.away[i + 1] if i + 1 < len(plan.away) else None
        room = float("inf") if following is None else following.begin_min - now
        if takes <= room:
            return now
        assert following is not None
        before = plan.away[i].end_min if i >= 0 else 0
        if takes > following.begin_min - before and now <= before:
            # Longer than a whole spell: it is begun, left and ended the next time.
            return now
        now = float(following.end_min)


def _clear(downs: Sequence[Span], now: float, takes: float) -> float:
    for down in downs:
        if down.begin_min - now >= takes:
            break
        now = max(now, float(down.end_min))
    return now
