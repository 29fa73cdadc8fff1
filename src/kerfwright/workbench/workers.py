"""Worker processes: computing never blocks the server, reports its progress and can be stopped.

A worker shares no state with the server.  Where the system allows it (Linux), one process without
threads loads what computes and each worker is a fork of it: the modules are loaded once rather
than by every worker, and a worker that was ended is there again at once.  Elsewhere each is started
anew and loads them itself: the mathematics libraries of macOS do not stand a fork.

A task that is cancelled is first asked to stop at its next report; one that does not hear is ended.
So is one that says nothing for minutes: a drawing of a stranger may neither hold a worker for ever
nor take all memory there is (``RLIMIT_DATA``, Linux), which would take the server with it.
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from typing import Any, Final

from kerfwright.foundation.errors import FileError, KerfwrightError, MissingPackageError

Report = Callable[[str, float], None]
_GRACE_S: Final = 0.4
"""A task reports several times a second; one that is silent for longer is ended."""
LONG_GRACE_S: Final = 3.0
"""A price of many contours may take so long from one report to the next."""
_HEAD_START_S: Final = 0.25
"""A page is shown within this, where nothing else runs; a task that is there waits no longer."""
_LONGEST_PAUSE_S: Final = 2.0
_KINDS: Final = (FileError, MissingPackageError)
"""What a refusal of a task is told apart by, besides its code."""
_LOADED: Final = "kerfwright.workbench.loaded"
_SILENT_S: Final = 300.0
"""The longest that any task was seen to go without a report is some seconds."""
_MOST_BYTES: Final = 4 * 1024**3
"""Data of one worker; a die plate of a hundred openings takes a tenth of it."""
if sys.platform == "linux":
    _context = multiprocessing.get_context("forkserver")
else:
    _context = multiprocessing.get_context("spawn")
_context.set_forkserver_preload([_LOADED])


class _StoppedError(Exception):
    """Raised inside a task when it is no longer wanted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Refused:
    kind: type[KerfwrightError]
    message: str
    code: str
    where: str
    remedy: str


class WorkerLostError(KerfwrightError, RuntimeError):
    """A worker process ended in the middle of a task."""


def _serve(pipe: Connection, stops: Connection) -> None:
    """Run tasks until the pipe closes; ``stops`` has the numbers of those no longer wanted."""
    # Ctrl-C in the terminal goes to every process of its group; the server ends its workers.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Loaded before the first task asks for it, and never by the server: it starts without.
    import_module(_LOADED)
    from kerfwright.workbench import tasks

    _hold_memory()

    def found(name: str) -> Callable[..., Any]:
        module, _, task = name.rpartition(".")
        named: Callable[..., Any] = getattr(import_module(module) if module else tasks, task)
        return named

    number = 0

    def report(step: str, share: float) -> None:
        # A number of a task before this one came too late for it, and says nothing of this one.
        while stops.poll():
            if stops.recv() == number:
                raise _StoppedError
        pipe.send((step, share))

    with contextlib.suppress(EOFError, OSError):
        while True:
            number, function, arguments = pipe.recv()
            try:
                task = found(function) if isinstance(function, str) else function
                answer: Any = task(*arguments, progress=report)
            except _StoppedError:
                answer = None
            except MemoryError:
                answer = _Refused(
                    kind=KerfwrightError,
                    message=f"this takes more memory than the {_MOST_BYTES / 1024**3:g} GB that a "
                    "job may have, and was stopped",
                    code="memory-limit",
                    where="",
                    remedy="Look what the drawing holds besides the part: copies of blocks.",
                )
            except KerfwrightError as fault:
                kind = next((k for k in _KINDS if isinstance(fault, k)), KerfwrightError)
                answer = _Refused(
                    kind=kind,
                    message=fault.message,
                    code=fault.code,
                    where=fault.where,
                    remedy=fault.remedy,
                )
            pipe.send(("", answer))


def _hold_memory() -> None:
    """Let an allocation beyond the limit fail here, rather than the machine run out of memory."""
    if sys.platform == "linux":
        import resource

        _, most = resource.getrlimit(resource.RLIMIT_DATA)
        limit = _MOST_BYTES if most == resource.RLIM_INFINITY else min(_MOST_BYTES, most)
        resource.setrlimit(resource.RLIMIT_DATA, (limit, most))


@contextlib.contextmanager
def _deaf_to_the_terminal() -> Iterator[None]:
    """Let what is started here never hear Ctrl-C, not even while it loads.

    The mask is inherited by the process that loads what computes, and by its forks.
    """
    if sys.platform != "linux":
        yield
        return
    # It lifts the mask once it is started, so it has to be there before.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class _Worker:
    """One process and the pipes to it.

    It shares nothing that has a name in the system, such as a semaphore: a server that ends while
    a worker starts would have taken that away, and the worker would fail on it with a trace.
    """

    def __init__(self) -> None:
        self._number = 0
        self.pipe, theirs = _context.Pipe()
        stops, self._stops = _context.Pipe(duplex=False)
        self._process = _context.Process(
            target=_serve, args=(theirs, stops), daemon=True, name="kerfwright-worker"
        )
        with _deaf_to_the_terminal():
            self._process.start()
        theirs.close()
        stops.close()

    def begin(self, function: Callable[..., Any] | str, arguments: tuple[Any, ...]) -> None:
        self._number += 1
        self.pipe.send((self._number, function, arguments))

    def ask_to_stop(self) -> None:
        with contextlib.suppress(OSError):
            self._stops.send(self._number)

    def end(self) -> None:
        self._process.kill()
        self._process.join(_LONGEST_PAUSE_S)


