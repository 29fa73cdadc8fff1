"""Values of the shop's tables as people write them, with any unit that fits them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from kerfwright.app.amounts import CURRENCIES, without_currency
from kerfwright.app.shop_tables import PLAIN, TableValue, Unit, number_said
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import KG_PER_LB, MM_PER_INCH, UM_PER_MM, number

FAR_TIMES: Final = 10.0
"""Beyond so many times all that is known a slip of unit or decimal point is likelier than not:
common practice, no source."""
_MPA_PER_PSI: Final = 0.006894757
"""NIST SP 811, appendix B.8, pound-force per square inch: from memory."""
_ALSO: Final[Mapping[str, Mapping[str, float]]] = {
    "kg/m³": {"g/cm³": 1e3, "lb/in³": KG_PER_LB / (MM_PER_INCH / 1e3) ** 3},
    "N/mm²": {"MPa": 1.0, "psi": _MPA_PER_PSI, "ksi": 1e3 * _MPA_PER_PSI},
    "MPa": {"N/mm²": 1.0, "bar": 0.1, "psi": _MPA_PER_PSI, "ksi": 1e3 * _MPA_PER_PSI},
    "mm": {"µm": 1 / UM_PER_MM, "cm": 10.0, "m": 1e3, "ft": 12 * MM_PER_INCH},
    "µm": {"mm": UM_PER_MM},
    "in": {"mm": 1 / MM_PER_INCH, "cm": 10 / MM_PER_INCH, "m": 1e3 / MM_PER_INCH, "ft": 12.0},
    "K": {"°C": 1.0, "°F": 5 / 9},
    "in/min": {"mm/min": 1 / MM_PER_INCH},
    "lb": {"kg": 1 / KG_PER_LB},
    "mm/min": {"m/min": 1e3},
    "m/min": {"m/s": 60.0},
    "min": {"s": 1 / 60, "h": 60.0},
    "h": {"min": 1 / 60},
    "days": {"day": 1.0},
}
"""Other units of the same quantity, and how many of the table's each is."""
_FROM_NOUGHT: Final[Mapping[str, Mapping[str, tuple[float, float]]]] = {
    "°C": {"°F": (5 / 9, -160 / 9), "K": (1.0, -273.15)}
}
"""Temperatures in other units: how many of the table's each is, and where its nought lies."""
_NUMBER: Final = re.compile(
    r"[-+\N{MINUS SIGN}]?(?:\d+[ -](?=\d+/))?[\d.,]*\d[\d.,]*(?:/\d+)?(?:[eE][-+]?\d+)?"
)
_THOUSANDS: Final = re.compile(r"(?<![\d.,])(\d{1,3}(?:[ \u00a0\u2009\u202f]\d{3})+)(?![\d/])")
"""Groups of three digits with a space between (ISO 80000-1, 7.3.1: from memory)."""
_PER: Final = (("an hour", "/h"), ("a kwh", "/kwh"), ("a kg", "/kg"), ("a litre", "/l"),
               ("a metre", "/m"))  # fmt: skip


def read_number(text: str, unit: Unit, *, what: str = "a number") -> float:
    """Read a number of a table: bare in the unit of its name, or with a unit of it behind it.

    Parameters
    ----------
    text : str
    unit : Unit
    what : str
        Name of the value for the message.

    Raises
    ------
    InputError
        Code ``number-unreadable``, ``number-ambiguous``, ``unit-unknown`` or ``other-currency``.

    Examples
    --------
    >>> from kerfwright.app.shop_tables import unit_of
    >>> read_number("0.5 in", unit_of("wall_clearance_mm"))
    12.7
    >>> read_number("7.7 g/cm3", unit_of("density_kg_per_m3"))
    7700.0
    """
    said = _joined(without_currency(text, unit.name, what).strip())
    found = _NUMBER.match(said)
    if found is None:
        raise InputError(
            f"{what} {said!r} is no number" if said else f"{what} is empty",
            code="number-unreadable",
            remedy=f"Write a number, with {_names(unit)}.",
        )
    value, tail = _signed(found.group(), what), said[found.end() :]
    for name, (factor, nought) in _FROM_NOUGHT.get(unit.name, {}).items():
        if tail.strip() and _folded(tail) in {_folded(name), _folded(name.removeprefix("°"))}:
            return float(f"{value * factor + nought:.10g}")
    return _scaled(value, _factor(tail, unit, f"{what} {said!r}"))


