"""The index itself: rows put and taken away, caught up with the folders, and asked."""

from __future__ import annotations

import contextlib
import logging
import os
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.adapters.index.opening import (
    WRITES,
    IndexFaultError,
    damaged,
    drop_all,
    engine_of,
    load,
    migrate,
    scrub,
    shop_of,
    url_of,
    worded,
)
from kerfwright.adapters.index.query import Alike, CaughtUp, Holder, Listed, Query, QuotesKept
from kerfwright.adapters.index.rows import broken_row, row_of, stamp_of, trusted
from kerfwright.adapters.owned_files import sweep
from kerfwright.adapters.removed_jobs import removed_jobs
from kerfwright.adapters.versions import finish
from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import FileError, InputError, KerfwrightError

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine

_LOG = logging.getLogger(__name__)
_MANY: Final = 500
"""Rows written at a time; SQLite and PostgreSQL take more values in one statement."""
_SHARE: Final = 20.0
"""The folders are looked over for at most a twentieth of the time that lists take."""

_CHEAP_S: Final = 0.005
"""A look that took less is repeated at every list: some hundred jobs."""


@dataclass(slots=True, kw_only=True)
class JobIndex:
    """The index of the jobs of one folder.

    Attributes
    ----------
    folder : EnquiryFolder
    url : str or None
        As for :func:`kerfwright.adapters.index.opening.url_of`.
    """

    folder: EnquiryFolder
    url: str | None = field(default=None, repr=False)
    _engine: Engine | None = field(default=None, init=False, repr=False)
    _opening: threading.RLock = field(default_factory=threading.RLock, init=False, repr=False)
    _looking: threading.Lock = field(default_factory=threading.Lock, init=False, repr=False)
    _asked: int = field(default=0, init=False, repr=False)
    _rests_until_s: float = field(default=0.0, init=False, repr=False)

    @property
    def where(self) -> str:
        """The address, without a password."""
        return url_of(self.folder.folder, self.url).render_as_string(hide_password=True)

    @property
    def is_embedded(self) -> bool:
        """Whether it is a file among the jobs."""
        return not self.url

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """Ask the index, as it is at one moment.

        Raises
        ------
        IndexFaultError
        """
        with worded(self.where), self._open().begin() as connection:
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Change the index, whole or not at all.

        Raises
        ------
        IndexFaultError
        """
        with worded(self.where), _for_writing(self._open()).begin() as connection:
            yield connection

    def _open(self) -> Engine:
        with self._opening:
            if self._engine is None:
                engine = engine_of(url_of(self.folder.folder, self.url))
                with contextlib.ExitStack() as opened:
                    opened.callback(engine.dispose)
                    with _for_writing(engine).begin() as connection:
                        migrate(connection)
                        self._expect_ours(connection)
                    opened.pop_all()
                self._engine = engine
            return self._engine

    def _expect_ours(self, connection: Connection) -> None:
        """Keep whose jobs these are, or refuse an index of others."""
        from kerfwright.adapters.index.schema import about

        ours = shop_of(self.folder.folder)
        kept = connection.execute(about.select().where(about.c.name == "shop")).first()
        if kept is None:
            connection.execute(about.insert().values(name="shop", text=ours))
        elif kept.text != ours:
            raise IndexFaultError(
                "this index is that of another folder of jobs",
                code="index-of-others",
                where=self.where,
                remedy=f"Name the index of {self.folder.folder}, or a database of its own.",
            )

    def close(self) -> None:
        """Let go of the database."""
        with self._opening:
            if self._engine is not None:
                self._engine.dispose()
                self._engine = None

    def put(self, enquiries: Iterable[Enquiry]) -> None:
        """Take over enquiries that were just written.

        Raises
        ------
        IndexFaultError
        """
        # Too young to be trusted: the next look at the folders reads them once more.
        self._write([row_of(one) for one in enquiries])

    def drop(self, names: Sequence[str]) -> None:
        """Take jobs off the index.

        Raises
        ------
        IndexFaultError
        """
        load()
        from kerfwright.adapters.index import kept
        from kerfwright.adapters.index.schema import jobs

        with self.writing() as connection:
            for begin in range(0, len(names), _MANY):
                part = list(names[begin : begin + _MANY])
                connection.execute(jobs.delete().where(jobs.c.id.in_(part)))
                kept.drop_versions(connection, part)

    def forget(self, name: str) -> None:
        """Take a job off the index, and every trace of it out of the files of the index.

        On PostgreSQL the server's own journal and backups may still hold some.

        Raises
        ------
        IndexFaultError
        """
        self.drop([name])
        with worded(self.where):
            scrub(self._open())

    def _write(self, rows: Sequence[dict[str, Any]]) -> None:
        if not rows:
            return
        load()
        from sqlalchemy.dialects import postgresql, sqlite

        from kerfwright.adapters.index.schema import jobs

        with self.writing() as connection:
            dialect = postgresql if connection.dialect.name == "postgresql" else sqlite
            adding = dialect.insert(jobs)
            fresh = {c.name: adding.excluded[c.name] for c in jobs.c if c.name != "id"}
            putting = adding.on_conflict_do_update(index_elements=["id"], set_=fresh)
            # One order for all: two writers of the same rows then never wait for each other.
            ordered = sorted(rows, key=lambda row: str(row["id"]))
            for begin in range(0, len(ordered), _MANY):
                connection.execute(putting, ordered[begin : begin + _MANY])

    def look_again(self) -> None:
        """Let the next list look at the folders whatever it costs."""
        self._asked += 1
        self._rests_until_s = 0.0

    def catch_up_at_times(self) -> CaughtUp:
        """Take over what changed in the folders, unless that was done just now.

        Raises
        ------
        IndexFaultError
        """
        # Who comes while another looks waits for what that finds.
        with self._looking:
            asked = self._asked
            if time.monotonic() < self._rests_until_s:
                return CaughtUp(read=0, gone=0)
            with self.reading():
                # Opening is no part of looking.
                pass
            # The work that it was, whatever else the machine does.
            begun_s = time.thread_time()
            found = self.catch_up()
            took_s = time.thread_time() - begun_s
            is_worth_resting = took_s > _CHEAP_S and not found.read and asked == self._asked
            self._rests_until_s = time.monotonic() + _SHARE * took_s if is_worth_resting else 0.0
        return found

    def catch_up(self) -> CaughtUp:
        """Take over what changed in the folders, whoever changed it.

        Raises
        ------
        IndexFaultError
        FileError
            If the folder of jobs cannot be read.
        """
        load()
        from sqlalchemy import select

        from kerfwright.adapters.index.schema import jobs

        with self.reading() as connection:
            rows = connection.execute(select(jobs.c.id, jobs.c.stamp))
            known: dict[str, str] = {row.id: row.stamp for row in rows}
        found = _stamps(self.folder.folder)
        stale = [name for name, stamp in found.items() if known.get(name) != stamp]
        fresh = [row for name in stale if (row := self._read(name, found[name])) is not None]
        self._write(fresh)
        self._take_over_versions([str(row["id"]) for row in fresh])
        self._take_over_removed()
        gone = [name for name in known if name not in found]
        if gone:
            # Put back meanwhile by somebody else, perhaps: what is there stays.
            self.drop([n for n in gone if stamp_of(self.folder.folder / n) is None])
        return CaughtUp(read=len(fresh), gone=len(gone))

    def _take_over_versions(self, names: Sequence[str]) -> None:
        load()
        from kerfwright.adapters.index import kept

        with self.reading() as connection:
            known = kept.known_numbers(connection, names)
        rows: kept.Rows = ([], [])
        gone: dict[str, set[int]] = {}
        for name in names:
            made, lost = kept.new_rows(self.folder.folder / name, name, known.get(name, set()))
            for all_, new in zip(rows, made, strict=True):
                all_.extend(new)
            if lost:
                gone[name] = lost
        if rows[0] or gone:
            with self.writing() as connection:
                kept.put_versions(connection, rows, gone)

    def _take_over_removed(self) -> None:
        load()
        from kerfwright.adapters.index import kept

        found = list(removed_jobs(self.folder.folder))
        with self.reading() as connection:
            is_known = kept.removed_names(connection) == {one.name for one in found}
        if not is_known:
            with self.writing() as connection:
                kept.put_removed(connection, found)

    def _read(self, name: str, stamp: str) -> dict[str, Any] | None:
        kept = trusted(stamp)
        place = self.folder.folder / name
        sweep(place)
        try:
            if finish(place):
                _LOG.warning("%s: a run was killed while it wrote; its files are whole now", name)
        except (KerfwrightError, OSError) as fault:
            _LOG.warning("%s: a run was killed while it wrote: %s", name, fault)
        try:
            return row_of(self.folder.read(name), stamp=kept)
        except LookupError:
            return None
        except (FileError, InputError) as fault:
            return broken_row(name, fault, stamp=kept)

    def rebuild(self) -> CaughtUp:
        """Make the index anew from the folders.

        Raises
        ------
        IndexFaultError
        FileError
        """
        self.close()
        try:
            self._drop_all()
        except IndexFaultError as fault:
            if not self.is_embedded or fault.code != "index-damaged":
                raise
            self._put_aside()
        return self.catch_up()

    def _drop_all(self) -> None:
        engine = engine_of(url_of(self.folder.folder, self.url))
        try:
            with worded(self.where), _for_writing(engine).begin() as connection:
                drop_all(connection)
                # In the same transaction: whoever lists meanwhile sees the earlier index or this.
                migrate(connection)
                self._expect_ours(connection)
        finally:
            engine.dispose()

    def _put_aside(self) -> None:
        """Rename a file that is no index, to be looked at by whoever wants to know why."""
        file = Path(url_of(self.folder.folder, None).database or "")
        try:
            for place in (file.with_name(f"{file.name}-{end}") for end in ("wal", "shm")):
                place.unlink(missing_ok=True)
            file.replace(file.with_name(f"{file.name}.damaged"))
        except OSError as fault:
            raise IndexFaultError(
                f"the damaged index cannot be put aside: {fault.strerror or fault}",
                code="index-unreachable",
                where=str(file),
                remedy="Stop what has it open, and try again.",
            ) from fault

    def listed(self, query: Query) -> Listed:
        """Return the jobs that a query wants.

        Raises
        ------
        IndexFaultError
        """
        load()
        from kerfwright.adapters.index.asking import listed

        with self.reading() as connection:
            try:
                return listed(connection, query)
            except (KeyError, TypeError, ValueError) as fault:
                raise damaged(f"a row cannot be read ({fault})", self.where) from fault

    def alike(self, enquiry: Enquiry) -> Alike:
        """Return other jobs of the same part.

        Raises
        ------
        IndexFaultError
        """
        load()
        from kerfwright.adapters.index.asking import alike

        with self.reading() as connection:
            return alike(connection, [enquiry]).get(enquiry.id, Alike())

    def quotes(self, *, since: str = "", most: int | None = None, skipped: int = 0) -> QuotesKept:
        """Return versions with a price, the newest first.

        Parameters
        ----------
        since : str
            Day or time, ISO 8601 in UTC, from which on; empty for all.
        most : int or None
        skipped : int

        Raises
        ------
        IndexFaultError
        """
        load()
        from kerfwright.adapters.index.kept import quotes_kept

        with self.reading() as connection:
            return quotes_kept(connection, since=since, most=most, skipped=skipped)

    def holders(self, sha256: str) -> tuple[Holder, ...]:
        """Return which versions of which jobs hold a file of this digest.

        Raises
        ------
        IndexFaultError
        """
        load()
        from kerfwright.adapters.index.kept import holders

        with self.reading() as connection:
            return holders(connection, sha256)


def _for_writing(engine: Engine) -> Engine:
    return engine.execution_options(**{WRITES: True})


def _stamps(folder: Path) -> dict[str, str]:
    try:
        with os.scandir(folder) as entries:
            found = {
                entry.name: stamp_of(entry)
                for entry in entries
                if not entry.name.startswith(".") and entry.is_dir()
            }
    except OSError as fault:
        raise FileError(
            f"cannot read the folder of jobs: {fault.strerror or fault}",
            code="jobs-unreadable",
            where=str(folder),
        ) from fault
    return {name: stamp for name, stamp in found.items() if stamp is not None}
