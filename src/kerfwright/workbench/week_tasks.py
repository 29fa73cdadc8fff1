"""What runs in a worker process for the week; answers are plain documents."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from kerfwright.adapters.week_file import week_shape
from kerfwright.wiring.week import WeekRequest, week_of
from kerfwright.workbench.workers import Report

Document = dict[str, Any]


def make(request: WeekRequest, flag: Path, progress: Report) -> Document:
    """Put the ordered jobs on the machines.

    Parameters
    ----------
    request : WeekRequest
    flag : Path
        Once such a file is there, the search ends with what it has.
    progress : callable
    """
    what = ["reading the jobs"]

    def tell(step: str, share: float) -> None:
        # An empty step is a worker's way to say that it has the answer.
        what[0] = step or what[0]
        progress(what[0], min(1.0, share))

    return week_shape(week_of(replace(request, is_by_marks=True), tell=tell, stop=flag.exists))
