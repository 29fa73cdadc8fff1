"""Texts that name what they say: ``tolerance=±0.0025mm, finish=Ra0.4um``."""

from __future__ import annotations

import re
from collections.abc import Callable

from kerfwright.foundation.errors import InputError

BETWEEN = " ,;\t"
"""Signs between two values."""


def named_texts(
    text: str,
    name: re.Pattern[str],
    *,
    ids: str,
    what: str,
    unread: Callable[[str], InputError],
) -> dict[str, str]:
    """Return the values of a text by their names.

    Parameters
    ----------
    text : str
    name : Pattern
        With the name as its one group.
    ids : str
        Contours that the text is for, in messages.
    what : str
        What such a text names, in messages: ``"demand"``.
    unread : callable
        Makes the error of a message.

    Raises
    ------
    InputError
        If nothing is named, a name has no value or stands twice, or words come before the first.
    """
    before, *rest = name.split(text)
    texts: dict[str, str] = {}
    for found, after in zip(rest[::2], rest[1::2], strict=True):
        key, value = found.lower(), after.strip(BETWEEN)
        if not value or key in texts:
            raise unread(f"{key} of {ids} is given {'no value' if not value else 'twice'}")
        texts[key] = value
    if before.strip(BETWEEN) or not texts:
        raise unread(f"{ids}: {text!r} names no {what}, or has words before the first")
    return texts
