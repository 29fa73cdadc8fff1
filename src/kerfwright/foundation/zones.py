"""Half widths of tolerance zones, and other limits in µm, as people read them.

A promise is rounded up and a demand down: what is shown never sounds closer than what is held, nor
wider than what is asked.  Figures that are no limits are written by
:func:`kerfwright.foundation.units.small_length_text`, to the nearest.
"""

from __future__ import annotations

from kerfwright.foundation.directed import Use, shown
from kerfwright.foundation.units import (
    FEW_DIGITS_IN,
    MM_PER_INCH,
    UM_PER_MICROINCH,
    UM_PER_MM,
    UnitSystem,
)


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


def zone_asked(value_um: float) -> str:
    """Write a demand, or a limit to be kept, in both unit systems.

    >>> zone_asked(5.0), zone_asked(5.08)
    ('5 µm (0.000196 in)', '5.08 µm (0.0002 in)')
    """
    return _both(value_um, Use.ASKED)


def _both(value_um: float, use: Use) -> str:
    metric, inch = (zone_text(value_um, use, system=system) for system in UnitSystem)
    return f"{metric} ({inch})"
