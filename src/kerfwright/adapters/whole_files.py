"""Files of a shop: read with a named fault, written whole or not at all, one writer at a time."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from kerfwright.adapters.owned_files import OWNER_ONLY_FOLDER, beside, sync, write_new
from kerfwright.foundation.errors import FileError

LOCK: Final = ".writing"


def read_whole(path: Path) -> str:
    """Return the text of a file, line ends as they are.

    Raises
    ------
    FileError
        Code ``shop-folder-unreadable``.
    """
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as fault:
        raise FileError(
            f"cannot be read: {fault}", code="shop-folder-unreadable", where=str(path)
        ) from fault


def write_whole(path: Path, text: str) -> None:
    """Write a file whole or not at all, its folder made for its owner only.

    Raises
    ------
    FileError
        Code ``shop-folder-unwritable``.
    """
    try:
        path.parent.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        with beside(path.parent) as aside:
            write_new(aside / path.name, text.encode("utf-8"))
            (aside / path.name).replace(path)
        sync(path.parent)
    except OSError as fault:
        raise _unwritable(path, fault) from fault


@contextlib.contextmanager
def one_writer(folder: Path, *, makes_folder: bool = True) -> Iterator[None]:
    """Wait until nobody else writes to a folder, and keep others waiting meanwhile.

    The system lets go of the lock when a process ends, however it ends.

    Parameters
    ----------
    folder : Path
    makes_folder : bool
        Whether a folder that is not there is made.

    Raises
    ------
    FileNotFoundError
        If it is not there and is not made.
    FileError
        Code ``shop-folder-unwritable``.
    """
    place = folder / LOCK
    try:
        if makes_folder:
            folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        stream = place.open("a+b")
    except FileNotFoundError:
        raise
    except OSError as fault:
        raise _unwritable(place, fault) from fault
    # Closing the file lets go of the lock.
    with stream:
        try:
            _lock(stream.fileno())
        except OSError as fault:
            raise _unwritable(place, fault) from fault
        yield


def _lock(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX)


def _unwritable(path: Path, fault: OSError) -> FileError:
    return FileError(
        f"cannot be written: {fault.strerror or fault}",
        code="shop-folder-unwritable",
        where=str(path),
        remedy="Choose a folder that you may write to.",
    )
