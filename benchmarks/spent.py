"""Processor time of some runs: their median and the worst, since a person meets both."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Spent:
    """Processor seconds of several runs; what else the machine does plays little part."""

    median_s: float
    worst_s: float

    @property
    def words(self) -> str:
        """The worst run, for the remark of a row."""
        return f"worst {1000 * self.worst_s:.1f} ms"


def spent(
    run: Callable[[], object], *, times: int, before: Callable[[], object] | None = None
) -> Spent:
    """Run something several times.

    Parameters
    ----------
    run : callable
    times : int
    before : callable or None
        Called before each run, its time not counted.
    """
    seconds = []
    for _ in range(times):
        if before is not None:
            before()
        start = time.process_time()
        run()
        seconds.append(time.process_time() - start)
    return Spent(median_s=statistics.median(seconds), worst_s=max(seconds))
