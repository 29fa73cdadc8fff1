"""Opening a DXF file: what it is, whether it is whole, and what its header says.

ezdxf reads it.  Where ezdxf's strict reader gives up, its recovering reader is tried, but a
drawing in which that reader had to change a number is refused: it reads the decimal comma of
"2,5" as 2 and goes on, which is a wrong part.
"""

from __future__ import annotations

import logging
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from kerfwright.adapters.dxf.layers import printable
from kerfwright.foundation.errors import DrawingError, FileError
from kerfwright.foundation.findings import Finding, Severity

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_BINARY_MARK = b"AutoCAD Binary DXF\r\n\x1a\x00"
"""Sentinel of a binary DXF file (DXF reference, "Binary DXF files")."""
_TAIL = 4096
_DECIMAL_COMMA = re.compile(
    rb"^[ \t]*(?:1[0-9]|2[0-9]|3[0-9]|4[0-9]|5[0-8]|14[0-9]|2[1-3][0-9])[ \t]*\r?\n"
    rb"[ \t]*(-?\d*,\d+)[ \t]*\r?$",
    re.MULTILINE,
)
"""A group code of a coordinate or real number followed by digits with a comma."""
_KNOWN_STARTS = (
    (b"\x89PNG", "a PNG picture"),
    (b"%PDF", "a PDF document"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"ISO-10303-21", "a STEP file"),
    (b"<?xml", "an XML or SVG file"),
    (b"<svg", "an SVG file"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What the header itself says; None where it says nothing.

    ezdxf answers 6 (metres) for a drawing without a header, so presence is read from the
    bytes of the file and only the value from ezdxf.

    Attributes
    ----------
    insunits : int or None
        $INSUNITS: 1 inch, 4 millimetre, 0 none.
    measurement : int or None
        $MEASUREMENT: 0 imperial, 1 metric.
    """

    insunits: int | None
    measurement: int | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opened:
    """A drawing as ezdxf holds it, with its header and what opening it took."""

    document: Drawing
    header: Header
    findings: tuple[Finding, ...]


def read_bytes(path: Path) -> bytes:
    """Read a file whole.

    Raises
    ------
    FileError
        If it is absent, a directory or not readable.
    """
    where = str(path)
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise FileError(
            "there is no such file.",
            code="drawing-not-found",
            where=where,
            remedy="Check the path.",
        ) from None
    except IsADirectoryError:
        raise FileError(
            "this is a directory, not a drawing.",
            code="drawing-is-directory",
            where=where,
            remedy="Name a DXF file.",
        ) from None
    except OSError as error:
        raise FileError(
            f"the file cannot be read: {error.strerror or error}.",
            code="drawing-not-readable",
            where=where,
            remedy="Check its permissions.",
        ) from None


def open_drawing(path: Path, data: bytes) -> Opened:
    """Open a DXF file.

    Parameters
    ----------
    path : Path
    data : bytes
        Content of the file.

    Raises
    ------
    DrawingError
        If it is no DXF file, is cut short, writes decimal commas, or cannot be understood.
    """
    _check_kind(path, data)
    _check_whole(path, data)
    with _quiet() as log:
        try:
            document = _read(path)
        except Exception as error:  # a barrier: docs/decisions/0010
            # A damaged file makes ezdxf raise anything from KeyError to RecursionError; each
            # means the same to a person: it is not readable as it stands.
            first = error
        else:
            return Opened(document=document, header=_header(document, data), findings=_remarks(log))
        _check_decimal_comma(path, data)
        try:
            document, faults = _recover(path)
        except Exception as error:  # a barrier: docs/decisions/0010
            raise damaged(path, error) from None
        _check_numbers(path, log)
    return Opened(
        document=document,
        header=_header(document, data),
        findings=(
            Finding(
                code="drawing-recovered",
                severity=Severity.WARNING,
                message=(
                    f"The drawing has faults ({_short(first)}); it was read by the recovering "
                    f"reader with {len(faults)} repairs"
                    + (f", the first: {faults[0]}" if faults else "")
                    + "."
                ),
                remedy="Compare the picture with the drawing before cutting.",
                data={"repairs": len(faults), "error": type(first).__name__},
            ),
        ),
    )


def _remarks(log: list[str]) -> tuple[Finding, ...]:
    """Return what the strict reader passed over, if anything."""
    if not log:
        return ()
    return (
        Finding(
            code="reader-remarks",
            severity=Severity.WARNING,
            message=f"The reader remarked {len(log)} faults, the first: {log[0]}.",
            remedy="Compare the picture with the drawing before cutting.",
            data={"count": len(log)},
        ),
    )


def damaged(path: Path, error: Exception) -> DrawingError:
    """Return the error of a drawing whose structure does not hold together."""
    return DrawingError(
        f"the drawing is damaged and cannot be read: {_short(error)}.",
        code="drawing-damaged",
        where=path.name,
        remedy="Open it in a CAD program, audit it and save it as DXF again.",
    )


def _short(error: Exception) -> str:
    text = printable(re.sub(r"#\d+", "", " ".join(str(error).split())))
    kind = type(error).__name__
    said = text[:157] + "..." if len(text) > 160 else text
    return f"{kind}: {said}" if said else kind


@contextmanager
def _quiet() -> Iterator[list[str]]:
    """Keep ezdxf's log and warnings off the person's terminal; yield the log."""
    messages: list[str] = []

    class Collector(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            messages.append(printable(record.getMessage()))

    logger = logging.getLogger("ezdxf")
    collector = Collector()
    propagates = logger.propagate
    logger.addHandler(collector)
    logger.propagate = False
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield messages
    finally:
        logger.propagate = propagates
        logger.removeHandler(collector)


def _read(path: Path) -> Drawing:
    import ezdxf

    return ezdxf.readfile(path)  # type: ignore[attr-defined,unused-ignore]


def _recover(path: Path) -> tuple[Drawing, list[str]]:
    from ezdxf import recover

    document, auditor = recover.readfile(path)
    faults = [printable(entry.message) for entry in (*auditor.errors, *auditor.fixes)]
    return document, faults


def _check_kind(path: Path, data: bytes) -> None:
    remedy = "Save the drawing as DXF (R12 to 2018)."
    if not data.strip():
        raise DrawingError(
            "the file is empty.", code="drawing-empty", where=path.name, remedy=remedy
        )
    if re.match(rb"AC1\d\d\d", data):
        raise DrawingError(
            "this is a DWG file, not DXF.", code="drawing-is-dwg", where=path.name, remedy=remedy
        )
    head = data.lstrip()[:64]
    for start, kind in _KNOWN_STARTS:
        if head.startswith(start):
            raise DrawingError(
                f"this is {kind}, not DXF.", code="not-a-dxf", where=path.name, remedy=remedy
            )
    if not data.startswith(_BINARY_MARK) and b"SECTION" not in data:
        raise DrawingError(
            "the file holds no DXF section.", code="not-a-dxf", where=path.name, remedy=remedy
        )


def _check_whole(path: Path, data: bytes) -> None:
    """Refuse a file without its end mark: ezdxf would read the half of it without a word."""
    if b"EOF" not in data[-_TAIL:]:
        raise DrawingError(
            "the file ends before its end-of-file mark: part of the drawing is missing.",
            code="drawing-cut-short",
            where=path.name,
            remedy="Fetch or save the file again.",
        )


def _check_decimal_comma(path: Path, data: bytes) -> None:
    found = _DECIMAL_COMMA.search(data)
    if found is None:
        return
    line = data.count(b"\n", 0, found.start(1)) + 1
    raise DrawingError(
        f'numbers are written with a decimal comma ("{found[1].decode("ascii")}"), which DXF '
        "does not know: every reader takes them for something else.",
        code="decimal-comma",
        where=f"{path.name}, line {line}",
        remedy="Export again with a decimal point (set the language of numbers to English).",
    )


def _check_numbers(path: Path, log: list[str]) -> None:
    guessed = [m for m in log if "recovered invalid" in m]
    if guessed:
        raise DrawingError(
            f"{len(guessed)} values of the drawing are no numbers, the first: {guessed[0]}.",
            code="drawing-numbers-damaged",
            where=path.name,
            remedy="Fetch or save the file again.",
        )


def _header(document: Drawing, data: bytes) -> Header:
    def value(name: str) -> int | None:
        if name.encode("ascii") not in data:
            return None
        found = document.header.get(name)
        return int(found) if isinstance(found, int | float) else None

    return Header(insunits=value("$INSUNITS"), measurement=value("$MEASUREMENT"))