def read_numbers(text: str, unit: Unit, *, what: str = "a list") -> list[Any]:
    """Read a list of a table: numbers with commas between, in brackets or not.

    Parameters
    ----------
    text : str
        ``"0.1, 0.15, 0.2 mm"``, ``"[0.1, 0.15]"`` or ``"0,1; 0,15"``.
    unit : Unit
    what : str

    Raises
    ------
    InputError
        Code ``table-value``, or those of :func:`read_number`.

    Examples
    --------
    >>> from kerfwright.app.shop_tables import unit_of
    >>> read_numbers("0.1, 0.25", unit_of("diameters_mm"))
    [0.1, 0.25]
    """
    said = _joined(text.strip())
    body, mark, tail = said.removeprefix("[").partition("]")
    pieces = [piece.strip() for piece in body.split(";" if ";" in body else ",")]
    if pieces == [""]:
        return []
    if not mark:
        found = _NUMBER.match(pieces[-1])
        tail = pieces[-1][found.end() :] if found else ""
        pieces[-1] = found.group() if found else pieces[-1]
    factor = _factor(tail, unit, f"{what} {said!r}")
    numbers: list[Any] = []
    for piece in pieces:
        if not _NUMBER.fullmatch(piece):
            raise InputError(
                f"{what}: {piece!r} is no number",
                code="table-value",
                remedy="Write a list of numbers with commas between, as 0.1, 0.15, 0.2.",
            )
        value = _scaled(_signed(piece, what), factor)
        numbers.append(int(value) if value.is_integer() and "." not in piece else value)
    return numbers


def expect_near(value: float, known: Iterable[TableValue], unit: Unit, *, what: str) -> None:
    """Ask about a number that is far from all that stands at such a place.

    Parameters
    ----------
    value : float
        In the unit of the table.
    known : iterable of TableValue
        Values of the same name; what is shipped counts, what the shop wrote does not.
    unit : Unit
    what : str

    Raises
    ------
    InputError
        Code ``value-far-off``, more than ``FAR_TIMES`` times beyond the largest or the smallest.
    """
    shipped = [v.shipped if v.is_own and v.shipped.metric else v.shown for v in known]
    _expect_near(value, [read_number(one.metric, unit) for one in shipped], unit, what)


def expect_all_near(
    value: Sequence[Any], known: Iterable[TableValue], unit: Unit, *, what: str
) -> None:
    """Ask about each number of a list that is far from all that stands in such lists.

    Of points each coordinate is held to its own; one of nothing is no slip there.

    Raises
    ------
    InputError
        Code ``value-far-off``.
    """
    shipped = [v.shipped if v.is_own and v.shipped.metric else v.shown for v in known]
    if not any(isinstance(one, list) for one in value):
        sizes = [s for one in shipped for s in read_numbers(one.metric, unit)]
        for size in value:
            _expect_near(size, sizes, unit, what)
        return
    points = [p for one in shipped for p in read_points(one.metric, what=what)]
    for at, place in enumerate(("first of a point", "second of a point")):
        for point in value:
            if point[at]:
                _expect_near(point[at], [p[at] for p in points], PLAIN, f"{what}, {place},")


def expect_currency(text: str) -> None:
    """Ask about a currency that is none of ISO 4217.

    Raises
    ------
    InputError
        Code ``value-far-off``.
    """
    if text not in CURRENCIES:
        raise InputError(
            f"{text!r} is no currency of ISO 4217 that is known here",
            code="value-far-off",
            remedy="Write its three capital letters, as EUR, USD or CHF, or say that it is meant.",
        )


