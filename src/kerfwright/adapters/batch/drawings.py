"""The drawings of a folder, and the rows of a table that names drawings."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from kerfwright.adapters.job_folder import JOB
from kerfwright.adapters.measured_cuts import decoded, split_table
from kerfwright.adapters.table_columns import expect_column
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.trade.drawing_files import DRAWING_ENDING, SOLID_ENDINGS

SUFFIXES: Final = SOLID_ENDINGS | {DRAWING_ENDING}
"""Ends of names of the files that a job is made from."""
JOURNAL: Final = "batch.journal"
MOST_BYTES: Final = 256 * 2**20
"""A drawing of more is no drawing of a part; so much is held for each process at a time."""
DRAWING: Final = "drawing"
REMARK: Final = "remark"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """A row of a table of drawings as it is written.

    Attributes
    ----------
    line : int
    cells : mapping of str to str or None
        By column, empty ones left out; None where there are more or fewer than columns.
    """

    line: int
    cells: dict[str, str] | None


def drawings_of(folder: Path, *, deep: bool) -> tuple[Path, ...]:
    """Return the drawings of a folder, sorted by their path.

    Hidden files and folders are passed over, and with them job folders and those of batches:
    what ``path.dxf`` there shows is the way of the wire.

    Raises
    ------
    FileError
        Code ``batch-unreadable``.
    InputError
        Code ``batch-empty``.
    """

    def refuse(fault: OSError) -> None:
        raise FileError(
            f"cannot be read: {fault.strerror or fault}",
            code="batch-unreadable",
            where=str(fault.filename or folder),
        ) from fault

    found: list[Path] = []
    below = 0
    for place, folders, names in os.walk(folder, onerror=refuse):
        is_top = Path(place) == folder
        if not is_top and {JOB, JOURNAL} & set(names):
            folders.clear()
            continue
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        here = [
            Path(place, name)
            for name in names
            if not name.startswith(".") and Path(name).suffix.casefold() in SUFFIXES
        ]
        if is_top or deep:
            found += here
        else:
            below += len(here)
    if not found:
        there = f"; {below} in folders below it" if below else ""
        raise InputError(
            f"holds no drawing ({', '.join(sorted(SUFFIXES))}){there}",
            code="batch-empty",
            where=str(folder),
            remedy="Take the folders below it too with --deep." if below else "",
        )
    return tuple(sorted(found, key=lambda path: path.relative_to(folder).as_posix()))


def rows_of_table(path: Path, *, columns: frozenset[str]) -> tuple[TableRow, ...]:
    """Return the rows of a table of drawings.

    Commas, semicolons or tabs; lines that are empty or begin with ``#`` are passed over.

    Parameters
    ----------
    path : Path
    columns : frozenset of str
        Columns that there may be, besides ``drawing`` and ``remark``.

    Raises
    ------
    FileError
        Code ``batch-unreadable``.
    InputError
        Code ``columns-unknown``, ``columns-missing``, ``columns-twice``, ``table-not-utf8`` or
        ``batch-empty``: then no row could be trusted.
    """
    try:
        content = path.read_bytes()
    except OSError as fault:
        raise FileError(
            f"cannot be read: {fault.strerror or fault}", code="batch-unreadable", where=str(path)
        ) from fault
    head, rows = split_table(decoded(content, name=str(path)), name=str(path))
    _check(head, columns | {DRAWING, REMARK}, str(path))
    found = tuple(_rows(rows))
    if not found:
        raise InputError("the table has no row", code="batch-empty", where=str(path))
    return found


def _rows(rows: Iterator[tuple[int, str, Mapping[str, str] | None]]) -> Iterator[TableRow]:
    for line, _, cells in rows:
        said = None
        if cells is not None:
            said = {name: text.strip() for name, text in cells.items() if text.strip()}
            if not said:
                continue
        yield TableRow(line=line, cells=said)


def _check(head: list[str], known: frozenset[str], where: str) -> None:
    for column in head:
        expect_column(column, sorted(known), where=where)
    twice = sorted({column for column in head if head.count(column) > 1})
    if twice:
        raise InputError(
            f"given in two columns: {', '.join(twice)}", code="columns-twice", where=where
        )
    if DRAWING not in head:
        raise InputError(
            f"the table has no column for {DRAWING}", code="columns-missing", where=where
        )


def content_of(path: Path) -> bytes:
    """Return the bytes of a drawing.

    Raises
    ------
    FileError
        Code ``drawing-not-found``, ``drawing-not-readable`` or ``drawing-too-large``.
    """
    try:
        size = path.stat().st_size
        content = path.read_bytes() if size <= MOST_BYTES else None
    except FileNotFoundError:
        raise FileError(
            "there is no such file", code="drawing-not-found", where=str(path),
            remedy="Check the path; it is seen from the folder of the table.",
        ) from None  # fmt: skip
    except OSError as fault:
        raise FileError(
            f"the file cannot be read: {fault.strerror or fault}",
            code="drawing-not-readable",
            where=str(path),
            remedy="Check its permissions.",
        ) from fault
    if content is None:
        raise FileError(
            f"has {size / 2**20:.0f} MB, and the most is {MOST_BYTES / 2**20:.0f} MB",
            code="drawing-too-large",
            where=str(path),
        )
    return content
