"""Solids read once for all that is computed of them: it takes seconds to minutes."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Final, TypeGuard

from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import FileError, KerfwrightError, MissingPackageError
from kerfwright.workbench.bench import Bench
from kerfwright.workbench.workers import WorkerLostError, Workers

_TASK: Final = "kerfwright.workbench.solid_tasks.read"
READING_LINES: Final = ("units", "solid", "wire-along")
"""Lines by which a solid is read in another way."""
_OF_THE_MACHINE: Final = (FileError, MissingPackageError, WorkerLostError)
_MEMORY: Final = "memory-limit"
"""Faults of a reading that say nothing of the file: another time it may be read."""


class SolidsRead:
    """What is being read of solids, and what was.

    Parameters
    ----------
    workers : Workers
    """

    def __init__(self, workers: Workers) -> None:
        self._workers = workers
        self._readings: dict[tuple[str, ...], asyncio.Task[None]] = {}
        self._read: set[tuple[str, ...]] = set()
        # By the content of the file and its lines; another reader comes with another server.
        self._refused: dict[tuple[str, ...], KerfwrightError] = {}

    async def read(self, enquiry: Enquiry, drawing: Path, bench: Bench) -> None:
        """Wait until a solid is read; an edit meanwhile goes on with the same reading.

        Raises
        ------
        KerfwrightError
            What the reading was refused with; the same file is not read again for an edit.
        """
        by = tuple(enquiry.asked.get(name, "") for name in READING_LINES)
        key = (enquiry.id, enquiry.drawing_sha256, *by)
        if key in self._read:
            return
        refused = self._refused.get(key[1:])
        if refused is not None:
            # The trace of its first raising would grow with each edit.
            raise refused.with_traceback(None)
        bench.work["draft"] = ("reading the solid", 0.0)
        reading = self._readings.get(key)
        if reading is None or reading.cancelling():
            # None yet, or one that a person has just stopped.
            reading = self._readings[key] = asyncio.ensure_future(self._run(enquiry, drawing))
            reading.add_done_callback(lambda task: self._ended(key, task))
        try:
            await asyncio.shield(reading)
        except asyncio.CancelledError:
            # A person who stops it means the reading too; who edits a line does not.
            if "draft" in bench.stopped:
                reading.cancel()
            raise

    async def _run(self, enquiry: Enquiry, drawing: Path) -> None:
        await self._workers.run(_TASK, drawing, dict(enquiry.asked), enquiry.drawing_sha256)

    def _ended(self, key: tuple[str, ...], task: asyncio.Task[None]) -> None:
        if self._readings.get(key) is task:
            del self._readings[key]
        if task.cancelled():
            return
        fault = task.exception()
        if fault is None:
            self._read.add(key)
        elif _is_of_the_file(fault):
            self._refused[key[1:]] = fault


def _is_of_the_file(fault: BaseException) -> TypeGuard[KerfwrightError]:
    is_ours = isinstance(fault, KerfwrightError) and fault.code != _MEMORY
    return is_ours and not isinstance(fault, _OF_THE_MACHINE)
