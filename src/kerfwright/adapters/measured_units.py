"""Times and masses as a person at a machine writes them."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import KG_PER_LB, number, tidy

TIME_FORMS: Final = "34 min, 1 h 12 min, 0:34:12 or 95 s"
MASS_FORMS: Final = "0.25 kg, 250 g or 0.5 lb"
_TIME: Final = re.compile(
    r"(?:(?P<h>[\d.,]+)\s*h)?\s*(?:(?P<m>[\d.,]+)\s*min)?\s*(?:(?P<s>[\d.,]+)\s*s)?"
)
_CLOCK: Final = re.compile(r"(\d+):(\d\d):(\d\d)")
_MASS: Final = re.compile(r"([\d.,]+)\s*(kg|g|lb|oz)")
# Sixteen ounces to the pound.
KG: Final = {"kg": 1.0, "g": 0.001, "lb": KG_PER_LB, "oz": KG_PER_LB / 16}


def read_minutes(text: str) -> float:
    """Read a time in minutes: ``"34 min"``, ``"1 h 12 min"``, ``"0:34:12"``, ``"95 s"``.

    Raises
    ------
    InputError
        Code ``time-unreadable``; ``34:12`` is refused, as it may be hours or minutes.

    Examples
    --------
    >>> read_minutes("1 h 12 min"), read_minutes("0:30:30"), read_minutes("90 s")
    (72.0, 30.5, 1.5)
    """
    plain = tidy(text)
    clock = _CLOCK.fullmatch(plain)
    if clock:
        hours, minutes, seconds = (int(part) for part in clock.groups())
        return hours * 60 + minutes + seconds / 60
    match = _TIME.fullmatch(plain)
    if match is None or not any(match.groups()):
        raise InputError(
            f"time {text!r} cannot be read",
            code="time-unreadable",
            remedy=f"Write it as {TIME_FORMS}.",
        )
    parts = {unit: number(value, what="time") for unit, value in match.groupdict().items() if value}
    return parts.get("h", 0.0) * 60 + parts.get("m", 0.0) + parts.get("s", 0.0) / 60


def read_kg(text: str) -> float:
    """Read a mass in kg.

    Raises
    ------
    InputError
        Code ``mass-unreadable``.
    """
    match = _MASS.fullmatch(tidy(text))
    if match is None:
        raise InputError(
            f"mass {text!r} cannot be read",
            code="mass-unreadable",
            remedy=f"Write it as {MASS_FORMS}.",
        )
    return number(match.group(1), what="mass") * KG[match.group(2)]
