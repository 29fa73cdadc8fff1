"""What the rules that read a drawing's words share: patterns, context, ways to word a value."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.directed import Use, shown
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.units import (
    MM_PER_INCH,
    UM_PER_MM,
    ToleranceText,
    length_mm,
    number,
    tolerance,
)
from kerfwright.foundation.units import UnitSystem as System
from kerfwright.foundation.zones import zone_text
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.fits import Fit, FitTable
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.statements import Asks, Reading, Statement, option

# Every repetition below is bounded: words come from strangers, and time must stay linear.
NUMBER: Final = r"(?:(?<!\d)(?<!\d[.,])(?:\d{1,6}(?:[.,]\d{1,8})?|[.,]\d{1,8})(?![.,]?\d))"
"""A number as it stands: never a part of a longer one, or 20 could be read as 2 and a 0."""
STOP: Final = r"(?:\.(?!\d))?"
"""A full stop of a shortened word; before a digit it is the point of a number: ``DIA .250``."""
UNIT: Final = (
    r"(?:(?:mm|millimet(?:er|re)s?|µm|um|microns?|thou|inch(?:es)?)\b\.?"
    # "IN" is a preposition too: "Ø6 IN PLATE".
    r"|in\b\.?(?=\s{0,3}(?:$|[.,;:)/\]¦-]|thk|thick|max|min|tot|dia|ra\b|rms|tol|plate|deep))"
    r'|"|\'\')'
)
FRACTION: Final = r"(?:(?<![\d.,])(?:\d{1,3}[ -])?\d{1,3}/\d{1,3}(?![.,]?\d))"
PLUS_MINUS: Final = r"(?:±|%%p|\+ ?/ ?-|\+-)"
ROUND: Final = r"(?:ø|%%c)"
_NOUGHT: Final = r"(?:(?<![\d.,])0(?:[.,]0{1,6})?(?![.,]?\d))"
TWO_LIMITS: Final = (
    rf"(?:[+-] ?{NUMBER}|{_NOUGHT}) ?{UNIT}?\s{{0,3}}[/; ,]\s{{0,3}}"
    rf"(?:[+-] ?{NUMBER}|{_NOUGHT})"
)
ONE_LIMIT: Final = (
    rf"[+-] ?(?=\d{{0,6}}[.,]\d|{NUMBER}\s{{0,2}}{UNIT}){NUMBER}"
    r"(?!\s{0,3}[/;]?\s{0,2}(?:[+-]|0(?:\D|$)))(?!\s?/)(?!\s{0,2}(?:deep|dp|thru|°))"
)
"""``20 +0,01``: one deviation of a size, with decimals or a unit; a list may have ``- 4``."""
LIMITED: Final = (
    rf"(?:[(\[{{]\s{{0,2}})?(?:{PLUS_MINUS}\s{{0,2}}{NUMBER}|{TWO_LIMITS}|{ONE_LIMIT})"
    rf"\s{{0,2}}(?:{UNIT})?(?:\s{{0,2}}[)\]}}](?:\s{{0,2}}{UNIT})?)?"
)
"""Deviations behind a size, in brackets of any kind or in none."""
LIMITS_WITHIN: Final = 0.02
"""Two sizes nearer than this share of the larger are the limits of one; farther, two sizes."""

TAKEN: Final = "¦"
"""Stands where words were taken; no rule matches across it."""
SPELLINGS: Final = str.maketrans(
    {
        "\N{GREEK SMALL LETTER MU}": "\N{MICRO SIGN}",
        "\N{GREEK CAPITAL LETTER MU}": "\N{MICRO SIGN}",
        "\N{MINUS SIGN}": "-",
        "\N{EN DASH}": "-",
        "\N{EM DASH}": "-",
        "\N{NON-BREAKING HYPHEN}": "-",
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{DOUBLE PRIME}": '"',
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{PRIME}": "'",
        "\N{NO-BREAK SPACE}": " ",
        "\N{NARROW NO-BREAK SPACE}": " ",
        "\t": " ",
        "Ø": "ø",
        "\N{DIAMETER SIGN}": "ø",
        "\N{EMPTY SET}": "ø",
        "\N{GREEK SMALL LETTER PHI}": "ø",
        "\N{GREEK CAPITAL LETTER PHI}": "ø",
        "\N{MULTIPLICATION SIGN}": "x",
        "\N{PLUS-MINUS SIGN}": "±",
        "\N{FULLWIDTH PLUS SIGN}": "+",
        TAKEN: "|",
    }
)
"""One letter for one, so that a place in the tidy text is a place in the words themselves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the words are read against.

    Attributes
    ----------
    unit : LengthUnit
        Unit of the drawing, for numbers without one.
    catalogue : Catalogue
    fits : FitTable
    """

    unit: LengthUnit
    catalogue: Catalogue
    fits: FitTable

    @property
    def is_inch(self) -> bool:
        """Whether the drawing is in inches."""
        return self.unit is LengthUnit.INCH


Make = Callable[[re.Match[str], Context], Statement | None]


@dataclass(frozen=True, slots=True)
class Rule:
    """A pattern and what it states; a rule may still decline what its pattern found."""

    pattern: re.Pattern[str]
    make: Make


def rule(pattern: str, *, exact_case: re.RegexFlag = re.IGNORECASE) -> Callable[[Make], Rule]:
    """Return a decorator that makes a rule of a function."""
    compiled = re.compile(pattern, exact_case)
    return lambda make: Rule(compiled, make)


EXACT_CASE: Final = re.NOFLAG
WALLS: Final = "a size has two walls, so each of them is asked half of its zone"


def size_words(value_mm: float, context: Context) -> str:
    """Return a size in both units, the drawing's first."""
    metric = f"{round(value_mm, 5):g} mm"
    inch = f"{round(value_mm / MM_PER_INCH, 6):g} in"
    return f"{inch} ({metric})" if context.is_inch else f"{metric} ({inch})"


