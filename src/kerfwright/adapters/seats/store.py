"""Seats and their sessions."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from kerfwright.adapters.seats.database import SeatsDatabase, asks_for_log_in
from kerfwright.adapters.seats.passwords import hashed, is_of_today, is_right
from kerfwright.app.seats import Role, Seat, check_password
from kerfwright.foundation.errors import InputError, UnknownNameError

if TYPE_CHECKING:
    from sqlalchemy import Connection

_TOKEN_BYTES: Final = 32
"""256 bits: nobody guesses one."""
_MOST_KNOWN: Final = 8
_SEEN_EVERY_S: Final = 30.0
"""A session that is used is marked so at most this often."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionLimits:
    """How long a session lives.

    Attributes
    ----------
    idle_s : float
        Without being used.
    most_s : float
        However much it is used.
    """

    idle_s: float = 2 * 3600.0
    most_s: float = 12 * 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """Somebody who is logged in.

    Attributes
    ----------
    seat : Seat
    key : str
        Name of the session; not what the browser holds.
    change_token : str
        Sent along with every change; no page from elsewhere can read it.
    address : str
        From where.
    """

    seat: Seat
    key: str
    change_token: str = field(repr=False)
    address: str


@dataclass(slots=True, kw_only=True)
class SeatStore:
    """Who may log in to the jobs of a folder, and who is.

    Attributes
    ----------
    database : SeatsDatabase
    limits : SessionLimits
    now_s : callable
        Seconds since 1970.
    """

    database: SeatsDatabase
    limits: SessionLimits = SessionLimits()
    now_s: Callable[[], float] = time.time

    @property
    def is_asked(self) -> bool:
        """Whether these jobs ask for log-in."""
        return asks_for_log_in(self.database.folder)

    def seats(self) -> tuple[Seat, ...]:
        """Return everybody who may log in, by name; none where log-in is not asked."""
        if not self.is_asked:
            return ()
        from kerfwright.adapters.seats.schema import seats

        with self.database.reading() as connection:
            rows = connection.execute(seats.select().order_by(seats.c.name))
            return tuple(_seat(row) for row in rows)

    def add(self, seat: Seat, password: str) -> None:
        """Let somebody log in; the first is an owner.

        Raises
        ------
        InputError
            Codes ``seat-there``, ``owner-missing``, ``password-weak``.
        FileError
        """
        check_password(password, name=seat.name)
        kept = hashed(password)
        if not self.is_asked and seat.role is not Role.OWNER:
            raise _owner_missing()
        self.database.mark()
        from kerfwright.adapters.seats.schema import seats

        with self.database.writing() as connection:
            _one_writer(connection)
            known = {row.name: row.role for row in connection.execute(seats.select())}
            if seat.name in known:
                raise InputError(
                    f"there is a seat {seat.name!r} already",
                    code="seat-there",
                    remedy="Take another name, or change its role or password.",
                )
            if seat.role is not Role.OWNER and Role.OWNER.value not in known.values():
                raise _owner_missing()
            connection.execute(
                seats.insert().values(
                    name=seat.name,
                    role=seat.role.value,
                    customer=seat.customer,
                    password=kept,
                    added=datetime.fromtimestamp(self.now_s(), UTC).isoformat(timespec="seconds"),
                    known="",
                )
            )

    def change_role(self, seat: Seat) -> None:
        """Let somebody be something else from now on, whoever is logged in; sessions end.

        Raises
        ------
        UnknownNameError
            Code ``seat-unknown``.
        InputError
            Code ``owner-missing`` where no owner would be left.
        """
        from kerfwright.adapters.seats.schema import seats

        with self.database.writing() as connection:
            _one_writer(connection)
            was = self._row(connection, seat.name)
            if was.role == Role.OWNER.value and seat.role is not Role.OWNER:
                _expect_other_owner(connection, seat.name)
            connection.execute(
                seats.update()
                .where(seats.c.name == seat.name)
                .values(role=seat.role.value, customer=seat.customer)
            )
            _end(connection, seat.name)

    def change_password(self, name: str, password: str) -> None:
        """Give somebody another password; every session of his ends.

        Raises
        ------
        UnknownNameError
            Code ``seat-unknown``.
        InputError
            Code ``password-weak``.
        """
        from kerfwright.adapters.seats.schema import seats

        check_password(password, name=name)
        kept = hashed(password)
        with self.database.writing() as connection:
            self._row(connection, name)
            connection.execute(
                seats.update().where(seats.c.name == name).values(password=kept, known="")
            )
            _end(connection, name)

    def remove(self, name: str) -> None:
        """Let somebody log in no more; his sessions end, and what he did stays written.

        Who is last of all is an owner; without him these jobs ask for log-in no more.

        Raises
        ------
        UnknownNameError
            Code ``seat-unknown``.
        InputError
            Code ``owner-missing`` where others, but no owner, would be left.
        """
        from kerfwright.adapters.seats.schema import seats

        with self.database.writing() as connection:
            _one_writer(connection)
            was = self._row(connection, name)
            left = [r for r in connection.execute(seats.select()) if r.name != name]
            if was.role == Role.OWNER.value and left:
                _expect_other_owner(connection, name)
            connection.execute(seats.delete().where(seats.c.name == name))
            _end(connection, name)
            if not left:
                self.database.unmark()

    def log_in(self, name: str, password: str, *, address: str) -> tuple[str, Session] | None:
        """Begin a session; None where name and password are not those of a seat.

        Returns
        -------
        tuple of str and Session, or None
            The token that the browser keeps, which is not kept here.
        """
        from kerfwright.adapters.seats.schema import seats, sessions

        plain = name.strip().casefold()
        with self.database.reading() as connection:
            row = connection.execute(seats.select().where(seats.c.name == plain)).first()
        # No connection is held while the hash is computed.
        if not is_right(None if row is None else row.password, password) or row is None:
            return None
        token, change_token = (secrets.token_urlsafe(_TOKEN_BYTES) for _ in range(2))
        now_s = self.now_s()
        fresh: dict[str, Any] = {"known": _known(row.known, address)}
        if not is_of_today(row.password):
            fresh["password"] = hashed(password)
        made = Session(seat=_seat(row), key=_key(token), change_token=change_token, address=address)
        with self.database.writing() as connection:
            same = (seats.c.name == plain) & (seats.c.password == row.password)
            if not connection.execute(seats.update().where(same).values(fresh)).rowcount:
                # Changed or taken away meanwhile.
                return None
            gone_s = now_s - self.limits.most_s
            connection.execute(sessions.delete().where(sessions.c.begun_s < gone_s))
            connection.execute(
                sessions.insert().values(
                    key=made.key,
                    seat=plain,
                    change_token=change_token,
                    address=address,
                    begun_s=now_s,
                    seen_s=now_s,
                )
            )
        return token, made

    def knows(self, name: str, address: str) -> bool:
        """Return whether a seat logged in from an address before."""
        from kerfwright.adapters.seats.schema import seats

        with self.database.reading() as connection:
            wanted = seats.select().where(seats.c.name == name.strip().casefold())
            row = connection.execute(wanted).first()
        return row is not None and address in row.known.split()

    def session(self, token: str) -> Session | None:
        """Return the session of a token, and mark it as used; None where there is none."""
        return self.session_of_key(_key(token))

    def session_of_key(self, key: str, *, is_used: bool = True) -> Session | None:
        """Return a session by its name."""
        from sqlalchemy import select

        from kerfwright.adapters.seats.schema import seats, sessions

        now_s = self.now_s()
        wanted = (
            select(sessions, seats.c.name, seats.c.role, seats.c.customer, seats.c.added)
            .join_from(sessions, seats, sessions.c.seat == seats.c.name)
            .where(sessions.c.key == key)
        )
        with self.database.reading() as connection:
            row = connection.execute(wanted).first()
        if row is None:
            return None
        if now_s - row.seen_s > self.limits.idle_s or now_s - row.begun_s > self.limits.most_s:
            self.log_out(key)
            return None
        if is_used and now_s - row.seen_s > _SEEN_EVERY_S:
            with self.database.writing() as connection:
                connection.execute(
                    sessions.update().where(sessions.c.key == key).values(seen_s=now_s)
                )
        return Session(seat=_seat(row), key=key, change_token=row.change_token, address=row.address)

    def log_out(self, key: str) -> None:
        """End a session."""
        from kerfwright.adapters.seats.schema import sessions

        with self.database.writing() as connection:
            connection.execute(sessions.delete().where(sessions.c.key == key))

    def _row(self, connection: Connection, name: str) -> Any:
        from kerfwright.adapters.seats.schema import seats

        row = connection.execute(seats.select().where(seats.c.name == name)).first()
        if row is None:
            raise UnknownNameError(f"there is no seat {name!r}", code="seat-unknown")
        return row


