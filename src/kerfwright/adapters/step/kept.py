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

KEPT: Final = "solid-as-read.json"
_OF_READER: Final = ("foundation", "geometry", "adapters/step")
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
    return hashlib.sha256(
        json.dumps([sha256, sorted(request.items()), _reader()]).encode()
    ).hexdigest()


@cache
def _reader() -> str:
    root = Path(__file__).parents[2]
    text = hashlib.sha256()
    for package in _OF_READER:
        for module in sorted((root / package).glob("*.py")):
            text.update(module.read_bytes())
    return text.hexdigest()


def kept_answer(folder: Path, key: str) -> dict[str, Any] | None:
    """Return what was read of a solid; None where nothing is kept, or of something else."""
    try:
        document = json.loads((folder / KEPT).read_bytes())
    except (OSError, ValueError):
        return None
    if not isinstance(document, dict) or document.get("key") != key:
        return None
    answer = document.get("answer")
    return answer if isinstance(answer, dict) else None


def keep_answer(folder: Path, key: str, answer: Mapping[str, Any]) -> None:
    """Keep what was read; where it cannot be kept, it is read anew the next time."""
    content = json.dumps({"key": key, "answer": answer}).encode()
    # The folder may be gone: its job was taken off the list meanwhile.
    with contextlib.suppress(OSError), beside(folder) as aside:
        write_new(aside / KEPT, content)
        (aside / KEPT).replace(folder / KEPT)
