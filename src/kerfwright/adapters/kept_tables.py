"""The figures of a job kept as they were: every table and the machine, in one file beside it.

The file holds the shipped tables with the shop's own values laid over them, and the machine
definition.  Wherever a folder of tables is taken, this file is taken too, and stands for all of
them: a later release or an edited table does not move a price that was given.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from kerfwright.foundation.errors import FileError, InputError
from kerfwright.foundation.version import __version__

_FORMAT, _VERSION = "kerfwright-tables", 1
_SUFFIX: Final = ".json"
MACHINE: Final = "machine"
_WITHOUT: Final = (
    "Put the copy of a backup back, or compute with today's figures (price --today); "
    "estimate.json of the job holds what was quoted."
)


def is_kept(place: Path | str | None) -> bool:
    """Return whether a place of tables, or of a machine, is a file of kept figures."""
    return place is not None and Path(place).suffix == _SUFFIX


def kept_text(tables: Mapping[str, Mapping[str, Any]], machine: Mapping[str, Any]) -> str:
    """Return the text of a file of kept figures.

    Parameters
    ----------
    tables : mapping of str to mapping
        Each table by the name of its file, as it was read.
    machine : mapping
        The machine definition as it was read.
    """
    document = {
        "format": _FORMAT,
        "version": _VERSION,
        "kerfwright": __version__,
        MACHINE: machine,
        "tables": tables,
    }
    # The order of materials and passes means something, so that keys stay as they were read.
    return json.dumps(document, ensure_ascii=False, separators=(",", ":")) + "\n"


def kept_table(path: Path, name: str) -> dict[str, Any]:
    """Return one table of a file of kept figures, a copy to read.

    Raises
    ------
    FileError
        Code ``table-unreadable``.
    InputError
        Code ``table-syntax`` or ``kept-tables-other-version``.
    """
    found = document_of(path)["tables"].get(name)
    if not isinstance(found, dict):
        raise InputError(
            f"holds no {name}",
            code="kept-tables-other-version",
            where=str(path),
            remedy=remedy_of(path),
        )
    return dict(found)


def kept_machine(path: Path) -> dict[str, Any]:
    """Return the machine definition of a file of kept figures.

    Raises
    ------
    FileError, InputError
        As :func:`kept_table`.
    """
    return dict(document_of(path)[MACHINE])


def unchanged(path: Path, *, sha256: str) -> Path:
    """Return the file of kept figures if it is the one that was written.

    Raises
    ------
    FileError
        Code ``table-unreadable``.
    InputError
        Code ``kept-tables-changed``.
    """
    try:
        found = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as fault:
        raise FileError(
            f"the figures kept with the job cannot be read: {fault.strerror}",
            code="table-unreadable",
            where=str(path),
            remedy=_WITHOUT,
        ) from fault
    if found != sha256:
        raise InputError(
            "the figures kept with the job were changed",
            code="kept-tables-changed",
            where=str(path),
            remedy=_WITHOUT,
        )
    return path


def remedy_of(path: Path) -> str:
    """Say what helps where the figures of a job do not fit this version of kerfwright."""
    made = document_of(path)["kerfwright"]
    which = (
        f"an earlier build of kerfwright {made}: compute the job with that build"
        if made == __version__
        else f"kerfwright {made}, this is {__version__}: compute the job with that version"
    )
    return (
        f"These figures were kept by {which}, or with today's figures (price --today); "
        "estimate.json of the job holds what was quoted."
    )


def document_of(path: Path) -> dict[str, Any]:
    """Return the whole document of a file of kept figures.

    Raises
    ------
    FileError, InputError
        As :func:`kept_table`.
    """
    try:
        stat = path.stat()
        return _parsed(path.resolve(), stat.st_mtime_ns, stat.st_size)
    except OSError as fault:
        raise FileError(
            f"cannot be read: {fault.strerror}", code="table-unreadable", where=str(path)
        ) from fault


@lru_cache(maxsize=8)
def _parsed(path: Path, _changed_ns: int, _size: int) -> dict[str, Any]:
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as fault:
        raise InputError(f"is no JSON: {fault}", code="table-syntax", where=str(path)) from fault
    head = (document.get("format"), document.get("version")) if isinstance(document, dict) else ()
    parts = ("kerfwright", MACHINE, "tables")
    if head != (_FORMAT, _VERSION) or not all(part in document for part in parts):
        raise InputError(
            f"is no file of kept figures of version {_VERSION}",
            code="table-syntax",
            where=str(path),
            remedy="Give the tables.json of a job folder, or a folder of tables.",
        )
    return dict(document)


def differences(
    before: Mapping[str, Any], after: Mapping[str, Any], *, under: str = ""
) -> Iterator[tuple[str, object, object]]:
    """Go through the figures that differ: dotted key, value before and after; None is absent.

    What is only said about a figure, its tag and source, is passed over.
    """
    for key in dict.fromkeys((*before, *after)):
        here = f"{under}{key}"
        one, other = (_bare(side.get(key)) for side in (before, after))
        if isinstance(one, Mapping) and isinstance(other, Mapping):
            yield from differences(one, other, under=f"{here}.")
        elif one != other and key != "citations":
            yield here, one, other


def _bare(value: object) -> object:
    return value["value"] if isinstance(value, Mapping) and "value" in value else value
