"""The exact search behind the port of :mod:`kerfwright.scheduling`: constraints, by OR-Tools.

Every load is an interval on one of its machines, every attended moment one of the attendant's,
who is away in fixed ones.  Where set-ups depend on the order, each machine has a round trip
through its loads.  It begins from a timetable that is known, and ends by time, by its own measure
of work, by a proved gap or when asked.
"""

from __future__ import annotations

import threading
import time
from importlib.util import find_spec
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from kerfwright.foundation.errors import MissingPackageError
from kerfwright.scheduling.problem import Improved, Limits, Pairs, Placed, Problem
from kerfwright.scheduling.records import Goal, Stop, Tell

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

PACKAGE: Final = "ortools"
_LOOK_S: Final = 0.1


def has_exact() -> bool:
    """Return whether the exact search is installed."""
    return find_spec(PACKAGE) is not None


def require_exact() -> None:
    """Refuse to go on without it.

    Raises
    ------
    MissingPackageError
        Code ``schedule-needs-ortools``.
    """
    if not has_exact():
        raise MissingPackageError(
            f"the exact search {PACKAGE} is not installed",
            code="schedule-needs-ortools",
            remedy="pip install 'kerfwright[schedule]', or go without it: --engine lists.",
        )


def improve(
    problem: Problem, known: Placed | None, limits: Limits, tell: Tell, stop: Stop
) -> Improved:
    """Better a timetable and prove how good it is.

    Parameters
    ----------
    problem : Problem
    known : Placed or None
        Timetable to begin from.
    limits : Limits
    tell : callable
        Told each better value and bound.
    stop : callable
        Asked ten times a second.

    Raises
    ------
    MissingPackageError
        Code ``schedule-needs-ortools``.
    """
    require_exact()
    from ortools.sat.python import cp_model

    model = _Model(problem)
    if known is not None:
        model.hint(known)
    solver = cp_model.CpSolver()
    given = solver.parameters
    given.max_time_in_seconds = limits.budget_s
    given.random_seed = limits.seed
    given.relative_gap_limit = limits.gap_share
    given.num_workers = limits.workers
    if limits.work is not None:
        given.max_time_in_seconds = 10 * limits.budget_s + 3600
        given.max_deterministic_time = limits.work
        given.num_workers = 1
    watch = _Watch(solver, limits, tell, stop)
    with watch:
        status = solver.solve(model.model, watch.told())
    bound = max(0, round(solver.best_objective_bound))
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Improved(
            order=None, machines=(), spans=(), value=0, bound=bound, stopped=watch.stopped
        )
    machines, spans = model.read(solver)
    return Improved(
        order=tuple(sorted(range(len(spans)), key=lambda k: (spans[k][0], k))),
        machines=machines,
        spans=spans,
        value=round(solver.objective_value),
        bound=bound,
        stopped=watch.stopped,
    )


class _Watch:
    """Tells how far the search is, and ends it when asked."""

    def __init__(self, solver: cp_model.CpSolver, limits: Limits, tell: Tell, stop: Stop) -> None:
        self._solver, self._limits, self._tell, self._stop = solver, limits, tell, stop
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._words = "exact search"
        self.stopped = False

    def told(self) -> Any:
        """Return what the search calls with each better timetable."""
        from ortools.sat.python import cp_model

        watch = self

        class Told(cp_model.CpSolverSolutionCallback):  # type: ignore[misc, unused-ignore]
            def on_solution_callback(self) -> None:
                watch.said(self.objective_value, self.best_objective_bound)

        return Told()

    def said(self, value: float, bound: float) -> None:
        """Keep what is to be told."""
        self._words = f"exact search: {value:.0f} min, at least {max(bound, 0):.0f}"

    def _look(self) -> None:
        begin = time.monotonic()
        while not self._over.wait(_LOOK_S):
            spent = time.monotonic() - begin
            self._tell(self._words, min(0.999, spent / self._limits.budget_s))
            if self._stop():
                self.stopped = True
                self._solver.stop_search()
                return

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_fault: object) -> None:
        self._over.set()
        self._thread.join()


