"""Who did what, when, to which job and from where: lines that are added and never changed.

Each line holds a hash of itself and of the one before: a line that somebody changed or took out of
the middle, past the database's own refusal, is found by :meth:`Audit.check`.  Lines cut off at the
end are not, unless an export holds them.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterator
from dataclasses import astuple, dataclass, fields
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

from kerfwright.adapters.seats.database import SeatsDatabase

if TYPE_CHECKING:
    from sqlalchemy import Connection

_MANY: Final = 1000
_MOST_LETTERS: Final = {"seat": 40, "role": 20, "address": 60, "kind": 20, "job": 120}
_MOST: Final = 200
_CSV_STARTS_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """What somebody did.

    Attributes
    ----------
    seat, role : str
        Who, as what he was then; empty for nobody who is logged in.
    address : str
        From where.
    kind : str
        ``view``, ``change``, ``download``, ``log-in`` or ``refused``.
    deed : str
        The address of the server without what was sent, or a command.
    job : str
        Empty where it is about none.
    detail : str
        Name of a file or a table, no content of it.
    status : int
        As it was answered (RFC 9110, 15); 0 for what was done on the command line.
    """

    seat: str = ""
    role: str = ""
    address: str = ""
    kind: str
    deed: str
    job: str = ""
    detail: str = ""
    status: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A deed as it is written.

    Attributes
    ----------
    number : int
        From 1, without a gap.
    at : str
        When, ISO 8601 in UTC.
    deed : Deed
    chain : str
    """

    number: int
    at: str
    deed: Deed
    chain: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """The lines of a shop.

    Attributes
    ----------
    database : SeatsDatabase
    """

    database: SeatsDatabase

    def add(self, deed: Deed) -> None:
        """Write a line; it is on the disk when this returns.

        Raises
        ------
        FileError
        """
        from sqlalchemy import select

        from kerfwright.adapters.seats.schema import audit

        kept = _kept(deed)
        with self.database.writing() as connection:
            _one_after_another(connection)
            last = select(audit.c.number, audit.c.chain).order_by(audit.c.number.desc()).limit(1)
            row = connection.execute(last).first()
            number, before = (1, "") if row is None else (row.number + 1, row.chain)
            at = datetime.now(UTC).isoformat(timespec="milliseconds")
            connection.execute(
                audit.insert().values(
                    number=number, at=at, chain=_chained(before, number, at, kept), **kept
                )
            )

    def lines(self, *, before: int | None = None, most: int = 200, job: str = "") -> list[Line]:
        """Return the last lines, the newest first.

        Parameters
        ----------
        before : int, optional
            Only lines with a lower number.
        most : int
        job : str
            Only of this job.
        """
        from kerfwright.adapters.seats.schema import audit

        wanted = audit.select().order_by(audit.c.number.desc()).limit(most)
        if before is not None:
            wanted = wanted.where(audit.c.number < before)
        if job:
            wanted = wanted.where(audit.c.job == job)
        with self.database.reading() as connection:
            return [_line(row) for row in connection.execute(wanted)]

    def every(self) -> Iterator[Line]:
        """Yield every line, the first first."""
        from kerfwright.adapters.seats.schema import audit

        last = 0
        while True:
            wanted = audit.select().where(audit.c.number > last).order_by(audit.c.number)
            with self.database.reading() as connection:
                found = [_line(row) for row in connection.execute(wanted.limit(_MANY))]
            yield from found
            if len(found) < _MANY:
                return
            last = found[-1].number

    def check(self) -> int | None:
        """Return the number of the first line that is not as it was written; None if all are."""
        before, expected = "", 1
        for one in self.every():
            kept = {f.name: getattr(one.deed, f.name) for f in fields(Deed)}
            chain = _chained(before, one.number, one.at, kept)
            if one.number != expected or one.chain != chain:
                return expected
            before, expected = one.chain, expected + 1
        return None

    def csv_rows(self) -> Iterator[str]:
        """Yield the lines as CSV (RFC 4180), headings first.

        A text that a table program would take for a formula begins with an apostrophe.
        """
        yield _row(["number", "at", *(f.name for f in fields(Deed)), "chain"])
        for one in self.every():
            yield _row([one.number, one.at, *astuple(one.deed), one.chain])


def _row(values: list[Any]) -> str:
    text = io.StringIO(newline="")
    safe = [
        f"'{v}" if isinstance(v, str) and v.startswith(_CSV_STARTS_FORMULA) else v for v in values
    ]
    csv.writer(text).writerow(safe)
    return text.getvalue()


def _kept(deed: Deed) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for one in fields(Deed):
        value = getattr(deed, one.name)
        if isinstance(value, str):
            # Addresses are a stranger's words: none of them commands the terminal of who reads.
            plain = "".join(c if c.isprintable() else " " for c in value)
            value = plain.encode("utf-8", "replace").decode()[: _MOST_LETTERS.get(one.name, _MOST)]
        found[one.name] = value
    return found


def _chained(before: str, number: int, at: str, kept: dict[str, Any]) -> str:
    said = json.dumps([before, number, at, [kept[f.name] for f in fields(Deed)]])
    return hashlib.sha256(said.encode()).hexdigest()


def _line(row: Any) -> Line:
    deed = Deed(**{one.name: getattr(row, one.name) for one in fields(Deed)})
    return Line(number=row.number, at=row.at, deed=deed, chain=row.chain)


def _one_after_another(connection: Connection) -> None:
    """Keep others from writing a line meanwhile; SQLite lets one write at a time anyway."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("LOCK TABLE kw_audit IN EXCLUSIVE MODE")
