"""What people marked of a job at its machine, kept in the job's folder as ``marks.json``.

Nothing that was marked is ever lost: a mark that was wrong is taken back, and stays in the file.
"""

from __future__ import annotations

import json
import secrets
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.json_shapes import to_text
from kerfwright.adapters.whole_files import one_writer, write_whole
from kerfwright.app.marks import Mark, MarkKind
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError

MARKS: Final = "marks.json"
_FORMAT, _VERSION = "kerfwright-marks", 1
_MOST: Final = 10_000
"""More marks than a job has stages by far: a program that repeats itself."""
_NAMES: Final = tuple(f.name for f in fields(Mark))
Document = dict[str, Any]


def read_marks(folder: Path) -> tuple[Mark, ...]:
    """Return what was marked of a job and stands, in the order in which it was.

    Raises
    ------
    FileError
        Code ``file-unreadable``.
    InputError
        Code ``marks-broken``.
    """
    return tuple(mark for mark, taken_back in _read(folder) if not taken_back)


def add_mark(folder: Path, **said: Any) -> Mark:
    """Keep a mark of a job.

    Parameters
    ----------
    folder : Path
        Of the job.
    **said
        As :class:`kerfwright.app.marks.Mark`, without ``id``.

    Raises
    ------
    InputError
        Codes ``mark-odd``, ``marks-full``, ``marks-broken``.
    FileError
    """
    mark = Mark(id=secrets.token_hex(4), **said)
    with one_writer(folder, makes_folder=False):
        rows = _read(folder)
        if len(rows) >= _MOST:
            raise InputError(
                f"this job has {_MOST} marks", code="marks-full", where=str(folder / MARKS),
                remedy="Look what marks it.",
            )  # fmt: skip
        _write(folder, [*rows, (mark, "")])
    return mark


def take_mark_back(folder: Path, mark_id: str, *, when: datetime) -> Mark:
    """Let a mark stand no longer, and return it.

    Raises
    ------
    UnknownNameError
        Code ``mark-unknown``.
    InputError, FileError
    """
    with one_writer(folder, makes_folder=False):
        rows = _read(folder)
        for number, (mark, taken_back) in enumerate(rows):
            if mark.id == mark_id and not taken_back:
                rows[number] = (mark, _said(when))
                _write(folder, rows)
                return mark
    raise UnknownNameError(f"there is no mark {mark_id!r} that stands", code="mark-unknown")


def mark_shape(mark: Mark) -> Document:
    """Return a mark as a document; what was not said is left out."""
    document: Document = {}
    for name in _NAMES:
        value = getattr(mark, name)
        if value is None or value == "":
            continue
        document[name] = _said(value) if isinstance(value, datetime) else value
    return document


def _read(folder: Path) -> list[tuple[Mark, str]]:
    place = folder / MARKS
    try:
        document = json.loads(place.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return []
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}", code="file-unreadable", where=str(place),
            remedy="Check the path.",
        ) from fault  # fmt: skip
    except ValueError as fault:
        raise _broken(place, f"is no JSON: {fault}") from fault
    try:
        if (document["format"], document["version"]) != (_FORMAT, _VERSION):
            raise _broken(place, f"holds no marks of version {_VERSION}")
        return [_mark(dict(row)) for row in document["marks"]]
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        if isinstance(fault, InputError) and fault.code == "marks-broken":
            raise
        raise _broken(place, f"lacks or has odd values: {fault}") from fault


def _mark(row: Document) -> tuple[Mark, str]:
    taken_back = str(row.pop("taken_back", ""))
    row |= {"kind": MarkKind(row["kind"]), "at": datetime.fromisoformat(row["at"])}
    return Mark(**row), taken_back


def _write(folder: Path, rows: list[tuple[Mark, str]]) -> None:
    shapes = [mark_shape(mark) | ({"taken_back": back} if back else {}) for mark, back in rows]
    write_whole(folder / MARKS, to_text({"format": _FORMAT, "version": _VERSION, "marks": shapes}))


def _said(moment: datetime) -> str:
    return moment.isoformat(sep=" ", timespec="minutes")


def _broken(place: Path, what: str) -> InputError:
    return InputError(
        what, code="marks-broken", where=str(place),
        remedy="Put the file of a backup back, or move it away and mark anew.",
    )  # fmt: skip
