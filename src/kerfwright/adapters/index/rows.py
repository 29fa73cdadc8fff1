"""Between an enquiry and its row in the index."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from kerfwright.adapters.enquiry_folder import ENQUIRY
from kerfwright.adapters.sealed_jobs import is_opened
from kerfwright.adapters.versions import VERSIONS
from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.foundation.errors import KerfwrightError

_SETTLED_NS: Final = 2_000_000_000
"""A file written less than this ago may be written again within one tick of its clock (up to 2 s
on FAT file systems, from memory), so that its time says nothing yet."""
_NOTHING: Final[dict[str, Any]] = {
    "stamp": "",
    "fault": "",
    "fault_where": "",
    "document": "",
    "words": "",
    "drawing_sha256": "",
    "shape": "",
    "stage": "",
    "added": "",
    "title": "",
    "customer": "",
    "material": "",
    "due": "",
    "each": None,
    "revision": 0,
}
_DIGITS: Final = re.compile("[0-9]+")
_WIDTH: Final = 12
"""Digits of a number in a name; order and part numbers have less."""
_LONG_AGO: Final = "0001"
"""Of a job whose file says when it came in, in words that are no time."""
_PLAIN: Final = (
    "id",
    "title",
    "drawing",
    "drawing_sha256",
    "added",
    "revision",
    "proved_revision",
    "figures",
)


def stamp_of(place: Path | os.DirEntry[str]) -> str | None:
    """Return what tells whether a job folder changed; None for one that is no job of the index.

    A sealed job that is open is none: nothing of it is written anywhere in clear.

    Parameters
    ----------
    place : Path or DirEntry
        Of the job.
    """
    # Thousands of them at a time: without objects for each path.
    try:
        folder, file = place.stat(), os.stat(os.path.join(place, ENQUIRY))  # noqa: PTH116, PTH118
    except OSError:
        return None
    if is_opened(place):
        return None
    try:
        kept = os.stat(os.path.join(place, VERSIONS)).st_mtime_ns  # noqa: PTH116, PTH118
    except OSError:
        kept = 0
    return f"{folder.st_mtime_ns} {file.st_mtime_ns} {kept} {file.st_size}"


def trusted(stamp: str) -> str:
    """Return a stamp that may be kept: nothing while the files are too young for their times."""
    newest = max(int(part) for part in stamp.split()[:3])
    return stamp if time.time_ns() - newest > _SETTLED_NS else ""


def row_of(enquiry: Enquiry, *, stamp: str = "") -> dict[str, Any]:
    """Return the row of an enquiry."""
    asked, outcome = enquiry.asked, enquiry.outcome
    document = {name: getattr(enquiry, name) for name in _PLAIN} | {
        "stage": enquiry.stage.value,
        "asked": dict(asked),
        "outcome": dict(outcome),
    }
    return {
        **_NOTHING,
        "id": enquiry.id,
        "stamp": stamp,
        "document": json.dumps(document, ensure_ascii=False),
        "words": words_of(enquiry),
        "drawing_sha256": enquiry.drawing_sha256,
        "shape": outcome.get("shape", ""),
        "stage": enquiry.stage.value,
        "added": utc(enquiry.added) or _LONG_AGO,
        "title": counted_text(enquiry.title),
        "customer": counted_text(asked.get("customer", "")),
        "material": counted_text(asked.get("material", "")),
        "due": asked.get("due", "")[:20],
        "each": _number(outcome.get("each", "")),
        "revision": enquiry.revision,
    }


def broken_row(name: str, fault: KerfwrightError, *, stamp: str) -> dict[str, Any]:
    """Return the row of a job that cannot be read."""
    said = {"fault": kept_text(fault.message), "fault_where": kept_text(fault.where)}
    return {**_NOTHING, "id": name, "stamp": stamp, **said}


def enquiry_of(document: str) -> Enquiry:
    """Return the enquiry of a row, without the steps that can be undone."""
    found = json.loads(document)
    return Enquiry(
        **{name: found[name] for name in _PLAIN},
        stage=Stage(found["stage"]),
        asked=_texts(found["asked"]),
        outcome=_texts(found["outcome"]),
    )


def words_of(enquiry: Enquiry) -> str:
    """Return what a search looks at, casefolded."""
    texts = (enquiry.title, enquiry.id, *enquiry.asked.values(), enquiry.stage.value)
    return kept_text(" ".join(texts)).casefold()


def counted_text(text: str) -> str:
    """Return what a text is sorted by: plate 2 before plate 10, in any case."""
    return _DIGITS.sub(lambda found: found[0].zfill(_WIDTH), kept_text(text).casefold())


def kept_text(text: str) -> str:
    """Return a text that every database takes: PostgreSQL keeps no NUL, and neither lone halves."""
    return text.replace("\0", " ").encode("utf-8", "replace").decode()


def _texts(found: Mapping[str, str]) -> Mapping[str, str]:
    return MappingProxyType(dict(found))


def utc(added: str) -> str:
    """Return a time in UTC, so that texts sort as times do; empty for what is no time."""
    try:
        when = datetime.fromisoformat(added)
    except ValueError:
        return ""
    return (when if when.tzinfo else when.replace(tzinfo=UTC)).astimezone(UTC).isoformat()


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
