"""Open the database of an index, bring its tables up to date, and word its faults."""

from __future__ import annotations

import contextlib
import threading
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from kerfwright.adapters.whole_files import one_writer, read_whole, write_whole
from kerfwright.foundation.errors import FileError, InputError, MissingPackageError

if TYPE_CHECKING:
    from sqlalchemy import Connection, Engine
    from sqlalchemy.engine import URL

INDEX: Final = ".kerfwright-index.sqlite"
SHOP: Final = ".kerfwright-shop"
"""Names the shop whose jobs a folder holds, so that no index mixes two."""
WRITES: Final = "kerfwright_writes"
"""Option of a transaction that will write."""
_PATIENCE_S: Final = 20
"""How long a write waits for another, s."""
_MIGRATING: Final = 0x6B657266
"""Key of the lock on PostgreSQL under which tables are changed."""
_REBUILD: Final = "Build it from the folders: kerfwright jobs index --rebuild. No job is touched."


_LOADING = threading.Lock()
_MIGRATING_HERE = threading.Lock()
_LOADED: list[bool] = []
_LIBRARIES: Final = (
    "sqlalchemy",
    "sqlalchemy.dialects.sqlite",
    "sqlalchemy.dialects.postgresql",
    "kerfwright.adapters.index.asking",
    "kerfwright.adapters.index.kept",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """Tables that are brought up to date together.

    Attributes
    ----------
    what : str
        What they are, in a sentence.
    steps : str
        Package of the migrations.
    head : str
        Newest migration.
    kept_in : str
        Table that says which was the last.
    remedy : str
        What helps where a later version made them.
    """

    what: str
    steps: str
    head: str
    kept_in: str
    remedy: str


class IndexFaultError(FileError):
    """The index cannot be used; the folders of the jobs are as they were."""


def load() -> None:
    """Load the database's libraries, one thread at a time; every door of the index begins so.

    They import each other in circles, which two threads that begin at once see by half.

    Raises
    ------
    MissingPackageError
        Code ``index-not-installed``.
    """
    with _LOADING:
        if not _LOADED:
            _expect("sqlalchemy", "alembic", extra="store")
            for name in _LIBRARIES:
                import_module(name)
            _LOADED.append(True)


def shop_of(folder: Path) -> str:
    """Return the name of the shop whose jobs a folder holds; given when first asked for.

    Raises
    ------
    FileError
    """
    place = folder / SHOP
    if not place.exists():
        with one_writer(folder):
            if not place.exists():
                write_whole(place, f"{uuid.uuid4()}\n")
    return read_whole(place).strip()


def url_of(folder: Path, url: str | None) -> URL:
    """Return where the index of a folder of jobs is.

    Parameters
    ----------
    folder : Path
    url : str or None
        ``postgresql://…`` or ``sqlite:///…``; None for a file among the jobs.

    Raises
    ------
    InputError
        Code ``index-url``.
    MissingPackageError
        Code ``index-not-installed``.
    """
    load()
    from sqlalchemy.engine import URL, make_url
    from sqlalchemy.exc import ArgumentError

    if not url:
        return URL.create("sqlite", database=str(folder / INDEX))
    try:
        found = make_url(url)
    except ArgumentError:
        found = URL.create("")
    if found.drivername == "sqlite" and found.database:
        return found
    if found.drivername in {"postgresql", "postgres", "postgresql+psycopg"}:
        _expect("psycopg", extra="seats")
        return found.set(drivername="postgresql+psycopg")
    # What was typed may hold a password: it is not said again.
    raise InputError(
        "the address of the index cannot be read",
        code="index-url",
        remedy="Write postgresql://user@host/database, or sqlite:///folder/file.sqlite.",
    )


def _expect(*packages: str, extra: str) -> None:
    missing = [name for name in packages if find_spec(name) is None]
    if missing:
        raise MissingPackageError(
            f"the index of the jobs needs {' and '.join(missing)}, not installed here",
            code="index-not-installed",
            remedy=f'Install "kerfwright[{extra}]".',
        )


def engine_of(url: URL, *, is_only_holder: bool = False) -> Engine:
    """Return an engine, with what each kind of database needs.

    Parameters
    ----------
    url : URL
    is_only_holder : bool
        Whether nothing else holds what it will, so that a power cut may cost nothing.
    """
    from sqlalchemy import create_engine, event

    if url.get_backend_name() != "sqlite":
        return create_engine(url, pool_pre_ping=True, connect_args={"connect_timeout": 10})
    engine = create_engine(url, connect_args={"timeout": _PATIENCE_S})

    @event.listens_for(engine, "connect")
    def ready(connection: Any, _record: Any) -> None:
        # The driver would begin no transaction before it changes tables (SQLAlchemy, "SQLite
        # Transactions and the sqlite3 driver"): half a migration could stay behind.
        connection.isolation_level = None
        # Readers never wait for a writer, and a process that is killed leaves no half
        # (SQLite, "Write-Ahead Logging"); a power cut may cost the last rows, which are read anew.
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute(f"PRAGMA synchronous = {'FULL' if is_only_holder else 'NORMAL'}")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # What reads first and writes later is refused at once when another wrote in between.
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextlib.contextmanager
def worded(where: str) -> Iterator[None]:
    """Raise what a database raises as a fault of ours.

    Parameters
    ----------
    where : str
        The address, without a password.

    Raises
    ------
    IndexFaultError
        Code ``index-damaged`` for tables that are not as they should be, ``index-unreachable``
        for a database that does not answer.
    """
    from sqlalchemy.exc import (
        DatabaseError,
        InterfaceError,
        NoSuchTableError,
        OperationalError,
        ProgrammingError,
        SQLAlchemyError,
    )

    try:
        yield
    except SQLAlchemyError as fault:
        said = str(getattr(fault, "orig", None) or fault).strip().partition("\n")[0]
        is_form = isinstance(fault, ProgrammingError | NoSuchTableError) or "no such" in said
        is_away = isinstance(fault, OperationalError | InterfaceError) and not is_form
        if is_away or not isinstance(fault, DatabaseError | NoSuchTableError):
            raise IndexFaultError(
                f"the index of the jobs does not answer: {said}",
                code="index-unreachable",
                where=where,
                remedy="See that the database runs and may be written to; no job is lost.",
            ) from fault
        raise damaged(said, where) from fault


def damaged(said: str, where: str) -> IndexFaultError:
    """Return the fault of an index that is not as it should be."""
    return IndexFaultError(
        f"the index of the jobs is damaged: {said}",
        code="index-damaged",
        where=where,
        remedy=_REBUILD,
    )


def form_of_index() -> Form:
    """Return the form of the index, once its libraries are loaded."""
    from kerfwright.adapters.index.schema import HEAD, VERSION_TABLE

    return Form(
        what="the index",
        steps="kerfwright.adapters.index:migrations",
        head=HEAD,
        kept_in=VERSION_TABLE,
        remedy=f"Use that version, or: {_REBUILD[0].lower()}{_REBUILD[1:]}",
    )


def migrate(connection: Connection, form: Form | None = None) -> None:
    """Bring tables up to date, one process at a time.

    Parameters
    ----------
    connection : Connection
        In a transaction that may write, which the caller ends; on SQLite it keeps others waiting.
    form : Form, optional
        Of other tables than those of the index.

    Raises
    ------
    IndexFaultError
        Code ``index-newer`` where a later version of kerfwright made the tables.
    """
    wanted = form or form_of_index()
    if _last_step(connection, wanted.kept_in) == wanted.head:
        return
    from alembic import command
    from alembic.config import Config
    from alembic.util import CommandError
    from sqlalchemy import text

    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATING})
    config = Config()
    config.set_main_option("script_location", wanted.steps)
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    try:
        # What a migration calls is of the process, not of a thread (Alembic, "op", "context").
        with _MIGRATING_HERE:
            command.upgrade(config, "head")
    except CommandError as fault:
        raise IndexFaultError(
            f"{wanted.what} was made by a later version of kerfwright: {fault}",
            code="index-newer",
            where=connection.engine.url.render_as_string(hide_password=True),
            remedy=wanted.remedy,
        ) from fault


