"""The way of the wire through a solid, as a person writes it."""

from __future__ import annotations

import math
from typing import Final

from kerfwright.foundation.errors import InputError

Way = tuple[float, float, float]
_NAMED: Final[dict[str, Way]] = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}


def way_asked(text: str) -> Way:
    """Return a direction, of length 1: ``z``, ``-x``, ``0 0.5 1``.

    Raises
    ------
    InputError
        Code ``wire-along``.

    Examples
    --------
    >>> way_asked("-y"), way_asked("0, 0, 5")
    ((0.0, -1.0, 0.0), (0.0, 0.0, 1.0))
    """
    way = _read(text.strip().lower())
    size = math.hypot(*way)
    if len(way) != 3 or not (math.isfinite(size) and size > 0):
        raise InputError(
            f"{text!r} is no direction of the wire",
            code="wire-along",
            remedy="Write an axis of the solid, x, -y or z, or three numbers: 0 0.5 1.",
        )
    x, y, z = (part / size for part in way)
    return x, y, z


def _read(said: str) -> tuple[float, ...]:
    named = _NAMED.get(said.lstrip("+-"))
    if named is not None:
        return tuple(-part for part in named) if said.startswith("-") else named
    try:
        return tuple(float(word) for word in said.replace(",", " ").split())
    except ValueError:
        return ()
