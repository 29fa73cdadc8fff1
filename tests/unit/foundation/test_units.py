from __future__ import annotations

import pytest

from kerfwright.foundation import units
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import UnitSystem, length_mm, tolerance


@pytest.mark.parametrize(
    ("said", "mm"),
    [
        ("25 mm", 25.0),
        ("25.4mm", 25.4),
        ("25,4 mm", 25.4),
        ("0,005 mm", 0.005),
        ("12,50 mm", 12.5),
        (".5 mm", 0.5),
        ("2 cm", 20.0),
        ("1.5 in", 38.1),
        ('1.5"', 38.1),
        ("1.5 inches", 38.1),
        ("1/2 in", 12.7),
        ('1 1/2"', 38.1),
        ('1-1/2"', 38.1),
        ("0.0002 in", 0.00508),
        ("3 thou", 0.0762),
        ("5 µm", 0.005),
        ("5 \N{GREEK SMALL LETTER MU}m", 0.005),
        ("5 um", 0.005),
        ("5 microns", 0.005),
        ("16 µin", 0.0004064),
        ("  40   MM ", 40.0),
        ("36 AWG", 0.127),
    ],
)
def test_a_length_is_read_with_its_unit(said, mm):
    assert length_mm(said) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("25", "unit-missing"),
        ("0,005", "unit-missing"),
        ("2 tenths", "unit-ambiguous"),
        ("5 mil", "unit-ambiguous"),
        ("5 mils", "unit-ambiguous"),
        ("3 furlongs", "unit-unknown"),
        ("1,500 mm", "number-ambiguous"),
        ("1,500 in", "number-ambiguous"),
        ("1.234,5 mm", "number-ambiguous"),
        ("1,234,567 mm", "number-ambiguous"),
        ("1/0 in", "number-unreadable"),
        ("1.2.3 mm", "number-unreadable"),
        ("about 5 mm", "length-unreadable"),
        ("-5 mm", "value-negative"),
        ("nan mm", "length-unreadable"),
        ("1e3 mm", "length-unreadable"),
        ("57 AWG", "gauge-unknown"),
        ("30.5 AWG", "gauge-unknown"),
        ("", "length-unreadable"),
    ],
)
def test_a_length_that_would_need_a_guess_is_refused(said, code):
    with pytest.raises(InputError) as caught:
        length_mm(said)
    assert caught.value.code == code


def test_a_bare_number_names_the_forms_that_are_read():
    with pytest.raises(InputError, match=r"height '25' has no unit .*25 in or 25 mm.*1\.5 in"):
        length_mm("25", what="height")


def test_a_bare_number_takes_the_unit_the_person_has_chosen():
    assert length_mm("2", bare_unit="in") == 50.8
    assert length_mm("2 mm", bare_unit="in") == 2


@pytest.mark.parametrize(
    ("said", "half_um", "shift_um"),
    [
        ("0.005 mm", 5.0, 0.0),
        ("0,005 mm", 5.0, 0.0),
        ("±5 µm", 5.0, 0.0),
        ("± 0.005 mm", 5.0, 0.0),
        ("+/-0.0002 in", 5.08, 0.0),
        ("+/- 5 um", 5.0, 0.0),
        ("+-0.01mm", 10.0, 0.0),
        ("+0.01/-0 mm", 5.0, 5.0),
        ("+0.01 / -0.00 mm", 5.0, 5.0),
        ("+0/-0.02 mm", 10.0, -10.0),
        ("+0.010/-0.005 mm", 7.5, 2.5),
        ("+0.02/+0.01 mm", 5.0, 15.0),
        ("-0.01/-0.02 mm", 5.0, -15.0),
        ("+0.01 mm/-0 mm", 5.0, 5.0),
        ("+0,01/0 mm", 5.0, 5.0),
        ('+0.0004"/-0"', 5.08, 5.08),
        ("+5 µm/-0 mm", 2.5, 2.5),
    ],
)
def test_a_tolerance_is_read_as_half_its_zone(said, half_um, shift_um):
    read = tolerance(said)
    assert read.half_um == pytest.approx(half_um, rel=1e-12)
    assert read.shift_um == pytest.approx(shift_um, abs=1e-9)
    assert read.said == said


def test_an_asymmetric_tolerance_says_what_was_made_of_it():
    note = tolerance("+0.01/-0 mm").note
    assert "±5 µm" in note
    assert "middle +5 µm (0.000196 in) from the nominal" in note
    assert tolerance("+0.01/-0.01 mm").note == ""


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ("0.01", "unit-missing"),
        ("±0.01", "unit-missing"),
        ("+0.01/-0", "unit-missing"),
        ("0 mm", "tolerance-empty"),
        ("+0/-0 mm", "tolerance-empty"),
        ("+0.01/+0.01 mm", "tolerance-empty"),
        ("+0.01 mm", "tolerance-one-limit"),
        ("+0.02/0.01 mm", "tolerance-one-limit"),
        ("h7", "length-unreadable"),
    ],
)
def test_a_tolerance_that_would_need_a_guess_is_refused(said, code):
    with pytest.raises(InputError) as caught:
        tolerance(said)
    assert caught.value.code == code
    assert caught.value.remedy


def test_the_refusal_of_a_bare_tolerance_shows_tolerances():
    with pytest.raises(InputError, match=r"±0\.005 mm"):
        tolerance("±0.01")


def test_lengths_are_written_in_either_system():
    assert units.length_text(12.7, system=UnitSystem.METRIC) == "12.7000 mm"
    assert units.length_text(12.7, system=UnitSystem.INCH) == "0.50000 in"
    assert units.small_length_text(2.54, system=UnitSystem.INCH) == "0.0001 in"
    assert units.small_length_text(25.4, system=UnitSystem.INCH) == "0.0010 in"
    assert units.small_length_text(25.4, system=UnitSystem.METRIC) == "25.4 µm"
    assert units.small_length_text(250, system=UnitSystem.METRIC) == "250 µm"
    assert units.roughness_text(0.4064, system=UnitSystem.INCH) == "Ra 16 µin"
    assert units.roughness_text(3.175, system=UnitSystem.INCH) == "Ra 125 µin"
    assert units.roughness_text(3.2, system=UnitSystem.METRIC) == "Ra 3.2 µm"
    assert units.feed_text(2.58, system=UnitSystem.METRIC) == "2.580 mm/min"
    assert units.both(2.54) == "2.54 µm (0.0001 in)"


def test_times_are_written_as_people_say_them():
    assert units.minutes_text(59.9) == "1 h 00 min"
    assert units.minutes_text(119.6) == "2 h 00 min"
    assert units.minutes_text(0.999) == "1 min"


def test_a_light_slug_is_weighed_in_grams():
    # 0.4 g was written "0.000 kg" before.
    assert units.mass_text(0.0004) == "0.4 g"
    assert units.mass_text(0.000049) == "0.049 g"
    assert units.mass_text(0.423) == "423 g"
    assert units.mass_text(0.9996) == "1.00 kg"
    assert units.mass_text(12.345) in {"12.35 kg", "12.34 kg"}
