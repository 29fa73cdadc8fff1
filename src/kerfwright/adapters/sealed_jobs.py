"""Jobs that are sealed: encrypted where they lie, opened with a passphrase, and sealed again.

A sealed job lies in ``.sealed/<job>``: the seal, a list of its files and the files, encrypted, with
numbers for names.  While it is open it lies in its own folder besides, which bears the seal as a
mark: the index and a backup leave such a folder out, and it is sealed again without a passphrase.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.owned_files import (
    OWNER_ONLY_FOLDER,
    beside,
    digest,
    sync,
    write_new,
)
from kerfwright.adapters.removed_jobs import GOING
from kerfwright.adapters.seals import (
    Seal,
    damaged,
    decrypted,
    encrypted,
    new_key,
    new_seal,
    opened_key,
    seal_of,
)
from kerfwright.adapters.versions import VERSIONS
from kerfwright.adapters.whole_files import LOCK, one_writer, read_whole, write_whole
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError

SEALED: Final = ".sealed"
OPENED: Final = ".kerfwright-seal"
"""In the folder of a job that is open: its seal, and the sign that it is to be sealed again."""
_SEAL: Final = "seal.json"
_KEY: Final = "key"
_NAMES: Final = "names"
_ASIDE: Final = ".kerfwright-"


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedJob:
    """A job that is sealed.

    Attributes
    ----------
    id : str
    is_open : bool
        Whether it lies open in its folder now.
    """

    id: str
    is_open: bool


def is_opened(place: Path | os.DirEntry[str]) -> bool:
    """Return whether the folder of a job is that of a sealed one, open for now."""
    return os.path.lexists(os.path.join(place, OPENED))  # noqa: PTH118 thousands at a time


def is_sealed(jobs: Path, job: str) -> bool:
    """Return whether a name is that of a sealed job, open or not."""
    return (jobs / SEALED / job / _SEAL).is_file() or is_opened(jobs / job)


def sealed_jobs(jobs: Path) -> Iterator[SealedJob]:
    """Yield the sealed jobs, in the order of their names."""
    heap = jobs / SEALED
    names = {p.name for p in heap.iterdir()} if heap.is_dir() else set()
    open_now = {p.name for p in jobs.iterdir() if p.is_dir() and is_opened(p)}
    for name in sorted(names | open_now):
        if not name.startswith(".") and is_sealed(jobs, name):
            yield SealedJob(id=name, is_open=name in open_now)


def sweep_sealed(jobs: Path) -> None:
    """Take away what a run left behind that was killed after it had sealed a job."""
    for left in (jobs / SEALED).glob(f"{GOING}*"):
        shutil.rmtree(left, ignore_errors=True)


def seal(jobs: Path, place: Path, passphrase: str | None) -> None:
    """Seal a job: nothing of it is taken away before what was written was read back and opened.

    Parameters
    ----------
    jobs : Path
        Folder of the jobs.
    place : Path
        Folder of the job.
    passphrase : str or None
        None for one that was sealed before and is open.

    Raises
    ------
    InputError
        Codes ``passphrase-weak``, ``passphrase-missing``, ``seal-odd-file``.
    FileError
    """
    if is_opened(place):
        mark = seal_of(read_whole(place / OPENED), where=str(place / OPENED))
    elif passphrase is None:
        raise InputError(
            f"{place.name} was not sealed before",
            code="passphrase-missing",
            remedy="Give it a passphrase. One that is lost is lost.",
        )
    else:
        mark = new_seal(passphrase)
    heap = jobs / SEALED
    try:
        with contextlib.ExitStack() as held:
            held.enter_context(one_writer(heap))
            sweep_sealed(jobs)
            held.enter_context(one_writer(place, makes_folder=False))
            if (place / VERSIONS).is_dir():
                held.enter_context(one_writer(place / VERSIONS, makes_folder=False))
            # From here on it is open and no more: whoever is killed leaves a job that is whole,
            # is in no index and no backup, and can be sealed again.
            write_whole(place / OPENED, mark.text())
            _put(heap, place, mark)
            going = heap / f"{GOING}{place.name}"
            shutil.rmtree(going, ignore_errors=True)
            if sys.platform == "win32":
                # No folder is renamed there that holds an open file.
                held.close()
            place.rename(going)
            sync(jobs)
            shutil.rmtree(going)
    except FileError:
        raise
    except FileNotFoundError as fault:
        raise UnknownNameError(f"there is no job {place.name!r}", code="job-unknown") from fault
    except OSError as fault:
        raise _unwritable(place, fault) from fault


def _put(heap: Path, place: Path, mark: Seal) -> None:
    """Put the files of a job into the heap, encrypted, and read them back."""
    job = place.name
    key, wrapped = new_key(mark, job.encode())
    with beside(heap) as aside:
        made = aside / "made"
        made.mkdir(mode=OWNER_ONLY_FOLDER)
        names: list[dict[str, Any]] = []
        for number, name in enumerate(_files(place), start=1):
            data = (place / name).read_bytes()
            member = f"{number:05d}"
            mtime_ns = (place / name).stat().st_mtime_ns
            names.append({"in": member, "name": name, "sha256": digest(data), "mtime_ns": mtime_ns})
            write_new(made / member, encrypted(key, data, _about(job, member)))
        listed = json.dumps(names, ensure_ascii=False).encode("utf-8", "surrogatepass")
        write_new(made / _NAMES, encrypted(key, listed, _about(job, _NAMES)))
        write_new(made / _KEY, wrapped)
        write_new(made / _SEAL, mark.text().encode())
        if [digest(data) for _, data, _ in _unlocked(made, job, key)] != [
            digest((place / one["name"]).read_bytes()) for one in names
        ]:
            raise damaged(str(made))
        if (heap / job).exists():
            (heap / job).rename(aside / "earlier")
        made.rename(heap / job)
        sync(heap)


def _files(place: Path) -> list[str]:
    """Return the files of a job, by their names from its folder on."""
    found = []
    for one in sorted(place.rglob("*")):
        name = one.relative_to(place).as_posix()
        if one.name == LOCK or any(part.startswith(_ASIDE) for part in name.split("/")[:-1]):
            continue
        if one.is_symlink() or not (one.is_file() or one.is_dir()):
            raise InputError(
                "only files can be sealed",
                code="seal-odd-file",
                where=str(one),
                remedy="Put the file itself in the place of the link.",
            )
        if one.is_file() and name != OPENED:
            found.append(name)
    return found


def open_sealed(jobs: Path, job: str, passphrase: str) -> Path:
    """Open a sealed job in its folder, until it is sealed again; return the folder.

    Raises
    ------
    UnknownNameError
        Code ``sealed-unknown``.
    InputError
        Codes ``passphrase-wrong``, ``seal-damaged``, ``job-there``.
    FileError
    """
    heap, place = jobs / SEALED, jobs / job
    kept = _kept(heap, job)
    with one_writer(heap):
        if is_opened(place):
            # It is there for whoever may read the folder; the passphrase is asked all the same.
            _key_of(kept, job, passphrase)
            return place
        if place.exists():
            raise InputError(
                f"there is another job {job!r}",
                code="job-there",
                where=str(place),
                remedy="Take that one off the list first.",
            )
        key = _key_of(kept, job, passphrase)
        try:
            with beside(jobs) as aside:
                made = aside / "job"
                made.mkdir(mode=OWNER_ONLY_FOLDER)
                for name, data, mtime_ns in _unlocked(kept, job, key):
                    target = made / name
                    target.parent.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
                    write_new(target, data)
                    os.utime(target, ns=(mtime_ns, mtime_ns))
                write_new(made / OPENED, read_whole(kept / _SEAL).encode())
                made.rename(place)
            sync(jobs)
        except OSError as fault:
            raise _unwritable(place, fault) from fault
    return place


def unseal_for_good(jobs: Path, job: str, passphrase: str) -> None:
    """Open a sealed job and let it be as any other from now on.

    Raises
    ------
    UnknownNameError, InputError, FileError
        As :func:`open_sealed`.
    """
    place = open_sealed(jobs, job, passphrase)
    heap = jobs / SEALED
    with one_writer(heap):
        try:
            # Whoever is killed in between leaves a job that is open and can be sealed again.
            going = heap / f"{GOING}{job}"
            shutil.rmtree(going, ignore_errors=True)
            (heap / job).rename(going)
            (place / OPENED).unlink()
            shutil.rmtree(going)
        except OSError as fault:
            raise _unwritable(heap / job, fault) from fault


def _kept(heap: Path, job: str) -> Path:
    kept = heap / job
    if Path(job).name != job or job.startswith(".") or not (kept / _SEAL).is_file():
        raise UnknownNameError(f"no job {job!r} is sealed", code="sealed-unknown")
    return kept


def _key_of(kept: Path, job: str, passphrase: str) -> bytes:
    mark = seal_of(read_whole(kept / _SEAL), where=str(kept))
    try:
        wrapped = (kept / _KEY).read_bytes()
    except OSError as fault:
        raise damaged(str(kept)) from fault
    return opened_key(mark, wrapped, job.encode(), passphrase, where=str(kept))


def _unlocked(kept: Path, job: str, key: bytes) -> Iterator[tuple[str, bytes, int]]:
    """Yield name, content and time of each file of a sealed job."""
    from cryptography.exceptions import InvalidTag

    try:
        listed = decrypted(key, (kept / _NAMES).read_bytes(), _about(job, _NAMES))
        for one in json.loads(listed.decode("utf-8", "surrogatepass")):
            name, member = one["name"], one["in"]
            data = decrypted(key, (kept / member).read_bytes(), _about(job, member))
            parts = Path(name).parts
            if digest(data) != one["sha256"] or ".." in parts or Path(name).is_absolute():
                raise damaged(str(kept / member))
            yield name, data, int(one["mtime_ns"])
    except (InvalidTag, OSError, KeyError, TypeError) as fault:
        raise damaged(str(kept)) from fault


def _about(job: str, member: str) -> bytes:
    """Return what binds a file to its job and its place: none can be put for another."""
    return f"{job}/{member}".encode()


def _unwritable(place: Path, fault: OSError) -> FileError:
    return FileError(
        f"the job cannot be sealed or opened: {fault.strerror or fault}",
        code="jobs-unwritable",
        where=str(fault.filename or place),
    )
