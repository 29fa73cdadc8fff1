"""Sizes with ISO 286 symbols: what is read, what comes out, what is refused and how."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.foundation.errors import InputError, KerfwrightError, RangeError
from kerfwright.trade.fits import (
    Member,
    limits_mm,
    looks_like_fit,
    read_fit,
    read_fits,
    tolerance_of_wall,
    wall_tolerance,
)

TABLE = load_fits()


def fit(text: str):
    return read_fit(text, table=TABLE)


@pytest.mark.parametrize(
    "said", ["12 H7", "12H7", "Ø12 H7", "12,0 H7", "12 mm H7", "DIA 12.000 H7", " 12   H 7 "]
)
def test_a_bore_of_12_h7_is_written_in_many_ways(said: str) -> None:
    assert limits_mm(said, table=TABLE) == (12.0, 12.018)
    assert fit(said).member is Member.HOLE


def test_the_case_of_the_letter_tells_a_hole_from_a_shaft() -> None:
    assert fit("12 h7").member is Member.SHAFT
    assert limits_mm("12 h7", table=TABLE) == (11.982, 12.0)


def test_a_step_holds_its_upper_end_and_not_its_lower() -> None:
    assert fit("18 H7").upper_um == 18
    assert fit("18.0001 H7").upper_um == 21


def test_an_inch_size_is_converted_and_says_so() -> None:
    converted = fit('0.5" H7')
    assert converted.nominal_mm == 12.7
    assert "0.5 in is 12.7 of them" in converted.note


def test_hole_and_shaft_are_read_together_but_only_one_can_be_cut() -> None:
    assert [f.symbol for f in read_fits("12 H7/g6", table=TABLE)] == ["H7", "g6"]
    with pytest.raises(InputError, match="H7 or g6") as error:
        fit("12 H7/g6")
    assert error.value.code == "fit-two-members"


def test_each_wall_gets_half_of_the_zone_and_half_of_the_shift_and_the_note_says_both() -> None:
    wall = wall_tolerance(fit("12 H7"))
    assert (wall.half_um, wall.shift_um) == (4.5, 4.5)
    assert "12.0000 to 12.0180 mm" in wall.note
    assert "±9 µm of size" in wall.note
    assert "+9 µm from the nominal size" in wall.note
    centred = wall_tolerance(fit("12 js7"))
    assert centred.shift_um == 0
    assert "middle" not in centred.note


def test_a_tolerance_text_may_be_a_fit_and_a_symbol_alone_asks_for_its_size() -> None:
    assert tolerance_of_wall("12 H7", table=TABLE).half_um == 4.5
    assert tolerance_of_wall("±0.005 mm", table=TABLE).half_um == 5
    with pytest.raises(InputError, match="lacks its nominal size") as error:
        tolerance_of_wall("H7", table=TABLE)
    assert error.value.code == "fit-size-missing"


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("12", "fit-unreadable"),
        ("H7", "fit-unreadable"),
        ("12 H7 H8", "fit-unreadable"),
        ("12 g6/H7", "fit-unreadable"),
        ("12 I7", "fit-unknown"),
        ("12 O7", "fit-unknown"),
        ("12 hH7", "fit-unknown"),
        ("12 zc7", "fit-unknown"),
        ("12 H15", "fit-unknown"),
        ("12 H0", "fit-unknown"),
        ("12 K9", "fit-unknown"),
        ("12 P2", "fit-unknown"),
        ("0.8 N9", "fit-unknown"),
        ("0.8 H14", "fit-unknown"),
        ("0 H7", "fit-out-of-range"),
        ("500.1 H7", "fit-out-of-range"),
    ],
)
def test_a_fit_that_is_not_in_the_table_is_refused_with_what_is(said: str, code: str) -> None:
    with pytest.raises((InputError, RangeError)) as error:
        fit(said)
    assert error.value.code == code
    assert error.value.remedy


@given(st.text(max_size=20))
def test_no_text_makes_the_reader_fall_over(text: str) -> None:
    looks_like_fit(text)
    with suppress(KerfwrightError):
        fit(text)
