"""Texts of others in a line of ours."""

from __future__ import annotations


def shortened(text: str, most: int) -> str:
    """Return a text of so many letters at most, the last of a longer one three dots.

    Examples
    --------
    >>> shortened("H7, reamed", 20), shortened("H7, reamed", 5)
    ('H7, reamed', 'H7, …')
    """
    return text if len(text) <= most else text[: most - 1] + "…"
