"""Half widths of tolerance zones, and other limits in µm, as people read them.

A promise is rounded up and a demand down: what is shown never sounds closer than what is held, nor
wider than what is asked.  Figures that are no limits are written by
:func:`kerfwright.foundation.units.small_length_text`, to the nearest.
"""

from __future__ import annotations

import math
from typing import Final

from kerfwright.foundation.directed import Use, shown
from kerfwright.foundation.units import (
    FEW_DIGITS_IN,
    MM_PER_INCH,
    UM_PER_MICROINCH,
    UM_PER_MM,
    UnitSystem,
    roughness_text,
)

_WHOLE_UIN: Final = 10
"""Microinches from which nobody writes parts of one."""
_ROUNDING: Final = 1e-6
"""Part of the last digit that a conversion may add."""


def zone_text(value_um: float, use: Use, *, system: UnitSystem) -> str:
    """Write a limit in µm, or in inches; very small ones in millionths of an inch.

    >>> zone_text(3.4, Use.HELD, system=UnitSystem.INCH)
    '0.000134 in'
    >>> zone_text(5.08, Use.ASKED, system=UnitSystem.INCH)
    '0.0002 in'
    >>> zone_text(0.1, Use.ASKED, system=UnitSystem.INCH)
    '3.93 µin'
    """
    if system is UnitSystem.METRIC:
        return f"{shown(value_um, use)} µm"
    inches = value_um / UM_PER_MM / MM_PER_INCH
    if 0 < inches < FEW_DIGITS_IN:
        return f"{shown(value_um / UM_PER_MICROINCH, use)} µin"
    return f"{shown(inches, use)} in"


def zone_held(value_um: float) -> str:
    """Write a promise, or how far something may be off, in both unit systems.

    >>> zone_held(3.4)
    '3.4 µm (0.000134 in)'
    """
    return _both(value_um, Use.HELD)


def roughness_held(ra_um: float) -> str:
    """Write a finish that is promised in both unit systems, in microinches never finer than it is.

    >>> roughness_held(1.1), roughness_held(0.15)
    ('Ra 1.1 µm (44 µin)', 'Ra 0.15 µm (6 µin)')
    """
    metric = roughness_text(ra_um, system=UnitSystem.METRIC)
    return f"{metric} ({microinches_held(ra_um)} µin)"


def microinches_held(ra_um: float) -> str:
    """Write a promised finish in microinches: whole ones from ten up, as shops write them.

    >>> microinches_held(1.1), microinches_held(0.22)
    ('44', '8.7')
    """
    microinch = ra_um / UM_PER_MICROINCH
    decimals = 0 if microinch >= _WHOLE_UIN else 1
    up = math.ceil(microinch * 10**decimals - _ROUNDING) / 10**decimals
    return f"{up:.{decimals}f}".removesuffix(".0")


def zone_asked(value_um: float) -> str:
    """Write a demand, or a limit to be kept, in both unit systems.

    >>> zone_asked(5.0), zone_asked(5.08)
    ('5 µm (0.000196 in)', '5.08 µm (0.0002 in)')
    """
    return _both(value_um, Use.ASKED)


def _both(value_um: float, use: Use) -> str:
    metric, inch = (zone_text(value_um, use, system=system) for system in UnitSystem)
    return f"{metric} ({inch})"
