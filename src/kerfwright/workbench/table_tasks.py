"""What runs in a worker process for the shop's tables; answers are plain documents."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from kerfwright.adapters import table_edit
from kerfwright.adapters.json_shapes import plain
from kerfwright.adapters.table_rows import shop_table
from kerfwright.app.shop_tables import TITLES, ShopTable, TableRow
from kerfwright.foundation.errors import UnknownNameError
from kerfwright.workbench.workers import Report

Document = dict[str, Any]
_OF_ROW = ("id", "title", "is_own", "can_copy", "can_edit")


def listing(folder: Path, progress: Report) -> list[Document]:
    """Return every table with the number of its values and of the shop's own."""
    progress("reading the tables", 0.0)
    found = []
    for name in TITLES:
        table = _table(name, folder)
        values = [value for row in table.rows for value in row.values]
        found.append(
            {
                "name": name,
                "title": table.title,
                "what": table.what,
                "values": len(values),
                "own": sum(value.is_own for value in values),
            }
        )
    return found


def look(name: str, folder: Path, progress: Report) -> Document:
    """Return one table."""
    progress("reading the table", 0.0)
    table = _table(name, folder)
    document: Document = plain(table)
    return document | {"rows": [_row(row) for row in table.rows]}


def put(name: str, key: str, written: Document, folder: Path, progress: Report) -> Document:
    """Write a value of the shop's, and return its row."""
    progress("trying the value", 0.0)
    table_edit.set_value(name, key, **written, folder=folder)
    return _row_of(name, key, folder)


def drop(name: str, key: str, folder: Path, progress: Report) -> Document:
    """Take a value of the shop's away, and return its row."""
    progress("trying it without the value", 0.0)
    table_edit.drop_value(name, key, folder=folder)
    return _row_of(name, key, folder)


def copy(name: str, like: str, new_id: str, title: str, folder: Path, progress: Report) -> Document:
    """Add a row like another, and return its table."""
    progress("adding the row", 0.0)
    table_edit.copy_row(name, like, new_id=new_id, title=title, folder=folder)
    return look(name, folder, progress)


def drop_row(name: str, row: str, folder: Path, progress: Report) -> Document:
    """Take a row of the shop's away, and return its table."""
    progress("trying it without the row", 0.0)
    table_edit.drop_row(name, row, folder=folder)
    return look(name, folder, progress)


def _table(name: str, folder: Path) -> ShopTable:
    return shop_table(name, folder)


def _row_of(name: str, key: str, folder: Path) -> Document:
    found = next(
        (row for row in _table(name, folder).rows for v in row.values if v.key == key), None
    )
    if found is None:
        # The value was the shop's alone, and the last of its row.
        raise UnknownNameError(f"{name} has no value {key!r} any more", code="value-unknown")
    return _row(found)


def _row(row: TableRow) -> Document:
    values = []
    for value in row.values:
        document = plain(value)
        document["unit"] = {"metric": value.unit.name, "inch": value.unit.inch_name}
        values.append(document)
    document = {name: plain(getattr(row, name)) for name in _OF_ROW}
    return document | {"values": values}
