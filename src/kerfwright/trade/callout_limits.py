"""``MAX`` and ``MIN`` behind a size: one limit of it, and no zone."""

from __future__ import annotations

import re
from enum import StrEnum
from typing import Final

from kerfwright.foundation.errors import InputError


class Side(StrEnum):
    """Which limit of a size is written.

    References
    ----------
    ISO 14405-1 and ASME Y14.5 call ``max`` and ``min`` a single limit, of which the other follows
    from elsewhere on the drawing (from memory).
    """

    MOST = "max"
    LEAST = "min"

    @property
    def words(self) -> str:
        """As it is said behind the size."""
        return "at most" if self is Side.MOST else "at least"

    def holds(self, size_mm: float, limit_mm: float, *, within_mm: float = 0.0) -> bool:
        """Tell whether a size keeps the limit."""
        beyond_mm = size_mm - limit_mm if self is Side.MOST else limit_mm - size_mm
        return beyond_mm <= within_mm


ONE_SIDED: Final = r"(?<![A-Za-z])(?:max|min)(?:imum)?\b\.?"
"""In patterns, in front of a size or behind it."""
ONE_LIMIT_ALONE: Final = (
    "one limit alone: the other follows from the rest of the drawing, so no zone of the walls is "
    "asked by it; the inspection sheet keeps to it"
)
_WORD: Final = re.compile(ONE_SIDED, re.IGNORECASE)


def side_of(text: str) -> Side | None:
    """Return which limit some words give; None where they give none.

    >>> side_of("R5 MAX").words
    'at most'
    """
    found = _WORD.search(text)
    return None if found is None else Side(found[0][:3].lower())


def not_one_sided(text: str) -> None:
    """Refuse a single limit where the two ends of a zone are needed.

    Raises
    ------
    InputError
        Code ``one-limit-of-a-size``.
    """
    side = side_of(text)
    if side is not None and any(letter.isdigit() for letter in text):
        raise InputError(
            f"tolerance {text!r} gives one limit of a size ({side.words}), and a cut needs both "
            "ends of its zone.",
            code="one-limit-of-a-size",
            remedy="Write both limits, as 12.700/12.682 mm, or the size with its deviations, as "
            "12.7 +0/-0.018 mm.",
        )
