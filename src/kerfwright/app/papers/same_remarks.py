"""Remarks that say the same of several contours, put together as one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final

from kerfwright.foundation.findings import Finding

THESE: Final = "\N{OBJECT REPLACEMENT CHARACTER}"
"""Stands for the contours in a remark on several: how they are listed is up to the paper."""
CONTOURS: Final = "contours"
"""Name of the datum that lists the contours of a finding on several, parted by commas."""


def listed(ids: Sequence[str]) -> str:
    """Return contours as a message names them: the first few, and how many more there are.

    >>> listed([f"H{n}" for n in range(1, 9)])
    'H1, H2, H3, H4, H5, H6 and 2 more'
    """
    more = len(ids) - _MOST_NAMED
    return ", ".join(ids[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


_MOST_NAMED: Final = 6


def ids_of(one: Finding) -> tuple[str, ...]:
    """Return the contours that a finding speaks of."""
    several = str(one.data.get(CONTOURS, ""))
    if several:
        return tuple(several.split(","))
    return (one.where.contour_id,) if one.where.contour_id else ()


def alike(group: Iterable[Finding]) -> dict[tuple[str, str], list[Finding]]:
    """Return findings by what they say, message and remedy, whichever contours they say it of.

    Parameters
    ----------
    group : iterable of Finding
        Of one code.

    Returns
    -------
    dict of (str, str) to list of Finding
        With :data:`THESE` in place of the contours.
    """
    found: dict[tuple[str, str], list[Finding]] = {}
    for one in group:
        ids = ids_of(one)
        key = _without(one.message, ids, begins=True), _without(one.remedy, ids, begins=False)
        found.setdefault(key, []).append(one)
    return found


def _without(text: str, ids: tuple[str, ...], *, begins: bool) -> str:
    """Return a text with its contours taken out; a message that names none begins with them."""
    text = text.replace(THESE, "")
    if not ids or not text:
        return text
    these = re.escape(listed(ids))
    named, count = re.subn(rf"^{these}(?=: )|(?<= at ){these}\b|(?<= of ){these}\b", THESE, text)
    return named if count or not begins else f"{THESE}: {text}"
