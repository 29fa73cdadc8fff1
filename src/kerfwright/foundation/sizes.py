"""Sizes of parts and pieces in both unit systems, for messages that every shop reads."""

from __future__ import annotations

from kerfwright.foundation.units import UnitSystem, length_text


def both_sizes(value_mm: float) -> str:
    """Write a size in both unit systems, for messages that every shop reads.

    >>> both_sizes(1.5)
    '1.50 mm (0.059 in)'
    """
    metric = length_text(value_mm, system=UnitSystem.METRIC, decimals=2)
    return f"{metric} ({length_text(value_mm, system=UnitSystem.INCH, decimals=3)})"
