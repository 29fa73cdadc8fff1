"""Values of the shop's tables as people write them, with any unit that fits them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

from kerfwright.app.shop_tables import TableValue, Unit, number_said
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
    "mm": {"µm": 1 / UM_PER_MM},
    "µm": {"mm": UM_PER_MM},
    "in": {"mm": 1 / MM_PER_INCH},
    "in/min": {"mm/min": 1 / MM_PER_INCH},
    "lb": {"kg": 1 / KG_PER_LB},
    "mm/min": {"m/min": 1e3},
    "m/min": {"m/s": 60.0},
    "min": {"s": 1 / 60, "h": 60.0},
    "h": {"min": 1 / 60},
    "days": {"day": 1.0},
}
"""Other units of the same quantity, and how many of the table's each is."""
_NUMBER: Final = re.compile(
    r"[-+\N{MINUS SIGN}]?(?:\d+[ -](?=\d+/))?[\d.,]*\d[\d.,]*(?:/\d+)?(?:[eE][-+]?\d+)?"
)
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
        Code ``number-unreadable``, ``number-ambiguous`` or ``unit-unknown``.

    Examples
    --------
    >>> from kerfwright.app.shop_tables import unit_of
    >>> read_number("0.5 in", unit_of("wall_clearance_mm"))
    12.7
    >>> read_number("7.7 g/cm3", unit_of("density_kg_per_m3"))
    7700.0
    """
    said = text.strip()
    found = _NUMBER.match(said)
    if found is None:
        raise InputError(
            f"{what} {said!r} is no number" if said else f"{what} is empty",
            code="number-unreadable",
            remedy=f"Write a number, with {_names(unit)}.",
        )
    factor = _factor(said[found.end() :], unit, f"{what} {said!r}")
    return _scaled(_signed(found.group(), what), factor)


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
    said = text.strip()
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
    sizes = [s for s in (abs(read_number(one.metric, unit)) for one in shipped) if s > 0]
    if not sizes or value == 0:
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
    names = (unit.name, unit.inch_name, *_ALSO.get(unit.name, {}))
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


def _signed(text: str, what: str) -> float:
    bare = text.replace("\N{MINUS SIGN}", "-")
    if bare.startswith("-"):
        return -number(bare[1:], what=what)
    return number(bare.removeprefix("+"), what=what)
