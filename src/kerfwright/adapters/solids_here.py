"""Whether what reads solids is installed; loads nothing of it."""

from __future__ import annotations

import contextlib
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from typing import Final

PACKAGE: Final = "OCP"
"""Open CASCADE as a Python module, the extra ``solids``."""


_DISTRIBUTIONS: Final = ("cadquery-ocp-novtk", "cadquery-ocp")


def reader_versions() -> tuple[str, ...]:
    """Return which releases of what reads solids are installed."""
    found = []
    for name in _DISTRIBUTIONS:
        with contextlib.suppress(PackageNotFoundError):
            found.append(f"{name} {version(name)}")
    return tuple(found)


def has_reader() -> bool:
    """Return whether what reads solids is installed."""
    return find_spec(PACKAGE) is not None
