"""What is to be told and was not yet: files in ``.outbox`` of the jobs, until they are through.

A computer that is off misses nothing: what changed is seen by comparing the jobs with what was
seen of them last, and what could not be told is tried again, for some three days.
"""

from __future__ import annotations

import json
import secrets
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.enquiry_folder import EnquiryFolder
from kerfwright.adapters.hooks.event import body_of, event_of
from kerfwright.adapters.hooks.settings import Hook
from kerfwright.adapters.json_shapes import to_text
from kerfwright.adapters.whole_files import one_writer, write_whole
from kerfwright.app.enquiries import Enquiry
from kerfwright.foundation.errors import InputError, KerfwrightError

OUTBOX: Final = ".outbox"
_SEEN: Final = "seen.json"
_FAILED: Final = "failed"
PAUSES_S: Final = (60, 300, 1800, 7200, 21_600, 43_200, 86_400, 86_400)
"""From one try to the next; after the last the event lies in ``failed``."""
Document = dict[str, Any]
Send = Callable[[Hook, str, bytes], None]
"""Tells one hook an event of a name, or raises a KerfwrightError."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """An event that was not told yet.

    Attributes
    ----------
    hook, event : str
    job, stage : str
    tries : int
    due : float
        When it is tried next, seconds since 1970.
    why : str
        Why the last try failed.
    has_failed : bool
        Whether it is tried no more.
    """

    hook: str
    event: str
    job: str
    stage: str
    tries: int
    due: float
    why: str
    has_failed: bool


def notice(jobs: Path, enquiries: Iterable[Enquiry], hooks: Iterable[Hook]) -> int:
    """Put what changed since the last look into the outbox; return how many events.

    The first look of a shop only remembers: what was quoted before is told nobody.

    Parameters
    ----------
    jobs : Path
        Folder of the jobs.
    enquiries : iterable of Enquiry
        All of them, as they are now.
    hooks : iterable of Hook

    Raises
    ------
    KerfwrightError
        If the outbox cannot be read or written.
    """
    box, folder, every = jobs / OUTBOX, EnquiryFolder(folder=jobs), tuple(hooks)
    count = 0
    with one_writer(box):
        before = _seen(box)
        now = {one.id: one for one in enquiries}
        after = {name: one.stage.value for name, one in now.items()}
        if before is not None:
            for name, one in now.items():
                to = [h for h in every if one.stage in h.stages]
                # A new job is open, which was nowhere before.
                if to and before.get(name, "open") != one.stage.value:
                    count += _put(box, folder, one, to)
        if after != before:
            write_whole(
                box / _SEEN, to_text({"format": "kerfwright-seen", "version": 1, "stages": after})
            )
    return count


def _put(box: Path, folder: EnquiryFolder, enquiry: Enquiry, hooks: Iterable[Hook]) -> int:
    name = secrets.token_hex(8)
    try:
        place = folder.place_of(enquiry.id)
    except LookupError:
        return 0
    event = event_of(enquiry, place, at=datetime.now(UTC).astimezone(), name=name)
    count = 0
    for hook in hooks:
        row = {"hook": hook.name, "tries": 0, "due": 0.0, "why": "", "event": event}
        write_whole(box / f"{name}-{hook.name}.json", to_text(row))
        count += 1
    return count


def deliver(
    jobs: Path, hooks: Iterable[Hook], send: Send, *, now: float | None = None
) -> tuple[int, int]:
    """Tell what is due; return how many events were told, and how many were not.

    Parameters
    ----------
    jobs : Path
    hooks : iterable of Hook
    send : callable
    now : float, optional
        Seconds since 1970.
    """
    box, by_name = jobs / OUTBOX, {hook.name: hook for hook in hooks}
    if not box.is_dir():
        return 0, 0
    told = kept = 0
    with one_writer(box):
        for place in sorted(box.glob("*-*.json")):
            moment = time.time() if now is None else now
            row = _row(place)
            if row["due"] > moment:
                continue
            try:
                hook = by_name.get(row["hook"])
                if hook is None:
                    raise InputError("there is no such hook any more", code="hook-unknown")
                send(hook, str(row["event"]["event"]), body_of(row["event"]))
            except KerfwrightError as fault:
                kept += 1
                _again(place, row, f"{fault.message} {fault.where}".strip(), moment)
            else:
                told += 1
                place.unlink()
    return told, kept


def _again(place: Path, row: Document, why: str, now: float) -> None:
    tries = int(row["tries"]) + 1
    has_failed = tries > len(PAUSES_S)
    pause = PAUSES_S[min(tries, len(PAUSES_S)) - 1]
    after = row | {"tries": tries, "due": now + pause, "why": why}
    target = place.parent / _FAILED / place.name if has_failed else place
    write_whole(target, to_text(after))
    if has_failed:
        place.unlink()


def waiting(jobs: Path) -> tuple[Waiting, ...]:
    """Return what was not told yet, and what is tried no more."""
    box = jobs / OUTBOX
    found = []
    for folder in (box, box / _FAILED):
        for place in sorted(folder.glob("*-*.json")):
            row = _row(place)
            found.append(
                Waiting(
                    hook=str(row["hook"]),
                    event=str(row["event"]["event"]),
                    job=str(row["event"]["job"]["id"]),
                    stage=str(row["event"]["stage"]),
                    tries=int(row["tries"]),
                    due=float(row["due"]),
                    why=str(row["why"]),
                    has_failed=folder is not box,
                )
            )
    return tuple(found)


def try_again(jobs: Path) -> int:
    """Let everything be tried at the next turn, also what had failed; return how many events."""
    box = jobs / OUTBOX
    count = 0
    with one_writer(box):
        for folder in (box, box / _FAILED):
            for place in sorted(folder.glob("*-*.json")):
                write_whole(box / place.name, to_text(_row(place) | {"due": 0.0, "tries": 0}))
                if folder is not box:
                    place.unlink()
                count += 1
    return count


def _seen(box: Path) -> dict[str, str] | None:
    try:
        found = json.loads((box / _SEEN).read_text(encoding="utf-8"))
        return {str(name): str(stage) for name, stage in found["stages"].items()}
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, AttributeError, TypeError) as fault:
        raise _broken(box / _SEEN, fault) from fault


def _row(place: Path) -> Document:
    try:
        found: Document = json.loads(place.read_text(encoding="utf-8"))
        found["tries"], found["due"] = int(found["tries"]), float(found["due"])
        _ = found["hook"], found["why"], found["event"]["event"], found["event"]["job"]["id"]
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise _broken(place, fault) from fault
    return found


def _broken(place: Path, fault: Exception) -> InputError:
    return InputError(
        f"this file of the outbox cannot be read: {fault}", code="outbox-broken", where=str(place),
        remedy="Move it away; what it was to tell is told no more.",
    )  # fmt: skip
