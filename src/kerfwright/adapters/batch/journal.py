"""The journal of a batch: a file that is only ever added to.

One line an entry: eight hexadecimal digits of its CRC-32, a space, one JSON object.  A line is on
the disc before the next drawing is handed out for it (``fsync``: POSIX.1-2017).  What a kill or a
power cut left of a last line fails its check and is passed over; the entries before it stand.  Of
two entries with one key the later counts.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
import threading
import zlib
from dataclasses import asdict, fields
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Final, Self

from kerfwright.adapters.owned_files import OWNER_ONLY_FOLDER, sync
from kerfwright.app.batch.course import Entry
from kerfwright.app.batch.records import Outcome, State
from kerfwright.foundation.errors import FileError, InputError

_FORMAT, _VERSION = "kerfwright-batch-journal", 1
_ANEW: Final = "anew"
_NAMES: Final = frozenset(field.name for field in fields(Outcome))


class FileJournal:
    """A journal on file, held by one batch at a time.

    Parameters
    ----------
    path : Path
        Made if absent, with its folder, for their owner only.
    anew : bool
        Count nothing that is in it; a line says so, so that this outlives a stop.

    Raises
    ------
    FileError
        Code ``batch-unwritable`` or ``batch-held``.
    InputError
        Code ``batch-other-version`` or ``batch-not-ours``.
    """

    def __init__(self, path: Path, *, anew: bool = False) -> None:
        self._path = path
        self._places: dict[str, int] = {}
        # Entries are looked for by the one who hands out and added by the one who collects.
        self._turn = threading.Lock()
        self.spoilt = 0
        """Lines that fail their check."""
        try:
            path.parent.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
            is_new = not path.exists()
            self._stream: BinaryIO = os.fdopen(
                os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | _BINARY, 0o600), "r+b"
            )
        except OSError as fault:
            raise _unwritable(path, fault) from fault
        with contextlib.ExitStack() as unless_ready:
            unless_ready.callback(self._stream.close)
            self._hold()
            self._read()
            if is_new or self._stream.seek(0, os.SEEK_END) == 0:
                self._write({"format": _FORMAT, "version": _VERSION})
                sync(path.parent)
            if anew:
                self._write({_ANEW: True})
                self._places.clear()
            unless_ready.pop_all()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        _fault: BaseException | None,
        _trace: TracebackType | None,
    ) -> None:
        self._stream.close()

    def find(self, key: str) -> Entry | None:
        """Return the last entry of a key; it is read from the file, so that memory stays small."""
        with self._turn:
            place = self._places.get(key)
            if place is None:
                return None
            self._stream.seek(place)
            found = _checked(self._stream.readline())
        return None if found is None else _entry(found)

    def add(self, entry: Entry) -> None:
        """Keep an entry; when this returns it is on the disc.

        Raises
        ------
        FileError
            Code ``batch-unwritable``.
        """
        document = {
            "key": entry.key,
            "name": entry.name,
            "limit_s": entry.limit_s,
            "seconds": entry.seconds,
            "job": entry.job,
            "outcome": asdict(entry.outcome),
        }
        with self._turn:
            self._places[entry.key] = self._write(document)

    def _write(self, document: dict[str, Any]) -> int:
        body = json.dumps(document, ensure_ascii=False, allow_nan=False).encode()
        try:
            place = self._stream.seek(0, os.SEEK_END)
            self._stream.write(b"%08x %s\n" % (zlib.crc32(body), body))
            self._stream.flush()
            os.fsync(self._stream.fileno())
        except OSError as fault:
            raise _unwritable(self._path, fault) from fault
        return place

    def _read(self) -> None:
        """Note where each entry stands; end a torn last line, so that the next is whole."""
        self._stream.seek(0)
        place, line, is_first = 0, b"\n", True
        for line in self._stream:
            found = _checked(line)
            if is_first:
                self._know(found)
                is_first = False
            elif found is None:
                self.spoilt += 1
            elif _ANEW in found:
                self._places.clear()
            elif "key" in found:
                self._places[found["key"]] = place
            place += len(line)
        if not line.endswith(b"\n"):
            self._stream.seek(0, os.SEEK_END)
            self._stream.write(b"\n")

    def _know(self, head: dict[str, Any] | None) -> None:
        """Refuse a file that is no journal of ours."""
        if head is None or head.get("format") != _FORMAT:
            raise InputError(
                "this is no journal of a batch",
                code="batch-not-ours",
                where=str(self._path),
                remedy="Choose another folder with -o, or move the file away.",
            )
        if head.get("version") != _VERSION:
            raise InputError(
                f"the journal is of version {head.get('version')}, read is {_VERSION}",
                code="batch-other-version",
                where=str(self._path),
                remedy="Choose another folder with -o.",
            )

    def _hold(self) -> None:
        """Keep other batches out; the system lets go when the process ends, however it ends."""
        try:
            if sys.platform == "win32":
                import msvcrt

                msvcrt.locking(self._stream.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(self._stream.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as fault:
            raise FileError(
                "another batch is writing here",
                code="batch-held",
                where=str(self._path),
                remedy="Wait for it or stop it, or choose another folder with -o.",
            ) from fault


_BINARY: Final = getattr(os, "O_BINARY", 0)


def _checked(line: bytes) -> dict[str, Any] | None:
    """Return what a line holds; None where it is not as it was written."""
    digits, _, body = line.removesuffix(b"\n").partition(b" ")
    try:
        if int(digits, 16) != zlib.crc32(body):
            return None
        found = json.loads(body)
    except ValueError:
        return None
    return found if isinstance(found, dict) else None


def _entry(found: dict[str, Any]) -> Entry:
    said = found["outcome"]
    return Entry(
        key=found["key"],
        name=found["name"],
        limit_s=found["limit_s"],
        seconds=found["seconds"],
        job=found["job"],
        outcome=outcome_from(said),
    )


def outcome_from(said: dict[str, Any]) -> Outcome:
    """Return an outcome as it was told by another process or kept in a journal."""
    values = {name: value for name, value in said.items() if name in _NAMES}
    return Outcome(**{**values, "state": State(values["state"])})


def _unwritable(path: Path, fault: OSError) -> FileError:
    return FileError(
        f"cannot be written: {fault.strerror or fault}",
        code="batch-unwritable",
        where=str(path),
        remedy="Make room or choose another folder with -o; what was done is kept.",
    )
