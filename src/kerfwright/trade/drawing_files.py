"""Files that a job may be made from, told by their names."""

from __future__ import annotations

from pathlib import PurePath
from typing import Final

DRAWING_ENDING: Final = ".dxf"
SOLID_ENDINGS: Final = frozenset({".step", ".stp"})
"""ISO 10303-21 names neither; both are written."""


def is_solid_name(name: str | PurePath) -> bool:
    """Return whether a file is a STEP file by its name.

    >>> is_solid_name("nozzle.STP"), is_solid_name("nozzle.dxf")
    (True, False)
    """
    return PurePath(name).suffix.lower() in SOLID_ENDINGS


def is_drawing_name(name: str | PurePath) -> bool:
    """Return whether a job may be made from a file by its name."""
    return PurePath(name).suffix.lower() == DRAWING_ENDING or is_solid_name(name)
