"""How much a check tries: enough to notice a fault in `make test`, far more in `make soak`."""

from __future__ import annotations

import os

SOAK = bool(os.environ.get("KERFWRIGHT_SOAK"))
_THINNED = 3
_LEAST = 8


def tries(whole: int) -> int:
    """Return how many of so many examples are tried: all in a soak, a third otherwise."""
    return whole if SOAK else max(_LEAST, whole // _THINNED)