class Workers:
    """A few worker processes and the line before them.

    Parameters
    ----------
    count : int
        Tasks that may run at a time.
    """

    def __init__(self, count: int) -> None:
        self._all: list[_Worker] = []
        self._idle: asyncio.LifoQueue[_Worker] = asyncio.LifoQueue()
        self._winding_down: set[asyncio.Task[None]] = set()
        self._is_closed = False
        self._loop = asyncio.get_running_loop()
        # The first page is shown before the workers load what computes; both want the processor.
        self._late = [self._loop.call_later(_HEAD_START_S, self._hire) for _ in range(count)]

    def _hire(self) -> None:
        """Start a worker aside: the first one is there only when what computes is loaded."""

        def start() -> None:
            try:
                worker = _Worker()
            except (EOFError, OSError):
                # What loads for the workers was ended, as is all of a group that is ended.
                self._tell(self._hire_later)
                return
            if not self._tell(self._take, worker):
                worker.end()

        threading.Thread(target=start, daemon=True, name="kerfwright-hiring").start()

    def _tell(self, call: Callable[..., None], *arguments: Any) -> bool:
        """Let the server do something; return whether it has not ended meanwhile."""
        try:
            self._loop.call_soon_threadsafe(call, *arguments)
        except RuntimeError:
            return False
        return True

    def _hire_later(self) -> None:
        if not self._is_closed:
            self._late.append(self._loop.call_later(_LONGEST_PAUSE_S, self._hire))

    def _take(self, worker: _Worker) -> None:
        if self._is_closed:
            worker.end()
            return
        self._all.append(worker)
        self._idle.put_nowait(worker)

    async def run(
        self,
        function: Callable[..., Any] | str,
        *arguments: Any,
        report: Report | None = None,
        grace_s: float = _GRACE_S,
    ) -> Any:
        """Run a task and return its answer.

        Parameters
        ----------
        function : callable or str
            A function of a module, or its name: with its module, or of one of
            :mod:`kerfwright.workbench.tasks`.
        *arguments
            What it takes besides ``progress``.
        report : callable, optional
            Told each step and the share done.
        grace_s : float
            How long it may go on when it is cancelled, before its process is ended.

        Raises
        ------
        KerfwrightError
            What the task was refused with.
        WorkerLostError
            If its process ended, or was ended because it said nothing for minutes.
        """
        worker = await self._idle.get()
        reading: asyncio.Future[Any] | None = None
        try:
            worker.begin(function, arguments)
            while True:
                reading = asyncio.ensure_future(asyncio.to_thread(worker.pipe.recv))
                async with asyncio.timeout(_SILENT_S):
                    step, answer = await asyncio.shield(reading)
                if not step:
                    break
                if report is not None:
                    report(step, answer)
        except asyncio.CancelledError:
            worker.ask_to_stop()
            task = asyncio.ensure_future(self._wind_down(worker, reading, grace_s))
            self._winding_down.add(task)
            task.add_done_callback(self._winding_down.discard)
            raise
        except TimeoutError as fault:
            # The thread that reads from the ended process wakes with an end of file.
            if reading is not None:
                reading.add_done_callback(lambda gone: gone.exception())
            self._replace(worker)
            raise WorkerLostError(
                f"the computation said nothing for {_SILENT_S / 60:g} min and was ended",
                code="worker-silent",
                remedy="Look what the drawing holds besides the part, or report it with it.",
            ) from fault
        except (EOFError, OSError) as fault:
            self._replace(worker)
            raise WorkerLostError(
                "the computation ended by itself, which is a fault of ours",
                code="worker-lost",
                remedy="Try again, and report it with the drawing.",
            ) from fault
        self._idle.put_nowait(worker)
        if isinstance(answer, _Refused):
            raise answer.kind(
                answer.message, code=answer.code, where=answer.where, remedy=answer.remedy
            )
        return answer

    async def _wind_down(
        self, worker: _Worker, reading: asyncio.Future[Any] | None, grace_s: float
    ) -> None:
        """Wait for a task that was cancelled, or end it."""
        try:
            async with asyncio.timeout(grace_s):
                while reading is not None:
                    step, _ = await asyncio.shield(reading)
                    if not step:
                        self._idle.put_nowait(worker)
                        return
                    reading = asyncio.ensure_future(asyncio.to_thread(worker.pipe.recv))
        except (TimeoutError, EOFError, OSError):
            pass
        self._replace(worker)
        if reading is not None:
            # The thread that reads from the ended process wakes with an end of file.
            with contextlib.suppress(EOFError, OSError):
                await reading

    def _replace(self, worker: _Worker) -> None:
        worker.end()
        self._all.remove(worker)
        if not self._is_closed:
            self._hire()

    def close(self) -> None:
        """End every process."""
        self._is_closed = True
        for start in self._late:
            start.cancel()
        for task in self._winding_down:
            task.cancel()
        for worker in self._all:
            worker.end()
