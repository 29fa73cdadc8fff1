"""From data to PDF with Typst: texts are handed over as data and never become markup."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from enum import StrEnum
from importlib import import_module
from pathlib import Path
from typing import Any, Final

from kerfwright.foundation.errors import MissingPackageError

TEMPLATES: Final = Path(__file__).parent / "templates"
"""Beside this module: a package that lies in an archive cannot typeset."""


class Paper(StrEnum):
    """Size of the sheet."""

    A4 = "a4"
    LETTER = "letter"


SIZES_MM: Final = {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}
"""ISO 216; ANSI/ASME Y14.1 size A (both from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Typeset:
    """A paper as it is kept and as it is looked at.

    Attributes
    ----------
    pdf : bytes
    pages : tuple of bytes
        Each page as SVG; empty where nobody looks.
    """

    pdf: bytes
    pages: tuple[bytes, ...] = ()


def typeset(
    template: str,
    data: Mapping[str, Any],
    *,
    paper: Paper,
    made_on: date,
    shows_pages: bool = False,
) -> Typeset:
    """Return a PDF, and its pages as pictures if they are looked at.

    Parameters
    ----------
    template : str
        Name of a template, without its ending.
    data : mapping
        Texts and numbers as JSON can hold them.
    paper : Paper
    made_on : date
        Date of the file, so that the same day gives the same bytes.
    shows_pages : bool
        Whether each page is wanted as SVG too.

    Raises
    ------
    MissingPackageError
        If Typst is not installed.
    """
    stamp = datetime.combine(made_on, time(), tzinfo=UTC)
    wide, high = SIZES_MM[paper]
    document = {"paper": {"width": wide, "height": high}, **data}
    # One compiler for both forms: what was laid out once is not laid out again.
    compiler = _typst().Compiler(
        str(TEMPLATES / f"{template}.typ"),
        root=str(TEMPLATES),
        # The fonts of the machine would make other pages elsewhere.
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(document, ensure_ascii=False)},
    )
    pdf = compiler.compile(timestamp=stamp)
    assert isinstance(pdf, bytes)
    if not shows_pages:
        return Typeset(pdf=pdf)
    # One page comes bare, several as a list.
    pages = compiler.compile(format="svg", timestamp=stamp)
    return Typeset(pdf=pdf, pages=(pages,) if isinstance(pages, bytes) else tuple(pages))


def can_typeset() -> bool:
    """Return whether Typst is there."""
    try:
        _typst()
    except MissingPackageError:
        return False
    return True


def _typst() -> Any:
    try:
        return import_module("typst")
    except ImportError as fault:
        raise MissingPackageError(
            "papers are set with Typst, which is not installed",
            code="papers-need-typst",
            remedy="Install it with: pip install 'kerfwright[papers]'",
        ) from fault
