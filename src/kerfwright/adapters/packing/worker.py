"""The process in which the packing engine runs: a problem in, bands out, a line each.

``python -m kerfwright.adapters.packing.worker`` reads one JSON document from standard input and
writes one JSON document a line to standard output: every band that betters the one before.  It
imports nothing of kerfwright, so that it starts fast and can be ended at any moment.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from typing import Any

_LOOK_S = 0.1
"""How often the engine's reports are looked at."""


def _line(kind: str, solution: Any) -> str:
    spots = [
        [p.id, float(p.rotation), float(p.translation[0]), float(p.translation[1])]
        for p in solution.placed_items
    ]
    return json.dumps({"kind": kind, "length_mm": float(solution.width), "spots": spots})


class _Steps:
    """Passes better bands on, and ends the process after so many steps of the exploration.

    With one worker the reports of the exploration follow each other the same way for a seed,
    whatever the clock says (measured); only where they end depends on it.
    """

    def __init__(self, most: int | None, kinds: Any) -> None:
        self._left = most
        self._feasible = (kinds.ExplFeas, kinds.CmprFeas)
        self._exploring = (kinds.ExplFeas, kinds.ExplInfeas, kinds.ExplImproving)
        self._best = float("inf")
        self._last: Any = None

    def take(self, reports: list[tuple[Any, Any]]) -> None:
        for kind, solution in reports:
            if kind in self._feasible and float(solution.width) < self._best:
                self._best, self._last = float(solution.width), solution
                print(_line("band", solution), flush=True)  # noqa: T201 the pipe to the parent
            if self._left is not None and kind in self._exploring:
                self._left -= 1
                if self._left <= 0 and self._last is not None:
                    print(_line("final", self._last), flush=True)  # noqa: T201
                    # The engine knows no other end than its time.
                    os._exit(0)


def main() -> None:
    """Solve the problem of standard input."""
    import spyrrow

    asked = json.load(sys.stdin)
    items = [
        spyrrow.Item(
            item["id"],
            [(x, y) for x, y in item["points"]],
            item["demand"],
            item["angles_deg"] or None,
        )
        for item in asked["items"]
    ]
    instance = spyrrow.StripPackingInstance("", asked["width_mm"], items)
    # One worker and no early end: only so does a seed give the same result again.
    steps, budget_s = asked["steps"], asked["budget_s"]
    times = (None, budget_s, 1) if steps else (budget_s, None, None)
    config = spyrrow.StripPackingConfig(
        early_termination=False,
        total_computation_time=times[0],
        exploration_time=times[1],
        compression_time=times[2],
        min_items_separation=asked["between_mm"] or None,
        num_workers=1,
        seed=asked["seed"],
    )
    queue = spyrrow.ProgressQueue()
    done: list[Any] = []
    solving = threading.Thread(target=lambda: done.append(instance.solve(config, queue)))
    solving.start()
    told = _Steps(steps, spyrrow.ReportType)
    while solving.is_alive():
        solving.join(_LOOK_S)
        told.take(queue.drain())
    if not done:
        sys.exit(1)
    print(_line("final", done[0]), flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
