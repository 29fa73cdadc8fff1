"""The week of the shop on the page: what people work by, and a search that runs beside it.

What schedules is imported on demand: the page opens without it.
"""

from __future__ import annotations

import asyncio
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from kerfwright.adapters.enquiry_store import EnquiryStore
from kerfwright.adapters.index.query import Query
from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.workbench.events import Hub
from kerfwright.workbench.workers import Workers

Document = dict[str, Any]


class WeekDesk:
    """The week, searched for in a worker of its own so that no job waits for it.

    Parameters
    ----------
    folder : EnquiryStore
    hub : Hub
    """

    def __init__(self, folder: EnquiryStore, hub: Hub) -> None:
        self._folder, self._hub = folder, hub
        self._workers: Workers | None = None
        self._aside: Workers | None = None
        self._running: asyncio.Task[None] | None = None
        self._flags = tempfile.TemporaryDirectory(prefix="kerfwright-")
        self._flag: Path | None = None
        self._count = 0
        self.work: tuple[str, float] | None = None
        self.tried: Document | None = None
        self.tried_for = ""
        self.fault: KerfwrightError | None = None

    @property
    def place(self) -> Path:
        """Folder of the jobs."""
        return self._folder.folder

    @property
    def aside(self) -> Workers:
        """The worker for what is not searched for, there when it is first wanted."""
        if self._aside is None:
            self._aside = Workers(1)
        return self._aside

    def begin(self, **asked: Any) -> None:
        """Begin to search; a search that runs is ended and forgotten.

        Parameters
        ----------
        **asked
            As :class:`kerfwright.wiring.week.WeekRequest`, without the folder.
        """
        from kerfwright.wiring.week import WeekRequest

        if self._running is not None:
            self._running.cancel()
        if self._workers is None:
            self._workers = Workers(1)
        self._count += 1
        self._flag = Path(self._flags.name) / str(self._count)
        self.fault, self.tried = None, None
        self.work = ("waiting", 0.0)
        quote = asked.get("quote")
        self.tried_for = "" if quote is None else quote.name
        request = WeekRequest(folder=self.place, **asked)
        self._running = asyncio.ensure_future(self._search(request, self._flag))
        self._tell()

    async def _search(self, request: Any, flag: Path) -> None:
        assert self._workers is not None
        try:
            self.tried = await self._workers.run(
                "kerfwright.workbench.week_tasks.make", request, flag, report=self._report
            )
        except KerfwrightError as fault:
            self.fault = fault
        finally:
            flag.unlink(missing_ok=True)
            if self._flag is flag:
                self.work = self._running = None
                self._tell()

    def _report(self, step: str, share: float) -> None:
        self.work = (step, share)
        self._hub.publish({"type": "week-work", "step": step, "share": share})

    def _tell(self) -> None:
        self._hub.publish({"type": "week"})

    def end(self) -> None:
        """Let a search that runs end with what it has."""
        if self._running is not None and self._flag is not None:
            self._flag.touch()

    def forget(self) -> None:
        """Forget what was tried; what people work by stays."""
        self.tried, self.fault, self.tried_for = None, None, ""
        self._tell()

    def keep(self) -> Document:
        """Let people work by what was tried.

        Raises
        ------
        InputError
            Codes ``week-none``, ``week-does-not-hold``.
        FileError
        """
        if self.tried is None:
            raise InputError(
                "there is no timetable to keep", code="week-none", remedy="Plan the week first."
            )
        if not self.tried["holds"]:
            raise InputError(
                "this timetable does not hold and is not kept",
                code="week-does-not-hold",
                remedy="Look at its findings.",
            )
        from kerfwright.adapters.week_file import keep_document

        kept = self.tried
        keep_document(kept, self.place)
        self.forget()
        return kept

    def kept(self) -> Document | None:
        """Return the timetable that people work by."""
        from kerfwright.adapters.week_file import read_document

        return read_document(self.place)

    def jobs(self) -> list[tuple[Enquiry, list[Document], str]]:
        """Return the ordered jobs, what was marked of each, and why that cannot be read."""
        found = self._folder.listed(Query(stages=(Stage.ORDERED,)))
        return [(one, *self._marks(one.id)) for one in found.enquiries]

    def _marks(self, job: str) -> tuple[list[Document], str]:
        from kerfwright.adapters.marks_file import mark_shape, read_marks

        try:
            return [mark_shape(m) for m in read_marks(self._folder.place_of(job))], ""
        except KerfwrightError as fault:
            return [], f"{fault.message}: {fault.where}"

    def marked(self) -> None:
        """Tell the pages that something was marked."""
        self._tell()

    def close(self) -> None:
        """Stop everything."""
        if self._running is not None:
            self._running.cancel()
        for workers in (self._workers, self._aside):
            if workers is not None:
                workers.close()
        self._flags.cleanup()


def now() -> datetime:
    """Return the moment by the clock on the wall, to the minute."""
    return datetime.now().replace(second=0, microsecond=0)  # noqa: DTZ005 the wall
