"""What was read of a solid, kept beside it: Open CASCADE takes seconds to read it anew."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.owned_files import beside, write_new
from kerfwright.adapters.solids_here import reader_versions

KEPT: Final = "solid-as-read"
_OF_READER: Final = ("foundation", "geometry", "trade", "adapters/step")
"""Packages whose text decides what is read."""


def kept_key(sha256: str, request: Mapping[str, Any]) -> str:
    """Return what a reading follows from: the file, what was asked, and the reader's own text.

    Parameters
    ----------
    sha256 : str
        Of the file.
    request : mapping
        Unit, number of the solid and way of the wire, as asked.
    """
    follows = [sha256, sorted(request.items()), _reader(), reader_versions()]
    return hashlib.sha256(json.dumps(follows).encode()).hexdigest()


@cache
def _reader() -> str:
    root = Path(__file__).parents[2]
    text = hashlib.sha256()
    for package in _OF_READER:
        for module in sorted((root / package).glob("*.py")):
            text.update(module.read_bytes())
    return text.hexdigest()


def kept_answer(folder: Path, key: str) -> dict[str, Any] | None:
    """Return what was read of a solid; None where nothing whole is kept, or of something else."""
    try:
        head, text = (folder / KEPT).read_text("utf-8").split("\n", 1)
    except (OSError, ValueError):
        return None
    # A byte that changed on the disc would be planned and proved alike.
    if head != f"{key} {hashlib.sha256(text.encode()).hexdigest()}":
        return None
    answer: dict[str, Any] = json.loads(text)
    return answer


def keep_answer(folder: Path, key: str, answer: Mapping[str, Any]) -> None:
    """Keep what was read; where it cannot be kept, it is read anew the next time."""
    text = json.dumps(answer)
    content = f"{key} {hashlib.sha256(text.encode()).hexdigest()}\n{text}".encode()
    # The folder may be gone: its job was taken off the list meanwhile.
    with contextlib.suppress(OSError), beside(folder) as aside:
        write_new(aside / KEPT, content)
        (aside / KEPT).replace(folder / KEPT)
