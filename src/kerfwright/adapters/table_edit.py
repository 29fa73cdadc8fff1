"""Edit the shop's own tables: the same TOML that a person writes, with his comments kept.

A change is tried on a copy of the folder first: where any table could not be read any more, it is
refused and nothing is written.
"""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import InlineTable, Table
from tomlkit.toml_document import TOMLDocument

from kerfwright.adapters.figures import is_name
from kerfwright.adapters.hole_tables import load_hole_tables
from kerfwright.adapters.learning_rules import load_cut_limits, load_learning_rules
from kerfwright.adapters.machines import (
    MACHINES,
    machine_files,
    read_machine,
    shipped_machines,
)
from kerfwright.adapters.papers.rules import load_paper_rules
from kerfwright.adapters.table_files import SHIPPED, merged_table
from kerfwright.adapters.table_rows import (
    COLLECTIONS,
    file_of,
    is_figure,
    shop_table,
)
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.whole_files import one_writer, read_whole, write_whole
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.shop_tables import TableValue, ValueKind
from kerfwright.app.table_values import (
    expect_all_near,
    expect_currency,
    expect_near,
    read_number,
    read_numbers,
    read_points,
)
from kerfwright.foundation.errors import InputError, KerfwrightError, UnknownNameError

_HEAD: Final = (
    "# The shop's own values; what is not here is as shipped.\n"
    "# A bare number counts as the shop's own.\n"
)
_MOST_LETTERS: Final = 2000
_NAMES: Final = frozenset({"name", "aliases"})
"""Values by which a row is found."""
Change = Callable[[TOMLDocument], None]


def set_value(
    name: str, key: str, text: str, *, source: str, folder: Path, is_meant: bool = False
) -> None:
    """Write a value of the shop's over the shipped one.

    Parameters
    ----------
    name : str
        Name of the table.
    key : str
        Place of the value, see :class:`kerfwright.app.shop_tables.TableValue`.
    text : str
        As a person writes it.
    source : str
        In the shop's own words; may be empty.
    folder : Path
        Of the shop's tables; made if absent.
    is_meant : bool
        Whether a number far from all that is shipped is meant so.

    Raises
    ------
    InputError
        If the value cannot be read or cannot be, or another row is called so; code
        ``value-far-off`` if it may be a slip.  Nothing is written then.
    UnknownNameError
        Code ``value-unknown``.
    """
    known = _known(name, key, folder)
    if len(text) + len(source) > _MOST_LETTERS:
        raise InputError(f"more than {_MOST_LETTERS} letters", code="table-value")
    value = _read(text, known)
    parts = key.split("/")
    if parts[-1] in _NAMES:
        _expect_words(value)
        _expect_free(
            name, "/".join(parts[:-1]), [value] if isinstance(value, str) else value, folder
        )

    def change(document: TOMLDocument) -> None:
        table = _table(document, parts[1:-1] if name == MACHINES else parts[:-1])
        last = parts[-1]
        old = table.get(last)
        if not (known.takes_source and source.strip()):
            table[last] = value
        elif isinstance(old, InlineTable):
            # In place, so that a remark behind it stays.
            old["value"] = value
            old.pop("tag", None)
            old["source"] = source.strip()
        else:
            figure = tomlkit.inline_table()
            figure["value"] = value
            figure["source"] = source.strip()
            table[last] = figure

    def ask() -> None:
        if is_meant:
            return
        if key == "currency":
            expect_currency(value)
        if known.kind not in {ValueKind.NUMBER, ValueKind.LIST}:
            return
        others = [v for v in _of_the_same_name(name, parts, folder) if v.kind is known.kind]
        expect = expect_near if known.kind is ValueKind.NUMBER else expect_all_near
        expect(value, others, known.unit, what=known.name)

    try:
        _edit(name, parts[0], folder, change, ask)
    except KerfwrightError as fault:
        raise InputError(
            _in_words(fault.message, name, parts[0], folder),
            code=fault.code,
            where=fault.where,
            remedy=_remedy_of(fault, name),
        ) from fault


