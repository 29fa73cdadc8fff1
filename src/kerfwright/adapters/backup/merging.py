"""Take jobs of an archive into a shop that has jobs of its own; nothing there is ever replaced."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path, PurePosixPath
from typing import Final

from kerfwright.adapters import removed_jobs
from kerfwright.adapters.backup.note import BackupNote, KeptFile, damaged
from kerfwright.adapters.backup.restoring import opened, put_all
from kerfwright.adapters.enquiry_folder import ENQUIRY, OUR_CUTS, OUR_TABLES, EnquiryFolder
from kerfwright.adapters.job_folder import digest_of
from kerfwright.adapters.owned_files import MADE, OWNER_ONLY_FOLDER, beside, sync
from kerfwright.adapters.whole_files import LOCK
from kerfwright.foundation.errors import FileError, InputError

Progress = Callable[[str, float], None]
MOST_TIMES: Final = 200
"""Packed files of a shop are a tenth of themselves; what unpacks to more is made to fill a disk."""
_MOST_FILES: Final = 2_000_000
_NOT_OF_JOBS: Final = frozenset({LOCK})
_SHARED: Final = (OUR_TABLES, OUR_CUTS)


class Fate(StrEnum):
    """What became of a job, or of a folder of the shop, in an archive."""

    NEW = "new"
    """It was not there and is now."""
    SAME = "same"
    """The very same is there already."""
    OTHER = "other"
    """Another one of its name is there, and stays."""
    REMOVED = "removed"
    """It was taken off the list here and lies there; it is not brought back this way."""
    NOT_OURS = "not-ours"
    """It is no job: a file of the shop itself, which only a restore puts back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Import:
    """What an import did, or would do.

    Attributes
    ----------
    note : BackupNote
    fates : mapping of str to Fate
        By the name of the job or folder.
    """

    note: BackupNote
    fates: Mapping[str, Fate]

    def named(self, fate: Fate) -> tuple[str, ...]:
        """Return the names that had one fate."""
        return tuple(name for name, one in self.fates.items() if one is fate)


def import_archive(
    archive: Path,
    jobs: Path,
    *,
    only: Iterable[str] = (),
    is_look: bool = False,
    progress: Progress = lambda _step, _share: None,
) -> Import:
    """Take the jobs of an archive that are not in a shop yet.

    Every file is held to its digest before the first job appears.  A job comes in whole or not at
    all; one of whose name another is there stays out and is named.

    Parameters
    ----------
    archive : Path
        As :func:`kerfwright.adapters.backup.making.make_backup` writes it.
    jobs : Path
        Folder of the jobs of the shop.
    only : iterable of str
        Names of jobs; empty for all.
    is_look : bool
        Only say what would be done.
    progress : callable, optional

    Raises
    ------
    InputError
        Codes ``backup-damaged``, ``import-too-large``, ``import-unknown``.
    FileError
        Codes ``backup-unreadable``, ``backup-unwritable``.
    """
    jobs = jobs.absolute()
    with opened(archive) as (closed, note):
        _expect_size(archive, note)
        heads = _heads(note, where=str(archive))
        wanted = set(only)
        if unknown := wanted - heads.keys():
            raise InputError(
                f"the archive holds no {', '.join(sorted(unknown))}", code="import-unknown",
                where=str(archive), remedy="Look what it holds with --check.",
            )  # fmt: skip
        fates = {
            name: _fate(jobs, name, files)
            for name, files in heads.items()
            if not wanted or name in wanted
        }
        new = [name for name, fate in fates.items() if fate is Fate.NEW]
        if new and not is_look:
            _expect_room(jobs, [f for name in new for f in heads[name].values()])
            try:
                jobs.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
                with beside(jobs) as aside:
                    part = {
                        f"{name}/{path}": kept for name in new for path, kept in heads[name].items()
                    }
                    put_all(closed, part, aside / "made", where=str(archive), progress=progress)
                    for name in new:
                        _expect_job(aside / "made", name, where=str(archive))
                    for name in new:
                        fates[name] = _placed(aside / "made" / name, jobs / name)
                sync(jobs)
            except FileError:
                raise
            except OSError as fault:
                raise FileError(
                    f"cannot import: {fault.strerror or fault}", code="backup-unwritable",
                    where=str(fault.filename or jobs),
                    remedy="What came in before is whole; import again for the rest.",
                ) from fault  # fmt: skip
    progress("done", 1.0)
    return Import(note=note, fates=fates)


