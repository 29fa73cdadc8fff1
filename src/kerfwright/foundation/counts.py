"""Counts with their noun, and values that cannot be below nought."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.foundation.errors import InputError

_BELOW: Final = re.compile(r"(?:[a-z]+\.?\s*[:=]?\s+)?-\s*[\d.,]")
"""A minus before the first digit, where a word such as Ra may stand before both."""


def counted(number: float, noun: str, plural: str = "") -> str:
    """Return a count with its noun in the right number.

    Parameters
    ----------
    number : float
        A fraction is written with three digits and takes the plural.
    noun : str
    plural : str
        Where it is not the noun with an s.

    Examples
    --------
    >>> counted(1, "stop"), counted(2, "stop"), counted(0, "pass", "passes")
    ('1 stop', '2 stops', '0 passes')
    >>> counted(2.5, "piece")
    '2.5 pieces'
    """
    said = f"{number}" if isinstance(number, int) else f"{number:.3g}"
    return f"{said} {noun if number == 1 else plural or f'{noun}s'}"


def refuse_below_nought(plain: str, *, what: str, said: str) -> None:
    """Refuse a value with a minus, which would else be called unreadable.

    Parameters
    ----------
    plain : str
        In lower case with one spelling of the minus, see :func:`kerfwright.foundation.units.tidy`.
    what : str
        Name of the quantity for the message.
    said : str
        As it was written.

    Raises
    ------
    InputError
        Code ``value-negative``.
    """
    if _BELOW.match(plain):
        raise InputError(
            f"{what} {said!r} must not be negative",
            code="value-negative",
            remedy="Write it without the minus.",
        )
