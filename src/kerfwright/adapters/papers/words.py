"""Lengths, times and names as papers print them, in one unit throughout."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Final

from kerfwright.foundation.directed import Use, shown
from kerfwright.foundation.findings import Finding
from kerfwright.foundation.units import (
    KG_PER_LB,
    MM_PER_INCH,
    UM_PER_MICROINCH,
    UM_PER_MM,
    UnitSystem,
    mass_text,
    small_length_text,
)
from kerfwright.foundation.zones import zone_text
from kerfwright.trade.part import LengthUnit

COVERED: Final = (
    (0x20, 0x7E), (0xA0, 0xAC), (0xAE, 0x24F), (0x370, 0x377), (0x37A, 0x37F), (0x384, 0x38A),
    (0x38C, 0x38C), (0x38E, 0x3A1), (0x3A3, 0x3FF), (0x400, 0x4FF), (0x1E00, 0x1EFF),
    (0x2010, 0x2015), (0x2018, 0x201E), (0x2020, 0x2022), (0x2026, 0x2026), (0x2030, 0x203A),
    (0x20AC, 0x20AC), (0x2116, 0x2116), (0x2122, 0x2122), (0x2190, 0x21FF), (0x2200, 0x22FF),
    (0x2300, 0x2300), (0x25A0, 0x25FF), (0xFFFD, 0xFFFD),
)  # fmt: skip
"""Code points for which the fonts that come with Typst have a sign."""
_INVISIBLE: Final = re.compile("[\x00-\x1f\x7f-\x9f\u00ad\u200b-\u200f\u2028-\u202f\u2060-\u2069]")
"""Controls, and what turns the direction of writing or hides itself."""
_MINUS: Final = "−"
FIRM_SPACE: Final = "\u00a0"


def printable(text: str) -> str:
    """Return text in which every sign shows: one that no font has becomes its number.

    >>> printable("Müller µ 中")
    'Müller µ [U+4E2D]'
    """
    text = unicodedata.normalize("NFC", text.replace("\n", " ").replace("\t", " "))
    shown = _INVISIBLE.sub("\ufffd", text)
    return "".join(c if _is_covered(ord(c)) else f"[U+{ord(c):04X}]" for c in shown)


def _is_covered(code: int) -> bool:
    return any(low <= code <= high for low, high in COVERED)


def signed(text: str) -> str:
    """Return a number with a true minus sign; a zero has none.

    >>> signed("-0.000"), signed("-1.5")
    ('0.000', '−1.5')
    """
    return text.lstrip("-") if not text.strip("-0.") else text.replace("-", _MINUS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """Words for lengths in the unit of a paper.

    Attributes
    ----------
    unit : LengthUnit
    """

    unit: LengthUnit

    @property
    def is_inch(self) -> bool:
        """Whether the paper is in inches."""
        return self.unit is LengthUnit.INCH

    @property
    def name(self) -> str:
        """Return ``mm`` or ``in``."""
        return self.unit.value

    @property
    def long_name(self) -> str:
        """Return ``millimetres`` or ``inches``."""
        return "inches" if self.is_inch else "millimetres"

    @property
    def ra_name(self) -> str:
        """Return the unit of roughness."""
        return "µin" if self.is_inch else "µm"

    def place(self, value_mm: float) -> str:
        """Return a coordinate: thousandths of a millimetre or ten-thousandths of an inch."""
        text = f"{value_mm / MM_PER_INCH:.4f}" if self.is_inch else f"{value_mm:.3f}"
        return signed(text)

    def fine(self, value_mm: float) -> str:
        """Return an offset or a limit: a decimal more than a place."""
        text = f"{value_mm / MM_PER_INCH:.5f}" if self.is_inch else f"{value_mm:.4f}"
        return signed(text)

    def least(self, value_mm: float) -> str:
        """Return the smallest size allowed, never below it, with the decimals of a limit."""
        return self._limit(value_mm, ROUND_CEILING)

    def greatest(self, value_mm: float) -> str:
        """Return the largest size allowed, never above it, with the decimals of a limit."""
        return self._limit(value_mm, ROUND_FLOOR)

    def _limit(self, value_mm: float, side: str) -> str:
        value, decimals = (value_mm / MM_PER_INCH, 5) if self.is_inch else (value_mm, 4)
        # Digits beyond these are the noise of the conversion.
        exact = Decimal(f"{value:.{decimals + 5}f}")
        return signed(f"{exact.quantize(Decimal(1).scaleb(-decimals), rounding=side)}")

    def coarse(self, value_mm: float) -> str:
        """Return a distance that nobody measures: a tenth of a millimetre, a hundredth inch."""
        text = f"{value_mm / MM_PER_INCH:.2f}" if self.is_inch else f"{value_mm:.1f}"
        return signed(text)

    def coarse_hole(self, value_mm: float) -> str:
        """Return the size of a drilled hole or tube: a hundredth millimetre or thousandth inch."""
        return f"{value_mm / MM_PER_INCH:.3f}" if self.is_inch else f"{value_mm:.2f}"

    def size(self, value_mm: float) -> str:
        """Return a dimension with its unit: tenths of a thou throughout, or what says something.

        Inches keep their zeros: 2.508 beside 2.5197 would read as a coarser size.
        """
        if self.is_inch:
            return f"{value_mm / MM_PER_INCH:.4f} in"
        return f"{round(value_mm, 4 if value_mm < 1 else 3):g} mm"

    def small(self, value_um: float) -> str:
        """Return a tolerance or a layer with its unit: to a hundredth of a thou up to a thou."""
        if self.is_inch:
            return _same_digits(small_length_text(value_um, system=UnitSystem.INCH))
        return f"{value_um / 1000:.5f}".rstrip("0").rstrip(".") + " mm"

    def zone(self, value_um: float, use: Use) -> str:
        """Return a limit with its unit: a promise never closer than it is, a demand never wider."""
        if self.is_inch:
            return _padded(zone_text(value_um, use, system=UnitSystem.INCH))
        return f"{_tenths_of_um(value_um, use)} mm"

    def roughness(self, value_um: float) -> str:
        """Return a roughness without its unit."""
        return f"{value_um / UM_PER_MICROINCH:.0f}" if self.is_inch else f"{value_um:.2g}"

    def feed(self, value_mm_per_min: float) -> str:
        """Return a feed without its unit."""
        if self.is_inch:
            return f"{value_mm_per_min / MM_PER_INCH:.4f}"
        return f"{value_mm_per_min:.2f}"

    def mass(self, value_kg: float) -> str:
        """Return a mass; an inch shop weighs in pounds, and in ounces what is lighter than one."""
        text = _avoirdupois(value_kg) if self.is_inch else mass_text(value_kg)
        return text.replace(" ", FIRM_SPACE)

    def masses(self, low_kg: float, high_kg: float) -> str:
        """Return a span of masses."""
        return f"{self.mass(low_kg)} to {self.mass(high_kg)}"


_OZ_PER_LB: Final = 16.0
"""NIST Handbook 44, appendix C (from memory)."""


def _avoirdupois(value_kg: float) -> str:
    """Write a mass as an inch shop weighs it.

    >>> _avoirdupois(0.00906), _avoirdupois(0.00284), _avoirdupois(0.3), _avoirdupois(12.345)
    ('0.32 oz', '0.10 oz', '10.6 oz', '27.2 lb')
    """
    pounds = value_kg / KG_PER_LB
    if pounds >= 1:
        return f"{pounds:.1f} lb"
    ounces = pounds * _OZ_PER_LB
    return f"{ounces:.1f} oz" if ounces >= 1 else f"{ounces:#.2g} oz"


_FINE_IN: Final = 0.001
"""Up to a thou a tolerance is written to a hundredth of one, above it to a tenth."""


_LEAST_UM: Final = 1.0
"""From here on a tenth of a micrometre is two digits or more."""


def _tenths_of_um(value_um: float, use: Use) -> str:
    """Write a limit in millimetres to a tenth of a micrometre, on its safe side.

    What was asked in inches has more decimals by its conversion, which nobody can measure.

    >>> [_tenths_of_um(5.08, use) for use in Use], _tenths_of_um(0.254, Use.HELD)
    (['0.0051', '0.005'], '0.000254')
    """
    if value_um < _LEAST_UM:
        return shown(value_um / UM_PER_MM, use)
    side = ROUND_CEILING if use is Use.HELD else ROUND_FLOOR
    exact = Decimal(f"{value_um / UM_PER_MM:.9f}")
    return shown(float(exact.quantize(Decimal("0.0001"), rounding=side)), use)


def _same_digits(text: str) -> str:
    """Return a small length in inches with the digits of its kind: 0.0002 beside 0.00039 lacks one.

    >>> _same_digits("0.0002 in"), _same_digits("0.00394 in"), _same_digits("3.9 µin")
    ('0.00020 in', '0.0039 in', '3.9 µin')
    """
    number, _, unit = text.partition(" ")
    if unit != "in" or not re.fullmatch(r"0\.\d{4,5}", number):
        return text
    return f"{float(number):.{5 if float(number) <= _FINE_IN else 4}f} in"


def _padded(text: str) -> str:
    """Return a limit in inches with a hundredth of a thou where it is written to a tenth of one.

    >>> _padded("0.0002 in"), _padded("0.000134 in"), _padded("0.002 in")
    ('0.00020 in', '0.000134 in', '0.0020 in')
    """
    number, _, unit = text.partition(" ")
    if unit != "in" or not re.fullmatch(r"0\.\d{1,4}", number):
        return text
    return f"{number:0<{7 if float(number) <= _FINE_IN else 6}} in"


_NUMBER: Final = r"\d[\d.,]*"
_BEGIN: Final = r"(?<![\d.,])"
"""Where a number begins: from within one it would be read time and again."""
_SEVERAL: Final = rf"(?:{_NUMBER} [x×] )*{_NUMBER}"
"""One number, or those of a size over X and Y, ``101.60 × 76.20``, before their one unit."""
_PAIR: Final = re.compile(
    rf"{_BEGIN}(?P<metric>{_SEVERAL}\s?(?:mm²/min|mm/min|mm|µm|N|kg|g)) "
    rf"\((?P<inch>{_SEVERAL}\s?(?:in²/min|in/min|in|µin|lbf|lb))\)"
)
"""A value in both units, as messages write it; see ``both`` in the units."""
_PER: Final = re.compile(
    rf"{_BEGIN}(?P<metric>{_NUMBER}(?P<what>[ \w]* per )(?P<way>\d+ mm)) "
    rf"\((?P<inch>{_NUMBER}) per (?P<inch_way>\d+ in)\)"
)
"""An amount for a way that is round in either unit: ``1.2 min per 100 mm (1.3 per 4 in)``."""
_PLACE: Final = re.compile(r"X(?P<x>-?\d+\.\d+) Y(?P<y>-?\d+\.\d+) mm(?![\w²³/])")
"""A place; see ``place_words`` of the foundation."""
_DECIMAL: Final = r"\d+(?:\.\d+)?"
_MOST_BEFORE: Final = 8
"""Numbers before the last one of a size: more are no size, and would be read time and again."""
_BARE: Final = re.compile(
    rf"{_BEGIN}"
    rf"(?P<before>(?:{_DECIMAL}\s?(?:to|–|-|…|×|x)\s?[+\-−]?){{0,{_MOST_BEFORE}}})"
    rf"(?P<value>{_DECIMAL})\s(?P<unit>mm/min|mm|µm)(?![\w²³/])"
)
"""A length in millimetres, a range or a size of several, all before the one unit."""


_QUOTED: Final = r"“[^”\n]*”"
"""What a person wrote stands between these marks and stays as it was written, its unit too."""


def _written(kept: Iterable[str]) -> re.Pattern[str]:
    """Return the pattern of what a person wrote: marked, or one of some names."""
    return re.compile("|".join([_QUOTED, *(_named(name) for name in kept if name)]))


def _named(name: str) -> str:
    """Return the pattern of a name in a message; one that is a number stands behind its word.

    Layer 0 is in every drawing: the 0 of 0.4 µm is none of its name.
    """
    if name.replace(".", "").isdigit():
        return rf"(?:(?<=layer )|(?<=layer ')){re.escape(name)}(?!\w|[.,]\d)"
    return rf"(?<!\w){re.escape(name)}(?!\w)"


def in_unit(text: str, units: Units, *, kept: Iterable[str] = ()) -> str:
    """Return a message with its lengths in the unit of the paper alone.

    What a person wrote, between “ and ”, stays as it is.

    Parameters
    ----------
    text : str
        Lengths in it stand in both units, ``5 µm (0.0002 in)``, or in millimetres.
    units : Units
    kept : iterable of str
        Names that a person gave, which may look like lengths: those of layers.

    Examples
    --------
    >>> in_unit("up to 0.123 mm, ±5 µm (0.0002 in)", Units(unit=LengthUnit.INCH))
    'up to 0.0048 in, ±0.00020 in'
    >>> in_unit("±5 µm (0.0002 in)", Units(unit=LengthUnit.MILLIMETRE))
    '±5 µm'
    >>> in_unit("“+0.02/-0 mm” leaves 0.02 mm", Units(unit=LengthUnit.INCH))
    '“+0.02/-0 mm” leaves 0.0008 in'
    >>> in_unit("101.6 × 50.8 mm at X203.2 Y-25.4 mm", Units(unit=LengthUnit.INCH))
    '4.000 × 2.000 in at X8.0000 Y-1.0000 in'
    >>> in_unit("Ra 0.4 µm (16 µin) on layer 0", Units(unit=LengthUnit.INCH), kept=("0",))
    'Ra 16 µin on layer 0'
    """
    held: list[str] = []

    def hold(found: str) -> str:
        # Put aside, so that it is not read again as a length in millimetres.
        held.append(found)
        return f"\x00{len(held) - 1}\x00"

    text = _written(kept).sub(lambda m: hold(m[0]), text)
    if units.is_inch:
        text = _PLACE.sub(lambda m: hold(_place_in_inches(m)), text)
        text = _PER.sub(lambda m: hold(m["inch"] + m["what"] + m["inch_way"]), text)
        text = _PAIR.sub(lambda m: hold(_in_inches(m)), text)
        text = _BARE.sub(lambda m: hold(_inches(m)), text)
    else:
        text = _PER.sub(lambda m: m["metric"], text)
        text = _PAIR.sub(lambda m: m["metric"], text)
    return re.sub("\x00(\\d+)\x00", lambda m: held[int(m[1])], text)


def _in_inches(pair: re.Match[str]) -> str:
    """Return the inches of a pair; what stands behind ± is rounded to its safe side already."""
    is_limit = pair.string[: pair.start()].endswith("±")
    return (_padded if is_limit else _same_digits)(pair["inch"])


def names_of(one: Finding) -> tuple[str, ...]:
    """Return the names in a finding that a person gave and that no unit changes."""
    return (one.where.layer,) if one.where.layer else ()


def inch_first(text: str, *, kept: Iterable[str] = ()) -> str:
    """Return a message with its lengths in inches, the metric ones in brackets behind.

    Parameters
    ----------
    text : str
    kept : iterable of str
        As for :func:`in_unit`.

    Examples
    --------
    >>> inch_first("up to 0.123 mm, ±5 µm (0.0002 in), Ra 0.8 µm (31 µin)")
    'up to 0.0048 in (0.123 mm), ±0.0002 in (5 µm), Ra 31 µin (0.8 µm)'
    """
    held: list[str] = []

    def hold(inch: str, metric: str = "") -> str:
        held.append(f"{inch} ({metric})" if metric else inch)
        return f"\x00{len(held) - 1}\x00"

    text = _written(kept).sub(lambda m: hold(m[0]), text)
    text = _PLACE.sub(lambda m: hold(_place_in_inches(m)), text)
    text = _PER.sub(lambda m: hold(m["inch"] + m["what"] + m["inch_way"], m["metric"]), text)
    text = _PAIR.sub(lambda m: hold(m["inch"], m["metric"]), text)
    text = _BARE.sub(lambda m: hold(_inches(m), m[0]), text)
    return re.sub("\x00(\\d+)\x00", lambda m: held[int(m[1])], text)


_LEAST_DECIMALS: Final = 4
"""Of what is less than an inch: a shop reads tenths of a thou."""


def _decimals(inches: float, said: str, unit: str) -> int:
    """Return the decimals of an inch that say as much as the metric figure said, and no more."""
    finer = len(said.partition(".")[2]) + (2 if unit == "µm" else 1)
    if unit == "µm" or inches < 1:
        return max(_LEAST_DECIMALS + (unit == "µm"), finer)
    # A feed is set to three digits or so; a length to two decimals more than in millimetres, as
    # an inch is 25 of them.
    if unit == "mm/min":
        return max(finer, 1 if inches >= 10 else 2)
    return max(finer + 1, 3)


def _inches(match: re.Match[str]) -> str:
    scale = MM_PER_INCH * (1000 if match["unit"] == "µm" else 1)
    unit = match["unit"].replace("mm", "in").replace("µm", "in")

    def inch(value: str) -> str:
        inches = float(value) / scale
        return f"{inches:.{_decimals(inches, value, match['unit'])}f}"

    before = re.sub(_DECIMAL, lambda m: inch(m[0]), match["before"])
    return f"{before}{inch(match['value'])} {unit}"


def _place_in_inches(match: re.Match[str]) -> str:
    x, y = (f"{float(match[axis]) / MM_PER_INCH:.4f}" for axis in "xy")
    return f"X{x} Y{y} in"


def clock(seconds_s: float) -> str:
    """Return a moment as hours and minutes since the start.

    >>> clock(59.0), clock(9_296.0), clock(400_000.0)
    ('0:01', '2:35', '111:07')
    """
    hours, minutes = divmod(round(seconds_s / 60), 60)
    return f"{hours}:{minutes:02d}"


def money(amount: Decimal) -> str:
    """Return an amount with thin spaces between the thousands and two decimals.

    >>> money(Decimal("12345.5")).replace(chr(0x2009), "_")
    '12_345.50'
    """
    return f"{amount:,.2f}".replace(",", "\u2009")


def runs(names: tuple[str, ...]) -> str:
    """Return names of one letter and ascending numbers as ranges.

    >>> runs(("H1", "H2", "H3", "P1")), runs(("H1", "H3", "H2")), runs(("H2-LAND", "H1"))
    ('H1–H3, P1', 'H1–H3', 'H1, H2-LAND')
    """
    found: list[list[tuple[str, int | None]]] = []
    for letter, number in sorted({_split(n) for n in names}, key=lambda s: (s[0], s[1] or 0)):
        if found and number is not None and found[-1][-1] == (letter, number - 1):
            found[-1].append((letter, number))
        else:
            found.append([(letter, number)])
    words = []
    for run in found:
        first, last = (f"{letter}{'' if n is None else n}" for letter, n in (run[0], run[-1]))
        words.append(first if first == last else f"{first}{'–' if len(run) > 2 else ', '}{last}")
    return ", ".join(words)


def _split(name: str) -> tuple[str, int | None]:
    """Return what stands before the number of a name, and the number if it ends in one."""
    letter = name.rstrip("0123456789")
    digits = name[len(letter) :]
    return letter, int(digits) if digits else None


def short_digest(sha256: str, characters: int = 16) -> str:
    """Return the head of a digest in groups of four, fit to be compared by eye."""
    head = sha256[:characters]
    return " ".join(head[k : k + 4] for k in range(0, len(head), 4))
