"""What the first line of a table that people write may hold."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from kerfwright.foundation.errors import InputError


def expect_column(column: str, columns: Sequence[str], *, where: str) -> None:
    """Refuse a column that is not known, and name the nearest.

    Raises
    ------
    InputError
        Code ``columns-unknown``.
    """
    if column in columns:
        return
    near = get_close_matches(column, columns, n=1)
    raise InputError(
        f"the column {column!r} is not known" + (f"; nearest: {near[0]}" if near else ""),
        code="columns-unknown",
        where=where,
        remedy=f"Columns are {', '.join(columns)}.",
    )
