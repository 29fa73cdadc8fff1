"""A number with a leading point is read as with a zero before it, whatever word stands before.

Shops in inches leave the zero away (ASME Y14.5; from memory), and the point of the number must
not be taken for the full stop of the shortened word before it.
"""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.trade.callouts import interpret
from kerfwright.trade.fits import read_fits
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.roughness import finish
from kerfwright.trade.statements import Asks

CATALOGUE = load_tables().catalogue
FITS = load_fits()
WORDS = (
    "DIA", "DIAMETER", "4X DIA", "4 HOLES DIA", "Ø", "4X Ø", "R", "2X R", "RAD", "RADIUS",
    "MAX RAD", "MIN INSIDE RADIUS", "TOL", "TOLERANCE", "GENERAL TOL ±", "TOL: 3 PL", "X.XXX ±",
    "TOL: 3 PLACE DEC", "ANGLES ±", "THK", "THICKNESS", "HEIGHT", "T =", "RA", "RZ", "RA MAX",
    "FINISH RA", "RECAST MAX", "RECAST LAYER MAX", "C'BORE Ø", "WALLS ±",
)  # fmt: skip
"""Before a value that is read."""
OTHERS = (
    "3 PL", "SLOT", "DEEP", "Ø.5 X", "C'BORE", "DRILL", "FINISH", "NO RECAST ABOVE", "RECAST",
    "FLATNESS", "TIR", "POSITION", "REF", "TYP", "2 PLCS", "MAT'L", "KEYWAY", "CHAMFER", "GAP",
)  # fmt: skip
"""Known or not; a number that touches them is no number of theirs."""
PARTINGS = ("", ".", " ", ". ", ": ", " : ", " = ", "  ")
BEHIND = ("", " +.0005 -.0000", " +.0005/-.0000", " ±.0002", " DIA", " THRU", " IN", " H7", " MAX")


def says(text: str) -> list[tuple[object, ...]]:
    return [
        (one.asks, one.readings, one.remark)
        for one in interpret(text, unit=LengthUnit.INCH, catalogue=CATALOGUE, fits=FITS)
        if one.asks is not Asks.NOT_UNDERSTOOD
    ]


@settings(max_examples=tries(400), deadline=None)
@given(
    word_and_parting=st.tuples(st.sampled_from(WORDS), st.sampled_from(PARTINGS))
    | st.tuples(st.sampled_from(OTHERS), st.sampled_from(PARTINGS[2:])),
    digits=st.sampled_from(("250", "5", "06", "001", "0625", "9375")),
    behind=st.sampled_from(BEHIND),
)
def test_a_leading_point_is_read_as_with_a_zero_before_it(
    word_and_parting: tuple[str, str], digits: str, behind: str
) -> None:
    word, parting = word_and_parting
    # A radius is no diameter: nobody writes both.
    assume(not (word.split()[-1] in {"R", "RAD", "RADIUS"} and behind == " DIA"))
    touching = parting in {"", "."} and word[-1].isalpha()
    between = "" if parting == "." else parting
    short = f"{word}{between}.{digits}{behind}"
    # A word that touches the point parts from the number with a zero by a blank.
    full = f"{word}{' ' if touching else between}0.{digits}{behind}"
    said, meant = [_plain(one) for one in says(short)], [_plain(one) for one in says(full)]
    if touching:
        # What is not understood is left away, and nothing is read otherwise.
        said, meant = [one for one in said if one not in meant], []
    assert said == meant, (short, full)


def _plain(said: tuple[object, ...]) -> object:
    asks, readings, _remark = said
    return asks, [
        {k: v for k, v in one.data.items() if k != "limits"} or one.words for one in readings
    ]


@pytest.mark.parametrize(
    "text",
    [
        "34X DIA .250 +.0005/-.0000",
        "4 HOLES DIA .250 +.0005 -.0000",
        "DIA .250",
        "DIA. .250",
        "DIA.250",
        "DIA: .250",
        ".250 DIA",
        "Ø .250",
    ],
)
def test_a_diameter_of_a_quarter_inch_is_one(text: str) -> None:
    (one,) = interpret(text, unit=LengthUnit.INCH, catalogue=CATALOGUE, fits=FITS)
    data = one.readings[0].data
    size_mm = data.get("diameter_mm", data.get("nominal_mm"))
    assert size_mm == pytest.approx(0.25 * MM_PER_INCH)


def test_a_fit_and_a_finish_keep_their_leading_point() -> None:
    (fit,) = read_fits("DIA.250 in H7", table=FITS)
    assert fit.nominal_mm == pytest.approx(0.25 * MM_PER_INCH)
    assert finish("Ra max.8 um").ra_um == pytest.approx(0.8)


def test_a_stop_that_ends_a_word_is_still_read_over() -> None:
    (one,) = interpret("THK. 5", unit=LengthUnit.MILLIMETRE, catalogue=CATALOGUE, fits=FITS)
    assert one.readings[0].data["height_mm"] == 5
