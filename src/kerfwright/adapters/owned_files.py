"""Files of ours in a folder: written all or none, and only over what we made and nobody edited.

All files of a run are first written beside their targets under temporary names, then renamed
(:meth:`pathlib.Path.replace`, atomic within one file system: POSIX.1-2017, ``rename``).  A list of
what kerfwright made, with digests, lets a second run replace its own files and nothing else: a
file of the same name that somebody made or edited is never touched.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from kerfwright.foundation.errors import FileError

MADE = ".kerfwright-files"
_SWAPPING = (64 * "0", ".kerfwright-swapping")
"""Row of the list while files are swapped: of no file, and gone when all of them lie there."""
_ASIDE = ".kerfwright-"
_OLD_S = 3600.0
"""What was written aside so long ago is of a run that was killed."""
_OWNER_ONLY = 0o600
OWNER_ONLY_FOLDER = 0o700


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """What a run did to a folder.

    Attributes
    ----------
    folder : Path
    files : tuple of str
        Names written, in order.
    removed : tuple of str
        Own files of an earlier run that this run did not make again.
    kept_earlier : bool
        True if the run was refused and the earlier results, program included, stand untouched.
    earlier_s : float or None
        When those were written, seconds of the epoch.
    """

    folder: Path
    files: tuple[str, ...]
    removed: tuple[str, ...] = ()
    kept_earlier: bool = False
    earlier_s: float | None = None


def digest(content: bytes | str) -> str:
    """Return the SHA-256 of bytes, or of a text in UTF-8, in hexadecimal."""
    data = content.encode("utf-8") if isinstance(content, str) else content
    return hashlib.sha256(data).hexdigest()


Keep = Callable[[Mapping[str, bytes]], None]
"""Takes all that will lie in a folder, before any of it does."""


def write_files(
    folder: Path,
    contents: Mapping[str, str | bytes],
    *,
    unless_there: str | None = None,
    keep: Keep | None = None,
) -> Written:
    """Write files, all or none, and take away own files of an earlier run that are not among them.

    Parameters
    ----------
    folder : Path
        Made if absent, for its owner only.
    contents : mapping of str to str or bytes
        Text or bytes by file name.
    unless_there : str, optional
        Name of an own file beside which nothing is written.
    keep : callable, optional

    Raises
    ------
    FileError
        If the folder or a file cannot be written, or a file of the same name is not ours.
    """
    return _write_all(folder, contents, unless_there=unless_there, keeps_others=False, keep=keep)


def add_files(
    folder: Path,
    contents: Mapping[str, str | bytes],
    *,
    instead_of: frozenset[str] = frozenset(),
    keep: Keep | None = None,
) -> Written:
    """Write files beside the others of ours, all or none.

    The next :func:`write_files` into the folder takes them away again: what was made from earlier
    results must not outlive them.

    Parameters
    ----------
    folder : Path
        Made if absent, for its owner only.
    contents : mapping of str to str or bytes
    instead_of : frozenset of str
        Own files that go where the contents do not hold them.
    keep : callable, optional

    Raises
    ------
    FileError
        If the folder or a file cannot be written, or a file of the same name is not ours.
    """
    return _write_all(folder, contents, keeps_others=True, instead_of=instead_of, keep=keep)


def _write_all(
    folder: Path,
    contents: Mapping[str, str | bytes],
    *,
    keeps_others: bool,
    unless_there: str | None = None,
    instead_of: frozenset[str] = frozenset(),
    keep: Keep | None = None,
) -> Written:
    try:
        folder.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
        found = made(folder)
        if unless_there is not None and unless_there in found and (folder / unless_there).exists():
            written_s = (folder / unless_there).stat().st_mtime
            return Written(folder=folder, files=(), kept_earlier=True, earlier_s=written_s)
        gone = _claim_names(folder, contents, found)
        removed = tuple(n for n in gone if not keeps_others or n in instead_of)
        others = found.keys() - {*contents, *removed, _SWAPPING[1]}
        kept = {n: d for n, d in found.items() if keeps_others and n in others}
        if keep is not None:
            beside_these = [n for n, d in kept.items() if _is_ours(folder / n, d)]
            keep({n: (folder / n).read_bytes() for n in beside_these} | _encoded(contents))
        _replace_all(folder, contents, found, removed, kept)
    except FileError:
        raise
    except OSError as fault:
        raise unwritable(folder, fault) from fault
    return Written(folder=folder, files=tuple(contents), removed=removed)


def unwritable(folder: Path, fault: OSError) -> FileError:
    """Return the fault of a folder that cannot be written to."""
    return FileError(
        f"cannot write the job folder: {fault.strerror or fault}",
        code="job-folder-unwritable",
        where=str(fault.filename or folder),
        remedy="Choose a folder that you may write to with -o.",
    )


def made(folder: Path) -> dict[str, list[str]]:
    """Return the digests under which each file may be ours."""
    try:
        text = (folder / MADE).read_text(encoding="utf-8")
    except FileNotFoundError:
        return {}
    try:
        rows = [line.split("  ", 1) for line in text.splitlines() if line]
        found: dict[str, list[str]] = {}
        for sha256, name in rows:
            found.setdefault(name, []).append(sha256)
    except ValueError as fault:
        raise FileError(
            "the list of files made by kerfwright is damaged",
            code="job-folder-damaged",
            where=str(folder / MADE),
            remedy="Choose another folder with -o, or move the results away.",
        ) from fault
    return found


def is_cut_short(folder: Path) -> bool:
    """Return whether files of a run lie in a folder beside those of an earlier one.

    So does a run that is still at it; whoever may write is the only one to tell.

    Raises
    ------
    FileError
        As :func:`made`.
    """
    return _SWAPPING[1] in made(folder)


def sweep(folder: Path) -> None:
    """Take away what runs that were killed long ago had written aside in a folder.

    What cannot be taken away stays.
    """
    before_s = time.time() - _OLD_S
    with contextlib.suppress(OSError):
        for one in folder.glob(f"{_ASIDE}*"):
            if one.is_dir() and not one.is_symlink() and one.stat().st_mtime < before_s:
                shutil.rmtree(one, ignore_errors=True)


def _claim_names(
    folder: Path, contents: Mapping[str, str | bytes], made: Mapping[str, list[str]]
) -> tuple[str, ...]:
    """Refuse names taken by others; return own files that are made no more."""
    for name in contents:
        target = folder / name
        if not target.is_symlink() and not target.exists():
            continue
        if target.is_symlink() or not _is_ours(target, made.get(name, [])):
            raise FileError(
                f"{name} is there already and was not made by kerfwright, or was edited since",
                code="file-not-ours",
                where=str(target),
                remedy="Move or rename it, or choose another folder with -o.",
            )
    gone = [n for n in made if n not in contents and _is_ours(folder / n, made[n])]
    return tuple(gone)


def _is_ours(target: Path, digests: list[str]) -> bool:
    try:
        return target.is_file() and digest(target.read_bytes()) in digests
    except OSError:
        return False


def _replace_all(
    folder: Path,
    contents: Mapping[str, str | bytes],
    made: Mapping[str, list[str]],
    removed: tuple[str, ...],
    kept: Mapping[str, list[str]],
) -> None:
    """Write everything aside, then swap it in; put the earlier files back if a swap fails."""
    encoded = _encoded(contents)
    rows = [(digest(data), name) for name, data in encoded.items()]
    rows += [(sha256, name) for name, digests in kept.items() for sha256 in digests]
    before = [(sha256, name) for name, digests in made.items() for sha256 in digests]
    with beside(folder) as aside:
        for name, data in encoded.items():
            write_new(aside / name, data)
        # From here until the last line the list names old and new digests, so that a run killed
        # in between leaves only files that the next run knows as its own.
        write_new(aside / "during", _made_text([_SWAPPING, *before, *rows]))
        write_new(aside / "after", _made_text(rows))
        (aside / "during").replace(folder / MADE)
        swapped: list[str] = []
        try:
            for name in encoded:
                if (folder / name).exists():
                    _keep(folder / name, aside / f"{name}.earlier")
                swapped.append(name)
                (aside / name).replace(folder / name)
            for name in removed:
                (folder / name).replace(aside / f"{name}.earlier")
                swapped.append(name)
            (aside / "after").replace(folder / MADE)
        except BaseException:
            for name in swapped:
                _put_back(aside / f"{name}.earlier", folder / name)
            raise
    sync(folder)


def _encoded(contents: Mapping[str, str | bytes]) -> dict[str, bytes]:
    return {
        name: data.encode("utf-8") if isinstance(data, str) else data
        for name, data in contents.items()
    }


def _keep(target: Path, earlier: Path) -> None:
    try:
        earlier.hardlink_to(target)
    except OSError:
        # File systems without hard links.
        shutil.copy2(target, earlier)


def _put_back(earlier: Path, target: Path) -> None:
    if earlier.exists():
        earlier.replace(target)
    else:
        target.unlink(missing_ok=True)


@contextlib.contextmanager
def beside(folder: Path) -> Iterator[Path]:
    """Make a temporary folder inside a folder, hence on the same file system."""
    with tempfile.TemporaryDirectory(prefix=_ASIDE, dir=folder) as aside:
        yield Path(aside)


def _made_text(rows: list[tuple[str, str]]) -> bytes:
    return "".join(f"{sha256}  {name}\n" for sha256, name in dict.fromkeys(rows)).encode()


def write_new(target: Path, data: bytes) -> None:
    """Write a file that is not there yet, for its owner only, onto the disc before returning."""
    handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _OWNER_ONLY)
    with os.fdopen(handle, "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def sync(folder: Path) -> None:
    """Make the renames durable where the system can open a folder."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
