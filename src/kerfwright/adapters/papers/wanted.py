"""How the papers of one job are wanted: kept in its folder, so that they come out so again."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.papers.rules import PaperRules
from kerfwright.adapters.papers.typeset import Paper
from kerfwright.adapters.whole_files import read_whole, write_whole
from kerfwright.foundation.errors import InputError, RangeError
from kerfwright.trade.part import LengthUnit

FILE: Final = "papers-wanted.json"
_FORMAT, _VERSION = "kerfwright-papers-wanted", 1
_MOST_LETTERS: Final = 400
"""More than a sentence of terms holds; what is longer was pasted by mistake."""
_MOST_TERMS: Final = 20
_MOST_DAYS: Final = 3650


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperWords:
    """What the papers of one job say in place of the shop's usual words.

    Attributes
    ----------
    delivery : str
        Empty for the shop's own.
    terms : tuple of str or None
        None for the shop's own; empty for no terms.
    valid_days : int or None

    Raises
    ------
    InputError
        Code ``paper-words``.
    RangeError
        Code ``paper-days``.
    """

    delivery: str = ""
    terms: tuple[str, ...] | None = None
    valid_days: int | None = None

    def __post_init__(self) -> None:
        longest = max(len(text) for text in (self.delivery, *(self.terms or ())))
        if longest > _MOST_LETTERS or len(self.terms or ()) > _MOST_TERMS:
            raise InputError(
                f"the words have {len(self.terms or ())} sentences of up to {longest} letters; "
                f"a quote takes {_MOST_TERMS} of {_MOST_LETTERS}",
                code="paper-words",
                remedy="Shorten them, or send your terms on a sheet of their own.",
            )
        if self.valid_days is not None and not 1 <= self.valid_days <= _MOST_DAYS:
            raise RangeError(
                f"{self.valid_days} days of validity; 1 to {_MOST_DAYS} can be",
                code="paper-days",
                remedy="Give the days for which the price holds.",
            )

    def over(self, usual: PaperRules) -> PaperRules:
        """Return the shop's rules with these words over them."""
        return replace(
            usual,
            delivery=self.delivery or usual.delivery,
            terms=usual.terms if self.terms is None else self.terms,
            valid_days=self.valid_days or usual.valid_days,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """How the papers of a job are wanted.

    Attributes
    ----------
    paper : Paper
    unit : LengthUnit or None
        None for that of the drawing.
    number : str
        Of the quote; empty for one that follows from the job.
    asks_what_if : bool
    words : PaperWords
    made_for : int
        Revision of the job for which they were made last; 0 for never.
    revision : int
        Goes up with every change of how they are wanted.
    """

    paper: Paper = Paper.A4
    unit: LengthUnit | None = None
    number: str = ""
    asks_what_if: bool = False
    words: PaperWords = PaperWords()
    made_for: int = 0
    revision: int = 0


def save_wanted(folder: Path, wanted: Wanted) -> None:
    """Keep how the papers of a job are wanted.

    Raises
    ------
    FileError
        Code ``shop-folder-unwritable``.
    """
    document = {"format": _FORMAT, "version": _VERSION, **asdict(wanted)}
    text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
    write_whole(folder / FILE, text)


def read_wanted(folder: Path) -> Wanted:
    """Return how the papers of a job are wanted; the usual way where nobody said.

    Raises
    ------
    InputError
        Code ``papers-wanted-broken``.
    FileError
    """
    place = folder / FILE
    if not place.is_file():
        return Wanted()
    try:
        document: dict[str, Any] = json.loads(read_whole(place))
        _require_ours(document.pop("format"), document.pop("version"))
        words = document.pop("words")
        if words["terms"] is not None:
            words["terms"] = tuple(words["terms"])
        return Wanted(
            paper=Paper(document.pop("paper")),
            unit=LengthUnit(u) if (u := document.pop("unit")) else None,
            words=PaperWords(**words),
            **document,
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise InputError(
            f"how the papers are wanted cannot be read: {fault}",
            code="papers-wanted-broken",
            where=str(place),
            remedy="Delete the file, and say it again.",
        ) from fault


def _require_ours(form: str, version: int) -> None:
    if (form, version) != (_FORMAT, _VERSION):
        raise ValueError(f"it is {form} {version}, not {_FORMAT} {_VERSION}")
