"""Whether what reads solids is installed; loads nothing of it."""

from __future__ import annotations

from importlib.util import find_spec
from typing import Final

PACKAGE: Final = "OCP"
"""Open CASCADE as a Python module, the extra ``solids``."""


def has_reader() -> bool:
    """Return whether what reads solids is installed."""
    return find_spec(PACKAGE) is not None
