"""What no machine can have done: rows beyond it are refused, not weighed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.sources import Source
from kerfwright.foundation.units import KG_PER_LB, MM_PER_INCH, UM_PER_MICROINCH, UM_PER_MM
from kerfwright.learning.records import SIZE_ERROR_IS, MeasuredCut

_MIN_PER_H = 60.0
_ROUNDING = 1e-9
"""Share by which a height may pass the machine's: conversion of inches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLimits:
    """Least and most that a row can say.

    Attributes
    ----------
    height_mm, length_mm, minutes, feed_mm_per_min, ra_um, wire_kg : (float, float)
        Least and most.
    size_error_um : float
        Most, either way.
    breaks, breaks_per_h : float
        A count of no more than the first is always possible; above it the rate decides.
    rough_mm2_per_min : float
        Most area of one wall in a minute of a rough cut of steel; of a material that the tables
        have cut quicker, more by its factor.
    sources : mapping of str to Source
    """

    height_mm: tuple[float, float]
    length_mm: tuple[float, float]
    minutes: tuple[float, float]
    feed_mm_per_min: tuple[float, float]
    ra_um: tuple[float, float]
    wire_kg: tuple[float, float]
    size_error_um: float
    breaks: float
    breaks_per_h: float
    rough_mm2_per_min: float
    sources: Mapping[str, Source]


def require_possible(cut: MeasuredCut, limits: CutLimits) -> None:
    """Refuse a cut that no machine can have made.

    Raises
    ------
    RangeError
        Code ``beyond-any-machine`` or, of work higher than the machine of the cut takes,
        ``height-beyond-machine``, with the value, the limit and what to look at.
    """
    for one in _looked_at(cut, limits):
        _require(one, cut)
    takes_mm = cut.machine.max_height_mm
    if cut.height_mm > takes_mm * (1 + _ROUNDING):
        raise RangeError(
            f"the height is {_said(cut.height_mm, 'mm')}; {cut.machine.name} takes "
            f"{_said(takes_mm, 'mm')}",
            code="height-beyond-machine",
            where=cut.place,
            remedy="Check the height and its unit, and the machine, and enter the cut again; where "
            "the machine takes more, correct its definition.",
        )
    if cut.pass_number == 1:
        _require(_area_rate(cut, limits), cut)


def _require(look: _Look, cut: MeasuredCut) -> None:
    what, value, (least, most), unit, checked = look
    if least <= value <= most:
        return
    side, limit = ("less", least) if value < least else ("more", most)
    raise RangeError(
        f"the {what} is {_said(value, unit)}; no machine does {side} than {_said(limit, unit)}",
        code="beyond-any-machine",
        where=cut.place,
        remedy=f"Check {checked}, and enter the cut again with the right value. Where a "
        "machine does go beyond, raise the limit in the table Learning (learning.toml).",
    )


_Look = tuple[str, float, tuple[float, float], str, str]


def _looked_at(cut: MeasuredCut, limits: CutLimits) -> Iterator[_Look]:
    yield "height", cut.height_mm, limits.height_mm, "mm", "the height and its unit"
    yield "length", cut.length_mm, limits.length_mm, "mm", "the length and its unit"
    yield "time", cut.minutes, limits.minutes, "min", "the time and its unit"
    yield (
        "feed", cut.feed_mm_per_min, limits.feed_mm_per_min, "mm/min",
        "length and time: minutes or hours, millimetres or inches",
    )  # fmt: skip
    if cut.ra_um is not None:
        yield "finish", cut.ra_um, limits.ra_um, "µm", "the finish and its unit"
    if cut.size_error_um is not None:
        most = limits.size_error_um
        yield (
            "size error", cut.size_error_um, (-most, most), "µm",
            f"the size error: how far the wall is off {SIZE_ERROR_IS}; in µm or mm",
        )  # fmt: skip
    if cut.wire_kg is not None:
        yield "wire used", cut.wire_kg, limits.wire_kg, "kg", "the wire used and its unit"
    if cut.breaks is not None:
        most = max(limits.breaks, limits.breaks_per_h * cut.minutes / _MIN_PER_H)
        yield "count of wire breaks", cut.breaks, (0.0, most), "", "the count and the time"


def _area_rate(cut: MeasuredCut, limits: CutLimits) -> _Look:
    most = limits.rough_mm2_per_min * max(1.0, cut.material.rate_factor)
    return (
        "area rate", cut.feed_mm_per_min * cut.height_mm, (0.0, most), "mm²/min",
        "length, time and height: minutes or hours, millimetres or inches",
    )  # fmt: skip


_SECOND = {
    "mm": (1 / MM_PER_INCH, "in"),
    "mm/min": (1 / MM_PER_INCH, "in/min"),
    "mm²/min": (1 / MM_PER_INCH**2, "in²/min"),
    "kg": (1 / KG_PER_LB, "lb"),
}


def _said(value: float, unit: str) -> str:
    """Say a value in both units."""
    if not unit:
        return f"{math.floor(value):,}"
    factor, other = _SECOND.get(unit, (0.0, ""))
    if unit == "µm":
        # Roughness in microinches, a size error in inches would be read with its unit anyway.
        factor, other = 1 / UM_PER_MICROINCH, "µin"
        if abs(value) >= UM_PER_MM / 10:
            factor, other = 1 / (UM_PER_MM * MM_PER_INCH), "in"
    first = f"{_digits(value, 4)} {unit}"
    return f"{first} ({_digits(value * factor, 3)} {other})" if other else first


def _digits(value: float, count: int) -> str:
    """Return a value to so many digits, never with an exponent: nobody reads 3.9e+03.

    >>> _digits(3897.6, 3), _digits(0.02563, 3)
    ('3,900', '0.0256')
    """
    return f"{float(f'{value:.{count}g}'):,.12g}"