class _Model:
    """The constraints of a problem, and the way in and out of them."""

    def __init__(self, problem: Problem) -> None:
        from ortools.sat.python import cp_model

        self.problem = problem
        self._alike = problem.is_alike
        self.model = cp_model.CpModel()
        self._attended: list[Any] = []
        self._on: list[list[Any]] = [[] for _ in range(problem.count)]
        self._begins: list[list[Any]] = []
        self._ends: list[Any] = []
        self._sizes: list[Any] = []
        self._takes: list[Any] = []
        self._first_ends: list[Any] = []
        self._chosen: list[dict[int, Any]] = []
        self._extras: list[Any] = []
        self._arcs: dict[tuple[int, int, int], Any] = {}
        self._late: list[Any] = []
        self._moved: dict[int, tuple[Any, Any]] = {}
        self._end: Any = None
        for k in range(len(problem.pieces)):
            self._piece(k)
        self._order()
        self._machines()
        self._attendant()
        self._goal()

    def _piece(self, k: int) -> None:
        """Add begins, end and machines of a load."""
        piece, model, horizon = self.problem.pieces[k], self.model, self.problem.horizon_min
        rows = [row[k] for row in self.problem.extra_min]
        low, high = min(rows), max(rows)
        extra: Any = model.new_int_var(low, high, "") if low < high else low
        self._extras.append(extra)
        begins = [model.new_int_var(piece.ready_min, horizon, "") for _ in piece.stages]
        ends: list[Any] = []
        for s, (minutes, is_attended) in enumerate(piece.stages):
            takes: Any = minutes
            if s == 0:
                takes = minutes + low
                if low < high:
                    takes = model.new_int_var(minutes + low, minutes + high, "")
                    model.add(takes == minutes + extra)
                self._takes.append(takes)
            ends.append(begins[s] + takes)
            if s == 0 and low < high:
                # An interval wants one variable for its end.
                ends[0] = model.new_int_var(0, horizon, "")
                model.add(ends[0] == begins[0] + takes)
            if s:
                model.add(begins[s] >= ends[s - 1])
            if is_attended:
                self._attended.append(model.new_interval_var(begins[s], takes, ends[s], ""))
        self._first_ends.append(ends[0])
        size = model.new_int_var(sum(m for m, _ in piece.stages) + low, horizon, "")
        end = model.new_int_var(0, horizon, "")
        model.add(end == ends[-1])
        self._begins.append(begins)
        self._ends.append(end)
        self._sizes.append(size)
        whole = model.new_interval_var(begins[0], size, end, "")
        chosen: dict[int, Any] = {}
        for m in piece.machines:
            if self._alike:
                break
            if len(piece.machines) == 1:
                self._on[m].append(whole)
                chosen[m] = True
                continue
            chosen[m] = model.new_bool_var("")
            self._on[m].append(model.new_optional_interval_var(begins[0], size, end, chosen[m], ""))
        if len(chosen) > 1:
            model.add_exactly_one(list(chosen.values()))
        self._chosen.append(chosen)

    def _order(self) -> None:
        """Let a load begin when those that it waits for are done."""
        for k, piece in enumerate(self.problem.pieces):
            for other in piece.after:
                self.model.add(self._begins[k][0] >= self._ends[other])

    def _machines(self) -> None:
        for m, intervals in enumerate(self._on):
            self.model.add_no_overlap(intervals)
            self._running_first(m)
            self._downs(m)
            if self.problem.depends_on_order:
                self._round_trip(m)
        if self.problem.count > 1 and all(
            len(p.machines) == self.problem.count for p in self.problem.pieces
        ):
            # Machines that are alike for all loads: together they have no more room.
            every = [
                self.model.new_interval_var(b[0], size, end, "")
                for b, size, end in zip(self._begins, self._sizes, self._ends, strict=True)
            ]
            self.model.add_cumulative(every, [1] * len(every), self.problem.count)

    def _running_first(self, m: int) -> None:
        """Let what runs come before all that goes on its machine."""
        pieces = self.problem.pieces
        here = [k for k, chosen in enumerate(self._chosen) if m in chosen]
        for k in here:
            if not pieces[k].is_running:
                continue
            for other in here:
                if other == k or pieces[other].is_running:
                    continue
                on = self._chosen[other][m]
                later = self.model.add(self._begins[other][0] >= self._ends[k])
                if on is not True:
                    later.only_enforce_if(on)

    def _downs(self, m: int) -> None:
        """No stage runs while the machine stands."""
        model, downs = self.model, self.problem.downs[m]
        if not downs:
            return
        for k, chosen in enumerate(self._chosen):
            if m not in chosen:
                continue
            on = chosen[m]
            for s, (minutes, _) in enumerate(self.problem.pieces[k].stages):
                takes = self._takes[k] if s == 0 else minutes
                begin = self._begins[k][s]
                for first, last in downs:
                    before = model.new_bool_var("")
                    one = [before] if on is True else [before, on]
                    other = [~before] if on is True else [~before, on]
                    model.add(begin + takes <= first).only_enforce_if(one)
                    model.add(begin >= last).only_enforce_if(other)

    def _round_trip(self, m: int) -> None:
        """Let each load of a machine follow one other, and its set-up follow from that."""
        model, extra = self.model, self.problem.extra_min
        here = [k for k, chosen in enumerate(self._chosen) if m in chosen]
        if not here:
            return
        first, arcs = len(self._chosen) + m, []
        empty = model.new_bool_var("")
        arcs.append((0, 0, empty))
        for i, k in enumerate(here, start=1):
            on = self._chosen[k][m]
            if on is True:
                model.add(empty == 0)
            else:
                arcs.append((i, i, ~on))
                model.add_implication(on, ~empty)
            for j, other in enumerate(here, start=1):
                if i == j:
                    continue
                arc = model.new_bool_var("")
                arcs.append((i, j, arc))
                self._arcs[m, k, other] = arc
                model.add(self._begins[other][0] >= self._ends[k]).only_enforce_if(arc)
                self._extra_is(other, extra[k][other], arc)
            begins, ends = model.new_bool_var(""), model.new_bool_var("")
            arcs += [(0, i, begins), (i, 0, ends)]
            self._arcs[m, -1, k], self._arcs[m, k, -1] = begins, ends
            self._extra_is(k, extra[first][k], begins)
        self._arcs[m, -1, -1] = empty
        model.add_circuit(arcs)

    def _extra_is(self, k: int, minutes: int, arc: Any) -> None:
        if not isinstance(self._extras[k], int):
            self.model.add(self._extras[k] == minutes).only_enforce_if(arc)

    def _attendant(self) -> None:
        if not self._attended:
            return
        away = [
            self.model.new_fixed_size_interval_var(begin, end - begin, "")
            for begin, end in self.problem.away
            if begin < self.problem.horizon_min
        ]
        self.model.add_no_overlap([*self._attended, *away])

    def _goal(self) -> None:
        model, problem, horizon = self.model, self.problem, self.problem.horizon_min
        terms: list[Any] = []
        if problem.goal is Goal.END:
            self._end = model.new_int_var(0, horizon, "")
            model.add_max_equality(self._end, self._ends)
            terms.append(self._end)
        for k, piece in enumerate(problem.pieces):
            late = None
            if problem.goal is Goal.DUE and piece.due_min is not None:
                late = model.new_int_var(0, max(0, horizon - piece.due_min), "")
                model.add(late >= self._ends[k] - piece.due_min)
                terms.append(late * piece.importance)
            self._late.append(late)
            if piece.told is not None:
                terms.append(self._move(k) * piece.told.costs_min)
        model.minimize(sum(terms))

    def _move(self, k: int) -> Any:
        told = self.problem.pieces[k].told
        assert told is not None
        model, chosen = self.model, self._chosen[k]
        moved = model.new_bool_var("")
        begin = self._begins[k][0]
        model.add(begin <= told.begin_min + told.slack_min).only_enforce_if(~moved)
        model.add(begin >= told.begin_min - told.slack_min).only_enforce_if(~moved)
        on = chosen.get(told.machine, False)
        if on is False:
            model.add(moved == 1)
        elif on is not True:
            model.add_implication(~moved, on)
        self._moved[k] = (moved, told)
        return moved

    def hint(self, known: Placed) -> None:
        """Begin from a timetable."""
        model, pieces = self.model, self.problem.pieces
        by_machine: dict[int, list[int]] = {}
        for k in sorted(range(len(pieces)), key=lambda k: known.spans[k][0]):
            by_machine.setdefault(known.machines[k], []).append(k)
        after: dict[tuple[int, int, int], bool] = {}
        for m, here in by_machine.items():
            row = [-1, *here, -1]
            after |= {(m, a, b): True for a, b in pairwise(row)}
        after |= {(m, -1, -1): True for m in range(self.problem.count) if m not in by_machine}
        for key, arc in self._arcs.items():
            model.add_hint(arc, key in after)
        for k, (piece, spans) in enumerate(zip(pieces, known.spans, strict=True)):
            for begin, (at, _) in zip(self._begins[k], spans, strict=True):
                model.add_hint(begin, at)
            model.add_hint(self._ends[k], spans[-1][1])
            model.add_hint(self._sizes[k], spans[-1][1] - spans[0][0])
            if not isinstance(self._extras[k], int):
                takes = spans[0][1] - spans[0][0]
                model.add_hint(self._takes[k], takes)
                model.add_hint(self._first_ends[k], spans[0][1])
                model.add_hint(self._extras[k], takes - piece.stages[0][0])
            for m, on in self._chosen[k].items():
                if on is not True:
                    model.add_hint(on, known.machines[k] == m)
            if self._late[k] is not None:
                model.add_hint(self._late[k], max(0, spans[-1][1] - (piece.due_min or 0)))
            if k in self._moved:
                moved, told = self._moved[k]
                model.add_hint(moved, told.cost_min(known.machines[k], spans[0][0]) > 0)
        if self._end is not None:
            model.add_hint(self._end, max(spans[-1][1] for spans in known.spans))

    def read(self, solver: cp_model.CpSolver) -> tuple[tuple[int, ...], tuple[Pairs, ...]]:
        """Return machines and begins of the best timetable."""
        machines, found = [], []
        for k, piece in enumerate(self.problem.pieces):
            machines.append(
                -1
                if self._alike
                else next(m for m, on in self._chosen[k].items() if on is True or solver.value(on))
            )
            spans = []
            for s, (minutes, _) in enumerate(piece.stages):
                begin = solver.value(self._begins[k][s])
                takes = solver.value(self._takes[k]) if s == 0 else minutes
                spans.append((begin, begin + takes))
            found.append(tuple(spans))
        if self._alike:
            machines = _dealt([(spans[0][0], spans[-1][1]) for spans in found], self.problem.count)
        return tuple(machines), tuple(found)


def _dealt(blocks: list[tuple[int, int]], count: int) -> list[int]:
    """Deal blocks of which no more overlap than there are machines, each to one that is free."""
    free = [0] * count
    machines = [-1] * len(blocks)
    for k in sorted(range(len(blocks)), key=blocks.__getitem__):
        begin, end = blocks[k]
        machine = min(range(count), key=free.__getitem__)
        assert free[machine] <= begin
        machines[k], free[machine] = machine, end
    return machines
