"""Tolerances on papers: of each wall, and of a size between two, in the unit of the paper."""

from __future__ import annotations

import math
import re
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Final

from kerfwright.adapters.papers.words import FIRM_SPACE, Units, printable, signed
from kerfwright.foundation.directed import Use
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import MM_PER_INCH, UM_PER_MM, tidy, tolerance

_IN_INCHES: Final = re.compile(r"in\b|inch|\"|''|thou|tenth")
_SURE_DIGITS: Final = 5
"""Digits beyond the last one written; what differs behind them is noise of the conversion."""
_NOISE_SHARE: Final = 1e-9
"""Share of a value by which its conversion may miss it."""
_JOINER: Final = "\u2060"
"""Keeps a line from being broken between the two ends of a zone (Unicode, word joiner)."""


def zone_words(said: str, half_um: float, units: Units) -> str:
    """Return a tolerance of each wall, and what it leaves a size between two such walls.

    Parameters
    ----------
    said : str
        As it was written; empty where it was computed.  In the other unit it is quoted.
    half_um : float
        Half of the zone of a wall, where nothing was written.
    units : Units
    """
    middle_um, written = 0.0, ""
    if said:
        try:
            read = tolerance(said)
        except InputError:
            # A fit names the size itself.
            return printable(said)
        half_um, middle_um = read.half_um, read.shift_um
        if bool(_IN_INCHES.search(tidy(said))) != units.is_inch:
            written = f" (“{printable(said)}”)"
    wall, size = (_zone(f * half_um, f * middle_um, units) for f in (1, 2))
    return f"{wall} of each wall{written}, {size} on a size between two"


def _zone(half_um: float, middle_um: float, units: Units) -> str:
    if middle_um == 0:
        return f"±{units.zone(half_um, Use.ASKED)}"
    return ends(middle_um + half_um, middle_um - half_um, units)


def ends(high_um: float, low_um: float, units: Units) -> str:
    r"""Return the two ends of a zone with alike decimals, neither wider than it is.

    Examples
    --------
    >>> from kerfwright.trade.part import LengthUnit
    >>> inch, metric = Units(unit=LengthUnit.INCH), Units(unit=LengthUnit.MILLIMETRE)
    >>> print(*(ends(40.0, -20.0, one).replace("\u2060", "") for one in (inch, metric)), sep=", ")
    +0.00157/−0.00078\xa0in, +0.04/−0.02\xa0mm
    """
    scale = UM_PER_MM * (MM_PER_INCH if units.is_inch else 1.0)
    high, low = high_um / scale, low_um / scale
    decimals = 5 if units.is_inch else 4
    while any(_is_few(value, decimals) for value in (high, low)):
        decimals += 1
    texts = [
        _rounded(value, decimals, side)
        for value, side in ((high, ROUND_FLOOR), (low, ROUND_CEILING))
    ]
    while not units.is_inch and all(t.endswith("0") and "." in t for t in texts):
        texts = [t[:-1].removesuffix(".") for t in texts]
    first, last = ("0" if not t.strip("-0.") else _with_sign(t) for t in texts)
    return f"{first}/{_JOINER}{last}{FIRM_SPACE}{units.name}"


def _is_few(value: float, decimals: int) -> bool:
    """Return whether so many decimals leave a value less than two digits, and are not all."""
    shown = round(value, decimals)
    return not math.isclose(value, shown, rel_tol=_NOISE_SHARE) and (
        abs(value) < 10 ** (1 - decimals)
    )


def _rounded(value: float, decimals: int, side: str) -> str:
    exact = Decimal(f"{value:.{decimals + _SURE_DIGITS}f}")
    return f"{exact.quantize(Decimal(1).scaleb(-decimals), rounding=side):f}"


def _with_sign(text: str) -> str:
    return signed(text) if text.startswith("-") else f"+{text}"