def between_words(low_mm: float, high_mm: float, *, is_inch: bool) -> str:
    """Return the two limits of a size in both units, the drawing's first.

    >>> between_words(12.7, 12.7127, is_inch=True)
    '0.5 to 0.5005 in (12.7 to 12.7127 mm)'
    """
    metric = f"{round(low_mm, 5):g} to {round(high_mm, 5):g} mm"
    inch = f"{round(low_mm / MM_PER_INCH, 6):g} to {round(high_mm / MM_PER_INCH, 6):g} in"
    return f"{inch} ({metric})" if is_inch else f"{metric} ({inch})"


def small_words(value_um: float, context: Context) -> str:
    """Return a tolerance or a depth asked in both units, the drawing's first."""
    metric = zone_text(value_um, Use.ASKED, system=System.METRIC)
    inch = zone_text(value_um, Use.ASKED, system=System.INCH)
    return f"{inch} ({metric})" if context.is_inch else f"{metric} ({inch})"


def tolerance_option(zone: ToleranceText, context: Context, said_unit: str | None = None) -> str:
    """Return the option that asks a zone of the wall, in the unit said or the drawing's.

    One whose middle is not the nominal keeps its two limits.
    """
    is_inch = context.is_inch if not said_unit else _INCHES.match(said_unit) is not None
    per_um = 1 / UM_PER_MM / (MM_PER_INCH if is_inch else 1.0)
    unit = LengthUnit.INCH if is_inch else LengthUnit.MILLIMETRE
    if not zone.shift_um:
        return option("tolerance", f"±{_digits(zone.half_um * per_um)}{unit.value}")
    ends_um = zone.shift_um + zone.half_um, zone.shift_um - zone.half_um
    words = "/".join(f"{'-' if um < 0 else '+'}{_digits(abs(um) * per_um)}" for um in ends_um)
    return option("tolerance", f"{words}{unit.value}")


def fit_option(fit: Fit, *, is_inch: bool) -> str:
    """Return the option that asks a fit by its symbol, which keeps its limits where they lie."""
    size = _digits(fit.nominal_mm / (MM_PER_INCH if is_inch else 1.0), decimals=_FIT_DECIMALS)
    return option("tolerance", f"{size} {'in ' if is_inch else ''}{fit.symbol}")


_FIT_DECIMALS: Final = 6
"""As many as the size of a fit is read with."""


_INCHES: Final = re.compile(r"\s*(?:in|\"|''|thou)", re.IGNORECASE)


def length_option(name: str, value_mm: float, context: Context) -> str:
    """Return an option with a length in the drawing's unit."""
    value = value_mm / (MM_PER_INCH if context.is_inch else 1.0)
    return option(name, f"{_digits(value)}{context.unit.value}")


def _digits(value: float, *, decimals: int = 7) -> str:
    return f"{value:.{decimals}f}".rstrip("0").rstrip(".")


def length_of(digits: str, unit: str | None, context: Context) -> float:
    """Return a length in mm, in the drawing's unit where it has none.

    Raises
    ------
    KerfwrightError
        If it cannot be read, such as ``1,500``.
    """
    said = f"{digits} {(unit or '').strip().rstrip('.')}"
    return length_mm(said, bare_unit=context.unit.value)


def zone_words(zone: ToleranceText, context: Context) -> str:
    """Return a zone as limits from the nominal."""
    if not zone.shift_um:
        return f"±{small_words(zone.half_um, context)}"
    low_um, high_um = zone.shift_um - zone.half_um, zone.shift_um + zone.half_um
    per_um = 1 / (UM_PER_MM * MM_PER_INCH)
    metric = f"{_limits(low_um, high_um)} µm"
    inch = f"{_limits(low_um * per_um, high_um * per_um)} in"
    return f"{inch} ({metric})" if context.is_inch else f"{metric} ({inch})"


