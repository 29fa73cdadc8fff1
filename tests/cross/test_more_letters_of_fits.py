"""Letters a, b, j, t and x, which no table at hand holds, against the standard's own rules.

ISO 286-1 gives formulas beside its tables, D being the geometric mean of a step in mm: a = 265 +
1.3 D up to 120 mm and 3.5 D beyond, b = 140 + 0.85 D up to 160 mm and 1.8 D beyond, t = IT7 +
0.63 D, x = IT7 + 1.6 D.  Values are rounded; holes J follow from shafts j of the next finer
grade (from memory, both).
"""

from __future__ import annotations

import math

import pytest

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.foundation.errors import InputError
from kerfwright.trade.fits import read_fit

TABLE = load_fits()
FINE = list(zip((1.0, *TABLE.fine_to_mm), TABLE.fine_to_mm, strict=False))


def rule_um(letter: str, mean_mm: float, to_mm: float) -> float:
    if letter == "a":
        return 265 + 1.3 * mean_mm if to_mm <= 120 else 3.5 * mean_mm
    if letter == "b":
        return 140 + 0.85 * mean_mm if to_mm <= 160 else 1.8 * mean_mm
    share = {"t": 0.63, "x": 1.6}[letter]
    return TABLE.grade_um(7, nominal_mm=to_mm) + share * mean_mm


@pytest.mark.parametrize("letter", "abtx")
def test_deviations_are_those_of_the_formula_but_for_rounding(letter: str) -> None:
    seen = 0
    for begin, end in FINE:
        # The standard's x is larger than its formula for small sizes, as its u is.
        if (letter == "t" and end <= 24) or (letter == "x" and end <= 10):
            continue
        fit = read_fit(f"{end:g} {letter}9", table=TABLE)
        ours = -fit.upper_um if letter in "ab" else fit.lower_um
        theirs = rule_um(letter, math.sqrt(begin * end), end)
        # Values are rounded coarsely, to 10 µm and more where they are large.
        assert ours == pytest.approx(theirs, rel=0.085 if letter in "tx" else 0.05), fit
        seen += 1
    assert seen >= 19


@pytest.mark.parametrize("grade", [6, 7, 8])
def test_holes_j_follow_from_the_shafts_of_the_next_finer_grade(grade: int) -> None:
    for end in TABLE.to_mm[1:]:
        hole = read_fit(f"{end:g} J{grade}", table=TABLE)
        shaft = read_fit(f"{end:g} j{grade - 1}", table=TABLE)
        widths = [TABLE.grade_um(g, nominal_mm=end) for g in (grade, grade - 1)]
        assert hole.upper_um == -shaft.lower_um + widths[0] - widths[1]
        assert hole.upper_um - hole.lower_um == widths[0]


@pytest.mark.parametrize(
    ("said", "lower_um", "upper_um"),
    # Bearing seats and other well-worn examples (from memory).
    [("25 j6", -4, 9), ("40 j5", -5, 6), ("80 J7", -12, 18), ("30 t6", 41, 54), ("12 x7", 40, 58),
     ("20 a11", -430, -300), ("20 B11", 160, 290), ("30 T7", -54, -33), ("30 X7", -77, -56)],
)  # fmt: skip
def test_well_worn_fits_come_out(said: str, lower_um: float, upper_um: float) -> None:
    fit = read_fit(said, table=TABLE)
    assert (fit.lower_um, fit.upper_um) == (lower_um, upper_um)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("12 t6", "not defined up to 24 mm"),
        ("0.8 a11", "not defined up to 1 mm"),
        ("25 j9", "j5, j6, j7, J6, J7, J8"),
        ("25 zc7", "not in the table here"),
    ],
)
def test_what_the_table_has_not_is_refused_with_what_it_has(said: str, words: str) -> None:
    with pytest.raises(InputError) as refused:
        read_fit(said, table=TABLE)
    assert words in refused.value.message
    assert "Letters are a, b, c, d" in refused.value.remedy
