"""Limits and fits of ISO 286: ``12 H7`` is 12.000 to 12.018 mm.

A fit speaks of a size, the distance between two walls; what a wire machine is asked is the zone
of one wall, which is half as wide.  Both are kept apart here, for a factor of two is a scrapped
die.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, NoReturn

from kerfwright.foundation.errors import InputError, RangeError
from kerfwright.foundation.sources import Source
from kerfwright.foundation.units import (
    MM_PER_INCH,
    UM_PER_MM,
    ToleranceText,
    number,
    tolerance,
)
from kerfwright.trade.asked_sizes import SIZE_FORMS, read_asked_limits

FIT_FORMS: Final = "12 H7, Ø12 H7, 25 g6, 30 JS9 or 12 H7/g6"

_FIT: Final = re.compile(
    r"(?P<before>(?:ø|Ø|⌀|∅|[Dd][Ii][Aa](?:\.(?!\d))?)\s*)?"
    r"(?P<size>(?:\d{1,3}[ -])?\d{1,3}/\d{1,3}|\d{1,6}(?:[.,]\d{1,6})?|[.,]\d{1,6})\s*"
    r"(?P<unit>mm|MM|in|IN|\"|”|″)?\s*"
    r"(?P<letter>[A-Za-z]{1,2})\s*(?P<grade>\d{1,2})"
    r"(?:\s*/\s*(?P<letter2>[A-Za-z]{1,2})\s*(?P<grade2>\d{1,2}))?"
)
_INCH_MARKS: Final = frozenset({"in", "IN", '"', "”", "″"})
_STANDARD: Final = frozenset("abcdefghjkmnprstuvxyz") | {"cd", "ef", "fg", "js", "za", "zb", "zc"}
"""Letters of ISO 286; i, l, o, q and w are left out there so that nobody misreads them."""
_BELOW: Final = frozenset("abcdefg")
_NOT_UP_TO_1_MM: Final = frozenset("ab")
_NOT_EVERYWHERE: Final = _NOT_UP_TO_1_MM | {"t"}
"""Letters without a zone for small sizes: a and b up to 1 mm, t up to 24 mm (from memory)."""
_LARGEST_GRADE_BELOW_1_MM: Final = 13
"""ISO 286-1, note to the table of standard tolerances: 14 and coarser not below 1 mm (from
memory)."""
_K_GRADES: Final = range(4, 8)
"""Grades of shafts k that stand off the nominal size; the others begin on it."""
_SHALLOW: Final = {"K": 8, "M": 8, "N": 8}
"""Coarsest grade of a hole that gets the difference of grades; of P and beyond it is 7."""
_SHALLOW_OTHERS: Final = 7
_SMALLEST_WITH_DELTA_MM: Final = 3.0
_FINEST_WITH_DELTA: Final = 3
"""The standard gives the difference of grades from grade 3 on (from memory)."""
_M6_STEP_MM: Final = (250.0, 315.0)
_M6_UPPER_UM: Final = -9.0
"""The one hole off the rule: M6 over 250 to 315 mm ends at -9, not -11 µm (ISO 286-1, footnote
to the table of holes; from memory)."""


class Member(StrEnum):
    """Which of two mating parts a fit speaks of."""

    HOLE = "hole"
    """Capital letter: an inside size."""
    SHAFT = "shaft"
    """Small letter: an outside size."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FitTable:
    """Standard tolerances and deviations by step of nominal size.

    Attributes
    ----------
    to_mm : tuple of float
        Upper ends of the steps, which a step holds; its lower end it does not hold.
    fine_to_mm : tuple of float
        The same for letters with fine steps.
    grades_um : mapping of int to tuple of float
        Width of the zone by grade.
    deviations_um : mapping of str to tuple of float
        Distance of the zone from the nominal size by small letter, one value for each step or
        each fine step.
    both_sides_um : mapping of str to tuple of float
        By symbol, ``"j6"``: of a shaft how far its lower limit lies below the nominal size, of a
        hole how far its upper one lies above; one value for each step.
    general_to_mm, very_coarse_um : tuple of float
        Upper ends of the steps of general tolerances, and the widest of them, to either side.
    sources : mapping of str to Source
        By ``"grade.7"``, ``"deviation.f"``, ``"both_sides.j6"`` and ``"general"``.
    """

    to_mm: tuple[float, ...]
    fine_to_mm: tuple[float, ...]
    grades_um: Mapping[int, tuple[float, ...]]
    deviations_um: Mapping[str, tuple[float, ...]]
    both_sides_um: Mapping[str, tuple[float, ...]]
    general_to_mm: tuple[float, ...]
    very_coarse_um: tuple[float, ...]
    sources: Mapping[str, Source]

    def grade_um(self, grade: int, *, nominal_mm: float) -> float:
        """Return the width of the zone of a grade, µm."""
        return self.grades_um[grade][bisect_left(self.to_mm, nominal_mm)]

    def general_um(self, size_mm: float) -> float:
        """Return the widest general tolerance of a size, µm to either side."""
        last = len(self.general_to_mm) - 1
        return self.very_coarse_um[min(bisect_left(self.general_to_mm, size_mm), last)]

    def deviation_um(self, letter: str, *, nominal_mm: float) -> float:
        """Return the distance of the zone of a small letter from the nominal size, µm."""
        values = self.deviations_um[letter]
        steps = self.to_mm if len(values) == len(self.to_mm) else self.fine_to_mm
        return values[bisect_left(steps, nominal_mm)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A size with the limits that its symbol gives it.

    Attributes
    ----------
    said : str
        What was written.
    symbol : str
        ``"H7"``, ``"js9"``.
    member : Member
    nominal_mm : float
    lower_um, upper_um : float
        Limits of the size from the nominal, µm.
    note : str
        What was made of it where that is not plain; else empty.
    sources : tuple of Source
        Of grade and deviation.
    """

    said: str
    symbol: str
    member: Member
    nominal_mm: float
    lower_um: float
    upper_um: float
    note: str
    sources: tuple[Source, ...]

    @property
    def limits_mm(self) -> tuple[float, float]:
        """Smallest and largest size, mm."""
        return (
            round(self.nominal_mm + self.lower_um / UM_PER_MM, _MM_DECIMALS),
            round(self.nominal_mm + self.upper_um / UM_PER_MM, _MM_DECIMALS),
        )

    @property
    def size_half_um(self) -> float:
        """Half width of the zone of the size, µm."""
        return (self.upper_um - self.lower_um) / 2

    @property
    def size_shift_um(self) -> float:
        """Middle of the zone of the size from the nominal, µm."""
        return (self.upper_um + self.lower_um) / 2


_MM_DECIMALS: Final = 7
"""A ten-thousandth of a micrometre: drops the rounding noise of the sum, nothing else."""


def read_fits(text: str, *, table: FitTable) -> tuple[Fit, ...]:
    """Read one size with the symbol of a hole or a shaft, or of both.

    Parameters
    ----------
    text : str
        ``"12 H7"``, ``"Ø12 H7"``, ``"12 H7/g6"``; a bare size is in millimetres, as ISO 286 counts
        them, and ``"0.5 in H7"`` is converted, which the note says.
    table : FitTable

    Returns
    -------
    tuple of Fit
        One, or hole and shaft.

    Raises
    ------
    InputError
        Code ``fit-unreadable`` or ``fit-unknown``.
    RangeError
        Code ``fit-out-of-range``: a nominal size of 0 or above the last step.

    Validity
    --------
    Nominal sizes above 0 up to 500 mm, grades 1 to 14.

    References
    ----------
    ISO 286-1, tables of standard tolerances and fundamental deviations (from memory; see the
    tags of the table).
    """
    match = _FIT.fullmatch(" ".join(text.split()))
    if match is None:
        raise InputError(
            f"fit {text!r} is not a size with a letter and a grade.",
            code="fit-unreadable",
            remedy=f"Write it as {FIT_FORMS}.",
        )
    nominal_mm = number(match["size"], what="the size of a fit")
    note = ""
    if match["unit"] in _INCH_MARKS:
        nominal_mm = round(nominal_mm * MM_PER_INCH, _MM_DECIMALS)
        note = (
            f"ISO 286 counts in millimetres: {match['size']} in is {nominal_mm:g} of them, and its "
            "step is that of the millimetre size."
        )
    if not 0 < nominal_mm <= table.to_mm[-1]:
        raise RangeError(
            f"fit {text!r}: the size {nominal_mm:g} mm is not above 0 and at most "
            f"{table.to_mm[-1]:g} mm.",
            code="fit-out-of-range",
            remedy="Give the two limits themselves, as +0.01/-0 mm.",
        )
    pairs = [(match["letter"], match["grade"])]
    if match["letter2"]:
        pairs.append((match["letter2"], match["grade2"]))
    fits = tuple(
        _fit(letter, int(grade), nominal_mm, said=text, note=note, table=table)
        for letter, grade in pairs
    )
    if len(fits) == 2 and [f.member for f in fits] != [Member.HOLE, Member.SHAFT]:
        raise InputError(
            f"fit {text!r} does not name a hole and then a shaft.",
            code="fit-unreadable",
            remedy=f"Write it as {FIT_FORMS}.",
        )
    return fits


def read_fit(text: str, *, table: FitTable) -> Fit:
    """Read one size with one symbol.

    Raises
    ------
    InputError
        As :func:`read_fits`; also ``fit-two-members`` where hole and shaft are both named.
    RangeError
        As :func:`read_fits`.
    """
    fits = read_fits(text, table=table)
    if len(fits) > 1:
        raise InputError(
            f"fit {text!r} names hole and shaft; only one of them is cut here.",
            code="fit-two-members",
            remedy=f"Keep the one that is cut: {fits[0].symbol} or {fits[1].symbol}.",
        )
    return fits[0]


def limits_mm(text: str, *, table: FitTable) -> tuple[float, float]:
    """Return smallest and largest size of a fit, mm; raises as :func:`read_fit`."""
    return read_fit(text, table=table).limits_mm


def looks_like_fit(text: str) -> bool:
    """Tell whether a text is a size with a letter and a grade, known or not.

    >>> looks_like_fit("12 H7"), looks_like_fit("±0.01 mm")
    (True, False)
    """
    return _FIT.fullmatch(" ".join(text.split())) is not None


def _fit(
    letter: str, grade: int, nominal_mm: float, *, said: str, note: str, table: FitTable
) -> Fit:
    small = letter.lower()
    if letter not in (small, letter.upper()) or small not in _STANDARD:
        _unknown(said, f"{letter!r} is no letter of ISO 286", table)
    if small == "j" and f"{letter}{grade}" not in table.both_sides_um:
        known = ", ".join(table.both_sides_um)
        _unknown(said, f"{letter}{grade} is not in the table, which has {known}", table)
    if small not in table.deviations_um and small not in ("h", "j", "js"):
        _unknown(said, f"{letter} is a letter of ISO 286 that is not in the table here", table)
    most = max(table.grades_um)
    if grade not in table.grades_um:
        _unknown(said, f"grade {grade} is not in the table, which has 1 to {most}", table)
    if small in table.deviations_um and small in _NOT_EVERYWHERE:
        _expect_zone(letter, nominal_mm, said, table)
    if nominal_mm <= 1 and (grade > _LARGEST_GRADE_BELOW_1_MM or (letter == "N" and grade > 8)):
        _unknown(said, f"{letter}{grade} is not defined up to 1 mm", table)
    width_um = table.grade_um(grade, nominal_mm=nominal_mm)
    sources = [table.sources[f"grade.{grade}"]]
    if small in table.deviations_um:
        sources.append(table.sources[f"deviation.{small}"])
    if small == "js":
        lower_um = -width_um / 2
    elif small == "j":
        symbol = f"{letter}{grade}"
        sources.append(table.sources[f"both_sides.{symbol}"])
        reach_um = table.both_sides_um[symbol][bisect_left(table.to_mm, nominal_mm)]
        lower_um = -reach_um if letter == small else reach_um - width_um
    elif letter == small:
        lower_um = _shaft_lower_um(letter, grade, nominal_mm, width_um, table)
    else:
        lower_um = _hole_upper_um(letter, grade, nominal_mm, width_um, said, table) - width_um
    return Fit(
        said=said,
        symbol=f"{letter}{grade}",
        member=Member.SHAFT if letter == small else Member.HOLE,
        nominal_mm=nominal_mm,
        # A shaft h ends at 0, not at the -0.0 of floating point.
        lower_um=round(lower_um, _UM_DECIMALS) + 0.0,
        upper_um=round(lower_um + width_um, _UM_DECIMALS) + 0.0,
        note=note,
        sources=tuple(sources),
    )


def _expect_zone(letter: str, nominal_mm: float, said: str, table: FitTable) -> None:
    """Refuse a letter where the standard has no zone for it."""
    small = letter.lower()
    if small in _NOT_UP_TO_1_MM and nominal_mm <= 1:
        _unknown(said, f"{letter} is not defined up to 1 mm", table)
    if not table.deviation_um(small, nominal_mm=nominal_mm):
        first = next(i for i, v in enumerate(table.deviations_um[small]) if v)
        begin_mm = table.fine_to_mm[first - 1]
        _unknown(said, f"{letter} is not defined up to {begin_mm:g} mm", table)


_UM_DECIMALS: Final = 4
"""Drops the rounding noise of sums of table values, which have one decimal at most."""


def _shaft_lower_um(
    letter: str, grade: int, nominal_mm: float, width_um: float, table: FitTable
) -> float:
    if letter == "h":
        return -width_um
    if letter == "k" and grade not in _K_GRADES:
        return 0.0
    deviation_um = table.deviation_um(letter, nominal_mm=nominal_mm)
    return -deviation_um - width_um if letter in _BELOW else deviation_um


def _hole_upper_um(
    letter: str, grade: int, nominal_mm: float, width_um: float, said: str, table: FitTable
) -> float:
    """Return the upper limit of a hole: the shaft's zone mirrored at the nominal size.

    From K on, fine holes are moved up by the difference of their grade to the next finer one,
    so that a hole of grade 7 with a shaft h6 fits as a hole H7 with the shaft of grade 6.
    """
    small = letter.lower()
    if letter == "H":
        return width_um
    deviation_um = table.deviation_um(small, nominal_mm=nominal_mm)
    if small in _BELOW:
        return deviation_um + width_um
    is_small = nominal_mm <= _SMALLEST_WITH_DELTA_MM
    is_shallow = grade <= _SHALLOW.get(letter, _SHALLOW_OTHERS)
    if letter == "K" and not is_shallow and not is_small:
        _unknown(said, "K is defined up to grade 8 above 3 mm", table)
    if letter == "N" and not is_shallow and not is_small:
        return 0.0
    if not is_shallow or is_small:
        return -deviation_um
    if grade < _FINEST_WITH_DELTA:
        _unknown(
            said, f"{letter}{grade} is not defined above 3 mm; these holes begin at grade 3", table
        )
    if letter == "M" and grade == 6 and _M6_STEP_MM[0] < nominal_mm <= _M6_STEP_MM[1]:
        return _M6_UPPER_UM
    return -deviation_um + width_um - table.grade_um(grade - 1, nominal_mm=nominal_mm)


def _unknown(said: str, why: str, table: FitTable) -> NoReturn:
    letters = ", ".join(sorted({"h", "j", "js", *table.deviations_um}))
    raise InputError(
        f"fit {said!r}: {why}.",
        code="fit-unknown",
        remedy=(
            f"Letters are {letters}, capitals for holes, with a grade of 1 to "
            f"{max(table.grades_um)}; or give the two limits themselves."
        ),
    )


def wall_tolerance(fit: Fit) -> ToleranceText:
    """Return the zone of each wall that keeps a fit.

    The size has two walls, so each wall gets half of the zone of the size, and half of the shift
    of its middle: a wall cut to the drawn line lies off the middle by that much.

    Parameters
    ----------
    fit : Fit

    Returns
    -------
    ToleranceText
        Of one wall; the note gives the limits and the shift in size.
    """
    low, high = fit.limits_mm
    note = (
        f"“{fit.said}” is {low:.4f} to {high:.4f} mm: ±{fit.size_half_um:g} µm of size, so "
        f"±{fit.size_half_um / 2:g} µm of each wall."
    )
    if fit.size_shift_um:
        note += (
            f" The middle of the zone is {fit.nominal_mm + fit.size_shift_um / UM_PER_MM:.4f} mm, "
            f"{fit.size_shift_um:+g} µm from the nominal size; the wall is cut to the drawn line "
            "unless the drawing is moved to the middle."
        )
    return ToleranceText(
        half_um=fit.size_half_um / 2,
        shift_um=fit.size_shift_um / 2,
        said=fit.said,
        note=f"{note} {fit.note}".rstrip(),
    )


def tolerance_of_wall(text: str, *, table: FitTable, what: str = "tolerance") -> ToleranceText:
    """Read the tolerance of a wall: a plain one, or a size with its fit.

    Parameters
    ----------
    text : str
        As :func:`kerfwright.foundation.units.tolerance`, ``"12 H7"``, or a size with its limits as
        :func:`kerfwright.trade.asked_sizes.read_asked_limits`.
    table : FitTable
    what : str
        Name of the quantity for the message.

    Raises
    ------
    InputError
        As :func:`kerfwright.foundation.units.tolerance` and :func:`read_fit`; a symbol without
        its size (``"H7"``) has code ``fit-size-missing``.
    RangeError
        As :func:`read_fit`.
    """
    if looks_like_fit(text):
        return wall_tolerance(read_fit(text, table=table))
    if (limits := read_asked_limits(text)) is not None:
        if not limits.has_unit:
            raise InputError(
                f"{what} {text!r} has no unit",
                code="unit-missing",
                remedy=f"Write it as {SIZE_FORMS}.",
            )
        return limits.wall
    if _GRADE.fullmatch(text.strip()):
        raise InputError(
            f"{text!r} is a grade alone: how wide a zone is, and not where it lies.",
            code="fit-grade-alone",
            remedy=f"Write the fit with its letter, as {FIT_FORMS}, or the limits themselves.",
        )
    if _SYMBOL.fullmatch(text.strip()):
        raise InputError(
            f"fit {text!r} lacks its nominal size.",
            code="fit-size-missing",
            remedy=f"Write it as {FIT_FORMS}.",
        )
    return tolerance(text, what=what)


def is_symbol(text: str) -> bool:
    """Tell whether a text is the symbol of a fit without its size, ``"H7"``."""
    said = text.strip()
    return _SYMBOL.fullmatch(said) is not None and _GRADE.fullmatch(said) is None


def bare_size(text: str) -> str | None:
    """Return the size of a fit as written, where it has no unit; None for all else.

    >>> bare_size(".500 H7"), bare_size("0.5 in H7")
    ('.500', None)
    """
    match = _FIT.fullmatch(" ".join(text.split()))
    return match["size"] if match is not None and not match["unit"] else None


_SYMBOL: Final = re.compile(r"[A-Za-z]{1,2}\s*\d{1,2}")
_GRADE: Final = re.compile(r"IT\s*\d{1,2}", re.IGNORECASE)