def _remedy_of(fault: KerfwrightError, name: str) -> str:
    """Return what helps somebody who sees the value, and not the file and what describes it."""
    if name == MACHINES and fault.remedy.startswith("See docs/"):
        return "Write a value as expected, or leave the one that stands; nothing was changed."
    return fault.remedy


def _in_words(message: str, name: str, first: str, folder: Path) -> str:
    """Return what is wrong with values by the titles of their rows, as a person sees them."""
    for row in shop_table(name, folder if folder.is_dir() else None).rows:
        for value in row.values:
            parts = value.key.split("/")
            if name == MACHINES:
                if parts[0] != first:
                    continue
                parts = parts[1:]
            place = rf"(?:(?<!\w)key )?(?<![\w.]){re.escape('.'.join(parts))}(?!\w|\.\w)"
            words = f"{row.title}, {value.name}".replace("\\", r"\\")
            message = re.sub(place, words, message)
    return message


def drop_value(name: str, key: str, *, folder: Path) -> None:
    """Take the shop's value away, so that the shipped one counts again.

    Raises
    ------
    InputError
        If a table could not be read without it.
    UnknownNameError
        Code ``value-unknown``: the shop gives no such value.
    """
    known = _known(name, key, folder)
    if not known.is_own:
        raise UnknownNameError(f"{key} is as shipped already", code="value-unknown")
    parts = key.split("/")

    def change(document: TOMLDocument) -> None:
        _remove(document, parts[1:] if name == MACHINES else parts)

    _edit(name, parts[0], folder, change)


def copy_row(name: str, like: str, *, new_id: str, title: str, folder: Path) -> str:
    """Add a row of the shop's like another, to be changed value by value; returns its id.

    Parameters
    ----------
    name, like : str
        Table and id of the row that is copied.
    new_id : str
        Small letters, digits and hyphens; of a pass its number.
    title : str
        Name as printed.
    folder : Path

    Raises
    ------
    InputError
        Code ``row-id`` or ``row-there``, or if the row cannot be.
    UnknownNameError
        Code ``row-unknown``.
    """
    plain = new_id.strip()
    if not plain or not all(c.isascii() and (c.isalnum() or c == "-") for c in plain):
        raise InputError(
            f"{new_id!r} is not made of letters, digits and hyphens",
            code="row-id",
            remedy="Write a short name such as our-d2.",
        )
    is_number = name == "passes" and plain.isdigit()
    odd = [one for one in (plain, title.strip()) if one and not is_name(one)]
    if odd and not is_number:
        raise InputError(
            f"{odd[0]!r} is no name",
            code="row-id",
            remedy="Write a name with a letter in it, such as our-d2.",
        )
    if name == MACHINES:
        return _copy_machine(like, plain, title, folder)
    collection = COLLECTIONS.get(name)
    path = like.split("/")
    rows = merged_table(file_of(name), folder if folder.is_dir() else None)
    if collection is None or len(path) != 2 or path[0] != collection:
        raise UnknownNameError(f"{like} is no row that can be copied", code="row-unknown")
    if path[1] not in rows[collection]:
        raise UnknownNameError(f"there is no {like}", code="row-unknown")
    if plain in rows[collection]:
        raise InputError(
            f"there is a {plain} already", code="row-there", remedy="Choose another name."
        )
    row = {k: v for k, v in rows[collection][path[1]].items() if k not in {"aliases", "at"}}
    if "name" in row:
        row["name"] = title.strip() or plain
        _expect_free(name, f"{collection}/{plain}", [row["name"]], folder)
    citations = rows.get("citations", {})

    def change(document: TOMLDocument) -> None:
        fresh = tomlkit.table()
        for key, value in row.items():
            fresh[key] = _copied(value, citations)
        _table(document, [collection])[plain] = fresh

    _edit(name, plain, folder, change)
    return f"{collection}/{plain}"


