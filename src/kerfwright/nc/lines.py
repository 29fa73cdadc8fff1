"""Lines of program text that every writer needs: comments, block numbers, numbers."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence

from kerfwright.foundation.errors import InputError

_PLAIN = str.maketrans(
    {"(": "[", ")": "]", "±": "+-", "µ": "u", "μ": "u", "Ø": "dia ", "ø": "dia ", "²": "2",
     "³": "3", "°": " deg", "×": "x", "–": "-", "—": "-", "≤": "<=", "≥": ">="}
)  # fmt: skip


def number_text(digits: int, decimals: int) -> str:
    """Return whole digits as a number with so many decimals.

    >>> number_text(-1250, 3)
    '-1.250'
    """
    return f"{digits / 10**decimals:.{decimals}f}"


def ascii_text(text: str) -> str:
    """Return a text in the nearest letters of ASCII, round brackets as square ones."""
    # Taken apart first: a wide bracket becomes a round one only then, and would end the comment.
    plain = unicodedata.normalize("NFKD", text.translate(_PLAIN)).translate(_PLAIN)
    kept = "".join(
        " " if unicodedata.category(c) == "Cc" else c for c in plain if not unicodedata.combining(c)
    )
    return " ".join(kept.encode("ascii", "replace").decode("ascii").split())


def comment_lines(text: str, *, longest: int, header: str = "CUT") -> Iterator[str]:
    """Yield comment lines of whole words that fit in a line.

    Parameters
    ----------
    text : str
    longest : int
        Characters that the machine reads in a line.
    header : str
        Word that begins a header: no other comment may look like one.
    """
    words = ascii_text(text).split()
    line = "-" if words and words[0].upper() == header else ""
    for word in words:
        if line and len(line) + len(word) + 3 > longest:
            yield f"({line})"
            line = f"- {word}" if word.upper() == header else word
        else:
            line = f"{line} {word}".lstrip()
    if line:
        yield f"({line})"


def numbered(blocks: list[str], *, step: int | None) -> list[str]:
    """Return blocks with their numbers, comments without; None numbers nothing."""
    if step is None:
        return blocks
    found, number = [], 0
    for block in blocks:
        if block.startswith("("):
            found.append(block)
            continue
        number += step
        found.append(f"N{number} {block}")
    return found


def refuse_long(lines: Sequence[str], *, longest: int) -> None:
    """Refuse a line that the machine would not read whole.

    Raises
    ------
    InputError
        Code ``line-too-long``.
    """
    found = max(lines, key=len)
    if len(found) > longest:
        raise InputError(
            f"a line has {len(found)} characters, the machine reads {longest}: {found}",
            code="line-too-long",
        )
