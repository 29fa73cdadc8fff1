"""The table of a batch as CSV and as Parquet, written whole or not at all."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields
from decimal import Decimal
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.owned_files import add_files
from kerfwright.app.batch.course import Entry
from kerfwright.app.batch.records import Item, Outcome
from kerfwright.foundation.errors import MissingPackageError

CSV: Final = "batch.csv"
PARQUET: Final = "batch.parquet"
_PACKAGE: Final = "pyarrow"
_FORMULA: Final = tuple("=+-@\t\r")
"""First characters by which a spreadsheet takes a text for a formula."""
_MONEY: Final = ("price_low", "price", "price_high", "price_each")
_CENT: Final = Decimal("0.01")
_WHOLE: Final = (
    "row", "line", "contours", "left_out", "refusals", "warnings", "notes", "passes", "quantity",
)  # fmt: skip
_TRUTH: Final = ("proved",)
_REAL: Final = (
    "height_mm", "wire_mm", "machine_min_low", "machine_min", "machine_min_high", "attended_min",
    "wire_kg", "rough_mm",
)  # fmt: skip
_OF_ROW: Final = ("row", "line", "drawing", "remark")
_OUTCOME: Final = tuple(field.name for field in fields(Outcome) if field.name != "said")
COLUMNS: Final = (*_OF_ROW, *_OUTCOME, "job", "key")
Row = dict[str, Any]
Rows = Iterable[tuple[Item, Outcome, Entry | None]]


def rows_of(found: Rows) -> Iterator[Row]:
    """Yield the rows of the table: the same for the same outcomes, whatever made them."""
    for number, (item, outcome, entry) in enumerate(found, start=1):
        row: Row = {"row": number, "line": item.line, "drawing": item.name, "remark": item.remark}
        row |= {name: getattr(outcome, name) for name in _OUTCOME}
        row["state"] = outcome.state.value
        row["codes"] = "; ".join(f"{code} {count}" for code, count in sorted(outcome.codes.items()))
        row["job"] = item.job if entry is not None and entry.job else ""
        row["key"] = "" if entry is None else entry.key
        yield row


def csv_text(found: Rows) -> str:
    """Return the table as CSV: UTF-8 with a mark at the head, as spreadsheets want it.

    A text that a spreadsheet would take for a formula gets an apostrophe before it: names of
    layers and files come from strangers.
    """
    text = io.StringIO()
    text.write("\ufeff")
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for row in rows_of(found):
        writer.writerow({name: _cell(value) for name, value in row.items()})
    return text.getvalue()


def _cell(value: Any) -> Any:
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case str() if value.startswith(_FORMULA):
            return f"'{value}"
    return value


def require_parquet() -> None:
    """Refuse to go on without what writes Parquet.

    Raises
    ------
    MissingPackageError
        Code ``batch-needs-parquet``.
    """
    if find_spec(_PACKAGE) is None:
        raise MissingPackageError(
            f"{_PACKAGE}, which writes Parquet, is not installed",
            code="batch-needs-parquet",
            remedy="pip install 'kerfwright[batch]', or leave --parquet out.",
        )


def parquet_bytes(found: Rows) -> bytes:
    """Return the table as Parquet; amounts are decimals of two digits, texts as they are."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    kinds = {
        **dict.fromkeys(_WHOLE, pa.int64()),
        **dict.fromkeys(_REAL, pa.float64()),
        **dict.fromkeys(_TRUTH, pa.bool_()),
        **dict.fromkeys(_MONEY, pa.decimal128(14, 2)),
    }
    schema = pa.schema([(name, kinds.get(name, pa.string())) for name in COLUMNS])
    rows = [{**row, **{name: _amount(row[name]) for name in _MONEY}} for row in rows_of(found)]
    sink = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(rows, schema=schema), sink)
    return sink.getvalue()


def _amount(text: str) -> Decimal | None:
    return Decimal(text).quantize(_CENT) if text else None


def write_tables(folder: Path, found: Callable[[], Rows], *, parquet: bool) -> tuple[str, ...]:
    """Write the table beside the journal.

    Parameters
    ----------
    folder : Path
    found : callable
        Returns the rows from the beginning.
    parquet : bool

    Raises
    ------
    FileError
        If the folder cannot be written or a table there was edited since.
    """
    contents: dict[str, str | bytes] = {CSV: csv_text(found())}
    if parquet:
        contents[PARQUET] = parquet_bytes(found())
    instead = frozenset() if parquet else frozenset({PARQUET})
    return add_files(folder, contents, instead_of=instead).files