def open_seats(folder: Path, *, url: str | None = None) -> SeatStore:
    """Return the seats of a folder of jobs; the database is opened when it is first asked.

    Parameters
    ----------
    folder : Path
    url : str or None
        Where the index is, see :func:`kerfwright.adapters.index.opening.url_of`.
    """
    return SeatStore(database=SeatsDatabase(folder=folder, url=url))


def _seat(row: Any) -> Seat:
    return Seat(name=row.name, role=Role(row.role), customer=row.customer, added=row.added)


def _key(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _known(known: str, address: str) -> str:
    others = [one for one in known.split() if one != address]
    return " ".join([*others, address][-_MOST_KNOWN:])


def _one_writer(connection: Connection) -> None:
    """Keep others from changing seats meanwhile; SQLite lets one write at a time anyway."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("LOCK TABLE kw_seats IN SHARE ROW EXCLUSIVE MODE")


def _end(connection: Connection, name: str) -> None:
    from kerfwright.adapters.seats.schema import sessions

    connection.execute(sessions.delete().where(sessions.c.seat == name))


def _expect_other_owner(connection: Connection, name: str) -> None:
    from kerfwright.adapters.seats.schema import seats

    others = (seats.c.role == Role.OWNER.value) & (seats.c.name != name)
    if connection.execute(seats.select().where(others)).first() is None:
        raise _owner_missing()


def _owner_missing() -> InputError:
    return InputError(
        "no owner would be there, who says who may log in",
        code="owner-missing",
        remedy="Add an owner first.",
    )
