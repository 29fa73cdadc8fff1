"""Make a backup while the shop works: each job as it is at one moment."""

from __future__ import annotations

import contextlib
import hashlib
import os
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from kerfwright.adapters.backup.note import NOTE, ROOT, BackupNote, KeptFile, note_text
from kerfwright.adapters.enquiry_folder import ENQUIRY, OUR_CUTS, OUR_TABLES
from kerfwright.adapters.index.opening import INDEX, shop_of
from kerfwright.adapters.owned_files import OWNER_ONLY_FOLDER, beside, sync
from kerfwright.adapters.removed_jobs import GOING, REMOVED
from kerfwright.adapters.sealed_jobs import is_opened
from kerfwright.adapters.seats.database import MARK
from kerfwright.adapters.versions import VERSIONS
from kerfwright.adapters.whole_files import LOCK, one_writer
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.foundation.version import __version__

Progress = Callable[[str, float], None]
_CHUNK: Final = 1024 * 1024
_PACKED: Final = frozenset({".zip", ".pdf", ".png", ".jpg", ".jpeg"})
"""Ends of files that are packed already."""
_ASIDE: Final = ".kerfwright-"
_KEPT_DOTS: Final = (".kerfwright-files", ".kerfwright-shop", MARK)
"""The last lets a shop that was restored ask for log-in, though nobody has a seat in it yet."""


@dataclass(slots=True, kw_only=True)
class _Packing:
    """An archive that is being written."""

    jobs: Path
    archive: zipfile.ZipFile
    files: dict[str, KeptFile] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)

    def take(self, place: Path, name: str) -> None:
        """Take a file, or everything below a folder, under a name."""
        if place.is_symlink() or not (place.is_file() or place.is_dir()):
            self.left_out.append(name)
        elif place.is_dir():
            for one in sorted(place.iterdir()):
                if not _is_passing(one.name):
                    self.take(one, f"{name}/{one.name}")
        else:
            self._pack(place, name)

    def _pack(self, place: Path, name: str) -> None:
        found = hashlib.sha256()
        with place.open("rb") as stream:
            known = os.fstat(stream.fileno())
            member = zipfile.ZipInfo(f"{ROOT}/{name}", _zip_time(known.st_mtime))
            member.external_attr = 0o600 << 16
            is_packed = place.suffix.lower() in _PACKED
            member.compress_type = zipfile.ZIP_STORED if is_packed else zipfile.ZIP_DEFLATED
            size = 0
            with self.archive.open(member, "w", force_zip64=known.st_size >= 2**31) as packed:
                while chunk := stream.read(_CHUNK):
                    found.update(chunk)
                    size += packed.write(chunk)
        self.files[name] = KeptFile(sha256=found.hexdigest(), size=size, mtime_ns=known.st_mtime_ns)


def _is_passing(name: str) -> bool:
    """Return whether a file or folder only helps a running program."""
    if name in _KEPT_DOTS:
        return False
    return name == LOCK or name.startswith((_ASIDE, GOING, INDEX))


def _zip_time(seconds: float) -> tuple[int, int, int, int, int, int]:
    when = datetime.fromtimestamp(seconds, UTC)
    return (max(1980, when.year), when.month, when.day, when.hour, when.minute, when.second)


