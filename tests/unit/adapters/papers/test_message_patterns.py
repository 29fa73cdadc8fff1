"""Every message of the package that writes numbers before a unit, read in inches."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

import kerfwright
from kerfwright.adapters.papers.words import Units, in_unit
from kerfwright.foundation.places import place_words
from kerfwright.foundation.sizes import both_extents
from kerfwright.trade.part import LengthUnit

INCHES = Units(unit=LengthUnit.INCH)
PACKAGE = Path(kerfwright.__file__).parent
NUMERIC = re.compile(r"[+]?(?:\.\d+)?[fg]")
NUMBER = r"[1-9]{3}\.25"
BEFORE_ONE_UNIT = re.compile(rf"{NUMBER}(?P<between>[^\d]{{1,12}})[+-]?{NUMBER} (?:mm|µm)\b")
SEVERAL_UNITS = re.compile(r" (?:mm|µm|in|min)\b")
NO_MESSAGES = ("adapters/svg/",)
"""Drawn sheets write either unit by themselves."""


@cache
def messages() -> list[tuple[str, str]]:
    """Return where a text is written and how it reads, each number in it another.

    Found by a test and not by the collection of it, which every worker does anew.
    """
    return [
        (f"{path.relative_to(PACKAGE)}:{node.lineno}", rendered(node))
        for path in sorted(PACKAGE.rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.JoinedStr)
    ]


def rendered(node: ast.JoinedStr) -> str:
    words, count = [], 0
    for part in node.values:
        if isinstance(part, ast.Constant):
            words.append(str(part.value))
        elif isinstance(part, ast.FormattedValue):
            spec = part.format_spec
            form = spec.values[0] if isinstance(spec, ast.JoinedStr) and spec.values else None
            if isinstance(form, ast.Constant) and NUMERIC.fullmatch(str(form.value)):
                count += 1
                words.append(f"{'+' if str(form.value).startswith('+') else ''}{count * 111}.25")
            else:
                words.append("\x01")
    return "".join(words)


def test_two_numbers_before_one_unit_are_both_converted() -> None:
    patterns = [
        (where, text[found.start() : found.end()])
        for where, text in messages()
        for found in BEFORE_ONE_UNIT.finditer(text)
        if not SEVERAL_UNITS.search(found["between"])
        if not where.startswith(NO_MESSAGES)
    ]
    said = [(where, text, in_unit(text, INCHES)) for where, text in patterns]
    assert len(said) >= 5
    assert not [one for one in said if re.search(NUMBER, one[2]) or "mm" in one[2]]


@pytest.mark.parametrize("between", [" × ", " x ", " to ", "–", " to +", " to -"])
def test_what_stands_between_two_numbers_hides_neither(between: str) -> None:
    assert in_unit(f"25.4{between}50.8 mm", INCHES) == f"1.000{between}2.000 in"


def test_three_extents_are_all_converted() -> None:
    assert in_unit("25.4 × 50.8 × 76.2 mm", INCHES) == "1.000 × 2.000 × 3.000 in"


def test_a_size_in_both_units_keeps_its_own_inches() -> None:
    said = both_extents(101.6, 76.2)
    assert in_unit(said, INCHES) == "4.000 × 3.000 in"
    assert in_unit(said, Units(unit=LengthUnit.MILLIMETRE)) == "101.60 × 76.20 mm"


def test_a_place_in_a_message_follows_the_unit_that_is_shown() -> None:
    said = f"4 pieces meet at {place_words(203.2, -25.4)}"
    assert in_unit(said, INCHES) == "4 pieces meet at X8.0000 Y-1.0000 in"
    assert in_unit(said, Units(unit=LengthUnit.MILLIMETRE)) == said


def test_a_place_has_no_sign_on_a_zero() -> None:
    assert place_words(-0.00001, 0.0) == "X0.0000 Y0.0000 mm"


def test_no_message_writes_a_place_without_its_unit() -> None:
    # Programs have no unit in their blocks, and a column of places has it in its head.
    bare = [
        where
        for where, text in messages()
        if re.search(rf"X{NUMBER} Y{NUMBER}(?! mm)", text)
        if not where.startswith(("nc/", "foundation/findings.py"))
    ]
    assert not bare
