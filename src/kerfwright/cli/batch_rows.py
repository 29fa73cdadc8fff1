"""Rows of a batch, from a folder or a table, by the options of ``plan``."""

from __future__ import annotations

import os
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click

from kerfwright.adapters.batch.drawings import (
    DRAWING,
    REMARK,
    TableRow,
    drawings_of,
    rows_of_table,
)
from kerfwright.app.batch.records import Item, Outcome, State
from kerfwright.app.enquiries import needed_lines
from kerfwright.cli.job import given_of
from kerfwright.cli.plan import command as plan
from kerfwright.trade.drawing_files import is_solid_name

NOT_HERE: Final = frozenset(
    {"drawing", "top", "out", "asks_what_if", "explain", "shown", "as_json"}
)
"""Parameters of ``plan`` that a batch does not have."""
_NOT_IN_ROWS: Final = NOT_HERE | {"tables", "shop"}
_BETWEEN: Final = re.compile(r"\s+\|\s+")
"""Between several values in a cell of an option that may be repeated."""


def options_of_plan() -> list[click.Option]:
    """Return the options that a batch takes as ``plan`` does."""
    return [p for p in plan.params if isinstance(p, click.Option) and p.name not in NOT_HERE]


def _columns() -> dict[str, click.Option]:
    """Return the options by the column that gives them: their name without dashes."""
    return {
        _column(option): option for option in options_of_plan() if option.name not in _NOT_IN_ROWS
    }


def _column(option: click.Option) -> str:
    return option.opts[0].lstrip("-").replace("-", "_")


def fields_of(options: Mapping[str, Any]) -> dict[str, Any]:
    """Return what options ask, by the fields of a request.

    Raises
    ------
    click.UsageError
        If two options contradict each other.
    """
    said = dict(options)
    layers, contours, tapers = (said.pop(n, None) or () for n in ("layers", "contours", "tapers"))
    return given_of(
        {n: v for n, v in said.items() if v not in (None, ())}, layers, contours, tapers
    )


def items_of_folder(folder: Path, common: Mapping[str, Any], *, deep: bool) -> tuple[Item, ...]:
    """Return a row for each drawing of a folder.

    Raises
    ------
    click.UsageError
        If material or height was not said.
    """
    given = fields_of(common)
    paths = drawings_of(folder, deep=deep)
    needed = needed_lines(is_solid=all(is_solid_name(path) for path in paths))
    missing = [f"--{name}" for name in needed if name not in given]
    if missing:
        raise click.UsageError(f"a folder of drawings needs {' and '.join(missing)}.")
    of_solids = _without_height(given)
    return _with_jobs(
        tuple(
            Item(
                name=path.relative_to(folder).as_posix(),
                path=path,
                given=of_solids if is_solid_name(path) else given,
            )
            for path in paths
        )
    )


def _without_height(given: Mapping[str, Any]) -> dict[str, Any]:
    """Return what is asked of solids among drawings: they have heights of their own."""
    return {name: value for name, value in given.items() if name != "height"}


def items_of_table(table: Path, common: Mapping[str, Any]) -> tuple[Item, ...]:
    """Return an item for each row of a table; one that cannot be used says why."""
    columns = _columns()
    rows = rows_of_table(table, columns=frozenset(columns))
    return _with_jobs(tuple(_item(row, table, common, columns) for row in rows))


def _item(
    row: TableRow, table: Path, common: Mapping[str, Any], columns: Mapping[str, click.Option]
) -> Item:
    cells = dict(row.cells or {})
    name, remark = cells.pop(DRAWING, ""), cells.pop(REMARK, "")
    blank = Item(name=name, path=table.parent / name, given={}, line=row.line, remark=remark)
    if row.cells is None:
        return _refused(blank, "", "the row has not as many cells as the header has columns")
    if not name:
        return _refused(blank, DRAWING, "no drawing is named")
    own: dict[str, Any] = {}
    for column, text in cells.items():
        option = columns[column]
        assert option.name is not None
        try:
            own[option.name] = _value(option, text)
        except click.UsageError as fault:
            return _refused(blank, column, fault.message)
    is_solid = is_solid_name(name)
    try:
        given = fields_of({**(_without_height(common) if is_solid else common), **own})
    except click.UsageError as fault:
        return _refused(blank, "", fault.message)
    missing = [need for need in needed_lines(is_solid=is_solid) if need not in given]
    if missing:
        return _refused(blank, missing[0], f"no {' and no '.join(missing)} is said")
    return replace(blank, given=given, columns=_columns_of(cells, columns))


def _columns_of(cells: Mapping[str, str], columns: Mapping[str, click.Option]) -> dict[str, str]:
    """Return the columns by the field of the request that each gives."""
    fields = {"layers": "layer_uses"}
    return {fields.get(str(columns[c].name), str(columns[c].name)): c for c in cells}


def _value(option: click.Option, text: str) -> Any:
    texts = _BETWEEN.split(text) if option.multiple else [text]
    values = tuple(option.type.convert(one, option, None) for one in texts)
    return values if option.multiple else values[0]


def _refused(item: Item, column: str, message: str) -> Item:
    place = f"line {item.line}" + (f", column {column}" if column else "")
    outcome = Outcome(
        state=State.WRONG_ROW,
        reason=f"{place}: {message}",
        code="batch-row",
        remedy="Correct the row; the same command plans what changed.",
    )
    return replace(item, refused=outcome)


def _with_jobs(items: tuple[Item, ...]) -> tuple[Item, ...]:
    """Name the job folder of each item by its drawing, and by its line where need be."""
    stems = [_stem(item.name) for item in items]
    often = Counter(stem.casefold() for stem in stems)
    return tuple(_named(items, stems, often))


def _named(items: tuple[Item, ...], stems: list[str], often: Counter[str]) -> Iterator[Item]:
    for number, (item, stem) in enumerate(zip(items, stems, strict=True), start=1):
        which = item.line or number
        twice = f"-row-{which}" if often[stem.casefold()] > 1 else ""
        yield replace(item, job=f"{stem}{twice}-job")


def _stem(name: str) -> str:
    """Return the path of a drawing without its ending; its name alone where it lies elsewhere."""
    path = Path(os.path.normpath(name)) if name else Path("unnamed")
    if path.is_absolute() or ".." in path.parts:
        path = Path(path.name)
    return path.with_suffix("").as_posix()
