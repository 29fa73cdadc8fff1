"""A batch on this machine: joblib hands out the drawings, each to a process behind a clock."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Iterator
from typing import Final

from kerfwright.adapters.batch.keeper import Keeper, Stopped
from kerfwright.adapters.batch.replies import answer_of
from kerfwright.app.batch.course import Stop
from kerfwright.app.batch.records import Answer, Task

_LOOK_S: Final = 0.2


def plan_here(
    tasks: Iterator[Task], stop: Stop, *, jobs: int, module: str
) -> Iterator[tuple[Task, Answer]]:
    """Plan tasks in several processes and yield what comes, in any order.

    joblib's threads each hold one child process (:mod:`kerfwright.adapters.batch.keeper`).  Its own
    processes would not do: a crash in one ends all of them, and a limit of time ends the call.

    Parameters
    ----------
    tasks : iterator of Task
        Read one by one, two for each process at most ahead of what came back.
    stop : callable
        Asked five times a second; the processes are then ended where they are.
    jobs : int
        Processes.
    module : str
        Module that a child runs.
    """
    from joblib import Parallel, delayed

    keepers = [Keeper(module) for _ in range(jobs)]
    idle: queue.SimpleQueue[Keeper] = queue.SimpleQueue()
    for keeper in keepers:
        idle.put(keeper)

    def planned(task: Task) -> tuple[Task, Answer | None]:
        keeper = idle.get()
        try:
            reply = keeper.ask(task, limit_s=task.limit_s)
        finally:
            idle.put(keeper)
        return task, None if isinstance(reply, Stopped) else answer_of(reply, task)

    with _ended_at(stop, keepers):
        parallel = Parallel(
            n_jobs=jobs,
            backend="threading",
            return_as="generator_unordered",
            pre_dispatch="2*n_jobs",
            batch_size=1,
        )
        for task, answer in parallel(delayed(planned)(task) for task in tasks):
            if answer is not None:
                yield task, answer


class _ended_at:  # noqa: N801 reads as a statement
    """Ends the processes where the batch is asked to stop, and when all is done."""

    def __init__(self, stop: Callable[[], bool], keepers: list[Keeper]) -> None:
        self._stop, self._keepers = stop, keepers
        self._done = threading.Event()
        self._watch = threading.Thread(target=self._look, daemon=True)

    def _look(self) -> None:
        while not self._done.wait(_LOOK_S):
            if self._stop():
                break
        for keeper in self._keepers:
            keeper.end()

    def __enter__(self) -> None:
        self._watch.start()

    def __exit__(self, *_fault: object) -> None:
        self._done.set()
        self._watch.join()
        for keeper in self._keepers:
            keeper.close()
