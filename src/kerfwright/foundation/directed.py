"""Figures of limits, rounded to the side on which they say no more than they hold."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from enum import StrEnum
from typing import Final

_DIGITS: Final = 3
"""Significant digits of what is rounded."""
_SURE_DIGITS: Final = 11
"""Beyond these the digits of a converted value are rounding noise."""


_UM_PER_INCH: Final = 25_400.0
"""Exact by definition (international yard and pound agreement of 1959; ISO 80000-3)."""


class Use(StrEnum):
    """What a limit is shown as, which decides the side it is rounded to."""

    HELD = "held"
    """A promise, or how far something may be off: never shown closer than it is."""
    ASKED = "asked"
    """A demand, or a limit to be kept: never shown wider than it is."""


_EXACT_DIGITS: Final = {Use.HELD: 4, Use.ASKED: 5}
"""A value that is written with so many digits, or fewer, is shown as it is: what a person asked
keeps more of them than what was computed."""


def shown(value: float, use: Use) -> str:
    """Write a limit, 0 or above, in plain decimals: as it is, or to three digits on its safe side.

    Parameters
    ----------
    value : float
        In the unit in which it is read.
    use : Use

    Examples
    --------
    >>> shown(0.0001338583, Use.HELD), shown(0.0001338583, Use.ASKED)
    ('0.000134', '0.000133')
    >>> shown(5.0, Use.HELD), shown(12.345, Use.ASKED), shown(1234.56, Use.HELD)
    ('5', '12.345', '1235')
    >>> shown(11.025, Use.HELD), shown(27.5625, Use.HELD)
    ('11.1', '27.6')
    """
    exact = Decimal(f"{value:.{_SURE_DIGITS - 1}e}").normalize()
    if not exact or len(exact.as_tuple().digits) <= _EXACT_DIGITS[use]:
        return f"{exact:f}"
    step = Decimal(1).scaleb(min(0, exact.adjusted() - _DIGITS + 1))
    side = ROUND_CEILING if use is Use.HELD else ROUND_FLOOR
    text = f"{exact.quantize(step, rounding=side):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def in_both(asked_um: float) -> str:
    """Write a demand in both unit systems, for those who read it from a text.

    >>> in_both(5.0)
    '5 µm (0.000196 in)'
    """
    return f"{shown(asked_um, Use.ASKED)} µm ({shown(asked_um / _UM_PER_INCH, Use.ASKED)} in)"
