"""An own alloy entered in another unit than is asked for is asked about; no shipped one is."""

from __future__ import annotations

import dataclasses

import pint
import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.process.handbook_units import _ASKED, _OTHERS, handbook_unit_findings

MATERIALS = load_tables().catalogue.materials
UNITS = pint.UnitRegistry()
IN_PINT = {
    "lb/in³": "pound/inch**3", "lb/ft³": "pound/foot**3", "g/cm³": "gram/cm**3",
    "BTU/(h ft °F)": "Btu/hour/foot/delta_degF",
    "BTU in/(h ft² °F)": "Btu*inch/hour/foot**2/delta_degF",
    "cal/(s cm °C)": "cal_it/second/cm/delta_degC",
    "kcal/(h m °C)": "1000*cal_it/hour/meter/delta_degC",
    "W/(cm K)": "watt/cm/kelvin", "cal/(kg K)": "cal_it/kg/kelvin", "J/(g K)": "joule/gram/kelvin",
    "cal/(g K) or BTU/(lb °F)": "Btu/pound/delta_degF", "cal/g": "cal_it/gram",
    "BTU/lb": "Btu/pound", "J/kg": "joule/kg", "nΩ m": "nanoohm*meter",
    "Ω mm²/m or µΩ m": "microohm*meter",
    "Ω circ mil/ft": "ohm*pi/4*(0.001*inch)**2/foot", "µΩ in": "microohm*inch",
    "µin/(in °F)": "1e-6/delta_degF", "1/K": "1/kelvin",
}  # fmt: skip
ASKED_IN_PINT = {
    "kg/m³": "kg/meter**3", "W/(m K)": "watt/meter/kelvin", "J/(kg K)": "joule/kg/kelvin",
    "kJ/kg": "kJ/kg", "µΩ cm": "microohm*cm", "µm/(m K)": "1e-6/kelvin",
}  # fmt: skip


def material(name, **changes):
    (found,) = (m for m in MATERIALS if m.id == name)
    return dataclasses.replace(found, **changes)


@pytest.mark.parametrize("name", [m.id for m in MATERIALS])
def test_no_shipped_material_is_asked_about(name):
    assert handbook_unit_findings(material(name)) == []


@pytest.mark.parametrize(
    ("field", "unit"),
    [(field, unit) for field, units in _OTHERS.items() for unit in units if unit.name in IN_PINT],
    ids=lambda one: getattr(one, "name", one),
)
def test_every_factor_is_that_of_an_independent_library(field, unit):
    # pint, with the calorie and the British thermal unit of the steam tables.
    value = UNITS.parse_expression(IN_PINT[unit.name])
    there = UNITS.parse_expression(ASKED_IN_PINT[_ASKED[field]])
    expected = (1 * value / there).to("dimensionless").magnitude
    assert unit.asked(1.0) == pytest.approx(expected, rel=2e-5)


def test_degrees_and_per_cent_of_copper_are_converted_too():
    fahrenheit, kelvin = _OTHERS["melting_c"]
    assert fahrenheit.asked(2624) == pytest.approx(1440)
    assert kelvin.asked(1713.15) == pytest.approx(1440)
    # 4.3 % IACS is 40.1 µΩ cm: AISI D2 in materials.toml.
    assert _OTHERS["resistivity_uohm_cm"][-1].asked(4.3) == pytest.approx(40.1, abs=0.05)


# What a shop may copy from a page in other units, of materials whose right values are shipped.
@pytest.mark.parametrize(
    ("name", "field", "entered", "unit"),
    [
        ("tool-steel-d2", "melting_c", 2624, "°F"),
        ("tool-steel-d2", "melting_c", 1713, "K"),
        ("titanium-6al-4v", "melting_c", 3000, "°F"),
        ("aluminium-6061", "melting_c", 1202, "°F"),
        ("nickel-718", "melting_c", 2451, "°F"),
        ("tool-steel-d2", "conductivity_w_per_mk", 12.1, "BTU/(h ft °F)"),
        ("nickel-718", "conductivity_w_per_mk", 79.0, "BTU in/(h ft² °F)"),
        ("stainless-304", "conductivity_w_per_mk", 0.0387, "cal/(s cm °C)"),
        ("tool-steel-d2", "density_kg_per_m3", 7.7, "g/cm³"),
        ("tool-steel-d2", "density_kg_per_m3", 0.278, "lb/in³"),
        ("tool-steel-d2", "density_kg_per_m3", 481, "lb/ft³"),
        ("tool-steel-d2", "resistivity_uohm_cm", 401, "nΩ m"),
        ("titanium-6al-4v", "resistivity_uohm_cm", 1700, "nΩ m"),
        ("tool-steel-d2", "resistivity_uohm_cm", 0.401, "Ω mm²/m or µΩ m"),
        ("tool-steel-d2", "resistivity_uohm_cm", 4.3, "% IACS"),
        ("tool-steel-d2", "heat_capacity_j_per_kgk", 0.115, "cal/(g K) or BTU/(lb °F)"),
        ("tool-steel-d2", "latent_heat_kj_per_kg", 64.5, "cal/g"),
        ("tool-steel-d2", "expansion_um_per_mk", 5.8, "µin/(in °F)"),
    ],
)
def test_a_value_in_another_unit_is_asked_about_with_that_unit(name, field, entered, unit):
    (found,) = handbook_unit_findings(material(name, **{field: entered}))
    assert found.code == "handbook-unit"
    assert found.data["property"] == field
    assert unit in found.message
    right = getattr(material(name), field)
    fits = dict(zip(found.data["fits"].split(", "), [found.data["converted"]], strict=False))
    if unit in fits:
        assert fits[unit] == pytest.approx(right, rel=0.02)


def test_an_alloy_outside_its_family_that_fits_no_unit_is_left_to_its_indices():
    assert handbook_unit_findings(material("tool-steel-d2", density_kg_per_m3=9500)) == []


def test_a_family_that_nobody_knows_asks_nothing():
    assert handbook_unit_findings(material("tool-steel-d2", family="own", melting_c=2624)) == []
