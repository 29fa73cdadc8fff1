"""The folder of enquiries: one job folder each, with what is asked in ``enquiry.json``.

Nothing lives outside these folders.  A change is written aside and renamed (atomic within one
file system: POSIX.1-2017, ``rename``), and only if nobody changed the enquiry in between.
"""

from __future__ import annotations

import contextlib
import json
import re
import tempfile
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from kerfwright.adapters import removed_jobs
from kerfwright.adapters.owned_files import beside, digest, sweep, sync, write_new
from kerfwright.adapters.sealed_jobs import is_opened, is_sealed, sweep_sealed
from kerfwright.adapters.whole_files import one_writer
from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.foundation.errors import FileError, InputError, UnknownNameError
from kerfwright.trade.drawing_files import DRAWING_ENDING, is_drawing_name

ENQUIRY: Final = "enquiry.json"
_FORMAT, _VERSION = "kerfwright-enquiry", 1
_NOT_IN_FILES: Final = frozenset('<>:"/\\|?*')
_ID: Final = re.compile(r"[a-z0-9][a-z0-9-]{0,79}")
OUR_TABLES: Final = "our-tables"
OUR_CUTS: Final = "our-cuts"
"""The shop's own figures beside its jobs, unless it keeps them elsewhere; no job is called so."""
_OWNER_ONLY_FOLDER = 0o700
_MOST_NAME = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class EnquiryFolder:
    """A folder of enquiries.

    Attributes
    ----------
    folder : Path
        Made if absent, for its owner only.
    """

    folder: Path

    def ready(self) -> None:
        """Make the folder.

        Raises
        ------
        FileError
            If it cannot be made or written to.
        """
        try:
            self.folder.mkdir(mode=_OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=self.folder):
                pass
            sweep(self.folder)
            sweep_sealed(self.folder)
        except OSError as fault:
            raise FileError(
                f"cannot write to the folder of jobs: {fault.strerror or fault}",
                code="jobs-unwritable",
                where=str(self.folder),
                remedy="Name another folder with --jobs.",
            ) from fault

    def place_of(self, enquiry_id: str) -> Path:
        """Return the folder of one enquiry.

        Raises
        ------
        UnknownNameError
            If there is none of this name, or with code ``job-sealed`` if it is sealed.
        """
        place = self.folder / enquiry_id
        if not _ID.fullmatch(enquiry_id) or not (place / ENQUIRY).is_file():
            if _ID.fullmatch(enquiry_id) and is_sealed(self.folder, enquiry_id):
                raise UnknownNameError(
                    f"the job {enquiry_id!r} is sealed: encrypted where it lies",
                    code="job-sealed",
                    remedy=f"On the machine that keeps the jobs, kerfwright jobs unseal "
                    f"{enquiry_id} opens it with its passphrase, until it is sealed again.",
                )
            raise UnknownNameError(f"there is no job {enquiry_id!r}", code="job-unknown")
        return place

    def drawing_of(self, enquiry: Enquiry) -> Path:
        """Return the drawing of an enquiry."""
        return self.place_of(enquiry.id) / enquiry.drawing

    def all(self) -> Iterator[Enquiry | FileError | InputError]:
        """Yield every enquiry; for a folder that cannot be read, what is wrong with it."""
        for place in sorted(self.folder.iterdir()):
            if not place.name.startswith(".") and (place / ENQUIRY).is_file():
                try:
                    yield self.read(place.name)
                except (FileError, InputError) as fault:
                    yield fault

    def read(self, enquiry_id: str) -> Enquiry:
        """Return one enquiry.

        Raises
        ------
        UnknownNameError
            If there is none of this name.
        FileError, InputError
            If its file cannot be read.
        """
        place = self.place_of(enquiry_id) / ENQUIRY
        try:
            document = json.loads(place.read_text(encoding="utf-8"))
        except OSError as fault:
            raise FileError(
                f"cannot read: {fault.strerror}", code="file-unreadable", where=str(place)
            ) from fault
        except ValueError as fault:
            raise InputError(
                f"not valid JSON: {fault}", code="enquiry-broken", where=str(place)
            ) from fault
        return _enquiry(document, place)

    def add(self, name: str, content: bytes, *, added: datetime) -> Enquiry:
        """Keep a drawing that came in as a new enquiry.

        Parameters
        ----------
        name : str
            File name as it came; only its last part is used.
        content : bytes
        added : datetime
            With its time zone.

        Raises
        ------
        FileError
            If it cannot be written.
        """
        title = _title(name)
        stem = _plain(Path(title).stem) or "drawing"
        drawing = _file_name(title)
        try:
            # Made aside and renamed whole: whoever is killed meanwhile leaves no half a job.
            with beside(self.folder) as aside:
                made = aside / "job"
                made.mkdir(mode=_OWNER_ONLY_FOLDER)
                write_new(made / drawing, content)
                enquiry = self._placed(
                    made,
                    stem,
                    Enquiry(
                        id="",
                        title=title,
                        drawing=drawing,
                        drawing_sha256=digest(content),
                        added=added.isoformat(timespec="seconds"),
                    ),
                )
            sync(self.folder)
        except OSError as fault:
            raise FileError(
                f"cannot keep the drawing: {fault.strerror or fault}",
                code="jobs-unwritable",
                where=str(self.folder),
            ) from fault
        return enquiry

    @contextlib.contextmanager
    def one_writer(self, enquiry_id: str) -> Iterator[None]:
        """Keep other threads and processes from changing a job meanwhile.

        Raises
        ------
        UnknownNameError
            If there is none of this name.
        """
        with contextlib.ExitStack() as held:
            try:
                held.enter_context(one_writer(self.place_of(enquiry_id), makes_folder=False))
            except FileNotFoundError as fault:
                raise UnknownNameError(
                    f"there is no job {enquiry_id!r}", code="job-unknown"
                ) from fault
            yield

    def save(self, enquiry: Enquiry) -> None:
        """Write an enquiry.

        Raises
        ------
        FileError
            If it cannot be written.
        """
        place = self.place_of(enquiry.id)
        try:
            with beside(place) as aside:
                write_new(aside / ENQUIRY, enquiry_text(enquiry))
                (aside / ENQUIRY).replace(place / ENQUIRY)
            sync(place)
        except OSError as fault:
            raise FileError(
                f"cannot save the job: {fault.strerror or fault}",
                code="jobs-unwritable",
                where=str(place),
            ) from fault

    def change(self, enquiry_id: str, edit: Callable[[Enquiry], Enquiry]) -> Enquiry:
        """Read an enquiry, change it and write it, nobody else writing to it in between.

        Parameters
        ----------
        enquiry_id : str
        edit : callable
            Takes the enquiry as it is now and returns it as it is to be; what it returns
            unchanged is not written.

        Returns
        -------
        Enquiry
            As it is now.

        Raises
        ------
        UnknownNameError, FileError, InputError
            As for reading and saving; and whatever the edit raises.
        """
        with self.one_writer(enquiry_id):
            now = self.read(enquiry_id)
            after = edit(now)
            if after is not now:
                self.save(after)
        return after

    def remove(self, enquiry_id: str) -> Path:
        """Move an enquiry aside, into ``.removed``, and return where it lies.

        Raises
        ------
        UnknownNameError
            If there is none of this name.
        FileError
        """
        place = self.place_of(enquiry_id)
        if is_opened(place):
            raise InputError(
                f"{enquiry_id} is a sealed job that is open",
                code="job-opened",
                remedy="Seal it again first, or unseal it for good.",
            )
        return removed_jobs.remove(self.folder, place)

    def bring_back(self, name: str) -> str:
        """Put an enquiry back, see :func:`kerfwright.adapters.removed_jobs.bring_back`."""
        return removed_jobs.bring_back(self.folder, name)

    def _placed(self, made: Path, stem: str, enquiry: Enquiry) -> Enquiry:
        """Rename a folder that was made aside to the first name that is free."""
        for number in range(1, 10_000):
            place = self.folder / (stem if number == 1 else f"{stem}-{number}")
            # Cuts of a job that was taken off the list must not become those of another.
            if (
                place.name in {OUR_TABLES, OUR_CUTS}
                or place.exists()
                or removed_jobs.is_taken(self.folder, place.name)
                or is_sealed(self.folder, place.name)
            ):
                continue
            named = replace(enquiry, id=place.name)
            write_new(made / ENQUIRY, enquiry_text(named))
            try:
                made.rename(place)
            except OSError:
                if not place.exists():
                    raise
                # Another was quicker: on to the next name.
                (made / ENQUIRY).unlink()
            else:
                return named
        raise FileError("too many drawings of one name", code="jobs-full", where=str(self.folder))


