"""Open the database of the seats, and word its faults."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

from kerfwright.adapters.index.opening import (
    WRITES,
    Form,
    IndexFaultError,
    engine_of,
    load,
    migrate,
    shop_of,
    url_of,
    worded,
)
from kerfwright.adapters.owned_files import OWNER_ONLY_FOLDER
from kerfwright.adapters.whole_files import write_whole
from kerfwright.foundation.errors import FileError

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine
    from sqlalchemy.engine import URL

SEATS: Final = ".kerfwright-seats.sqlite"
MARK: Final = ".kerfwright-log-in"
"""Says that these jobs ask for log-in: looked at without a database, and written before the first
seat is, so that whatever fails in between keeps people out and not in."""
_OWNER_ONLY: Final = 0o600


def asks_for_log_in(folder: Path) -> bool:
    """Return whether the jobs of a folder ask for log-in."""
    return os.path.lexists(folder / MARK)


def _form() -> Form:
    from kerfwright.adapters.seats.schema import HEAD, VERSION_TABLE

    return Form(
        what="the list of seats",
        steps="kerfwright.adapters.seats:migrations",
        head=HEAD,
        kept_in=VERSION_TABLE,
        remedy="Use that version.",
    )


@contextlib.contextmanager
def _worded(where: str) -> Iterator[None]:
    try:
        with worded(where):
            yield
    except IndexFaultError as fault:
        is_damaged = fault.code in {"index-damaged", "index-newer"}
        said = fault.message.replace("the index of the jobs", "the list of seats")
        raise FileError(
            said,
            code="seats-damaged" if is_damaged else "seats-unreachable",
            where=where,
            remedy="Nobody is let in meanwhile. See that the database runs and is whole.",
        ) from fault


@dataclass(slots=True, kw_only=True)
class SeatsDatabase:
    """The database of the seats of one folder of jobs.

    Attributes
    ----------
    folder : Path
        Of the jobs.
    url : str or None
        As that of the index, whose database it shares; None for a file among the jobs.
    """

    folder: Path
    url: str | None = field(default=None, repr=False)
    _engine: Engine | None = field(default=None, init=False, repr=False)
    _opening: threading.RLock = field(default_factory=threading.RLock, init=False, repr=False)

    @property
    def where(self) -> str:
        """The address, without a password."""
        if not self.url:
            return str(self.folder / SEATS)
        return url_of(self.folder, self.url).render_as_string(hide_password=True)

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """Ask, as things are at one moment.

        Raises
        ------
        FileError
            Codes ``seats-unreachable``, ``seats-damaged``.
        """
        load()
        with _worded(self.where), self._open().begin() as connection:
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Connection]:
        """Change something, whole or not at all.

        Raises
        ------
        FileError
            As for reading.
        """
        load()
        with _worded(self.where), _for_writing(self._open()).begin() as connection:
            yield connection

    def mark(self) -> None:
        """Let these jobs ask for log-in from now on.

        Raises
        ------
        FileError
        """
        if not asks_for_log_in(self.folder):
            text = "These jobs ask for log-in: kerfwright seats list. Leave this file here.\n"
            write_whole(self.folder / MARK, text)

    def unmark(self) -> None:
        """Let these jobs ask for no log-in any more, where no seat is left."""
        (self.folder / MARK).unlink(missing_ok=True)

    def _open(self) -> Engine:
        with self._opening:
            if self._engine is None:
                engine = engine_of(self._address(), is_only_holder=True)
                with contextlib.ExitStack() as opened:
                    opened.callback(engine.dispose)
                    with _for_writing(engine).begin() as connection:
                        migrate(connection, _form())
                        self._expect_ours(connection)
                    opened.pop_all()
                self._engine = engine
            return self._engine

    def _address(self) -> URL:
        found = url_of(self.folder, self.url)
        if found.get_backend_name() != "sqlite":
            return found
        place = Path(found.database or "").parent / SEATS if self.url else self.folder / SEATS
        self.folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        with contextlib.suppress(FileExistsError):
            # For its owner only from the first byte.
            os.close(os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _OWNER_ONLY))
        return found.set(database=str(place))

    def _expect_ours(self, connection: Connection) -> None:
        """Keep whose seats these are, or refuse those of another shop."""
        from kerfwright.adapters.seats.schema import about

        ours = shop_of(self.folder)
        kept = connection.execute(about.select().where(about.c.name == "shop")).first()
        if kept is None:
            connection.execute(about.insert().values(name="shop", text=ours))
        elif kept.text != ours:
            raise FileError(
                "these seats are those of another folder of jobs",
                code="seats-of-others",
                where=self.where,
                remedy=f"Name the database of {self.folder}.",
            )

    def close(self) -> None:
        """Let go of the database."""
        with self._opening:
            if self._engine is not None:
                self._engine.dispose()
                self._engine = None


def _for_writing(engine: Engine) -> Engine:
    return engine.execution_options(**{WRITES: True})
