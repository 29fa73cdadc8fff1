"""Words of a drawing that ask something of a contour and were not understood."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Final

from kerfwright.app.drawing_says import Saying
from kerfwright.app.papers.common import FRAME_NOT_PLANNED, NOT_UNDERSTOOD
from kerfwright.app.papers.same_remarks import CONTOURS, listed
from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.shortened import shortened
from kerfwright.trade.annotation import AnnotationKind
from kerfwright.trade.part import LengthUnit, Part
from kerfwright.trade.statements import Asks

FORMS: Final = {
    LengthUnit.MILLIMETRE: ("12 ±0.01", "12 +0.02/-0", "12.02/12.00", "12 H7"),
    LengthUnit.INCH: (".500 ±.0005", ".500 +.0005/-0", ".5005/.5000", "12 mm H7"),
}
"""Ways to write a size with its limits that are understood, by the unit of the drawing."""
_OF_A_CONTOUR: Final = (AnnotationKind.DIMENSION, AnnotationKind.LEADER)
_LIMITS: Final = re.compile(r"±|\+ ?/ ?-|(?<![\w.,])[+-] ?[\dO]{0,2}[.,][\dO]", re.IGNORECASE)
"""What limits of a size begin with; the letter O is often typed in place of a nought."""
_ASK_SIZES: Final = {
    "ACAD_TABLE": "A table",
    "ARC_DIMENSION": "A dimension of an arc",
    "LARGE_RADIAL_DIMENSION": "A dimension of a large radius",
}
"""Kinds whose words are not read, and may ask sizes or holes."""
_NUMBER: Final = re.compile(r"\d|±")
_MOST_LETTERS: Final = 60


@dataclass(slots=True, eq=False)
class _Lost:
    """Words that stand at one or several places."""

    where: Place
    contours: dict[str, None] = field(default_factory=dict)
    places: int = 0


def texts_not_understood(sayings: Iterable[Saying], part: Part) -> Iterator[Finding]:
    """Yield a finding for each text at a contour that was not understood, once for equal ones.

    Words with a number are a warning: they may be a limit that nobody plans.  Words without one
    are a note.  Of texts at no contour only those that look like limits are named.

    Parameters
    ----------
    sayings : iterable of Saying
        What the drawing says.
    part : Part
    """
    says = tuple(sayings)
    cut = {one.id for one in part.to_cut}
    standing = _standing(says)
    lost: dict[tuple[bool, str, str], _Lost] = {}
    for one in says:
        is_frame = one.statement.asks is Asks.FRAME
        if not is_frame and one.statement.asks is not Asks.NOT_UNDERSTOOD:
            continue
        if one.kind is AnnotationKind.UNREAD:
            if one.written in _ASK_SIZES:
                lost.setdefault((False, one.written, ""), _Lost(one.where)).places += 1
            continue
        at = one.contour_ids or standing.get(_entity(one), ())
        own = [name for name in at if name in cut]
        if at and not own:
            continue
        if not own and not is_frame and _LIMITS.search(one.statement.text) is None:
            continue
        if own and not is_frame and not _is_of_contour(one):
            continue
        key = (is_frame, one.written or one.statement.text, one.statement.text)
        same = lost.setdefault(key, _Lost(one.where))
        same.contours |= dict.fromkeys(own)
        same.places += 1
    for (is_frame, written, words), same in lost.items():
        if written in _ASK_SIZES:
            yield _kind_not_read(written, same)
        else:
            yield _framed(words, same) if is_frame else _unread(written, words, same, part)


def _is_of_contour(one: Saying) -> bool:
    """Tell whether words are meant for the contour they stand at, and not a note beside a size."""
    return one.kind in _OF_A_CONTOUR or _LIMITS.search(one.statement.text) is not None


def _standing(says: Iterable[Saying]) -> dict[tuple[str, str], tuple[str, ...]]:
    """Return the contours that another statement of the same text is meant for, by the text."""
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for one in says:
        if one.contour_ids:
            found.setdefault(_entity(one), one.contour_ids)
    return found


def _entity(one: Saying) -> tuple[str, str]:
    return one.sheet, one.where.entity or str(one.where)


def _unread(written: str, words: str, same: _Lost, part: Part) -> Finding:
    at = listed(tuple(same.contours))
    whole = shortened(" ".join(written.split()), _MOST_LETTERS)
    said = shortened(" ".join(words.split()), _MOST_LETTERS)
    of = f"“{said}” of the text “{whole}”" if said != whole else f"The text “{said}”"
    forms = FORMS[part.drawing_unit]
    is_asking = _NUMBER.search(words) is not None or _LIMITS.search(words) is not None
    asked = f"ask it of {at}" if at else "ask it of the contours that it is meant for"
    return Finding(
        code=NOT_UNDERSTOOD,
        severity=Severity.WARNING if is_asking else Severity.NOTE,
        message=f"{of}{f' at {at}' if at else ''}{_times(same)} was not understood: nothing of it "
        "is planned, priced or checked.",
        where=same.where,
        remedy=f"Read it on the drawing and {asked}. Limits of a size are understood as "
        f"{', '.join(forms[:-1])} or {forms[-1]}.",
        data={"text": words, "written": written, "places": same.places, **_listed(same)},
    )


def _kind_not_read(written: str, same: _Lost) -> Finding:
    return Finding(
        code=NOT_UNDERSTOOD,
        severity=Severity.WARNING,
        message=f"{_ASK_SIZES[written]}{_times(same)} of the drawing is of a kind whose words are "
        "not read: what it asks of sizes and holes is not planned, priced or checked.",
        where=same.where,
        remedy="Read it on the drawing and ask what it asks of the contours that it means.",
        data={"text": written, "written": written, "places": same.places},
    )


def _framed(words: str, same: _Lost) -> Finding:
    at = listed(tuple(same.contours))
    said = shortened(" ".join(words.split()), _MOST_LETTERS)
    return Finding(
        code=FRAME_NOT_PLANNED,
        severity=Severity.WARNING,
        message=f"The geometrical tolerance “{said}”{f' at {at}' if at else ''}{_times(same)} is "
        "shown only: nothing of it is planned, priced or checked.",
        where=same.where,
        remedy="Read it on the drawing. Of a contour there can be asked the tolerance of its wall, "
        "its finish and its recast layer.",
        data={"text": words, "places": same.places, **_listed(same)},
    )


def _listed(same: _Lost) -> dict[str, str]:
    return {CONTOURS: ",".join(same.contours)} if same.contours else {}


def _times(same: _Lost) -> str:
    return f" ({counted(same.places, 'place')})" if same.places > 1 else ""
