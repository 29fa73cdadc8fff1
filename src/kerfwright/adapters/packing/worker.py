"""The process in which the packing engine runs: a problem in, strips out, a line each.

``python -m kerfwright.adapters.packing.worker`` reads one JSON document from standard input and
writes one JSON document a line to standard output: every strip that betters the one before.  It
imports nothing of kerfwright, so that it starts fast and can be ended at any moment.
"""

from __future__ import annotations

import json
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


def _tell(reports: list[tuple[Any, Any]], best: float, feasible: tuple[Any, ...]) -> float:
    for kind, solution in reports:
        if kind in feasible and float(solution.width) < best:
            best = float(solution.width)
            print(_line("strip", solution), flush=True)  # noqa: T201 the pipe to the parent
    return best


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
    config = spyrrow.StripPackingConfig(
        early_termination=False,
        total_computation_time=asked["budget_s"],
        min_items_separation=asked["between_mm"] or None,
        num_workers=1,
        seed=asked["seed"],
    )
    queue = spyrrow.ProgressQueue()
    done: list[Any] = []
    solving = threading.Thread(target=lambda: done.append(instance.solve(config, queue)))
    solving.start()
    feasible = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas)
    best = float("inf")
    while solving.is_alive():
        solving.join(_LOOK_S)
        best = _tell(queue.drain(), best, feasible)
    if not done:
        sys.exit(1)
    print(_line("final", done[0]), flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
