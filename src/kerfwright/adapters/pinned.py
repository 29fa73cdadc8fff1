"""A PDF or a picture of the drawing that lies beside it in the job's folder, to look at only."""

from __future__ import annotations

import contextlib
import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Final

from kerfwright.adapters.owned_files import beside, write_new
from kerfwright.foundation.errors import FileError, InputError

MOST_BYTES: Final = 32 * 1024 * 1024
"""A larger file is no scan of a drawing that a page could show quickly."""
_MOST_PIXELS: Final = 100_000_000
"""More unpack to half a gigabyte in the browser: an A0 sheet at 400 dpi has 250 million, but is
readable at half of that."""
_NAME: Final = "pinned"
_MOST_LETTERS = 60


class PinnedKind(StrEnum):
    """What can be pinned, by the ending of its file."""

    PDF = "pdf"
    PNG = "png"
    JPEG = "jpg"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pinned:
    """What is pinned to a job.

    Attributes
    ----------
    path : Path
    kind : PinnedKind
    title : str
        Name of the file as it came, as far as a file system keeps it.
    """

    path: Path
    kind: PinnedKind
    title: str


def kind_of(content: bytes) -> PinnedKind:
    """Return what a file is by its first bytes, never by its name.

    Raises
    ------
    InputError
        ``pinned-kind`` if it is none that can be shown; ``pinned-too-large``.

    References
    ----------
    ISO 32000-2, 7.5.2 (``%PDF-``); W3C PNG, 5.2; ITU-T T.81, B.1.1.3 (from memory).
    """
    if len(content) > MOST_BYTES:
        raise InputError(
            f"the file has more than {MOST_BYTES // 2**20} MB",
            code="pinned-too-large",
            remedy="Save it smaller: 200 dots an inch are enough to read a drawing.",
        )
    if content.startswith(b"%PDF-"):
        return PinnedKind.PDF
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        _expect_size(_png_size(content))
        return PinnedKind.PNG
    if content.startswith(b"\xff\xd8\xff"):
        _expect_size(_jpeg_size(content))
        return PinnedKind.JPEG
    raise InputError(
        "the file is no PDF, PNG or JPEG",
        code="pinned-kind",
        remedy="Save the drawing as one of these.",
    )


def _expect_size(size: tuple[int, int] | None) -> None:
    if size is None or not min(size):
        raise InputError("the picture is damaged: it has no size", code="pinned-broken")
    if size[0] * size[1] > _MOST_PIXELS:
        raise InputError(
            f"the picture has {size[0]} × {size[1]} points, more than "
            f"{_MOST_PIXELS // 1_000_000} million",
            code="pinned-too-large",
            remedy="Save it smaller: 200 dots an inch are enough to read a drawing.",
        )


def _png_size(content: bytes) -> tuple[int, int] | None:
    if content[12:16] != b"IHDR" or len(content) < 24:
        return None
    width, height = struct.unpack(">II", content[16:24])
    return width, height


def _jpeg_size(content: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 9 < len(content) and content[at] == 0xFF:
        marker, length = content[at + 1], int.from_bytes(content[at + 2 : at + 4], "big")
        if 0xC0 <= marker <= 0xCF and marker not in {0xC4, 0xC8, 0xCC}:
            height, width = struct.unpack(">HH", content[at + 5 : at + 9])
            return width, height
        at += 2 + max(length, 2)
    return None


def pinned_to(folder: Path) -> Pinned | None:
    """Return what is pinned to the job of a folder."""
    for path in sorted(folder.glob(f"{_NAME} *")):
        kind = next((k for k in PinnedKind if path.name.endswith(f".{k.value}")), None)
        if kind is not None and path.is_file():
            return Pinned(path=path, kind=kind, title=path.name.removeprefix(f"{_NAME} "))
    return None


@contextlib.contextmanager
def laid_ready(folder: Path, name: str, content: bytes) -> Iterator[Pinned]:
    """Write a file where it can be looked at before :func:`pin` lets it take its place.

    What is pinned stays; what is not pinned is gone when this ends.

    Parameters
    ----------
    folder : Path
        Of the job.
    name : str
        As it came; only letters that every file system keeps are used.
    content : bytes

    Raises
    ------
    InputError
        As :func:`kind_of`.
    FileError
        If it cannot be written.
    """
    kind = kind_of(content)
    stem = re.sub(r"[^\w.() -]+", "-", Path(name.replace("\\", "/")).stem).strip(" .-")
    title = f"{stem[:_MOST_LETTERS] or 'drawing'}.{kind.value}"
    with contextlib.ExitStack() as until_done:
        with _kept_in(folder):
            path = until_done.enter_context(beside(folder)) / "new"
            write_new(path, content)
        yield Pinned(path=path, kind=kind, title=title)


def pin(folder: Path, ready: Pinned) -> Pinned:
    """Let what was laid ready take the place of what was pinned before.

    Raises
    ------
    FileError
        If it cannot be kept.
    """
    path = folder / f"{_NAME} {ready.title}"
    before = pinned_to(folder)
    with _kept_in(folder):
        ready.path.replace(path)
        if before is not None and before.path != path:
            before.path.unlink()
    return replace(ready, path=path)


@contextlib.contextmanager
def _kept_in(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise FileError(
            f"cannot keep the file: {fault.strerror or fault}",
            code="jobs-unwritable",
            where=str(folder),
        ) from fault


def take_down(folder: Path) -> None:
    """Take away what is pinned to a job; nothing happens where there is nothing."""
    found = pinned_to(folder)
    if found is not None:
        with contextlib.suppress(FileNotFoundError):
            found.path.unlink()
