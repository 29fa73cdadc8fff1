"""Versions of jobs, and jobs taken off the list, in the index."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import delete, func, insert, select

from kerfwright.adapters.index.query import Holder, QuotesKept, VersionKept
from kerfwright.adapters.index.rows import kept_text, utc
from kerfwright.adapters.index.schema import files, jobs, removed, versions
from kerfwright.adapters.removed_jobs import Removed
from kerfwright.adapters.versions import Version, numbers_of, read_version
from kerfwright.foundation.errors import FileError, InputError

if TYPE_CHECKING:
    from sqlalchemy import Connection

_MANY: Final = 500
Rows = tuple[list[dict[str, Any]], list[dict[str, Any]]]
"""Of versions and of their files."""


def known_numbers(connection: Connection, names: Sequence[str]) -> dict[str, set[int]]:
    """Return the versions that the index has of some jobs."""
    found: dict[str, set[int]] = defaultdict(set)
    for begin in range(0, len(names), _MANY):
        wanted = select(versions.c.job, versions.c.number).where(
            versions.c.job.in_(names[begin : begin + _MANY])
        )
        for row in connection.execute(wanted):
            found[row.job].add(row.number)
    return found


def new_rows(folder: Path, job: str, known: set[int]) -> tuple[Rows, set[int]]:
    """Return the rows of versions that a job has and the index has not; and those that are gone.

    Parameters
    ----------
    folder : Path
        Of the job.
    job : str
    known : set of int
    """
    there = set(numbers_of(folder))
    made: Rows = ([], [])
    for number in sorted(there - known):
        try:
            version = read_version(folder, number)
        except LookupError:
            continue
        except (FileError, InputError) as fault:
            made[0].append(_broken(job, number, fault.message))
            continue
        made[0].append(_row(job, version))
        made[1].extend(
            {"job": job, "number": number, "name": kept_text(name), "sha256": sha256}
            for name, sha256 in version.files.items()
        )
    return made, known - there


def _row(job: str, version: Version) -> dict[str, Any]:
    quantity = min(version.prices, default=None)
    return {
        "job": job,
        "number": version.number,
        "made": utc(version.made),
        "kerfwright": version.kerfwright[:40],
        "sha256": version.sha256,
        "quantity": quantity,
        "each": "" if quantity is None else version.prices[quantity],
        "currency": version.currency[:8],
        "fault": "",
    }


def _broken(job: str, number: int, fault: str) -> dict[str, Any]:
    nothing: dict[str, Any] = dict.fromkeys(
        ("made", "kerfwright", "sha256", "each", "currency"), ""
    )
    return {**nothing, "job": job, "number": number, "quantity": None, "fault": kept_text(fault)}


def put_versions(connection: Connection, rows: Rows, gone: Mapping[str, set[int]]) -> None:
    """Take over versions of jobs that are on the list, and let go of those that are no more."""
    names = sorted({str(row["job"]) for row in rows[0]} | set(gone))
    there: set[str] = set()
    for begin in range(0, len(names), _MANY):
        # Whoever takes one of them off the list meanwhile waits, and then lets its versions go too.
        here = select(jobs.c.id).where(jobs.c.id.in_(names[begin : begin + _MANY]))
        there |= set(connection.execute(here.with_for_update(read=True, key_share=True)).scalars())
    rows = (
        [row for row in rows[0] if row["job"] in there],
        [row for row in rows[1] if row["job"] in there],
    )
    keys = {(row["job"], row["number"]) for row in rows[0]}
    keys |= {(job, number) for job, numbers in gone.items() for number in numbers}
    # Another seat may have taken them over meanwhile.
    for job, number in sorted(keys):
        for table in (versions, files):
            connection.execute(
                delete(table).where(table.c.job == job).where(table.c.number == number)
            )
    for table, fresh in zip((versions, files), rows, strict=True):
        for begin in range(0, len(fresh), _MANY):
            connection.execute(insert(table), fresh[begin : begin + _MANY])


def drop_versions(connection: Connection, names: Sequence[str]) -> None:
    """Let go of the versions of some jobs."""
    for table in (versions, files):
        connection.execute(delete(table).where(table.c.job.in_(names)))


def removed_names(connection: Connection) -> set[str]:
    """Return which removed jobs the index knows."""
    return set(connection.execute(select(removed.c.name)).scalars())


def put_removed(connection: Connection, found: Sequence[Removed]) -> None:
    """Take over which jobs were taken off the list."""
    connection.execute(delete(removed))
    if found:
        connection.execute(
            insert(removed),
            [
                {
                    "name": one.name[:120],
                    "id": kept_text(one.id)[:120],
                    "title": kept_text(one.title),
                    "customer": kept_text(one.customer),
                    "added": one.added[:40],
                    "removed": one.removed[:40],
                }
                for one in found
            ],
        )


def quotes_kept(
    connection: Connection, *, since: str = "", most: int | None = None, skipped: int = 0
) -> QuotesKept:
    """Return versions with a price, the newest first.

    Parameters
    ----------
    connection : Connection
    since : str
        Day or time, ISO 8601, from which on; empty for all.
    most : int or None
    skipped : int
    """
    fits = (versions.c.each != "") & (versions.c.made >= since)
    wanted = (
        select(versions)
        .where(fits)
        .order_by(versions.c.made.desc(), versions.c.job, versions.c.number.desc())
        .limit(most)
        .offset(skipped)
    )
    total = select(func.count()).select_from(versions).where(fits)
    return QuotesKept(
        total=connection.execute(total).scalar_one(),
        quotes=tuple(
            VersionKept(
                job=row.job,
                number=row.number,
                made=row.made,
                sha256=row.sha256,
                quantity=row.quantity,
                each=row.each,
                currency=row.currency,
            )
            for row in connection.execute(wanted)
        ),
    )


def holders(connection: Connection, sha256: str) -> tuple[Holder, ...]:
    """Return which versions of which jobs hold a file of this digest."""
    wanted = select(files).where(files.c.sha256 == sha256).order_by(files.c.job, files.c.number)
    return tuple(
        Holder(job=row.job, number=row.number, name=row.name) for row in connection.execute(wanted)
    )
