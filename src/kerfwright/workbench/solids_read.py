"""Solids read once for all that is computed of them: it takes seconds to minutes."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Final

from kerfwright.app.enquiries import Enquiry
from kerfwright.workbench.bench import Bench
from kerfwright.workbench.workers import Workers

_TASK: Final = "kerfwright.workbench.solid_tasks.read"
READING_LINES: Final = ("units", "solid", "wire-along")
"""Lines by which a solid is read in another way."""


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

    async def read(self, enquiry: Enquiry, drawing: Path, bench: Bench) -> None:
        """Wait until a solid is read; an edit meanwhile goes on with the same reading.

        Raises
        ------
        KerfwrightError
            What the reading was refused with.
        """
        by = tuple(enquiry.asked.get(name, "") for name in READING_LINES)
        key = (enquiry.id, enquiry.drawing_sha256, *by)
        if key in self._read:
            return
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
        if not task.cancelled() and task.exception() is None:
            self._read.add(key)