def _last_step(connection: Connection, kept_in: str) -> str | None:
    """Return the newest migration that some tables have seen; None for none at all."""
    from sqlalchemy import inspect, text

    if not inspect(connection).has_table(kept_in):
        return None
    found = connection.execute(text(f"SELECT version_num FROM {kept_in}")).scalar()  # noqa: S608 our own name
    return None if found is None else str(found)


def drop_all(connection: Connection) -> None:
    """Take away the tables of an index, and nothing else of the database."""
    from sqlalchemy import text

    from kerfwright.adapters.index.schema import VERSION_TABLE, metadata

    for name in (*metadata.tables, VERSION_TABLE):
        connection.execute(text(f"DROP TABLE IF EXISTS {name}"))


def scrub(engine: Engine) -> None:
    """Let the files of an index hold nothing that was deleted from its tables."""
    from kerfwright.adapters.index.schema import metadata

    connection = engine.raw_connection()
    try:
        driver: Any = connection.driver_connection
        if engine.dialect.name == "postgresql":
            connection.rollback()
            driver.autocommit = True
            for name in metadata.tables:
                driver.execute(f"VACUUM FULL {name}")
            driver.autocommit = False
        else:
            driver.execute("VACUUM")
            # The journal of writes has the earlier pages until it is taken over.
            driver.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        connection.close()
