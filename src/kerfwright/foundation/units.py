"""Text with units, read and written at the edge; inside, lengths are millimetres.

A bare number is refused unless the caller says which unit the person has already chosen
(the unit of the drawing, say).  Words that mean two things in two shops are refused too:
a *tenth* is 0.0001 in to one machinist and 0.1 mm to another, a *mil* 0.001 in or 1 mm.  Only as a
tolerance a tenth is read, as 0.0001 in and with a note: nobody asks a wire for 0.1 mm.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Final, NoReturn

from kerfwright.foundation.counts import refuse_below_nought
from kerfwright.foundation.directed import in_both
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.gauges import awg_mm

N_PER_LBF: Final = 4.4482216152605
"""A pound-force in newtons, exact: 0.45359237 kg times 9.80665 m/s²."""
MM_PER_INCH: Final = 25.4
"""Exact by definition (international yard and pound agreement of 1959; ISO 80000-3)."""
UM_PER_MM: Final = 1000.0
UM_PER_MICROINCH: Final = 0.0254
KG_PER_LB: Final = 0.45359237
"""The international pound, exactly (from memory of the agreement of 1959)."""

LENGTH_FORMS: Final = '25 mm, 0,5 mm, 5 µm, 1.5 in, 1.5", 1/2 in or 3 thou'
TOLERANCE_FORMS: Final = "±0.005 mm, +/-5 µm, 0.0002 in, +0.01/-0 mm or 0.01 mm total"


class UnitSystem(StrEnum):
    """Units that a person reads."""

    METRIC = "metric"
    INCH = "inch"


_MM_PER_UNIT: Final[dict[str, float]] = {
    "mm": 1.0,
    "millimetre": 1.0,
    "millimeter": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "metre": 1000.0,
    "meter": 1000.0,
    **dict.fromkeys(("um", "u", "micron", "micrometre", "micrometer"), 0.001),
    "nm": 0.000001,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "''": MM_PER_INCH,
    "thou": MM_PER_INCH / 1000,
    "uin": MM_PER_INCH / 1e6,
    'u"': MM_PER_INCH / 1e6,
    "uinch": MM_PER_INCH / 1e6,
    "microinch": MM_PER_INCH / 1e6,
    "microinches": MM_PER_INCH / 1e6,
}
FEW_DIGITS_IN: Final = 5e-5
"""Below it five decimals of an inch are a digit or none: millionths are written, as of finish."""
_TWO_MEANINGS: Final[dict[str, str]] = {
    "tenth": "0.0001 in or 0.1 mm",
    "mil": "0.001 in or 1 mm",
    "point": "0.001 in or 0.3528 mm",
}
_NUMBER: Final = r"\d+(?:[.,]\d+)*|[.,]\d+"
_FRACTION: Final = r"(?:\d+[ -])?\d+/\d+"
_UNIT: Final = r"([a-z\"']*)\.?"
"""A unit is often written with a full stop: "in."."""
_LENGTH: Final = re.compile(rf"({_FRACTION}|{_NUMBER})\s*{_UNIT}")
_SAID: Final = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TENTHS: Final = re.compile(rf"({_FRACTION}|{_NUMBER}|{'|'.join(_SAID)})\s*tenths?")
_TENTH_MM: Final = MM_PER_INCH / 10_000
_MOST: Final = re.compile(r"(?:(?:max\.?|up to|at most|<=?|≤)\s*)?(.+?)(?:\s*max\.?)?")
_FRACTIONS: Final = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_PLAIN: Final = str.maketrans(
    {
        "\N{MICRO SIGN}": "u",
        "\N{GREEK SMALL LETTER MU}": "u",
        "\N{GREEK CAPITAL LETTER MU}": "u",
        "\N{MINUS SIGN}": "-",
        "\N{EN DASH}": "-",
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{DOUBLE PRIME}": '"',
        "\N{NO-BREAK SPACE}": " ",
        "\N{NARROW NO-BREAK SPACE}": " ",
    }
    | {sign: f" {written}" for sign, written in _FRACTIONS.items()}
)
_GROUPED: Final = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+")


def tidy(text: str) -> str:
    """Return the text in lower case with one spelling of micro, minus, fractions and blanks.

    >>> tidy(" 5 \N{GREEK SMALL LETTER MU}M ")
    '5 um'
    """
    if not text.isascii():
        text = text.translate(_PLAIN)
    return " ".join(text.lower().split())


def number(text: str, *, what: str = "a number") -> float:
    """Read a number with a decimal point or a decimal comma.

    Parameters
    ----------
    text : str
        ``"0.25"``, ``"0,25"`` or a fraction, ``"1/2"``, ``"1 1/2"``, ``"1-1/2"``.
    what : str
        Name of the quantity for the message.

    Raises
    ------
    InputError
        If it is no number, or its comma may be a decimal comma or a thousands mark
        (``"1,500"``).
    """
    text = text.strip()
    if "/" in text:
        whole, _, rest = text.replace("-", " ").rpartition(" ")
        try:
            return float(Fraction(rest) + (int(whole) if whole else 0))
        except (ValueError, ZeroDivisionError):
            said = f"{what} {text!r} is no fraction"
            _refuse(said, code="number-unreadable", remedy="Write it as in 1/2, not over 0.")
    if _GROUPED.fullmatch(text) or ("," in text and "." in text) or text.count(",") > 1:
        _refuse(
            f"{what} {text!r} may mean a decimal comma or a thousands mark",
            code="number-ambiguous",
            remedy="Write it with a decimal point and no thousands mark.",
        )
    try:
        return float(text.replace(",", "."))
    except ValueError:
        _refuse(f"{what} {text!r} is no number", code="number-unreadable")


def length_mm(text: str, *, what: str = "length", bare_unit: str | None = None) -> float:
    """Read a length with its unit.

    Parameters
    ----------
    text : str
        ``"25 mm"``, ``"0,5 mm"``, ``"5 µm"``, ``'1.5"'``, ``"1/2 in"``, ``"3 thou"``.
    what : str
        Name of the quantity for the message.
    bare_unit : str or None
        Unit of a bare number, where the person has chosen one already; None refuses it.

    Returns
    -------
    float
        Length in mm, not negative.

    Raises
    ------
    InputError
        Code ``unit-missing``, ``unit-unknown``, ``unit-ambiguous``, ``number-ambiguous``,
        ``value-negative`` or ``length-unreadable``.

    Examples
    --------
    >>> length_mm("1 1/2 in")
    38.1
    >>> length_mm("0,005 mm")
    0.005
    """
    plain = tidy(text)
    match = _LENGTH.fullmatch(plain)
    if match is None:
        refuse_below_nought(plain, what=what, said=text)
        _refuse(
            f"{what} {text!r} cannot be read", code="length-unreadable", remedy=_write(LENGTH_FORMS)
        )
    if match.group(2) == "awg":
        return awg_mm(number(match.group(1), what=what))
    unit = match.group(2) or bare_unit
    if unit is None:
        _no_unit(text, what=what, forms=LENGTH_FORMS)
    value_mm = number(match.group(1), what=what) * _mm_per(unit, said=text, what=what)
    # Twelve decimals of a millimetre drop the rounding noise of the product, nothing else.
    return round(value_mm, 12)


def most_mm(text: str, *, what: str = "length") -> float:
    """Read a largest length: ``"5 µm"``, ``"max 5 µm"``, ``"≤ 0.0002 in"``, ``"5 µm max"``.

    >>> most_mm("max. 5 µm")
    0.005
    """
    inner = _MOST.fullmatch(tidy(text))
    return length_mm(text if inner is None else inner[1], what=what)


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceText:
    """A tolerance as read.

    Attributes
    ----------
    half_um : float
        Half width of the zone, µm.
    shift_um : float
        Middle of the zone from the nominal, µm; 0 for a symmetric tolerance.
    said : str
        What the person wrote.
    note : str
        What was made of it where that is not plain; else empty.
    """

    half_um: float
    shift_um: float
    said: str
    note: str = ""


def tolerance(text: str, *, what: str = "tolerance", bare_unit: str | None = None) -> ToleranceText:
    """Read a tolerance; an asymmetric one gives half its zone, and says so.

    Parameters
    ----------
    text : str
        ``"0.005 mm"`` (meant ±), ``"±5 µm"``, ``"+/-0.0002 in"``, ``"+0.01/-0 mm"``,
        ``"0/-0.02 mm"``, ``"0.01 mm total"`` (half of it to each side).
    what : str
        Name of the quantity for the message.
    bare_unit : str or None
        Unit of a bare number, where the person has chosen one already; None refuses it.

    Raises
    ------
    InputError
        As :func:`length_mm`; also ``tolerance-empty`` if the zone has no width.

    Examples
    --------
    >>> tolerance("+/-0.0002 in").half_um
    5.08
    >>> t = tolerance("+0.01/-0 mm")
    >>> t.half_um, t.shift_um
    (5.0, 5.0)
    """
    plain = tidy(text)
    two_sided = re.fullmatch(
        rf"([+-]?)\s*({_NUMBER})\s*{_UNIT}\s*[/ ;]\s*([+-]?)\s*({_NUMBER})\s*{_UNIT}", plain
    )
    # "1/2 in" is a fraction; without any sign only "0/0.01" could be meant as limits.
    if two_sided is not None and (two_sided[1] or two_sided[4]):
        return _asymmetric(two_sided, said=text, what=what, bare_unit=bare_unit)
    total = _TOTAL.fullmatch(plain)
    if total is not None:
        return _half_of(tolerance(total[1], what=what, bare_unit=bare_unit), said=text)
    body = re.sub(r"^(±|\+\s*/\s*-|\+-)\s*", "", plain)
    if body[:1] in {"+", "-"}:
        _refuse(
            f"{what} {text!r} gives one limit only",
            code="tolerance-one-limit",
            remedy="Write both, as in +0.01/-0 mm.",
        )
    if (tenths := _TENTHS.fullmatch(body)) is not None:
        word = tenths[1]
        count = _SAID.index(word) + 1 if word in _SAID else number(word, what=what)
        half_um = _clean(count * _TENTH_MM * UM_PER_MM)
        if half_um > 0:
            note = f"“{text}” is read as ±{in_both(half_um)}: a tenth of a thou each."
            return ToleranceText(half_um=half_um, shift_um=0.0, said=text, note=note)
    try:
        # Nought needs no unit to be refused.
        read = "0 mm" if body and not body.strip("0.,") else body
        half_mm = length_mm(read, what=what, bare_unit=bare_unit)
    except InputError as error:
        remedy = error.remedy.replace(LENGTH_FORMS, TOLERANCE_FORMS)
        raise InputError(
            error.message.replace(repr(body), repr(text)), code=error.code, remedy=remedy
        ) from None
    if half_mm == 0:
        _refuse(
            f"{what} {text!r} leaves no zone",
            code="tolerance-empty",
            remedy="A tolerance must be above 0.",
        )
    half_um = _clean(half_mm * UM_PER_MM)
    note = f"“{text}” is read as ±{in_both(half_um)}; the whole zone is written “{text} total”."
    return ToleranceText(half_um=half_um, shift_um=0.0, said=text, note=note * (body == plain))


_TOTAL: Final = re.compile(r"([^±+-].*?)\s*(?:total|tot\.?)(?: zone| width)?")


def _half_of(whole: ToleranceText, *, said: str) -> ToleranceText:
    half_um = _clean(whole.half_um / 2)
    note = f"“{said}” is the whole zone: ±{in_both(half_um)}."
    return ToleranceText(half_um=half_um, shift_um=0.0, said=said, note=note)


def _asymmetric(
    match: re.Match[str], *, said: str, what: str, bare_unit: str | None
) -> ToleranceText:
    sign_1, first, unit_1, sign_2, second, unit_2 = match.groups()
    unit = unit_2 or unit_1 or bare_unit
    if unit is None:
        _no_unit(said, what=what, forms=TOLERANCE_FORMS)
    one = number(first, what=what) * _mm_per(unit_1 or unit, said=said, what=what)
    two = number(second, what=what) * _mm_per(unit_2 or unit, said=said, what=what)
    if (not sign_2 and two != 0) or (not sign_1 and one != 0):
        _refuse(
            f"{what} {said!r} lacks the sign of a limit",
            code="tolerance-one-limit",
            remedy=_write(TOLERANCE_FORMS),
        )
    limits = sorted((one if sign_1 == "+" else -one, -two if sign_2 == "-" else two))
    half_um = _clean((limits[1] - limits[0]) / 2 * UM_PER_MM)
    if half_um == 0:
        _refuse(
            f"{what} {said!r} leaves no zone",
            code="tolerance-empty",
            remedy="The two limits must differ.",
        )
    shift_um = _clean((limits[1] + limits[0]) / 2 * UM_PER_MM)
    note = ""
    if shift_um:
        note = (
            f"“{said}” is read as ±{in_both(half_um)} of each wall about a middle "
            f"{'+' if shift_um > 0 else '-'}{in_both(abs(shift_um))} from the nominal; the wall "
            "is cut to the drawn line unless the drawing is moved to the middle."
        )
    return ToleranceText(half_um=half_um, shift_um=shift_um, said=said, note=note)


def _mm_per(unit: str, *, said: str, what: str) -> float:
    word = tidy(unit)
    for form in (word, word.removesuffix("s")):
        if form in _MM_PER_UNIT:
            return _MM_PER_UNIT[form]
        if form in _TWO_MEANINGS:
            _refuse(
                f"{what} {said!r}: {unit!r} means {_TWO_MEANINGS[form]}",
                code="unit-ambiguous",
                remedy=_write(LENGTH_FORMS),
            )
    raise InputError(
        f"{what} {said!r}: the unit {unit!r} is not known",
        code="unit-unknown",
        remedy=_write(LENGTH_FORMS),
    )


def _clean(value: float) -> float:
    """Drop the rounding noise of a unit conversion: a billionth of a micrometre is no length."""
    return round(value, 9)


def _no_unit(said: str, *, what: str, forms: str) -> NoReturn:
    bare = " ".join(said.split())
    meant = f"Did you mean {bare} in or {bare} mm? {_write(forms)}"
    _refuse(f"{what} {said!r} has no unit", code="unit-missing", remedy=meant)


def _write(forms: str) -> str:
    return f"Write it with a unit, as {forms}."


def _refuse(message: str, *, code: str, remedy: str = "") -> NoReturn:
    raise InputError(message, code=code, remedy=remedy)


def length_text(value_mm: float, *, system: UnitSystem, decimals: int | None = None) -> str:
    """Write a length: 4 decimals of a millimetre or 5 of an inch unless told otherwise.

    >>> length_text(25.4, system=UnitSystem.INCH, decimals=3)
    '1.000 in'
    """
    if system is UnitSystem.INCH:
        return f"{value_mm / MM_PER_INCH:.{5 if decimals is None else decimals}f} in"
    return f"{value_mm:.{4 if decimals is None else decimals}f} mm"


def small_length_text(value_um: float, *, system: UnitSystem) -> str:
    """Write a gap, stock or tolerance, given in µm, in µm, in inches or in millionths of one.

    >>> small_length_text(5.08, system=UnitSystem.INCH)
    '0.0002 in'
    >>> small_length_text(2880.0, system=UnitSystem.INCH)
    '0.1134 in'
    >>> small_length_text(0.1, system=UnitSystem.INCH)
    '3.9 µin'
    >>> small_length_text(5.08, system=UnitSystem.METRIC)
    '5.08 µm'
    """
    if system is UnitSystem.INCH:
        if 0 < abs(inches := value_um / UM_PER_MM / MM_PER_INCH) < FEW_DIGITS_IN:
            return f"{value_um / UM_PER_MICROINCH:.2g} µin"
        text = f"{inches:.5f}".removesuffix("0") if abs(inches) < 0.01 else f"{inches:.4f}"
        return f"{text} in"
    return f"{value_um:.3g} µm" if value_um < 100 else f"{value_um:.0f} µm"


def roughness_text(ra_um: float, *, system: UnitSystem) -> str:
    """Write an arithmetic mean roughness.

    >>> roughness_text(0.8, system=UnitSystem.INCH)
    'Ra 31 µin'
    """
    if system is UnitSystem.INCH:
        microinch = ra_um / UM_PER_MICROINCH
        return f"Ra {microinch:.0f} µin" if microinch >= 10 else f"Ra {microinch:.2g} µin"
    return f"Ra {ra_um:.3g} µm"


def both(value_um: float) -> str:
    """Write a small length in both unit systems, for messages that every shop reads.

    >>> both(5.0)
    '5 µm (0.0002 in)'
    """
    metric = small_length_text(value_um, system=UnitSystem.METRIC)
    return f"{metric} ({small_length_text(value_um, system=UnitSystem.INCH)})"


def both_roughness(ra_um: float) -> str:
    """Write a roughness in both unit systems.

    >>> both_roughness(0.8)
    'Ra 0.8 µm (31 µin)'
    """
    inch = roughness_text(ra_um, system=UnitSystem.INCH).removeprefix("Ra ")
    return f"{roughness_text(ra_um, system=UnitSystem.METRIC)} ({inch})"


def feed_text(value_mm_per_min: float, *, system: UnitSystem) -> str:
    """Write a feed.

    >>> feed_text(2.54, system=UnitSystem.INCH)
    '0.1000 in/min'
    """
    if system is UnitSystem.INCH:
        return f"{value_mm_per_min / MM_PER_INCH:.4f} in/min"
    return f"{value_mm_per_min:.3f} mm/min"


def force_text(force_n: float) -> str:
    """Write a force in both unit systems.

    >>> force_text(15.46)
    '15.5 N (3.48 lbf)'
    """
    return f"{force_n:.3g} N ({force_n / N_PER_LBF:.3g} lbf)"


def mass_text(mass_kg: float) -> str:
    """Write a mass, rounded, then below a kilogram in grams: 0.4 g is not "0.000 kg".

    >>> mass_text(0.0004), mass_text(0.0423), mass_text(0.9999), mass_text(12.345)
    ('0.4 g', '42.3 g', '1.00 kg', '12.35 kg')
    """
    grams = mass_kg * 1000
    if round(grams) >= 1000:
        return f"{mass_kg:.2f} kg"
    return f"{grams:.0f} g" if grams >= 100 else f"{grams:.3g} g"


def minutes_text(minutes: float) -> str:
    """Write a time as people say it, rounded before it is split: no "60 min", no "60 s".

    >>> minutes_text(0.4), minutes_text(42.2), minutes_text(125)
    ('24 s', '42 min', '2 h 05 min')
    """
    if round(minutes * 60) < 60:
        return f"{minutes * 60:.0f} s"
    hours, rest = divmod(round(minutes), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d} min"
