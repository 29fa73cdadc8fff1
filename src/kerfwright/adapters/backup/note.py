"""What a backup says of itself, in its last member."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any, Final

from kerfwright.foundation.errors import InputError

NOTE: Final = "kerfwright-backup.json"
ROOT: Final = "jobs"
"""Folder of the archive under which the files are."""
MOST_NOTE: Final = 256 * 1024 * 1024
_FORMAT, _VERSION = "kerfwright-backup", 1
_NOT_IN_NAMES: Final = frozenset("\\:\0")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptFile:
    """A file of a backup.

    Attributes
    ----------
    sha256 : str
    size : int
        Bytes.
    mtime_ns : int
        When it was written last.
    """

    sha256: str
    size: int
    mtime_ns: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupNote:
    """What is in a backup.

    Attributes
    ----------
    made : str
        When, ISO 8601.
    kerfwright : str
        Version that made it.
    shop : str
        Name of the shop, see :func:`kerfwright.adapters.index.opening.shop_of`.
    jobs, removed : int
        Jobs on the list, and taken off it.
    left_out : tuple of str
        What is no file of its own, such as a link to elsewhere.
    files : mapping of str to KeptFile
        By the path from the folder of the jobs.
    """

    made: str
    kerfwright: str
    shop: str
    jobs: int
    removed: int
    left_out: tuple[str, ...]
    files: Mapping[str, KeptFile]


def note_text(note: BackupNote) -> str:
    """Return the text of a note."""
    document = {
        "format": _FORMAT,
        "version": _VERSION,
        "made": note.made,
        "kerfwright": note.kerfwright,
        "shop": note.shop,
        "jobs": note.jobs,
        "removed": note.removed,
        "left_out": list(note.left_out),
        "files": {name: [one.sha256, one.size, one.mtime_ns] for name, one in note.files.items()},
    }
    return json.dumps(document, ensure_ascii=False, indent=0) + "\n"


def note_from(text: bytes, *, where: str) -> BackupNote:
    """Return the note of a text.

    Raises
    ------
    InputError
        Code ``backup-damaged``.
    """
    try:
        found = json.loads(text)
        return _note(found)
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        raise damaged(f"{NOTE} cannot be used: {fault}", where=where) from fault


def _note(found: Any) -> BackupNote:
    if (found["format"], found["version"]) != (_FORMAT, _VERSION):
        raise ValueError("not a backup of this form")
    return BackupNote(
        made=str(found["made"]),
        kerfwright=str(found["kerfwright"]),
        shop=str(found["shop"]),
        jobs=int(found["jobs"]),
        removed=int(found["removed"]),
        left_out=tuple(str(one) for one in found["left_out"]),
        files={safe_name(str(n)): _kept(one) for n, one in found["files"].items()},
    )


def _kept(one: Any) -> KeptFile:
    sha256, size, mtime_ns = one
    return KeptFile(sha256=str(sha256), size=int(size), mtime_ns=int(mtime_ns))


def safe_name(name: str) -> str:
    """Return a path that stays below where it is put; raise ValueError for any other."""
    path = PurePosixPath(name)
    is_plain = str(path) == name and not path.is_absolute() and ".." not in path.parts
    if not name or not is_plain or _NOT_IN_NAMES & set(name):
        raise ValueError(f"a file would lie elsewhere: {name!r}")
    return name


def damaged(why: str, *, where: str) -> InputError:
    """Return the fault of an archive that is not as it was made."""
    return InputError(
        f"this backup is damaged: {why}",
        code="backup-damaged",
        where=where,
        remedy="Take another copy of it, or an earlier backup; nothing was restored from this one.",
    )
