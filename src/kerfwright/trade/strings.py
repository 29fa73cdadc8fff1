"""Whether several outlines are cut as a string, with the wire threaded once for all of them."""

from __future__ import annotations

from enum import StrEnum


class StringWish(StrEnum):
    """What a person wants done with outlines that lie side by side."""

    AUTO = "auto"
    """Cut as strings where that costs less."""
    ALWAYS = "always"
    """Cut as strings wherever it can be done."""
    NEVER = "never"
    """Each from a start of its own."""
