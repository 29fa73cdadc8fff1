"""What differs between two versions of a job: what is asked, prices, figures, files."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.kept_tables import differences
from kerfwright.adapters.versions import files_of, read_version
from kerfwright.foundation.errors import InputError

_NO_WISH: Final = frozenset(
    {"format", "version", "drawing", "drawing_sha256", "experience", "tables_sha256", "kerfwright"}
)
"""Entries of ``job.toml`` that nobody asks for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One difference.

    Attributes
    ----------
    kind : str
        ``asked``, ``price``, ``figure``, ``made by`` or ``file``.
    name : str
    before, after : str
        Empty where there is none.
    """

    kind: str
    name: str
    before: str
    after: str


def changes(folder: Path, first: int, second: int) -> tuple[Change, ...]:
    """Return what is other in the second of two versions of a job.

    Parameters
    ----------
    folder : Path
        Of the job.
    first, second : int

    Raises
    ------
    UnknownNameError, FileError, InputError
        As :func:`kerfwright.adapters.versions.files_of`.
    """
    notes = [read_version(folder, number) for number in (first, second)]
    files = [files_of(folder, number) for number in (first, second)]
    asked = [_asked(one.get("job.toml")) for one in files]
    figures = [_figures(one.get("tables.json")) for one in files]
    prices = [
        {f"each of {quantity}": f"{each} {one.currency}" for quantity, each in one.prices.items()}
        for one in notes
    ]
    made = [{"kerfwright": one.kerfwright} for one in notes]
    names = [{name: f"{len(data)} bytes" for name, data in one.items()} for one in files]
    other = {n for n in names[0].keys() & names[1].keys() if files[0][n] != files[1][n]}
    for name in other:
        names[1][name] += " of other content"
    return (
        *_between("asked", *asked),
        *_between("price", *prices),
        *(
            Change(kind="figure", name=key, before=_worded(was), after=_worded(now))
            for key, was, now in differences(*figures)
        ),
        *_between("made by", *made),
        *_between("file", *names),
    )


def _between(kind: str, before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[Change]:
    for name in sorted(before.keys() | after.keys()):
        was, now = before.get(name, ""), after.get(name, "")
        if was != now:
            yield Change(kind=kind, name=name, before=was, after=now)


def _asked(text: bytes | None) -> dict[str, str]:
    try:
        document = tomllib.loads((text or b"").decode())
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise InputError(f"job.toml cannot be read: {fault}", code="version-damaged") from fault
    found: dict[str, str] = {}
    for name, value in document.items():
        if name in _NO_WISH:
            continue
        if isinstance(value, dict):
            found |= {f"{name} {key}": _worded(one) for key, one in value.items()}
        else:
            found[name.replace("_", " ")] = _worded(value)
    return found


def _figures(text: bytes | None) -> Mapping[str, Any]:
    if text is None:
        return {}
    try:
        document = json.loads(text)
    except ValueError as fault:
        raise InputError(f"tables.json cannot be read: {fault}", code="version-damaged") from fault
    return {**document.get("tables", {}), "machine": document.get("machine", {})}


def _worded(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return ", ".join(_worded(one) for one in value)
    return f"{value:g}" if isinstance(value, float) else str(value)
