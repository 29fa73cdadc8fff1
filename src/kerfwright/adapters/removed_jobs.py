"""Jobs that were taken off the list: kept whole, brought back whole, gone only on purpose."""

from __future__ import annotations

import contextlib
import json
import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.owned_files import sync
from kerfwright.adapters.versions import VERSIONS
from kerfwright.adapters.whole_files import one_writer, read_whole, write_whole
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError

REMOVED: Final = ".removed"
_NOTE: Final = "removed.json"
_FORMAT, _VERSION = "kerfwright-removed", 1
_GONE: Final = "gone-for-good.txt"
"""Names of jobs that are no more: measured cuts still name them, so that no other job may."""
GOING: Final = ".going-"
_MOST: Final = 10_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Removed:
    """A job that was taken off the list.

    Attributes
    ----------
    name : str
        Of its folder among those removed.
    id : str
        Name it had, and will have again.
    title, customer, added : str
        Empty where its file cannot be read.
    removed : str
        When, ISO 8601; empty where nothing says so.
    """

    name: str
    id: str
    title: str = ""
    customer: str = ""
    added: str = ""
    removed: str = ""


def remove(jobs: Path, place: Path) -> Path:
    """Move a job aside, and return where it lies.

    Parameters
    ----------
    jobs : Path
        Folder of the jobs.
    place : Path
        Folder of the job.

    Raises
    ------
    FileError
    """
    heap = jobs / REMOVED
    try:
        with contextlib.ExitStack() as held:
            held.enter_context(one_writer(heap))
            held.enter_context(one_writer(place, makes_folder=False))
            if (place / VERSIONS).is_dir():
                held.enter_context(one_writer(place / VERSIONS, makes_folder=False))
            now = datetime.now(UTC).astimezone().isoformat(timespec="seconds")
            note = {"format": _FORMAT, "version": _VERSION, "id": place.name, "removed": now}
            # A note in a job that stays, because we were killed here, says nothing.
            write_whole(place / _NOTE, json.dumps(note, indent=1) + "\n")
            target = _free(heap, place.name)
            if sys.platform == "win32":
                # No folder is renamed there that holds an open file.
                held.close()
            place.rename(target)
            sync(jobs)
    except FileError:
        raise
    except FileNotFoundError as fault:
        raise UnknownNameError(f"there is no job {place.name!r}", code="job-unknown") from fault
    except OSError as fault:
        raise FileError(
            f"cannot take the job off the list: {fault.strerror or fault}",
            code="jobs-unwritable",
            where=str(place),
        ) from fault
    return target


def _free(heap: Path, name: str) -> Path:
    for number in range(1, _MOST):
        target = heap / (name if number == 1 else f"{name}-{number}")
        if not target.exists():
            return target
    raise FileError("too many removed jobs of one name", code="jobs-full", where=str(heap))


def removed_jobs(jobs: Path) -> Iterator[Removed]:
    """Yield the jobs that were taken off the list, in the order of their names."""
    heap = jobs / REMOVED
    if not heap.is_dir():
        return
    for place in sorted(heap.iterdir()):
        if place.is_dir() and not place.name.startswith("."):
            yield _removed(place)


def _removed(place: Path) -> Removed:
    note, enquiry = _document(place / _NOTE), _document(place / "enquiry.json")
    asked = enquiry.get("asked")
    customer = asked.get("customer", "") if isinstance(asked, dict) else ""
    return Removed(
        name=place.name,
        id=str(enquiry.get("id") or note.get("id") or place.name),
        title=str(enquiry.get("title", "")),
        customer=str(customer),
        added=str(enquiry.get("added", "")),
        removed=str(note.get("removed", "")),
    )


def _document(file: Path) -> dict[str, Any]:
    try:
        found = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        # Whatever is wrong with it is said when the job is back on the list.
        return {}
    return found if isinstance(found, dict) else {}


def _place_of(jobs: Path, name: str) -> Path:
    place = jobs / REMOVED / name
    try:
        is_there = place.is_dir()
    except OSError:
        # No folder has a name that is longer than the file system takes.
        is_there = False
    if not name or name.startswith(".") or Path(name).name != name or not is_there:
        raise UnknownNameError(f"no job {name!r} was taken off the list", code="removed-unknown")
    return place


def bring_back(jobs: Path, name: str) -> str:
    """Put a job back on the list, whole, and return its name there.

    Raises
    ------
    UnknownNameError
        Code ``removed-unknown``.
    InputError
        Code ``job-there`` if another job has its name.
    FileError
    """
    with one_writer(jobs / REMOVED):
        return _brought_back(jobs, _place_of(jobs, name))


def _brought_back(jobs: Path, place: Path) -> str:
    one = _removed(place)
    target = jobs / one.id
    if Path(one.id).name != one.id or target.exists():
        raise InputError(
            f"there is a job {one.id!r} on the list",
            code="job-there",
            where=str(target),
            remedy="Take that one off the list first; cuts are kept by the name of a job, so "
            "neither gets another.",
        )
    try:
        place.rename(target)
        sync(jobs)
        (target / _NOTE).unlink(missing_ok=True)
    except OSError as fault:
        raise FileError(
            f"cannot bring the job back: {fault.strerror or fault}",
            code="jobs-unwritable",
            where=str(place),
        ) from fault
    return one.id


def delete_for_good(jobs: Path, name: str) -> None:
    """Delete a job that was taken off the list: its drawing, versions, papers, all of it.

    Raises
    ------
    UnknownNameError
        Code ``removed-unknown``.
    FileError
    """
    heap = jobs / REMOVED
    with one_writer(heap):
        place = _place_of(jobs, name)
        names = [*_gone(heap), _removed(place).id, name]
        # First the name, then the job: its name is never free for another.
        write_whole(heap / _GONE, "".join(f"{one}\n" for one in dict.fromkeys(names)))
        going = heap / f"{GOING}{name}"
        try:
            # By one rename it is off the heap; who is killed below leaves rubbish, no half a job.
            place.rename(going)
            for left in heap.glob(f"{GOING}*"):
                shutil.rmtree(left)
            sync(heap)
        except OSError as fault:
            raise FileError(
                f"cannot delete all of the job: {fault.strerror or fault}",
                code="jobs-unwritable",
                where=str(going),
            ) from fault


def _gone(heap: Path) -> list[str]:
    return read_whole(heap / _GONE).splitlines() if (heap / _GONE).exists() else []


def is_taken(jobs: Path, name: str) -> bool:
    """Return whether a job that was taken off the list has or had a name."""
    heap = jobs / REMOVED
    return (heap / name).exists() or name in _gone(heap)
