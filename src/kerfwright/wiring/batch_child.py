"""The process that plans the drawings of a batch, one after the other, and may fail as it likes.

``python -m kerfwright.wiring.batch_child FOLDER``: says ``ready``, reads tasks from standard input
(eight bytes of length and a pickle of our own making), says one line for each.  Nothing is caught
here that is no :class:`kerfwright.foundation.errors.KerfwrightError`: what else is raised is told
in one line without a traceback and ends the process (decision 0026).
"""

from __future__ import annotations

import os
import pickle
import shutil
import signal
import sys
import threading
import time
import zlib
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Any, Final, TextIO

from kerfwright.adapters.batch.keeper import ANSWER, FAULT, READY
from kerfwright.adapters.batch.replies import failed, text_of
from kerfwright.adapters.job_result import contents_of
from kerfwright.app.batch.outcome import outcome_of, outcome_of_fault
from kerfwright.app.batch.records import Answer, Task
from kerfwright.app.plan_job import Extent
from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.version import __version__
from kerfwright.wiring import plan_job

_GRACE_S: Final = 20.0
"""Beyond its limit a task is ended by its keeper; if that is gone, by the alarm after this."""
_LOOK_S: Final = 0.5
_TRIES: Final = 10
_LEAVING: Final = threading.Lock()
_MOST_WORDS: Final = 300


def main() -> None:
    """Plan what is asked until nobody asks any more."""
    folder = Path(sys.argv[1])
    say = _own_output()
    sys.excepthook = _telling(say)
    # Ctrl-C is for the one who keeps us.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_leave_with, args=(os.getppid(), folder), daemon=True).start()
    try:
        _say(say, READY)
        _answer_all(say, folder)
    finally:
        # Whoever kept us may have been killed, even before we were ready, and then cannot.
        _take_away(folder)


def _answer_all(say: TextIO, folder: Path) -> None:
    asked = sys.stdin.buffer
    while len(head := asked.read(8)) == 8:
        content = asked.read(int.from_bytes(head, "big"))
        # From the one who started us, over a pipe that nobody else has.
        task: Task = pickle.loads(content)  # noqa: S301
        _alarm(task.limit_s + _GRACE_S)
        _say(say, ANSWER + text_of(answer(task, folder)))
        _alarm(0.0)


def answer(task: Task, folder: Path) -> Answer:
    """Plan one drawing.

    Parameters
    ----------
    task : Task
    folder : Path
        For the files that planning reads.
    """
    if task.version != __version__:
        return Answer(
            outcome=failed(f"kerfwright {task.version} asks, and the worker has {__version__}")
        )
    begin = time.monotonic()
    figures = folder / f"{task.figures_sha256}.json"
    if not figures.exists():
        figures.write_bytes(zlib.decompress(task.figures))
    drawing = folder / "drawing" / task.name
    drawing.parent.mkdir(exist_ok=True)
    drawing.write_bytes(task.content)
    files = None
    try:
        request = JobRequest(
            **{"height": "", **task.given},
            drawing=drawing,
            kept_tables=figures,
            kept_machine=figures,
        )
        result = plan_job(request, extent=Extent.PROVED if task.with_proof else Extent.PRICED)
        outcome = outcome_of(result)
        if task.kept is not None:
            named = replace(result, request=replace(result.request, drawing=task.kept.drawing))
            files = contents_of(named, task.kept.folder)
    except KerfwrightError as fault:
        outcome = outcome_of_fault(fault)
    finally:
        drawing.unlink()
    return Answer(outcome=outcome, files=files, seconds=time.monotonic() - begin)


def _own_output() -> TextIO:
    """Return where answers go, and send whatever libraries print elsewhere."""
    say = os.fdopen(os.dup(1), "w", encoding="utf-8", newline="\n")
    os.dup2(2, 1)
    return say


def _say(say: TextIO, line: str) -> None:
    say.write(f"{line}\n")
    say.flush()


def _telling(say: TextIO) -> Any:
    def tell(kind: type[BaseException], fault: BaseException, trace: TracebackType | None) -> None:
        place = ""
        while trace is not None:
            code = trace.tb_frame.f_code
            place = f" in {Path(code.co_filename).name}, line {trace.tb_lineno}"
            trace = trace.tb_next
        said = " ".join(str(fault).split())[:_MOST_WORDS]
        words = f"{kind.__name__}: {said}" if said else kind.__name__
        _say(say, f"{FAULT}a fault of ours, {words}{place}")

    return tell


def _alarm(seconds: float) -> None:
    """Have the system end us, whatever we are in the middle of; 0 takes it back."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, seconds)


def _leave_with(parent: int, folder: Path) -> None:
    """End when the one who started us has ended, even in the middle of a drawing."""
    while os.getppid() == parent:
        time.sleep(_LOOK_S)
    _take_away(folder)
    os._exit(1)


def _take_away(folder: Path) -> None:
    """Take our folder away, by one thread at a time: the other may still write into it."""
    with _LEAVING:
        for _ in range(_TRIES):
            shutil.rmtree(folder, ignore_errors=True)
            if not folder.exists():
                return
            time.sleep(_LOOK_S / _TRIES)


if __name__ == "__main__":
    main()
