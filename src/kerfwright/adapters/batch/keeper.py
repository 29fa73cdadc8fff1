"""A child process that plans behind a clock, and the one who keeps it.

Whatever a drawing does to it, the child alone is hit: it may hang, run out of memory or be ended by
the system.  The keeper ends it when its time is up and starts another.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import queue
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from typing import Any, BinaryIO, Final

from kerfwright.foundation.one_thread import ONE_THREAD

READY: Final = "ready"
ANSWER: Final = "answer "
FAULT: Final = "fault "
"""Heads of the lines that a child says."""
_START_S: Final = 180.0
"""A child loads what computes before it is ready: 2 s here, much more on a busy machine."""
_MOST_TASKS: Final = 500
"""Then the child is replaced, so that what its caches hold stays bounded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the child answered."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Broke:
    """The child could not answer: why, in plain words."""

    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedOut:
    """The child was ended when its time was up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped:
    """The keeper was told to end in the middle."""


Reply = Said | Broke | TimedOut | Stopped


class Keeper:
    """Keeps one child; started when it is first asked something.

    Parameters
    ----------
    module : str
        Module that the child runs: it gets a folder of its own as argument, says
        :data:`READY`, and answers each task with one line.
    """

    def __init__(self, module: str) -> None:
        self._module = module
        self._child: subprocess.Popen[bytes] | None = None
        self._lines: queue.Queue[str | None] = queue.Queue()
        self._scratch: tempfile.TemporaryDirectory[str] | None = None
        self._tasks = 0
        self._is_ended = False

    def ask(self, task: object, *, limit_s: float) -> Reply:
        """Give the child a task and wait for its answer, but no longer than the limit.

        Parameters
        ----------
        task : object
            Pickled on its way.
        limit_s : float
            The time that the child takes to start does not count.
        """
        if self._is_ended:
            return Stopped()
        if self._tasks >= _MOST_TASKS:
            self._drop()
        try:
            if self._child is None and not self._start():
                self._drop()
                return self._broke("the process that plans could not start")
            self._hand_over(task)
        except OSError:
            # It ended while nothing was asked of it, or the system has no process left.
            words = self._last_words()
            self._drop()
            return self._broke(words)
        return self._reply(limit_s)

    def end(self) -> None:
        """End the child for good; a call that waits for it comes back."""
        self._is_ended = True
        child = self._child
        if child is not None:
            child.kill()

    def close(self) -> None:
        """End the child and take its folder away; nothing may be asked any more."""
        self.end()
        self._drop()

    def _reply(self, limit_s: float) -> Reply:
        self._tasks += 1
        begin = time.monotonic()
        try:
            line = self._lines.get(timeout=limit_s)
        except queue.Empty:
            self._drop()
            return TimedOut()
        if self._is_ended:
            return Stopped()
        if line is None:
            # A hair's breadth before its limit the child ends itself, see the alarm there.
            words, is_late = self._last_words(), time.monotonic() - begin >= limit_s
            self._drop()
            return TimedOut() if is_late else Broke(words=words)
        if line.startswith(FAULT):
            self._drop()
            return Broke(words=line.removeprefix(FAULT))
        return Said(text=line.removeprefix(ANSWER))

    def _broke(self, words: str) -> Reply:
        return Stopped() if self._is_ended else Broke(words=words)

    def _start(self) -> bool:
        """Start a child and return whether it is ready."""
        self._scratch = tempfile.TemporaryDirectory(prefix="kerfwright-batch-")
        self._lines = queue.Queue()
        self._tasks = 0
        self._child = subprocess.Popen(  # noqa: S603 our own module
            [sys.executable, "-m", self._module, self._scratch.name],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, **ONE_THREAD},
            # Ctrl-C is for us: a child in the middle of a line must not be hit by it.
            start_new_session=True,
        )
        assert self._child.stdout is not None
        threading.Thread(
            target=_forward, args=(self._child.stdout, self._lines), daemon=True
        ).start()
        if self._is_ended:
            self._child.kill()
        try:
            return self._lines.get(timeout=_START_S) == READY
        except queue.Empty:
            return False

    def _hand_over(self, task: object) -> None:
        assert self._child is not None
        assert self._child.stdin is not None
        content = pickle.dumps(task)
        self._child.stdin.write(len(content).to_bytes(8, "big") + content)
        self._child.stdin.flush()

    def _last_words(self) -> str:
        """Say how a child ended that did not say it itself."""
        if self._child is None:
            return "the process that plans could not start"
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._child.wait(timeout=5)
        code = self._child.returncode
        if code is None or code >= 0:
            return f"the process that planned it ended by itself (code {code})"
        try:
            name = signal.Signals(-code).name
        except ValueError:
            name = f"signal {-code}"
        memory = ", which is what it does where memory runs out" if name == "SIGKILL" else ""
        return f"the system ended the process that planned it ({name}){memory}"

    def _drop(self) -> None:
        """End the child of now; the next task starts another."""
        child, self._child = self._child, None
        if child is not None:
            child.kill()
            child.wait()
            for stream in (child.stdin, child.stdout):
                _close(stream)
        if self._scratch is not None:
            self._scratch.cleanup()
            self._scratch = None


def _close(stream: Any) -> None:
    # What could not be handed over any more is not wanted.
    with contextlib.suppress(OSError, ValueError):
        stream.close()


def _forward(stream: BinaryIO, lines: queue.Queue[str | None]) -> None:
    with contextlib.suppress(OSError, ValueError):
        for line in stream:
            lines.put(line.decode("utf-8").rstrip("\n"))
    lines.put(None)
