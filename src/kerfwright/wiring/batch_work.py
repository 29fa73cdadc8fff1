"""What a worker of a cluster runs: the same process behind a clock as on this machine."""

from __future__ import annotations

import threading
from typing import Final

from kerfwright.adapters.batch.keeper import Keeper
from kerfwright.adapters.batch.replies import answer_of, text_of
from kerfwright.app.batch.records import Task

CHILD: Final = "kerfwright.wiring.batch_child"
_mine = threading.local()


def planned(task: Task) -> str:
    """Plan one drawing in the process of this thread and return its answer as text.

    The process ends with the worker, or with the thread's next task where it was broken.
    """
    keeper = getattr(_mine, "keeper", None)
    if keeper is None:
        keeper = _mine.keeper = Keeper(CHILD)
    return text_of(answer_of(keeper.ask(task, limit_s=task.limit_s), task))
