"""Whether the inside of a small opening is cut away whole, so that no slug is left."""

from __future__ import annotations

from enum import StrEnum


class CorelessWish(StrEnum):
    """What a person wants done with the inside of openings."""

    SMALL = "small"
    """Cut away where the slug would be too small to catch; else a slug."""
    UNATTENDED = "unattended"
    """Cut away also where a slug could be caught, up to a size, so that nobody has to be there."""
    ALWAYS = "always"
    """Cut away wherever it can be done."""
    NEVER = "never"
    """Always a slug."""