def read_points(text: str, *, what: str = "a curve") -> list[list[Any]]:
    """Read the points of a curve: ``"20: 1, 150: 0.9"`` or ``"[[20, 1.0], [150, 0.9]]"``.

    Raises
    ------
    InputError
        Code ``table-value``.

    Examples
    --------
    >>> read_points("20: 1, 150: 0.9") == read_points("[[20, 1], [150, 0.9]]")
    True
    """
    said = text.strip()
    if said.startswith("[["):
        said = said.removeprefix("[[").removesuffix("]]")
        pieces = [[*piece.split(",")] for piece in re.split(r"\]\s*,\s*\[", said)]
    else:
        pieces = [piece.split(":") for piece in said.split(";" if ";" in said else ",")]
    points = []
    for piece in pieces:
        bare = [one.strip() for one in piece]
        if len(bare) != 2 or not all(_NUMBER.fullmatch(one) for one in bare):
            raise InputError(
                f"{what}: {text.strip()!r} is no list of points",
                code="table-value",
                remedy="Write points with a colon in each and commas between, as 0.1: 0.5, 0.2: 1.",
            )
        values = [_signed(one, what) for one in bare]
        points.append(
            [
                int(v) if v.is_integer() and "." not in b else v
                for v, b in zip(values, bare, strict=True)
            ]
        )
    return points


def _expect_near(value: float, shipped: Sequence[float], unit: Unit, what: str) -> None:
    sizes = [abs(s) for s in shipped if s]
    # Nothing is a size where it is shipped somewhere.
    if not sizes or (value == 0 and len(sizes) < len(shipped)):
        return
    low, high = min(sizes), max(sizes)
    if low / FAR_TIMES <= abs(value) <= high * FAR_TIMES:
        return
    span = _both(low, unit) if low == high else f"{_both(low, unit)} to {_both(high, unit)}"
    raise InputError(
        f"{what} would be {_both(value, unit)}; as shipped there is {span}",
        code="value-far-off",
        remedy="Check the number and its unit, or say that it is meant.",
    )


def _both(value: float, unit: Unit) -> str:
    said = number_said(value, unit)
    return said.metric if said.inch == said.metric else f"{said.metric} ({said.inch})"


def _names(unit: Unit) -> str:
    also = (*_ALSO.get(unit.name, {}), *_FROM_NOUGHT.get(unit.name, {}))
    names = (unit.name, unit.inch_name, *also)
    return " or ".join(dict.fromkeys(n for n in names if n)) or "no unit"


def _factor(tail: str, unit: Unit, what: str) -> float:
    """Return how many of the table's unit the written one is."""
    if not tail.strip():
        return 1.0
    written = _folded(tail)
    known = {unit.name: 1.0, unit.inch_name: unit.per_inch, **_ALSO.get(unit.name, {})}
    currency, _, per = unit.name.partition(" ")
    if len(currency) == 3 and currency.isupper():
        known |= {currency: 1.0, per: 1.0}
    for name, factor in known.items():
        if name and written == _folded(name):
            return factor
    raise InputError(
        f"{what} does not end with a unit of this value",
        code="unit-unknown",
        remedy=f"Write a number, with {_names(unit)}.",
    )


def _folded(name: str) -> str:
    """Return a unit without the marks that few keyboards have."""
    plain = name.strip().casefold()
    for said, mark in _PER:
        plain = plain.replace(said, mark)
    for mark, letters in (
        *(("\N{GREEK SMALL LETTER MU}", "u"), ("\N{MICRO SIGN}", "u")),
        *(("²", "2"), ("³", "3"), ("ω", "ohm"), ("°c", "c"), ("°", "deg"), ('"', "in")),
        *(("·", ""), ("*", ""), ("^", ""), ("(", ""), (")", ""), (" ", "")),
    ):
        plain = plain.replace(mark, letters)
    return plain


def _scaled(value: float, factor: float) -> float:
    return value if factor == 1.0 else float(f"{value * factor:.12g}")


def _joined(text: str) -> str:
    """Return a text with its thousands written together, ``1 200`` as ``1200``."""
    return _THOUSANDS.sub(lambda found: re.sub(r"\s", "", found[1]), text)


def _signed(text: str, what: str) -> float:
    bare = text.replace("\N{MINUS SIGN}", "-")
    if bare.startswith("-"):
        return -number(bare[1:], what=what)
    return number(bare.removeprefix("+"), what=what)
