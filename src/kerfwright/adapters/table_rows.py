"""Tables as rows of values with their sources, shipped and own, for people who look at them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.machines import (
    MACHINES,
    machine_files,
    machine_tables,
    shipped_machines,
)
from kerfwright.adapters.own_machines import own_machine_names
from kerfwright.adapters.table_files import SHIPPED, merged_table, own_table
from kerfwright.app.said import NOTHING, Said
from kerfwright.app.shop_tables import (
    PLAIN,
    TITLES,
    ShopTable,
    TableRow,
    TableValue,
    Unit,
    ValueKind,
    number_said,
    numbers_said,
    points_said,
    unit_of,
)
from kerfwright.app.table_names import has_no_unit, row_title, value_name, value_unit
from kerfwright.foundation.errors import UnknownNameError
from kerfwright.foundation.sources import Source, SourceTag

COLLECTIONS: Final = {"materials": "material", "wires": "wire", "passes": "pass"}
"""Tables to which a row can be added, and the key under which their rows stand."""
_HEADER: Final = re.compile(r"\s*\[([^\[\]]+)\]\s*(#.*)?")
_KEY: Final = re.compile(r"\s*(\"[^\"]+\"|[\w-]+)\s*=")
_PART: Final = re.compile(r"\"([^\"]+)\"|([\w-]+)")
_OF_MACHINE: Final = "invented to start from; measure your own"
Table = dict[str, Any]


def file_of(name: str) -> str:
    """Return the file of a table.

    Raises
    ------
    UnknownNameError
        Code ``table-unknown``.
    """
    if name not in TITLES:
        raise UnknownNameError(
            f"there is no table {name!r}; there are {', '.join(TITLES)}", code="table-unknown"
        )
    return MACHINES if name == MACHINES else f"{name}.toml"


def is_figure(value: object) -> bool:
    """Return whether a value stands with its source in one small table."""
    return isinstance(value, dict) and "value" in value


def shop_table(name: str, folder: Path | None) -> ShopTable:
    """Return a table with the shop's values over the shipped ones.

    Raises
    ------
    UnknownNameError
        Code ``table-unknown``.
    InputError, FileError
        If the shop's file cannot be read.
    """
    file = file_of(name)
    rows = _machines(folder) if name == MACHINES else _rows(name, folder)
    title, what = TITLES[name]
    place = str(folder / file) if folder is not None else file
    return ShopTable(name=name, title=title, what=what, file=place, rows=tuple(rows))


def figures_of(name: str, folder: Path | None) -> Iterator[tuple[str, str, Any, Source | None]]:
    """Yield every value of a table as its file has it: section, key, value and source.

    The shop's stand over the shipped ones; texts and lists are among them.

    Raises
    ------
    UnknownNameError
        Code ``table-unknown``.
    InputError, FileError
        If the shop's file cannot be read.
    """
    file = file_of(name)
    merged, own = merged_table(file, folder), own_table(file, folder)
    citations = merged.pop("citations", {})
    for path, values in _groups(merged, ()):
        over = _at(own, path) or {}
        for key, raw in values.items():
            source = _source_of(raw, citations, is_own=key in over)
            yield " ".join(path) or name, key, _bare(raw), source


def _rows(name: str, folder: Path | None) -> Iterator[TableRow]:
    file = file_of(name)
    shipped, own = merged_table(file, None), own_table(file, folder)
    merged = merged_table(file, folder)
    remarks = _remarks((SHIPPED / file).read_text(encoding="utf-8"))
    citations = merged.pop("citations", {})
    shipped.pop("citations", None)
    currency = str(merged_table("rates.toml", folder).get("currency", ""))
    collection = COLLECTIONS.get(name, "")
    for path, values in _groups(merged, ()):
        under, over = _at(shipped, path), _at(own, path)
        is_row = len(path) == 2 and path[0] == collection
        yield TableRow(
            id="/".join(path),
            title=row_title(name, "/".join(path)) or _title(path, _at(merged, path)),
            is_own=not under and bool(over),
            can_copy=is_row,
            can_edit=True,
            values=tuple(
                _value(
                    (*path, key),
                    value,
                    own=(over or {}).get(key),
                    shipped=(under or {}).get(key),
                    citations=citations,
                    remark=remarks.get((*path, key), ""),
                    currency=currency,
                )
                for key, value in values.items()
            ),
        )


def _groups(table: Table, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], Table]]:
    """Yield each table that holds values of its own, with its place."""
    values = {k: v for k, v in table.items() if not isinstance(v, dict) or is_figure(v)}
    if values:
        yield path, values
    for key, below in table.items():
        if key not in values:
            yield from _groups(below, (*path, key))


def _unit(path: tuple[str, ...], currency: str) -> Unit:
    """Return the unit of a value: its name says it, save for money and for a table of minutes."""
    unit = value_unit(path[-1])
    if has_no_unit(path[-1]):
        return unit
    if path[0] == "minutes" and unit is PLAIN:
        return unit_of("_min")
    is_price = "price" in path[-1] or path[-1].startswith("electricity")
    is_price |= path == ("at_most", "rate_per_h")
    if path[:2] == ("order", "minimum") or path[0] == "hour" or is_price:
        return Unit(name=f"{currency} {unit.name}".strip())
    return unit


def _at(table: Table, path: tuple[str, ...]) -> Table:
    for part in path:
        below = table.get(part)
        if not isinstance(below, dict):
            return {}
        table = below
    return table


def _title(path: tuple[str, ...], row: Table) -> str:
    if isinstance(row.get("name"), str) and len(path) > 1:
        return str(row["name"])
    words = [part.replace("_", " ").replace("-", " ") for part in path]
    title = ", ".join(words[1:] if len(words) > 2 else words) or "general"
    return title.replace(", at, ", " at ")


def _value(
    path: tuple[str, ...],
    raw: Any,
    *,
    own: Any,
    shipped: Any,
    citations: Mapping[str, str],
    remark: str,
    currency: str,
) -> TableValue:
    kind, unit = _kind(raw), _unit(path, currency)
    return TableValue(
        key="/".join(path),
        name=_name(path[-1], raw, unit),
        kind=kind,
        unit=unit if kind in {ValueKind.NUMBER, ValueKind.LIST} else PLAIN,
        shown=_said(raw, kind, unit),
        source=_source(raw, citations, is_own=own is not None),
        is_own=own is not None,
        takes_source=kind in {ValueKind.NUMBER, ValueKind.LIST}
        and (is_figure(shipped) or is_figure(raw) or shipped is None),
        shipped=_said(shipped, _kind(shipped), unit)
        if own is not None and shipped is not None
        else NOTHING,
        shipped_source=_source(shipped, citations, is_own=False)
        if own is not None and shipped is not None
        else "",
        remark=remark,
    )


def _bare(raw: Any) -> Any:
    return raw["value"] if is_figure(raw) else raw


def _kind(raw: Any) -> ValueKind:
    match _bare(raw):
        case bool():
            return ValueKind.TRUTH
        case int() | float():
            return ValueKind.NUMBER
        case list() as several if all(isinstance(v, str) for v in several):
            return ValueKind.LINES
        case list():
            return ValueKind.LIST
    return ValueKind.TEXT


def _is_points(raw: Any) -> bool:
    value = _bare(raw)
    return (
        isinstance(value, list)
        and bool(value)
        and all(
            isinstance(one, list) and len(one) == 2 and all(isinstance(v, int | float) for v in one)
            for one in value
        )
    )


def _name(key: str, raw: Any, unit: Unit) -> str:
    """Return a name in words; of the points of a curve with the unit, as no point shows it."""
    words = value_name(key)
    return f"{words} ({unit.name})" if unit.name and _is_points(raw) else words


def _said(raw: Any, kind: ValueKind, unit: Unit) -> Said:
    value = _bare(raw)
    match kind:
        case ValueKind.NUMBER:
            return number_said(value, unit)
        case ValueKind.TRUTH:
            text = "yes" if value else "no"
        case ValueKind.LINES:
            text = "\n".join(value)
        case ValueKind.LIST if all(isinstance(v, int | float) for v in value):
            return numbers_said(value, unit)
        case ValueKind.LIST if _is_points(value):
            return points_said(value)
        case _:
            text = str(value)
    return Said(metric=text, inch=text)


def _source(raw: Any, citations: Mapping[str, str], *, is_own: bool) -> str:
    found = _source_of(raw, citations, is_own=is_own)
    return str(found) if found is not None else ""


def _source_of(raw: Any, citations: Mapping[str, str], *, is_own: bool) -> Source | None:
    if not is_figure(raw):
        return Source(tag=SourceTag.SHOP) if is_own else None
    said = str(raw.get("source", ""))
    name, mark, remark = said.partition(";")
    if name in citations:
        said = citations[name] + mark + remark
    tag = str(raw.get("tag", SourceTag.SHOP))
    known = SourceTag(tag) if tag in set(SourceTag) else SourceTag.SHOP
    return Source(tag=known, citation=said.removeprefix("no source; "))


def _remarks(text: str) -> dict[tuple[str, ...], str]:
    """Return the comments of a file by the key that they stand above."""
    found: dict[tuple[str, ...], str] = {}
    table: tuple[str, ...] = ()
    lines: list[str] = []
    for line in text.splitlines():
        bare = line.strip()
        header, key = _HEADER.fullmatch(line), _KEY.match(line)
        if bare.startswith("#"):
            lines.append(bare.lstrip("# "))
            continue
        if header:
            table = tuple(a or b for a, b in _PART.findall(header[1]))
        elif key and lines:
            found[(*table, key[1].strip('"'))] = " ".join(lines)
        lines = []
    return found


def _machines(folder: Path | None) -> Iterator[TableRow]:
    owned, names = machine_files(folder), own_machine_names(folder)
    for name in (*owned, *shipped_machines()):
        path = owned.get(name)
        for place, values in _groups(machine_tables(path or name), ()):
            yield TableRow(
                id="/".join((name, *place)),
                title=", ".join((names.get(name, name), *place)),
                is_own=path is not None,
                can_copy=not place,
                can_edit=path is not None,
                values=tuple(
                    _machine_value((name, *place, key), value, is_own=path is not None)
                    for key, value in values.items()
                ),
            )


def _machine_value(path: tuple[str, ...], raw: Any, *, is_own: bool) -> TableValue:
    kind, unit = _kind(raw), value_unit(path[-1])
    note = Source(tag=SourceTag.COMMON_PRACTICE, citation=_OF_MACHINE)
    return TableValue(
        key="/".join(path),
        name=_name(path[-1], raw, unit),
        kind=kind,
        unit=unit if kind in {ValueKind.NUMBER, ValueKind.LIST} else PLAIN,
        shown=_said(raw, kind, unit),
        source=str(Source(tag=SourceTag.SHOP) if is_own else note),
        is_own=is_own,
        takes_source=False,
        shipped=NOTHING,
        shipped_source="",
        remark="",
    )
