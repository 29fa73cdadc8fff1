"""How a stack is asked for: texts of the command line and of the page's lines.

Apart from what prices a stack: a line is held to its forms before anything heavy is loaded.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.trade.stack import MOST_SHEETS

AUTO: Final = "auto"


def pieces_asked(text: str) -> int | None:
    """Return how many pieces a stack is to have; None for as many as cost least.

    >>> pieces_asked("8"), pieces_asked("auto")
    (8, None)
    """
    plain = text.strip().casefold()
    if plain == AUTO:
        return None
    if not (plain.isascii() and plain.isdigit()) or not 1 <= int(plain) <= MOST_SHEETS:
        raise InputError(
            f"a stack of {text!r} cannot be read; give 1 to {MOST_SHEETS} or {AUTO}",
            code="stack-value",
            remedy="Give the number of sheets that become parts.",
        )
    return int(plain)


def covers_asked(text: str | None) -> int | None:
    """Return how many scrap sheets are asked for; None where nothing was said."""
    if text is None:
        return None
    plain = text.strip()
    if not (plain.isascii() and plain.isdigit()) or int(plain) > MOST_SHEETS:
        raise InputError(
            f"covers {text!r} cannot be read; give a whole number, 0 for none",
            code="stack-value",
        )
    return int(plain)


def expect_stack(stack: str | None, covers: str | None) -> None:
    """Refuse covers where no stack is asked for.

    Raises
    ------
    InputError
        Code ``stack-value``.

    Examples
    --------
    >>> expect_stack("8", "2")
    """
    if stack is None and covers is not None:
        raise InputError(
            "covers are asked for, and no stack",
            code="stack-value",
            remedy="Give --stack with the number of sheets that become parts.",
        )


def check_stack_lines(asked: Mapping[str, str]) -> None:
    """Refuse lines of an enquiry that go together as those of a stack and do not.

    Parameters
    ----------
    asked : mapping of str to str

    Raises
    ------
    InputError
        Code ``stack-value``.
    """
    expect_stack(asked.get("stack"), asked.get("covers"))
