"""The packing engine behind the port of :mod:`kerfwright.nesting`: a child process with a clock.

The engine is spyrrow (PyPI), Python's face of the open strip packer sparrow.  It overruns its time
with long outlines, and a fault of its own ends the process it runs in: so it has one of its own,
which is ended when the time is up, and what it found until then counts.
"""

from __future__ import annotations

import json
import math
import queue
import subprocess
import sys
import threading
import time
from importlib.util import find_spec
from typing import Any, Final

from kerfwright.foundation.errors import KerfwrightError, MissingPackageError
from kerfwright.nesting.records import Packed, Packing, Problem, Spot, Stop, Tell

PACKAGE: Final = "spyrrow"
_GRACE_S: Final = 6.0
"""Beyond the budget; it overran one of 15 s by 4 s in a measurement."""
_LOOK_S: Final = 0.1
_COMMAND: Final = ("-m", "kerfwright.adapters.packing.worker")
_MOST_WORDS: Final = 300


class PackingError(KerfwrightError, RuntimeError):
    """The packing engine failed."""


def has_engine() -> bool:
    """Return whether the packing engine is installed."""
    return find_spec(PACKAGE) is not None


def require_engine() -> None:
    """Refuse to go on without the engine.

    Raises
    ------
    MissingPackageError
        Code ``nest-needs-engine``.
    """
    if not has_engine():
        raise MissingPackageError(
            f"the packing engine {PACKAGE} is not installed",
            code="nest-needs-engine",
            remedy="pip install 'kerfwright[nest]', or nest with --engine grid.",
        )


def pack(problem: Problem, tell: Tell, stop: Stop) -> Packing:
    """Pack a band.

    Parameters
    ----------
    problem : Problem
        Its budget is rounded up to whole seconds.
    tell : callable
        Told the length of each better band.
    stop : callable
        Asked ten times a second; the best band until then is returned.

    Raises
    ------
    MissingPackageError
        Code ``nest-needs-engine``.
    PackingError
        Code ``packing-failed`` if the engine ends without a band.
    """
    require_engine()
    budget_s = max(1, math.ceil(problem.budget_s))
    with subprocess.Popen(  # noqa: S603 our own module
        [sys.executable, *_COMMAND],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        # Ctrl-C is for us: what the engine found until then is wanted.
        start_new_session=True,
    ) as child:
        try:
            return _watch(child, problem, budget_s, tell, stop)
        finally:
            child.kill()


def _watch(
    child: subprocess.Popen[str], problem: Problem, budget_s: int, tell: Tell, stop: Stop
) -> Packing:
    assert child.stdin is not None
    assert child.stdout is not None
    assert child.stderr is not None
    lines: queue.Queue[str | None] = queue.Queue()
    words: list[str] = []
    threads = (
        threading.Thread(target=_forward, args=(child.stdout, lines), daemon=True),
        threading.Thread(target=lambda: words.append(child.stderr.read()), daemon=True),  # type: ignore[union-attr]
    )
    for thread in threads:
        thread.start()
    try:
        child.stdin.write(_asked(problem, budget_s))
        child.stdin.close()
    except BrokenPipeError:
        # It failed before it read: its words say why.
        pass
    bands: list[Packed] = []
    begin = time.monotonic()
    stopped = finished = False
    while not finished:
        try:
            line = lines.get(timeout=_LOOK_S)
        except queue.Empty:
            line = ""
        passed = time.monotonic() - begin
        if line is None:
            finished = True
        elif line:
            document = json.loads(line)
            _add(bands, document)
            finished = document["kind"] == "final"
        share = min(passed / budget_s, 1.0)
        tell(_said(bands, problem), share)
        if not finished and (stop() or passed > budget_s + _GRACE_S):
            stopped = finished = True
    child.kill()
    for thread in threads:
        thread.join(timeout=1.0)
    if not bands and not stopped:
        # A fault of the engine says itself first, then where it was.
        said = " ".join("".join(words).split())[:_MOST_WORDS]
        raise PackingError(
            f"the packing engine ended without a nest: {said or 'it gave no reason'}",
            code="packing-failed",
            remedy="Nest with --engine grid, and please report it with the drawings.",
        )
    return Packing(bands=tuple(bands), stopped=stopped)


def _forward(stream: Any, lines: queue.Queue[str | None]) -> None:
    for line in stream:
        lines.put(line)
    lines.put(None)


def _add(bands: list[Packed], document: dict[str, Any]) -> None:
    length = float(document["length_mm"])
    if bands and length >= bands[-1].length_mm:
        return
    spots = tuple(
        Spot(item=item, turn_deg=turn, x_mm=x, y_mm=y) for item, turn, x, y in document["spots"]
    )
    bands.append(Packed(length_mm=length, spots=spots))


def _said(bands: list[Packed], problem: Problem) -> str:
    if not bands:
        return "packing"
    return f"packing, shortest so far {bands[-1].length_mm - 2 * problem.between_mm:.1f} mm"


def _asked(problem: Problem, budget_s: int) -> str:
    return json.dumps(
        {
            "width_mm": problem.width_mm,
            "between_mm": problem.between_mm,
            "budget_s": budget_s,
            "seed": problem.seed,
            "steps": problem.steps,
            "items": [
                {
                    "id": item.id,
                    "points": item.points.tolist(),
                    "demand": item.demand,
                    "angles_deg": list(item.angles_deg),
                }
                for item in problem.items
            ],
        }
    )