def _expect_size(archive: Path, note: BackupNote) -> None:
    size, packed = sum(one.size for one in note.files.values()), archive.stat().st_size
    if size > MOST_TIMES * packed or len(note.files) > _MOST_FILES:
        raise InputError(
            f"it unpacks to {size / 1e9:.1f} GB in {len(note.files)} files, from "
            f"{packed / 1e6:.1f} MB: more than {MOST_TIMES} times",
            code="import-too-large",
            where=str(archive),
            remedy="No shop packs so well; ask whoever sent it.",
        )


def _expect_room(jobs: Path, files: Iterable[KeptFile]) -> None:
    place = next(p for p in (jobs, *jobs.parents) if p.exists())
    size, free = sum(one.size for one in files), shutil.disk_usage(place).free
    if size > free:
        raise FileError(
            f"it takes {size / 1e6:.0f} MB, and {free / 1e6:.0f} MB are free",
            code="backup-unwritable", where=str(jobs), remedy="Make room, or import single jobs.",
        )  # fmt: skip


def _heads(note: BackupNote, *, where: str) -> dict[str, dict[str, KeptFile]]:
    """Return the files of an archive by the first folder of each, the list's jobs and no others."""
    found: dict[str, dict[str, KeptFile]] = {}
    for name, kept in note.files.items():
        path = PurePosixPath(name)
        head = path.parts[0]
        rest = str(PurePosixPath(*path.parts[1:])) if len(path.parts) > 1 else ""
        if head.startswith(".") or path.name in _NOT_OF_JOBS:
            continue
        found.setdefault(head, {})[rest] = kept
    folded: dict[str, str] = {}
    for head in found:
        # Two that a disk which does not tell Case from case would put into one.
        if folded.setdefault(head.casefold(), head) != head:
            raise damaged(f"{head} and {folded[head.casefold()]} are one name", where=where)
    return found


def _fate(jobs: Path, name: str, files: Mapping[str, KeptFile]) -> Fate:
    if "" in files or (ENQUIRY not in files and name not in _SHARED):
        return Fate.NOT_OURS
    place = jobs / name
    if place.exists() or place.is_symlink():
        return Fate.SAME if _is_same(place, files) else Fate.OTHER
    return Fate.REMOVED if removed_jobs.is_taken(jobs, name) else Fate.NEW


def _is_same(place: Path, files: Mapping[str, KeptFile]) -> bool:
    return place.is_dir() and all(
        (place / path).is_file()
        and (place / path).stat().st_size == kept.size
        and digest_of(place / path) == kept.sha256
        for path, kept in files.items()
        if path != MADE
    )


def _expect_job(made: Path, name: str, *, where: str) -> None:
    """Refuse a job that this program could not read: before any is there."""
    if name in _SHARED:
        return
    try:
        EnquiryFolder(folder=made).read(name)
    except (InputError, FileError, LookupError) as fault:
        raise damaged(f"{name} is no job of this program: {fault}", where=where) from fault


def _placed(made: Path, place: Path) -> Fate:
    """Rename a job to its place, unless another came there meanwhile."""
    if place.exists() or place.is_symlink():
        return Fate.OTHER
    try:
        made.rename(place)
    except OSError:
        if not place.exists():
            raise
        return Fate.OTHER
    return Fate.NEW