def drop_row(name: str, row: str, *, folder: Path) -> None:
    """Take a row of the shop's away.

    Raises
    ------
    InputError
        If a table could not be read without it.
    UnknownNameError
        Code ``row-unknown``: the shop has no such row.
    """
    own = [r for r in shop_table(name, folder).rows if r.id == row and r.is_own]
    if not own or not own[0].can_copy:
        raise UnknownNameError(f"the shop has no row {row}", code="row-unknown")
    if name == MACHINES:
        (folder / MACHINES / f"{row}.toml").unlink()
        return
    parts = row.split("/")
    _edit(name, parts[0], folder, lambda document: _remove(document, parts))


def _known(name: str, key: str, folder: Path) -> TableValue:
    found = shop_table(name, folder if folder.is_dir() else None)
    for row in found.rows:
        for value in row.values:
            if value.key == key:
                if not row.can_edit:
                    raise InputError(
                        f"{row.title} is shipped whole",
                        code="row-shipped",
                        remedy="Copy it, and change the copy.",
                    )
                return value
    raise UnknownNameError(f"{name} has no value {key!r}", code="value-unknown")


def _of_the_same_name(name: str, parts: list[str], folder: Path) -> Iterator[TableValue]:
    """Yield what stands at the same place of every row of its kind."""
    is_row = name == MACHINES or parts[0] == COLLECTIONS.get(name)
    for row in shop_table(name, folder if folder.is_dir() else None).rows:
        for value in row.values:
            other = value.key.split("/")
            if name == MACHINES:
                is_same = other[1:] == parts[1:]
            elif is_row:
                is_same = other[0] == parts[0] and other[2:] == parts[2:]
            else:
                is_same = other == parts
            if is_same:
                yield value


def _expect_free(name: str, row: str, words: list[str], folder: Path) -> None:
    """Refuse a name by which another row is found already."""
    wanted = {word.casefold() for word in words}
    for other in shop_table(name, folder if folder.is_dir() else None).rows:
        if other.id == row or "/" not in other.id:
            continue
        said = [v.shown.metric for v in other.values if v.key.rpartition("/")[2] in _NAMES]
        taken = wanted & {w.casefold() for text in said for w in text.splitlines()}
        if taken:
            raise InputError(
                f"{min(taken)!r} names {other.title} already",
                code="name-taken",
                remedy="Choose another name, or take it away there first.",
            )


def _expect_words(value: Any) -> None:
    """Refuse aliases that name nothing: a number is one from three digits on, as 304 or 1.2379."""
    for one in value if isinstance(value, list) else ():
        if not is_name(one) and not re.fullmatch(r"[1-9](?:[\d.]*\d){2,}", one):
            raise InputError(
                f"{one!r} is no name",
                code="table-value",
                remedy="Write one with a letter, or a number of three digits as 304 or 1.2379.",
            )


def _read(text: str, known: TableValue) -> Any:
    match known.kind:
        case ValueKind.NUMBER:
            value = read_number(text, known.unit, what=known.name)
            return int(value) if value.is_integer() and "." not in text else value
        case ValueKind.TRUTH:
            said = text.strip().casefold()
            if said not in {"yes", "no", "true", "false"}:
                raise InputError(
                    f"{text!r} is neither yes nor no",
                    code="table-value",
                    remedy="Write yes or no.",
                )
            return said in {"yes", "true"}
        case ValueKind.LINES:
            return [line.strip() for line in text.splitlines() if line.strip()]
        case ValueKind.LIST:
            if text.strip().startswith("[[") or ":" in text:
                return read_points(text, what=known.name)
            return read_numbers(text, known.unit, what=known.name)
    return text.strip()


