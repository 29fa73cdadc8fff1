"""Counts in words, and signs that a value must not have."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import kerfwright
from kerfwright.foundation.counts import counted, refuse_below_nought
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import length_mm


@pytest.mark.parametrize(
    ("number", "said"), [(0, "0 times"), (1, "1 time"), (2, "2 times"), (1.0, "1 time")]
)
def test_one_takes_the_singular_and_all_else_the_plural(number, said):
    assert counted(number, "time") == said


def test_a_plural_that_is_no_mere_s_is_given():
    assert counted(1, "pass", "passes") == "1 pass"
    assert counted(3, "pass", "passes") == "3 passes"


@pytest.mark.parametrize("said", ["-5 mm", "−5 mm", "- 0.2 in"])
def test_a_negative_length_is_refused_for_its_sign(said):
    with pytest.raises(InputError, match="must not be negative") as caught:
        length_mm(said, what="height")
    assert caught.value.code == "value-negative"


def test_a_minus_within_a_value_is_none_before_it():
    refuse_below_nought("1-1/2 in", what="length", said="1-1/2 in")
    assert length_mm("1-1/2 in") == 38.1


def test_no_module_makes_the_plural_of_a_count_by_hand():
    by_hand = re.compile(r"""\}[ \w]*\{['"]s['"] (?:if|\*)|['"]{2} if [^}]* else ['"]s['"]""")
    root = Path(kerfwright.__file__).parent
    found = [
        str(path.relative_to(root))
        for path in root.rglob("*.py")
        if by_hand.search(path.read_text(encoding="utf-8"))
    ]
    assert found == []
