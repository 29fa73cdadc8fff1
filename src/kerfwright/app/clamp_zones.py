"""Where clamps stand, as a person writes it."""

from __future__ import annotations

from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import length_mm
from kerfwright.geometry.contour import Contour

ZONE_FORM: Final = "X,Y,WIDTH,HEIGHT with units, such as 0mm,80mm,15mm,40mm"


def rectangle(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Contour:
    """Return a rectangle, counter-clockwise."""
    right, top = x_mm + width_mm, y_mm + height_mm
    return Contour.from_rows([(x_mm, y_mm), (right, y_mm), (right, top), (x_mm, top)])


def zone(text: str) -> Contour:
    """Return the place of one clamp, which stays free, counter-clockwise.

    >>> zone("0mm,80mm,15mm,40mm").bounds_mm
    (0.0, 80.0, 15.0, 120.0)
    """
    words = text.split(",")
    if len(words) != 4:
        raise InputError(
            f"clamp {text!r} cannot be read", code="clamp-text", remedy=f"Write {ZONE_FORM}."
        )
    signs = [-1.0 if w.strip().startswith("-") else 1.0 for w in words]
    x, y, width, height = (
        s * length_mm(w.strip().removeprefix("-"), what="clamp")
        for s, w in zip(signs, words, strict=True)
    )
    if not (width > 0 and height > 0):
        raise InputError(
            f"clamp {text!r} has no area", code="clamp-text", remedy=f"Write {ZONE_FORM}."
        )
    return rectangle(x, y, width, height)


def clamps_asked(text: str) -> tuple[Contour, ...]:
    """Return the places of several clamps, with ``;`` between them.

    Parameters
    ----------
    text : str

    Raises
    ------
    InputError
        Code ``clamp-text`` where one cannot be read or has no area.

    >>> [c.bounds_mm for c in clamps_asked("0mm,80mm,15mm,40mm; -1in,0in,1in,2in")]
    [(0.0, 80.0, 15.0, 120.0), (-25.4, 0.0, 0.0, 50.8)]
    """
    return tuple(zone(one) for one in text.split(";") if one.strip())