def _copied(value: Any, citations: dict[str, str]) -> Any:
    """Return a value of a copied row, with its source written out."""
    if not is_figure(value):
        return value
    figure = tomlkit.inline_table()
    for key, one in value.items():
        if key == "source":
            name, mark, remark = one.partition(";")
            one = citations[name] + mark + remark if name in citations else one  # noqa: PLW2901
        figure[key] = one
    return figure


def _copy_machine(like: str, new_id: str, title: str, folder: Path) -> str:
    known = {m: SHIPPED / MACHINES / f"{m}.toml" for m in shipped_machines()}
    source = (known | machine_files(folder)).get(like)
    target = folder / MACHINES / f"{new_id}.toml"
    if source is None:
        raise UnknownNameError(f"there is no machine {like}", code="row-unknown")
    if target.exists() or new_id in shipped_machines():
        raise InputError(
            f"there is a {new_id} already", code="row-there", remedy="Choose another name."
        )
    document = tomlkit.parse(read_whole(source))
    document["id"], document["name"] = new_id, title.strip() or new_id
    text = tomlkit.dumps(document)
    read_machine(text, name=target.name)
    write_whole(target, text)
    return new_id


def _edit(
    name: str, first: str, folder: Path, change: Change, ask: Callable[[], None] = lambda: None
) -> None:
    """Change the file of a table, if every table can still be read then and `ask` lets it."""
    place = folder / MACHINES / f"{first}.toml" if name == MACHINES else folder / file_of(name)
    with one_writer(folder):
        before = read_whole(place) if place.is_file() else _HEAD
        try:
            document = tomlkit.parse(before)
        except TOMLKitError as fault:
            raise InputError(
                f"the shop's file is no TOML: {fault}",
                code="table-syntax",
                where=str(place),
                remedy="Mend it by hand first.",
            ) from fault
        change(document)
        text = tomlkit.dumps(document)
        _try(place, text, folder)
        ask()
        write_whole(place, text)


def _try(place: Path, text: str, folder: Path) -> None:
    if place.parent.name == MACHINES:
        read_machine(text, name=place.name)
        return
    with tempfile.TemporaryDirectory(prefix="kerfwright-") as aside:
        copy = Path(aside)
        for own in folder.glob("*.toml"):
            shutil.copyfile(own, copy / own.name)
        (copy / place.name).write_text(text, encoding="utf-8")
        try:
            _ask_materials(copy, folder)
            load_hole_tables(copy)
            load_learning_rules(copy)
            load_cut_limits(copy)
            load_wire_physics(copy)
            load_paper_rules(copy)
        except KerfwrightError as fault:
            where = fault.where.replace(str(copy), str(folder))
            raise InputError(
                fault.message, code=fault.code, where=where, remedy=fault.remedy
            ) from fault


def _ask_materials(copy: Path, folder: Path) -> None:
    """Load the tables as they would be; a material that would be left out anew is refused."""
    tried = load_tables(copy).catalogue.left_out
    if not tried:
        return
    known = {gone.names[0] for gone in load_tables(folder).catalogue.left_out}
    for gone in tried:
        if gone.names[0] not in known:
            raise gone.refused()


def _table(document: TOMLDocument, path: list[str]) -> Any:
    """Return the table at a place, made where it is not there yet."""
    table: Any = document
    for number, part in enumerate(path):
        if part not in table:
            # A table that only holds others needs no line of its own.
            table[part] = tomlkit.table(is_super_table=number < len(path) - 1)
        table = table[part]
    return table


def _remove(document: TOMLDocument, path: list[str]) -> None:
    """Remove a key, and the tables that are empty without it."""
    tables: list[Any] = [document]
    for part in path[:-1]:
        tables.append(tables[-1][part])
    del tables[-1][path[-1]]
    for table, part in zip(reversed(tables[:-1]), reversed(path[:-1]), strict=True):
        below = table[part]
        holds_remarks = isinstance(below, Table) and bool(below.as_string().strip())
        if not len(below) and not holds_remarks:
            del table[part]
