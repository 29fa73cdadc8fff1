"""Remarks that say the same of several contours, put together as one."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from hashlib import blake2s
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


def said_of_any(one: Finding) -> tuple[str, str]:
    """Return message and remedy with :data:`THESE` wherever they name the contours of a finding.

    A message that names none begins with them.  What a person or a drawing wrote, between “ and
    ”, stays as it is.

    Parameters
    ----------
    one : Finding
    """
    ids = ids_of(one)
    return _without(one.message, ids, begins=True), _without(one.remedy, ids, begins=False)


def alike(group: Iterable[Finding]) -> dict[tuple[str, str], list[Finding]]:
    """Return findings by what they say, message and remedy, whichever contours they say it of.

    Parameters
    ----------
    group : iterable of Finding
        Of one code.

    Returns
    -------
    dict of (str, str) to list of Finding
        By what :func:`said_of_any` returns.
    """
    found: dict[tuple[str, str], list[Finding]] = {}
    for one in group:
        found.setdefault(said_of_any(one), []).append(one)
    return found


def mark_of_alike(one: Finding) -> str:
    """Return a mark that findings share which say the same, of one code and weight.

    Papers and page put the same findings together by it.
    """
    words = "\n".join((one.code, one.severity.value, *said_of_any(one)))
    return blake2s(words.encode(), digest_size=_MARK_BYTES).hexdigest()


_MARK_BYTES: Final = 8


def _without(text: str, ids: tuple[str, ...], *, begins: bool) -> str:
    text = text.replace(THESE, "")
    if not ids or not text:
        return text
    these = rf"(?<![\w-]){re.escape(listed(ids))}(?![\w-])"
    named = re.sub(rf"(“[^”]*”)|{these}", lambda m: m[1] or THESE, text)
    return named if THESE in named or not begins else f"{THESE}: {text}"
