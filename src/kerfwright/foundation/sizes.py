"""Sizes of parts and feeds in both unit systems, for messages that every shop reads."""

from __future__ import annotations

from decimal import Decimal

from kerfwright.foundation.units import MM_PER_INCH, UnitSystem, feed_text, length_text


def both_sizes(value_mm: float) -> str:
    """Write a size in both unit systems, for messages that every shop reads.

    >>> both_sizes(1.5)
    '1.50 mm (0.059 in)'
    """
    metric = length_text(value_mm, system=UnitSystem.METRIC, decimals=2)
    return f"{metric} ({length_text(value_mm, system=UnitSystem.INCH, decimals=3)})"


def both_extents(width_mm: float, height_mm: float) -> str:
    """Write a size over X and Y in both unit systems, for messages that every shop reads.

    >>> both_extents(101.6, 76.2)
    '101.60 × 76.20 mm (4.000 × 3.000 in)'
    """
    metric = f"{width_mm:.2f} × {height_mm:.2f} mm"
    return f"{metric} ({width_mm / MM_PER_INCH:.3f} × {height_mm / MM_PER_INCH:.3f} in)"


def both_lengths(value_mm: float) -> str:
    """Write a length in both unit systems, to four digits but no finer than a micrometre or so.

    >>> both_lengths(3.0), both_lengths(0.0167), both_lengths(252.556)
    ('3 mm (0.1181 in)', '0.017 mm (0.0007 in)', '252.6 mm (9.943 in)')
    """
    return f"{_no_finer(value_mm, 3)} mm ({_no_finer(value_mm / MM_PER_INCH, 4)} in)"


def _no_finer(value: float, decimals: int) -> str:
    return f"{round(value, decimals):.4g}"


def both_feeds(value_mm_per_min: float) -> str:
    """Write a feed in both unit systems, for messages that every shop reads.

    >>> both_feeds(3.0)
    '3.000 mm/min (0.1181 in/min)'
    """
    metric = feed_text(value_mm_per_min, system=UnitSystem.METRIC)
    return f"{metric} ({feed_text(value_mm_per_min, system=UnitSystem.INCH)})"


def slow_feeds(value_mm_per_min: float) -> str:
    """Write the way of a minute in both unit systems, to two digits however slow it is.

    >>> slow_feeds(0.00345), slow_feeds(1.52)
    ('0.0035 mm (0.00014 in)', '1.5 mm (0.06 in)')
    """
    metric, inch = (
        format(Decimal(f"{value:.2g}"), "f")
        for value in (value_mm_per_min, value_mm_per_min / MM_PER_INCH)
    )
    return f"{metric} mm ({inch} in)"