def _title(name: str) -> str:
    """Return the last part of a name without control characters."""
    last = name.replace("\\", "/").rpartition("/")[2]
    shown = "".join(c for c in last if c.isprintable()).strip()
    return shown[-2 * _MOST_NAME :] or "drawing.dxf"


def _file_name(title: str) -> str:
    """Return the name of a drawing as a file: its own, for papers and programs are headed by it.

    >>> _file_name("Two Outlines_REV B.DXF")
    'Two Outlines_REV B.dxf'
    """
    stem, ending = (
        (Path(title).stem, Path(title).suffix.lower())
        if is_drawing_name(title)
        else (title, DRAWING_ENDING)
    )
    safe = "".join("-" if c in _NOT_IN_FILES else c for c in stem)
    return f"{safe[:_MOST_NAME].strip('. ') or 'drawing'}{ending}"


def _plain(stem: str) -> str:
    """Return small letters, digits and hyphens: safe in any file system and in an address."""
    letters = unicodedata.normalize("NFKD", stem).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", letters).strip("-")[:_MOST_NAME].strip("-")


def enquiry_text(enquiry: Enquiry) -> bytes:
    """Return what the file of an enquiry holds."""
    document: dict[str, Any] = {"format": _FORMAT, "version": _VERSION}
    for one in fields(Enquiry):
        value = getattr(enquiry, one.name)
        if one.name in {"past", "future"}:
            value = [dict(state) for state in value]
        elif one.name in {"asked", "outcome"}:
            value = dict(value)
        document[one.name] = value
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode()


def _enquiry(document: Any, place: Path) -> Enquiry:
    try:
        version = (document.pop("format"), document.pop("version"))
        asked = _texts(document.pop("asked"))
        outcome = _texts(document.pop("outcome"))
        past, future = (tuple(_texts(s) for s in document.pop(n)) for n in ("past", "future"))
        stage = Stage(document.pop("stage"))
        found = Enquiry(
            asked=asked, outcome=outcome, past=past, future=future, stage=stage, **document
        )
    except (KeyError, TypeError, ValueError, AttributeError) as fault:
        raise InputError(
            f"the enquiry cannot be read: {fault}", code="enquiry-broken", where=str(place)
        ) from fault
    is_ours = found.id == place.parent.name and Path(found.drawing).name == found.drawing
    if version != (_FORMAT, _VERSION) or not is_ours:
        raise InputError(
            "not an enquiry of this version, or of another folder",
            code="enquiry-broken",
            where=str(place),
        )
    return found


def _texts(value: Any) -> MappingProxyType[str, str]:
    if not all(isinstance(k, str) and isinstance(v, str) for k, v in value.items()):
        raise ValueError("a text is missing")
    return MappingProxyType(dict(value))
