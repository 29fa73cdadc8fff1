"""Values of the shop's tables as people write them."""

from __future__ import annotations

import pytest

from kerfwright.app.shop_tables import PLAIN, Unit, unit_of
from kerfwright.app.table_values import read_number, read_numbers, read_points
from kerfwright.foundation.errors import InputError

MONEY = Unit(name="EUR an hour")


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("7700 kg/m3", unit_of("density_kg_per_m3"), 7700),
        ("7,7 g/cm³", unit_of("density_kg_per_m3"), 7700),
        # 1 lb/in³ is 27 679.9 kg/m³: NIST SP 811, appendix B.8, from memory.
        ("0.28 lb/in3", unit_of("density_kg_per_m3"), 7750.37),
        ("21 W/mK", unit_of("conductivity_w_per_mk"), 21),
        ("40 uohm cm", unit_of("resistivity_uohm_cm"), 40),
        ("1440 C", unit_of("melting_c"), 1440),
        ("5 deg", unit_of("lean_deg"), 5),
        ("1/2 in", unit_of("wall_mm"), 12.7),
        ("1 1/2 in", unit_of("wall_mm"), 38.1),
        ("12.7mm", unit_of("travel_x_in"), 0.5),
        # 1 ksi is 6.894757 MPa: NIST SP 811, appendix B.8, from memory.
        ("130 ksi", unit_of("tensile_n_per_mm2"), 896.318),
        ("85 EUR", MONEY, 85),
        ("85 EUR/h", MONEY, 85),
        ("85/h", MONEY, 85),
        ("\N{MINUS SIGN}2.5e1", PLAIN, -25),
        ("1 200", PLAIN, 1200),
        ("1\u202f234 567.5 mm", unit_of("wall_mm"), 1234567.5),
        ("1 mPa s", unit_of("viscosity_mpa_s"), 1),
        ("700 A", unit_of("peak_current_a"), 700),
    ],
)
def test_a_number_is_read_with_any_unit_that_fits_it(text: str, unit: Unit, value: float) -> None:
    assert read_number(text, unit) == pytest.approx(value, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        ("", unit_of("wall_mm"), "empty"),
        ("nan", unit_of("wall_mm"), "no number"),
        ("12 kg", unit_of("wall_mm"), "mm or in"),
        ("85 USD", MONEY, "EUR an hour"),
        ("85 min", MONEY, "EUR an hour"),
        ("7.700,5", unit_of("density_kg_per_m3"), "thousands"),
        ("5 mm", PLAIN, "no unit"),
    ],
)
def test_a_number_with_another_unit_is_refused_with_those_that_fit(
    text: str, unit: Unit, said: str
) -> None:
    with pytest.raises(InputError) as refused:
        read_number(text, unit)
    assert said in f"{refused.value.message} {refused.value.remedy}"


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("0.1, 0.15, 0.25 mm", [0.1, 0.15, 0.25]),
        ("[0.1, 0.15]", [0.1, 0.15]),
        ("0,1; 0,15", [0.1, 0.15]),
        ("[0.004, 0.01] in", [0.1016, 0.254]),
        ("0.004, 0.01 in", [0.1016, 0.254]),
        ("[]", []),
    ],
)
def test_a_list_is_read_with_or_without_brackets(text: str, values: list[object]) -> None:
    assert read_numbers(text, unit_of("diameters_mm")) == values


@pytest.mark.parametrize("text", ["thin", "0.1, thin", "0.1, 0.2 kg"])
def test_a_list_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_numbers(text, unit_of("diameters_mm"))


@pytest.mark.parametrize("text", ["20: 1, 150: 0.9", "20:1; 150:0.9", "[[20, 1], [150, 0.9]]"])
def test_points_are_read_as_shown_and_as_they_stand_in_the_file(text: str) -> None:
    assert read_points(text) == [[20, 1], [150, 0.9]]


@pytest.mark.parametrize("text", ["20, 1", "20: 1: 3", "[[", "[[1, 2], [3]]", "a: b"])
def test_what_is_no_list_of_points_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refused:
        read_points(text)
    assert refused.value.code == "table-value"


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("38.50 €", "EUR an hour", 38.5),
        ("€38,50", "EUR an hour", 38.5),
        ("€ 38.50 / h", "EUR an hour", 38.5),
        ("38.50 €/h", "EUR an hour", 38.5),
        ("38.50 EUR an hour", "EUR an hour", 38.5),
        ("EUR 40", "EUR", 40),
        ("eur 40", "EUR", 40),
        ("USD 40", "USD", 40),
        ("$40", "USD an hour", 40),
        ("$ 40", "CAD", 40),
        ("1 200 zł", "PLN", 1200),
        ("CHF 12", "CHF a kg", 12),
        ("-€5", "EUR", -5),
    ],
)
def test_a_currency_stands_before_or_behind_its_amount(text: str, unit: str, value: float) -> None:
    assert read_number(text, Unit(name=unit)) == value


@pytest.mark.parametrize(
    ("text", "said"), [("USD 40", "USD"), ("40 $", "$"), ("£40", "£"), ("40 CHF an hour", "CHF")]
)
def test_another_currency_is_refused_with_the_one_of_the_table(text: str, said: str) -> None:
    with pytest.raises(InputError) as refused:
        read_number(text, Unit(name="EUR an hour"), what="bench")
    assert refused.value.code == "other-currency"
    assert f"is in {said}, and this table is in EUR" in refused.value.message


@pytest.mark.parametrize("text", ["40 €", "EUR 40", "40 min of EUR"])
def test_money_is_no_number_of_minutes(text: str) -> None:
    with pytest.raises(InputError):
        read_number(text, Unit(name="min"))


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        # 2600 °F: (2600 - 32) × 5/9, by hand.
        ("2600 °F", "melting_c", 1426.666667),
        ("2600 F", "melting_c", 1426.666667),
        ("-40 °F", "water_c", -40),
        ("1700 K", "melting_c", 1426.85),
        ("1427 °C", "melting_c", 1427),
        ("9 °F", "temperature_swing_k", 5),
        ("10 m", "travel_x_mm", 10_000),
        ("2 ft", "travel_x_mm", 609.6),
        ("2.54 m", "travel_x_in", 100),
    ],
)
def test_temperatures_and_lengths_take_the_units_of_the_trade(
    text: str, key: str, value: float
) -> None:
    assert read_number(text, unit_of(key)) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize(("text", "key"), [("10 m", "melting_c"), ("2600 °F", "travel_x_mm")])
def test_a_unit_of_another_quantity_is_refused(text: str, key: str) -> None:
    with pytest.raises(InputError, match="does not end with a unit"):
        read_number(text, unit_of(key))
