"""Versions of a job: every plan and quote as it was made, one closed file each, never changed.

``versions/0001.zip`` in the folder of a job holds all its files and ``version.json``, which names
them with their digests.  A version is there before the files of the job are replaced, so that
whoever is killed in between has lost nothing; what came out as the last version is kept once.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.owned_files import (
    OWNER_ONLY_FOLDER,
    Written,
    beside,
    digest,
    is_cut_short,
    sync,
    unwritable,
    write_files,
    write_new,
)
from kerfwright.adapters.whole_files import one_writer
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError
from kerfwright.foundation.version import __version__

VERSIONS: Final = "versions"
NOTE: Final = "version.json"
_FORMAT, _VERSION = "kerfwright-version", 1
_NAME: Final = re.compile(r"([0-9]{4,9})\.zip")
_STAMP: Final = (1980, 1, 1, 0, 0, 0)
"""Of every member: the same files are the same bytes."""
_PLAN, _PROGRAM, _ESTIMATE = "plan.json", "program.nc", "estimate.json"
_PAPERS: Final = (".pdf", ".dxf", "path.svg")
"""Ends of files that are made of a job's results, and go when those are made anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """What is known of a version without taking it apart.

    Attributes
    ----------
    number : int
    made : str
        When, ISO 8601 with the time zone.
    kerfwright : str
        Version of the program that made it.
    files : mapping of str to str
        SHA-256 by name.
    asked : mapping of str to str, or None
        Lines of the enquiry, where it was made for one.
    prices : mapping of int to str
        Likely price of a piece by quantity.
    currency : str
    taken_from : int
        Earlier version that it was taken back from; 0 for none.
    sha256 : str
        Of the closed file.
    """

    number: int
    made: str
    kerfwright: str
    files: Mapping[str, str]
    asked: Mapping[str, str] | None = None
    prices: Mapping[int, str] = field(default_factory=dict)
    currency: str = ""
    taken_from: int = 0
    sha256: str = ""

    @property
    def has_program(self) -> bool:
        """Whether a program belongs to it, which then passed its proof."""
        return _PROGRAM in self.files

    @property
    def papers(self) -> tuple[str, ...]:
        """Names of the papers that belong to it."""
        return tuple(sorted(name for name in self.files if name.endswith(_PAPERS)))


def write_versioned(
    folder: Path,
    write: Callable[[Callable[[Mapping[str, bytes]], None]], Written],
    *,
    asked: Mapping[str, str] | None = None,
    taken_from: int = 0,
) -> Written:
    """Write files of a job, kept as a version first; one writer at a time.

    Parameters
    ----------
    folder : Path
        Of the job; made if absent.
    write : callable
        Writes, and gives everything that will lie in the folder to what it is called with before
        it replaces anything.
    asked : mapping of str to str or None
    taken_from : int

    Raises
    ------
    FileError
        If a file cannot be written, or is not ours.
    UnknownNameError
        Code ``job-unknown`` if it is for an enquiry that was taken off the list meanwhile.
    """

    def keep(contents: Mapping[str, bytes]) -> None:
        _keep(folder, contents, asked=asked, taken_from=taken_from)

    is_listed = asked is not None
    gone = UnknownNameError(f"there is no job {folder.name!r}", code="job-unknown")
    try:
        if not is_listed:
            folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        (folder / VERSIONS).mkdir(mode=OWNER_ONLY_FOLDER, exist_ok=True)
        with one_writer(folder / VERSIONS, makes_folder=False):
            # Whoever takes a job off the list holds this lock: what is there now stays.
            if is_listed and not (folder / VERSIONS).is_dir():
                raise gone
            return write(keep)
    except FileError:
        raise
    except FileNotFoundError as fault:
        raise gone from fault
    except OSError as fault:
        raise unwritable(folder, fault) from fault


def _keep(
    folder: Path,
    contents: Mapping[str, bytes],
    *,
    asked: Mapping[str, str] | None,
    taken_from: int,
) -> None:
    # A plan is what a version is of: papers alone, or another's folder, are none.
    if _PLAN not in contents:
        return
    files = {name: digest(data) for name, data in sorted(contents.items())}
    numbers = numbers_of(folder)
    if numbers and not taken_from and _is_last(folder, numbers[-1], files):
        return
    number = numbers[-1] + 1 if numbers else 1
    prices, currency = _prices(contents.get(_ESTIMATE))
    version = Version(
        number=number,
        made=datetime.now(UTC).astimezone().isoformat(timespec="seconds"),
        kerfwright=__version__,
        files=files,
        asked=asked,
        prices=prices,
        currency=currency,
        taken_from=taken_from,
    )
    place = folder / VERSIONS
    try:
        with beside(place) as aside:
            write_new(aside / "new.zip", _closed(version, contents))
            (aside / "new.zip").replace(place / f"{number:04}.zip")
        sync(place)
    except OSError as fault:
        raise unwritable(place, fault) from fault


def _is_last(folder: Path, number: int, files: Mapping[str, str]) -> bool:
    """Return whether the last version holds these very files, its papers aside."""
    try:
        last = read_version(folder, number)
    except (FileError, InputError):
        return False
    return all(last.files.get(name) == sha256 for name, sha256 in files.items()) and all(
        name in files or name.endswith(_PAPERS) for name in last.files
    )


def _closed(version: Version, contents: Mapping[str, bytes]) -> bytes:
    note = {
        "format": _FORMAT,
        "version": _VERSION,
        "number": version.number,
        "made": version.made,
        "kerfwright": version.kerfwright,
        "asked": None if version.asked is None else dict(version.asked),
        "taken_from": version.taken_from,
        "prices": {str(quantity): each for quantity, each in version.prices.items()},
        "currency": version.currency,
        "files": dict(version.files),
    }
    text = json.dumps(note, ensure_ascii=False, indent=1) + "\n"
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as closed:
        for name, data in ((NOTE, text.encode()), *sorted(contents.items())):
            member = zipfile.ZipInfo(name, _STAMP)
            member.external_attr = 0o600 << 16
            closed.writestr(member, data, zipfile.ZIP_DEFLATED)
    return held.getvalue()


def _prices(estimate: bytes | None) -> tuple[Mapping[int, str], str]:
    if estimate is None:
        return {}, ""
    try:
        found = json.loads(estimate)
        prices = {int(one["quantity"]): str(one["each"]) for one in found["prices"]}
        return prices, str(found["currency"])
    except (ValueError, KeyError, TypeError):
        return {}, ""


def numbers_of(folder: Path) -> list[int]:
    """Return the numbers of the versions of a job, ascending."""
    try:
        found = [m for p in (folder / VERSIONS).iterdir() if (m := _NAME.fullmatch(p.name))]
    except FileNotFoundError:
        return []
    return sorted(int(match[1]) for match in found)


def place_of(folder: Path, number: int) -> Path:
    """Return where a version of a job lies."""
    return folder / VERSIONS / f"{number:04}.zip"


def versions_of(folder: Path, *, after: int = 0) -> Iterator[Version | InputError | FileError]:
    """Yield the versions of a job, the first first; for one that cannot be read, what is wrong.

    Parameters
    ----------
    folder : Path
        Of the job.
    after : int
        Leave out the versions up to this one.
    """
    for number in numbers_of(folder):
        if number > after:
            try:
                yield read_version(folder, number)
            except (InputError, FileError) as fault:
                yield fault


def read_version(folder: Path, number: int) -> Version:
    """Return what is known of one version.

    Raises
    ------
    UnknownNameError
        Code ``version-unknown``.
    FileError, InputError
        If it cannot be read; code ``version-damaged`` where it is not as it was made.
    """
    return _opened(folder, number)[0]


def files_of(folder: Path, number: int) -> dict[str, bytes]:
    """Return the files of a version, each with the digest that it had.

    Raises
    ------
    UnknownNameError, FileError, InputError
        As :func:`read_version`.
    """
    version, data = _opened(folder, number)
    place = place_of(folder, number)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as closed:
            found = {name: closed.read(name) for name in version.files}
    except (zipfile.BadZipFile, KeyError, OSError, ValueError) as fault:
        raise _damaged(place, str(fault)) from fault
    for name, content in found.items():
        if digest(content) != version.files[name]:
            raise _damaged(place, f"{name} is not what was kept")
    return found


def _opened(folder: Path, number: int) -> tuple[Version, bytes]:
    place = place_of(folder, number)
    try:
        data = place.read_bytes()
    except FileNotFoundError as fault:
        raise UnknownNameError(
            f"there is no version {number} of this job", code="version-unknown", where=str(folder)
        ) from fault
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}", code="file-unreadable", where=str(place)
        ) from fault
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as closed:
            note = json.loads(closed.read(NOTE))
            has_prices = _ESTIMATE in closed.namelist()
            prices, _ = _prices(closed.read(_ESTIMATE) if has_prices else None)
        version = _version(note, digest(data))
        # Notes of before held the price of all pieces together in the place of one.
        version = replace(version, prices=prices or version.prices)
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, AttributeError) as fault:
        raise _damaged(place, str(fault)) from fault
    if version.number != number:
        raise _damaged(place, f"it says that it is version {version.number}")
    return version, data


def _version(note: Any, sha256: str) -> Version:
    if (note["format"], note["version"]) != (_FORMAT, _VERSION):
        raise ValueError("not a version of this form")
    files = {str(name): str(known) for name, known in note["files"].items()}
    if any(Path(name).name != name for name in files):
        raise ValueError("a file would lie elsewhere")
    asked = note["asked"]
    return Version(
        number=int(note["number"]),
        made=str(note["made"]),
        kerfwright=str(note["kerfwright"]),
        files=files,
        asked=None if asked is None else {str(k): str(v) for k, v in asked.items()},
        prices={int(quantity): str(each) for quantity, each in note["prices"].items()},
        currency=str(note["currency"]),
        taken_from=int(note["taken_from"]),
        sha256=sha256,
    )


def _damaged(place: Path, why: str) -> InputError:
    return InputError(
        f"this version is damaged: {why}",
        code="version-damaged",
        where=str(place),
        remedy="Put the file of a backup back; the other versions and the job itself are as they "
        "were.",
    )


def finish(folder: Path) -> bool:
    """Put all files of the newest version into place, where a run was killed doing so.

    Parameters
    ----------
    folder : Path
        Of a job; no version, nothing to finish.

    Returns
    -------
    bool
        Whether there was something to finish, and it is done.

    Raises
    ------
    UnknownNameError, FileError, InputError
        As :func:`files_of`; and a file that somebody edited is not replaced.
    """
    if not is_cut_short(folder) or not numbers_of(folder):
        return False
    with one_writer(folder / VERSIONS):
        # A run that was only still at it is through by now.
        if not is_cut_short(folder):
            return False
        write_files(folder, files_of(folder, numbers_of(folder)[-1]))
    return True


def take_back(folder: Path, number: int) -> Version:
    """Put the files of an earlier version back, as the newest version; returns that.

    Raises
    ------
    UnknownNameError, FileError, InputError
        As :func:`read_version`; and a file that somebody edited is not replaced.
    """
    contents = files_of(folder, number)
    earlier = read_version(folder, number)
    write_versioned(
        folder,
        lambda keep: write_files(folder, contents, keep=keep),
        asked=earlier.asked,
        taken_from=number,
    )
    return read_version(folder, numbers_of(folder)[-1])
