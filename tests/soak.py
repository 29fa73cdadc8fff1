"""How much a check tries: enough to notice a fault in `make test`, far more in `make soak`."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import TypeVar

_Item = TypeVar("_Item")

SOAK = bool(os.environ.get("KERFWRIGHT_SOAK"))
_THINNED = 3
_LEAST = 8


def tries(whole: int) -> int:
    """Return how many of so many examples are tried: all in a soak, a third otherwise."""
    return whole if SOAK else max(_LEAST, whole // _THINNED)


def some(items: Sequence[_Item], of: int = _THINNED) -> Sequence[_Item]:
    """Return what is looked at of many: all in a soak, otherwise every third or so."""
    return items if SOAK else items[::of]
