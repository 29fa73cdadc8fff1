"""Files of tables: ours with the shop's over them, or those a job kept."""

from __future__ import annotations

import tomllib
from copy import deepcopy
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.figures import Node, TableFile
from kerfwright.adapters.kept_tables import is_kept, kept_table, remedy_of
from kerfwright.foundation.errors import FileError, InputError

SHIPPED: Final = Path(__file__).parents[1] / "data"

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


@lru_cache(maxsize=64)
def _parsed(text: str) -> dict[str, Any]:
    """Return a table by its text: the same dozen are read for every job of a batch."""
    return tomllib.loads(text)


def _parse(path: Path) -> dict[str, Any]:
    try:
        return deepcopy(_parsed(path.read_text(encoding="utf-8")))
    except OSError as error:
        raise FileError(
            f"cannot be read: {error.strerror}", code="table-unreadable", where=str(path)
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"is no TOML: {error}", code="table-syntax", where=str(path)) from error


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
