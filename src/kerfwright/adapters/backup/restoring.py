"""Check a backup file by file, and put it back: whole, or not at all."""

from __future__ import annotations

import contextlib
import hashlib
import os
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import IO, Final

from kerfwright.adapters.backup.note import (
    MOST_NOTE,
    NOTE,
    ROOT,
    BackupNote,
    KeptFile,
    damaged,
    note_from,
)
from kerfwright.adapters.owned_files import OWNER_ONLY_FOLDER, beside, sync
from kerfwright.foundation.errors import FileError, InputError

Progress = Callable[[str, float], None]
_CHUNK: Final = 1024 * 1024
_TORN: Final = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, NotImplementedError, OSError,
    RuntimeError, ValueError,
)  # fmt: skip
"""What a torn archive makes its reader raise; a changed offset is an error of the file."""
_METHODS: Final = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})
_OWNER_ONLY = 0o600


def _quiet(_step: str, _share: float) -> None: ...


def check_backup(archive: Path, *, progress: Progress = _quiet) -> BackupNote:
    """Hold every file of a backup to its digest, and return what is in it.

    Raises
    ------
    InputError
        Code ``backup-damaged``.
    FileError
        Code ``backup-unreadable``.
    """
    with opened(archive) as (closed, note):
        for count, (name, known) in enumerate(note.files.items()):
            progress(f"checking {name}", count / len(note.files))
            _copied(closed, name, known, None, where=str(archive))
    progress("done", 1.0)
    return note


def restore_backup(archive: Path, folder: Path, *, progress: Progress = _quiet) -> BackupNote:
    """Put a backup back into a folder that is not there yet, or is empty.

    Every file is held to its digest before the folder appears.

    Parameters
    ----------
    archive, folder : Path
    progress : callable, optional

    Raises
    ------
    InputError
        Codes ``backup-damaged``, ``folder-not-empty``.
    FileError
        Codes ``backup-unreadable``, ``backup-unwritable``.
    """
    folder = folder.absolute()
    _expect_free(folder)
    with opened(archive) as (closed, note):
        try:
            folder.parent.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
            with beside(folder.parent) as aside:
                made = aside / "made"
                made.mkdir(mode=OWNER_ONLY_FOLDER)
                put_all(closed, note.files, made, where=str(archive), progress=progress)
                _expect_free(folder)
                if folder.exists():
                    folder.rmdir()
                made.rename(folder)
            sync(folder.parent)
        except FileError:
            raise
        except OSError as fault:
            raise FileError(
                f"cannot restore: {fault.strerror or fault}",
                code="backup-unwritable",
                where=str(fault.filename or folder),
                remedy="Nothing was put into the folder.",
            ) from fault
    progress("done", 1.0)
    return note


def _expect_free(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and (not folder.is_dir() or any(folder.iterdir()))):
        raise InputError(
            "a backup is only put into a folder that is empty or not there yet",
            code="folder-not-empty",
            where=str(folder),
            remedy="Name another; what is there is left as it is.",
        )


def put_all(
    closed: zipfile.ZipFile,
    files: Mapping[str, KeptFile],
    made: Path,
    *,
    where: str,
    progress: Progress,
) -> None:
    """Write files of an open backup below a folder, each held to its digest.

    Raises
    ------
    InputError
        Code ``backup-damaged``.
    OSError
    """
    for count, (name, known) in enumerate(files.items()):
        progress(f"restoring {name}", count / len(files))
        place = made / name
        place.parent.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _OWNER_ONLY)
        with os.fdopen(handle, "wb") as stream:
            _copied(closed, name, known, stream, where=where)
        # By their times the page knows whether prices are of before a change of tables or cuts.
        os.utime(place, ns=(known.mtime_ns, known.mtime_ns))
    for one in (made, *(p for p in made.rglob("*") if p.is_dir())):
        one.chmod(OWNER_ONLY_FOLDER)
    if hasattr(os, "sync"):
        # Once for thousands of files.
        os.sync()


@contextlib.contextmanager
def opened(archive: Path) -> Iterator[tuple[zipfile.ZipFile, BackupNote]]:
    """Open a backup whose files are those of its list, each packed as backups are.

    Raises
    ------
    InputError
        Code ``backup-damaged``.
    FileError
        Code ``backup-unreadable``.
    """
    where = str(archive)
    try:
        with archive.open("rb"):
            pass
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror or fault}", code="backup-unreadable", where=where
        ) from fault
    try:
        closed = zipfile.ZipFile(archive)
    except _TORN as fault:
        raise damaged(f"it is cut short, or no backup at all ({fault})", where=where) from fault
    with closed:
        names = closed.namelist()
        if {one.compress_type for one in closed.infolist()} - _METHODS:
            raise damaged("a file is packed in a way that no backup is", where=where)
        if NOTE not in names:
            raise damaged(f"it has no {NOTE}", where=where)
        if closed.getinfo(NOTE).file_size > MOST_NOTE:
            raise damaged(f"{NOTE} is too large", where=where)
        with _read_faults(NOTE, where):
            text = closed.read(NOTE)
        note = note_from(text, where=where)
        listed = sorted([NOTE, *(f"{ROOT}/{name}" for name in note.files)])
        if sorted(names) != listed:
            odd = sorted(set(names) ^ set(listed)) or ["a file twice"]
            raise damaged(f"its files are not those of its list: {odd[0]}", where=where)
        yield closed, note


@contextlib.contextmanager
def _read_faults(name: str, where: str) -> Iterator[None]:
    try:
        yield
    except _TORN as fault:
        raise damaged(f"{name} cannot be read ({fault})", where=where) from fault


def _copied(
    closed: zipfile.ZipFile, name: str, known: KeptFile, target: IO[bytes] | None, *, where: str
) -> None:
    """Copy a file out of an archive, or only look at it; never more than it should have."""
    found, size = hashlib.sha256(), 0
    for chunk in _chunks(closed, name, where):
        size += len(chunk)
        if size > known.size:
            break
        found.update(chunk)
        if target is not None:
            target.write(chunk)
    if size != known.size or found.hexdigest() != known.sha256:
        raise damaged(f"{name} is not what was kept", where=where)


def _chunks(closed: zipfile.ZipFile, name: str, where: str) -> Iterator[bytes]:
    with _read_faults(name, where), closed.open(f"{ROOT}/{name}") as stream:
        while chunk := stream.read(_CHUNK):
            yield chunk