def make_backup(
    jobs: Path,
    archive: Path,
    *,
    tables: Path | None = None,
    shop: Path | None = None,
    progress: Progress = lambda _step, _share: None,
) -> BackupNote:
    """Write a shop's jobs, tables and cuts into one file; whole, or not at all.

    Others may work meanwhile: each job is taken as it is at one moment.  The index is left out,
    for it is built from the jobs.

    Parameters
    ----------
    jobs : Path
        Folder of the jobs.
    archive : Path
        Not there yet, and not among the jobs.
    tables, shop : Path, optional
        Folders of the shop's own tables and cuts where they are not among the jobs.
    progress : callable, optional

    Raises
    ------
    InputError
        Codes ``backup-there``, ``backup-inside``, ``backup-twice``.
    FileError
        Code ``backup-unwritable``.
    """
    archive = archive.absolute()
    _expect_apart(jobs, archive)
    elsewhere = {OUR_TABLES: tables, OUR_CUTS: shop}
    for name, place in elsewhere.items():
        if place is not None and (jobs / name).exists() and not place.samefile(jobs / name):
            raise InputError(
                f"there are two folders of {name.removeprefix('our-')}",
                code="backup-twice",
                where=f"{place} and {jobs / name}",
                remedy="Move away the one that is not used.",
            )
    try:
        with beside(archive.parent) as aside:
            made = aside / "made.zip"
            # For its owner only from the first byte.
            os.close(os.open(made, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
            with made.open("r+b") as stream:
                note = _written(jobs, stream, elsewhere, progress)
                stream.flush()
                os.fsync(stream.fileno())
            _expect_apart(jobs, archive)
            made.rename(archive)
        sync(archive.parent)
    except FileError:
        raise
    except OSError as fault:
        raise FileError(
            f"cannot write the backup: {fault.strerror or fault}",
            code="backup-unwritable",
            where=str(fault.filename or archive),
        ) from fault
    return note


def _expect_apart(jobs: Path, archive: Path) -> None:
    if archive.exists() or archive.is_symlink():
        raise InputError(
            "this file is there already, and a backup replaces nothing",
            code="backup-there",
            where=str(archive),
            remedy="Give it another name, such as one with the day.",
        )
    if archive.resolve().is_relative_to(jobs.resolve()):
        raise InputError(
            "a backup does not lie among what it keeps",
            code="backup-inside",
            where=str(archive),
            remedy="Name another disk, or a folder beside the jobs.",
        )


def _written(
    jobs: Path, stream: object, elsewhere: dict[str, Path | None], progress: Progress
) -> BackupNote:
    shop = shop_of(jobs)
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:  # type: ignore[call-overload]
        packing = _Packing(jobs=jobs, archive=archive)
        taken: set[str] = set()
        _take_jobs(packing, taken, progress)
        # From here nothing moves between the list and what was taken off it, so that a job is in
        # one of them; what came back since it was looked over is on the list by now.
        with one_writer(jobs / REMOVED):
            _take_jobs(packing, taken, lambda _step, _share: None)
            gone = _take_removed(packing, taken)
        for one in sorted(jobs.iterdir()):
            if not one.is_dir() and not _is_passing(one.name):
                packing.take(one, one.name)
        for name, place in elsewhere.items():
            if place is not None and not (jobs / name).exists():
                packing.take(place, name)
        note = BackupNote(
            made=datetime.now(UTC).astimezone().isoformat(timespec="seconds"),
            kerfwright=__version__,
            shop=shop,
            jobs=sum(
                name.endswith(f"/{ENQUIRY}") and name.count("/") == 1 for name in packing.files
            ),
            removed=gone,
            left_out=tuple(packing.left_out),
            files=packing.files,
        )
        archive.writestr(NOTE, note_text(note))
    progress("done", 1.0)
    return note


def _take_jobs(packing: _Packing, taken: set[str], progress: Progress) -> None:
    names = sorted(
        one.name
        for one in packing.jobs.iterdir()
        if one.is_dir() and one.name != REMOVED and not _is_passing(one.name)
    )
    for count, name in enumerate(names):
        if name in taken:
            continue
        if is_opened(packing.jobs / name):
            # What was sealed last is taken with the other sealed ones.
            taken.add(name)
            packing.left_out.append(f"{name}, sealed, is open: as it was sealed last")
            continue
        progress(f"job {count + 1} of {len(names)}", count / len(names))
        # One that is gone by now is among those taken off the list, which come later.
        with contextlib.suppress(FileNotFoundError), _still(packing.jobs / name):
            packing.take(packing.jobs / name, name)
            taken.add(name)


@contextlib.contextmanager
def _still(place: Path) -> Iterator[None]:
    """Keep everybody from writing to a job, or to the cuts of the shop, meanwhile."""
    with contextlib.ExitStack() as held:
        is_job = (place / ENQUIRY).is_file()
        # A lock of its own in the shop's tables would be a change of its figures.
        if is_job or (place / LOCK).exists():
            held.enter_context(one_writer(place, makes_folder=False))
        if is_job:
            # Where nothing is computed yet, the first results wait until we are through.
            (place / VERSIONS).mkdir(mode=OWNER_ONLY_FOLDER, exist_ok=True)
            held.enter_context(one_writer(place / VERSIONS, makes_folder=False))
        if not place.is_dir():
            raise FileNotFoundError(2, "gone", str(place))
        yield


def _take_removed(packing: _Packing, taken: set[str]) -> int:
    heap = packing.jobs / REMOVED
    count = 0
    for one in sorted(heap.iterdir()):
        # Taken off the list after it was taken as it was on the list.
        if one.name in taken or _is_passing(one.name):
            continue
        packing.take(one, f"{REMOVED}/{one.name}")
        count += one.is_dir()
    return count
