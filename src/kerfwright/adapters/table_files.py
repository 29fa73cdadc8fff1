"""Files of tables: ours with the shop's over them, or those a job kept."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.figures import (
    OWN_REMEDY,
    SHIPPED_REMEDY,
    Node,
    TableFile,
    is_shipped,
)
from kerfwright.adapters.kept_tables import is_kept, kept_table, remedy_of
from kerfwright.adapters.whole_files import write_whole
from kerfwright.foundation.errors import FileError, InputError

SHIPPED: Final = Path(__file__).parents[1] / "data"

_LEAST, _MOST = 1e-12, 1e12
"""Of any number of a table: nothing of this trade is smaller or larger, and no sum runs over."""
Stamp = tuple[tuple[str, int, int], ...]


def stamp(folder: Path | None, *names: str) -> Stamp:
    """Return name, time of change and size of each of a shop's tables that is there."""
    if folder is None:
        return ()
    paths = [folder] if is_kept(folder) else [folder / name for name in names]
    return tuple(
        (path.name, path.stat().st_mtime_ns, path.stat().st_size)
        for path in paths
        if path.is_file()
    )


def copy_shipped(name: str, target: Path) -> Path:
    """Write a shipped table to a file of the shop's own, with its remarks and sources.

    Parameters
    ----------
    name : str
        File below the shipped tables, such as ``rates.toml``.
    target : Path
        The file; or a folder, where it keeps its name.

    Returns
    -------
    Path
        What was written.

    Raises
    ------
    FileError
        Code ``file-in-the-way`` if there is such a file, ``shop-folder-unwritable`` if it cannot
        be written.
    """
    path = target if target.suffix == ".toml" else target / Path(name).name
    if path.exists():
        raise FileError(
            "is there already, and nothing was written",
            code="file-in-the-way",
            where=str(path),
            remedy="Choose another name, or move that file away.",
        )
    write_whole(path, (SHIPPED / name).read_text(encoding="utf-8"))
    return path


@lru_cache(maxsize=64)
def _parsed(text: str) -> tuple[dict[str, Any], tuple[str, float] | None]:
    """Return a table by its text, and its first number that none of this trade can be.

    The same dozen are read for every job of a batch.
    """
    found = tomllib.loads(text)
    odd = (one for one in numbers_of(found) if one[1] and not _LEAST <= abs(one[1]) <= _MOST)
    return found, next(odd, None)


def _parse(path: Path) -> dict[str, Any]:
    try:
        found, odd = _parsed(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise FileError(
            f"cannot be read: {error.strerror}", code="table-unreadable", where=str(path)
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"is no TOML: {error}", code="table-syntax", where=str(path)) from error
    if odd is not None:
        key, value = odd
        known = SHIPPED / path.name
        raise InputError(
            f"{key} is {value!r}; expected a number of at most {_MOST:g}.",
            code="table-value",
            where=str(path),
            remedy=SHIPPED_REMEDY if known.is_file() and is_shipped(known, key) else OWN_REMEDY,
        )
    return deepcopy(found)


def numbers_of(value: object, key: str = "") -> Iterator[tuple[str, float]]:
    """Yield every number of a parsed document with its dotted key."""
    if isinstance(value, dict):
        for name, below in value.items():
            yield from numbers_of(below, f"{key}.{name}" if key else name)
    elif isinstance(value, list):
        for below in value:
            yield from numbers_of(below, key)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield key, value


def open_table(name: str, folder: Path | None) -> Node:
    """Return a shipped table with the shop's file of that name, where there is one, over it.

    Of a file of kept figures, the table of that name as it was.
    """
    data, replaced = _read(name, folder)
    own = None if folder is None else folder / name
    file = TableFile(shipped=SHIPPED / name, own=own, replaced=replaced, citations={})
    if folder is not None and is_kept(folder):
        file = replace(file, shipped=folder, own=None, remedy=remedy_of(folder))
    cited = Node(data=data, path="", file=file).table("citations") if "citations" in data else None
    citations = {key: cited.text(key) for key in cited.data} if cited is not None else {}
    data.pop("citations", None)
    return Node(data=data, path="", file=replace(file, citations=citations))


def _read(name: str, folder: Path | None) -> tuple[dict[str, Any], frozenset[str]]:
    """Return a table and the dotted keys that the shop's file gives."""
    if folder is not None and is_kept(folder):
        return kept_table(folder, name), frozenset()
    data = _parse(SHIPPED / name)
    replaced: set[str] = set()
    if folder is not None and (folder / name).is_file():
        data = _merged(data, _parse(folder / name), path="", replaced=replaced)
    return data, frozenset(replaced)


def merged_table(name: str, folder: Path | None) -> dict[str, Any]:
    """Return a table by the name of its file, shop's values over shipped ones."""
    return _read(name, folder)[0]


def own_table(name: str, folder: Path | None) -> dict[str, Any]:
    """Return what the shop's own file of a table says; empty where there is none."""
    if folder is None or not (folder / name).is_file():
        return {}
    return _parse(folder / name)


def every_table(folder: Path | None) -> dict[str, dict[str, Any]]:
    """Return every table by the name of its file, shop's values over shipped ones, to be kept."""
    return {path.name: _read(path.name, folder)[0] for path in sorted(SHIPPED.glob("*.toml"))}


def _merged(
    base: dict[str, Any], over: dict[str, Any], *, path: str, replaced: set[str]
) -> dict[str, Any]:
    """Lay the shop's values over ours; a figure is replaced whole, with its source."""
    result = dict(base)
    for key, value in over.items():
        here = f"{path}{key}"
        below = base.get(key)
        is_figure = isinstance(below, dict) and "value" in below
        if isinstance(value, dict) and isinstance(below, dict) and not is_figure:
            result[key] = _merged(below, value, path=here + ".", replaced=replaced)
        else:
            replaced.add(here)
            result[key] = value
    return result
