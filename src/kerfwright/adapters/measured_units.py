"""Times and masses as a person at a machine writes them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from kerfwright.adapters.machines import shipped_machines
from kerfwright.foundation.counts import refuse_below_nought
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import KG_PER_LB, UM_PER_MM, length_mm, number, tidy

TIME_FORMS: Final = "34 min, 1 h 12 min, 0:34:12 or 95 s"
MASS_FORMS: Final = "0.25 kg, 250 g or 0.5 lb"
_TIME: Final = re.compile(
    r"(?:(?P<h>[\d.,]+)\s*h)?\s*(?:(?P<m>[\d.,]+)\s*min)?\s*(?:(?P<s>[\d.,]+)\s*s)?"
)
_CLOCK: Final = re.compile(r"(\d+):(\d\d):(\d\d)")
_OF_THE_NEXT: Final = 60
_MASS: Final = re.compile(r"([\d.,]+)\s*(kg|g|lb|oz)")
_PASS: Final = re.compile(r"(?:pass )?(\d+)(?: (rough|skim)(?: pass| cut)?)?")
"""As the set-up sheet prints it: the number of the pass, then its kind."""
_ROUGH: Final = re.compile(r"rough(?:ing)?(?: pass| cut)?")
_NTH_SKIM: Final = re.compile(r"skim(?: pass| cut)? (\d+)|(\d+)(?:st|nd|rd|th) skim(?: pass| cut)?")
NAMES_OF_PASSES: Final = "1 or rough, 2 or skim 1 (the first skim), 3 or skim 2"
BREAK_FORMS: Final = "the count: 0, none or no, 1 or once, 2"
_BREAKS: Final = {"none": 0, "no": 0, "n": 0, "never": 0, "once": 1, "twice": 2}
_BROKE: Final = frozenset({"yes", "y", "broke", "broken", "true", "x"})
_SAYS_SIDE: Final = re.compile(
    r"\b(?:over|under)[\s-]?sized?\b"
    r"|\b(?:big|large|small|tight|loose|deep|proud|over|under|plus|minus)\b",
    re.IGNORECASE,
)
# Sixteen ounces to the pound.
KG: Final = {"kg": 1.0, "g": 0.001, "lb": KG_PER_LB, "oz": KG_PER_LB / 16}


_BY_OPTION: Final = ("machine", "material", "wire", "height")


def missing_remedy(missing: Sequence[str]) -> str:
    """Say how to give what a row of measured cuts lacks; empty where only the row can.

    Parameters
    ----------
    missing : sequence of str
        Columns without a value.
    """
    if "job" in missing:
        return (
            'Name the job in the row, or with --job-name; a --cut names it as "job=X1; pass=1; '
            '...".'
        )
    options = [f"--{name}" for name in missing if name in _BY_OPTION]
    if not options:
        return ""
    known = (
        f" Machines are {', '.join(shipped_machines())}, or a definition of the shop's own."
        if "machine" in missing
        else ""
    )
    return f"Fill the cell, or give {' and '.join(options)} for all rows that leave it out.{known}"


def read_minutes(text: str) -> float:
    """Read a time in minutes: ``"34 min"``, ``"1 h 12 min"``, ``"0:34:12"``, ``"95 s"``.

    Raises
    ------
    InputError
        Code ``value-negative`` or ``time-unreadable``; ``34:12`` is refused, as it may be hours or
        minutes, and so are 60 minutes or seconds and more behind a larger unit.

    Examples
    --------
    >>> read_minutes("1 h 12 min"), read_minutes("0:30:30"), read_minutes("90 s")
    (72.0, 30.5, 1.5)
    """
    plain = tidy(text)
    clock = _CLOCK.fullmatch(plain)
    if clock:
        hours, minutes, seconds = (int(part) for part in clock.groups())
        _require_below_60(text, minutes=minutes, seconds=seconds)
        return hours * 60 + minutes + seconds / 60
    match = _TIME.fullmatch(plain)
    if match is None or not any(match.groups()):
        refuse_below_nought(plain, what="time", said=text)
        raise InputError(
            f"time {text!r} cannot be read",
            code="time-unreadable",
            remedy=f"Write it as {TIME_FORMS}.",
        )
    parts = {unit: number(value, what="time") for unit, value in match.groupdict().items() if value}
    if "h" in parts:
        _require_below_60(text, minutes=parts.get("m", 0.0), seconds=parts.get("s", 0.0))
    elif "m" in parts:
        _require_below_60(text, minutes=0.0, seconds=parts.get("s", 0.0))
    return parts.get("h", 0.0) * 60 + parts.get("m", 0.0) + parts.get("s", 0.0) / 60


def _require_below_60(text: str, *, minutes: float, seconds: float) -> None:
    """Refuse 60 and more of a unit behind a larger one: a digit is wrong, nobody knows which."""
    for value, unit in ((minutes, "min"), (seconds, "s")):
        if value >= _OF_THE_NEXT:
            raise InputError(
                f"time {text!r} has {value:g} {unit} behind a larger unit, where 59 are the most",
                code="time-unreadable",
                remedy=f"Check the digits and write it as {TIME_FORMS}; {value:g} {unit} alone can "
                "be written without the larger unit.",
            )


def read_kg(text: str) -> float:
    """Read a mass in kg.

    Raises
    ------
    InputError
        Code ``value-negative`` or ``mass-unreadable``.
    """
    plain = tidy(text)
    match = _MASS.fullmatch(plain)
    if match is None:
        refuse_below_nought(plain, what="mass", said=text)
        raise InputError(
            f"mass {text!r} cannot be read",
            code="mass-unreadable",
            remedy=f"Write it as {MASS_FORMS}.",
        )
    return number(match.group(1), what="mass") * KG[match.group(2)]


def read_breaks(text: str) -> int:
    """Read a count of wire breaks.

    Raises
    ------
    InputError
        Code ``value-negative``, ``breaks-uncounted`` or ``number-unreadable``.

    Examples
    --------
    >>> [read_breaks(text) for text in ("2", "none", "No", "once", "3x")]
    [2, 0, 0, 1, 3]
    """
    plain = tidy(text)
    if plain in _BREAKS:
        return _BREAKS[plain]
    if plain in _BROKE:
        raise InputError(
            f"breaks {text!r} does not say how many",
            code="breaks-uncounted",
            remedy=f"Write {BREAK_FORMS}.",
        )
    count = plain.removesuffix("x").rstrip()
    if count.isascii() and count.isdigit():
        return int(count)
    refuse_below_nought(plain, what="breaks", said=text)
    raise InputError(
        f"breaks {text!r} is not a whole number",
        code="number-unreadable",
        remedy=f"Write {BREAK_FORMS}.",
    )


def read_size_um(text: str) -> float:
    """Read by how far a wall is off, µm, without its sign.

    Raises
    ------
    InputError
        Code ``size-error-words`` where words say the side, or as
        :func:`kerfwright.foundation.units.length_mm`.
    """
    word = _SAYS_SIDE.search(text)
    if word is not None:
        raise InputError(
            f"size error {text!r}: {word.group()!r} does not say whether metal stayed or went, "
            "since an opening that is too large has lost metal and a punch has kept it",
            code="size-error-words",
            remedy="Write it with its sign, on one side: +4um or +0.0002in where metal was left "
            "(a small opening, a large punch), -4um or -0.0002in where too much went.",
        )
    return length_mm(text, what="size error") * UM_PER_MM


def read_pass(text: str) -> int:
    """Read the number of a pass; the rough one is 1, the first skim 2.

    Raises
    ------
    InputError
        Code ``pass-ambiguous``, ``value-negative`` or ``number-unreadable``.

    Examples
    --------
    >>> [read_pass(text) for text in ("1", "rough", "2 skim", "pass 3", "skim 1")]
    [1, 1, 2, 3, 2]
    """
    plain = tidy(text)
    if _ROUGH.fullmatch(plain):
        return 1
    if nth := _NTH_SKIM.fullmatch(plain):
        if place := int(nth[1] or nth[2]):
            return 1 + place
        raise InputError(
            f"pass {text!r} is none: skims are counted from 1, and the rough pass is pass 1",
            code="pass-ambiguous",
            remedy=f"Write {NAMES_OF_PASSES}.",
        )
    found = _PASS.fullmatch(plain)
    if found is None:
        refuse_below_nought(plain, what="pass", said=text)
        raise InputError(
            f"pass {text!r} is not a whole number and no pass by name",
            code="number-unreadable",
            remedy=f"Write {NAMES_OF_PASSES}.",
        )
    number_of_pass, kind = int(found[1]), found[2]
    if kind is not None and (number_of_pass == 1) != (kind == "rough"):
        raise InputError(
            f"pass {text!r} is not told: pass 1 is the rough one, the first skim is pass 2",
            code="pass-ambiguous",
            remedy=f"Write {NAMES_OF_PASSES}.",
        )
    return number_of_pass


def is_nth_skim(text: str) -> bool:
    """Return whether a pass is named by its place among the skims rather than by its number."""
    return _NTH_SKIM.fullmatch(tidy(text)) is not None