def _limits(low: float, high: float) -> str:
    """Write two deviations, the zone between them never wider than it is; a zero has no sign."""
    signs = ((low, Use.ASKED if low < 0 else Use.HELD), (high, Use.ASKED if high > 0 else Use.HELD))
    return " to ".join(
        f"{'+' if value > 0 else '-' if value < 0 else ''}{shown(abs(value), use)}"
        for value, use in signs
    )


def size_zone_words(zone: ToleranceText, context: Context) -> str:
    """Say a zone of a size, and what it leaves each of its two walls."""
    return (
        f"{zone_words(zone, context)} of size, each wall half of it, "
        f"{zone_words(of_wall(zone), context)}"
    )


def whole(text: str) -> int | None:
    """Return a whole number above 0, or None."""
    value = int(text) if text.isascii() and text.isdigit() else 0
    return value or None


def plain_number(text: str) -> float | None:
    """Return a number with a decimal point or comma, None where it may mean two."""
    try:
        return number(text)
    except KerfwrightError:
        return None


def bare(asks: Asks, text: str, remark: str = "") -> Statement:
    """Return a statement without a value."""
    return Statement(asks=asks, text=text, remark=remark)


def clear(
    asks: Asks,
    text: str,
    words: str,
    data: dict[str, float | int | str],
    *,
    apply: str = "",
    remark: str = "",
) -> Statement:
    """Return a statement with one reading."""
    return Statement(
        asks=asks, text=text, readings=(Reading(words=words, data=data, option=apply),),
        remark=remark,
    )  # fmt: skip


def zone_of(said: str, unit: str | None, context: Context, total: str = "") -> ToleranceText | None:
    """Read a zone as the tolerance parser does, in the drawing's unit where it has none."""
    text = re.sub(r"[()\[\]{}]", "", said).replace("%%p", "±").replace("%%P", "±")
    text = re.sub(r"\s{2,}|,(?=\s?[+-]|\s0)|;", " ", text.strip())
    # One blank parts the limits where no mark does.
    text = re.sub(r"(?<=[\d.,])\s(?=[+-]|0)", "/", text)
    try:
        return tolerance(
            f"{text} {(unit or '').strip().rstrip('.')} {total}", bare_unit=context.unit.value
        )
    except KerfwrightError:
        return None


def zone_behind(
    said: str, nominal_mm: float, unit: str | None, context: Context
) -> ToleranceText | None:
    """Return the zone that is written behind a size; None where it can be none of it.

    Of one deviation the other is 0.
    """
    found = _ONE.fullmatch(said)
    zone = zone_of(f"{said}/0" if found else said, unit, context)
    if zone is None:
        return None
    reach_um = zone.half_um + abs(zone.shift_um)
    return zone if reach_um < _WIDEST_SHARE * nominal_mm * UM_PER_MM or not found else None


_ONE: Final = re.compile(rf"[(\[{{\s]{{0,4}}[+-] ?{NUMBER}\s{{0,2}}(?:{UNIT})?[)\]}}\s]{{0,4}}")
_WIDEST_SHARE: Final = 0.1
"""Share of a size above which one signed number behind it is no deviation of it."""


def is_one_limit(said: str) -> bool:
    """Tell whether one deviation alone is written."""
    return _ONE.fullmatch(said) is not None


def is_small_unit(unit: str | None) -> bool:
    """Tell whether a unit is one that only deviations are written in: ``20 ±5 µm``."""
    return unit is not None and _SMALL_UNIT.match(unit) is not None


_SMALL_UNIT: Final = re.compile(r"\s*(?:µm|um|micron|thou)", re.IGNORECASE)
OTHER_IS_NOUGHT: Final = "one deviation is written, so the other is taken as 0"


def of_wall(zone: ToleranceText) -> ToleranceText:
    """Return the zone of each of the two walls of a size."""
    return ToleranceText(half_um=zone.half_um / 2, shift_um=zone.shift_um / 2, said=zone.said)


def zone_data(nominal_mm: float, zone: ToleranceText) -> dict[str, float | int | str]:
    """Return the numbers of a size with its zone."""
    return {
        "nominal_mm": nominal_mm,
        "size_half_um": zone.half_um,
        "size_shift_um": zone.shift_um,
        "wall_half_um": zone.half_um / 2,
    }


_OFF_THE_LINE: Final = (
    "the middle of the zone lies off the nominal size, and the wall is cut to the "
    "drawn line unless the drawing is moved to the middle"
)


def fit_remark(shift_um: float) -> str:
    """Return what to know before a fit is asked of its walls; empty where it lies on the line."""
    return _OFF_THE_LINE if shift_um else ""


def walls_remark(shift_um: float) -> str:
    """Return what to know before a zone of a size is asked of its walls."""
    if not shift_um:
        return WALLS
    return f"{WALLS}; {_OFF_THE_LINE}"
