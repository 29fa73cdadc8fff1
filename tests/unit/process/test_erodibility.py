"""A flag for a shop's own alloy, not a model of the rate."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.process.samples import requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.sources import Source, SourceTag
from kerfwright.process.choice import choose_passes
from kerfwright.process.erodibility import erodibility

TABLES = load_tables()
LAW = TABLES.technology.spark.erodibility
D2 = TABLES.catalogue.material("D2")


def codes(material):
    return [f.code for f in erodibility(material, reference=D2, law=LAW).findings]


def test_melt_energy_of_pure_numbers_is_heat_and_latent_heat_by_volume():
    # By hand: 8000 kg/m3 * (500 J/kgK * 1000 K + 300 000 J/kg) = 6.4e9 J/m3.
    made = replace(
        D2,
        density_kg_per_m3=8000,
        heat_capacity_j_per_kgk=500,
        melting_c=1020,
        latent_heat_kj_per_kg=300,
    )
    assert erodibility(made, reference=D2, law=LAW).melt_energy_j_per_mm3 == pytest.approx(6.4)


def test_the_reference_is_one_by_every_index():
    found = erodibility(D2, reference=D2, law=LAW)
    assert found.melt_energy_rate == found.palatnik_rate == found.kalpakjian_rate == 1


def test_no_shipped_material_is_flagged():
    assert [m.name for m in TABLES.catalogue.materials if codes(m)] == []


@pytest.mark.parametrize("factor", [9.5, 0.095])
def test_a_factor_with_a_slipped_point_is_flagged(factor):
    assert codes(replace(TABLES.catalogue.material("304"), rate_factor=factor)) == [
        "rate-factor-unlike-its-indices"
    ]


def test_a_density_in_the_wrong_unit_is_flagged_and_the_caution_is_said():
    alloy = replace(TABLES.catalogue.material("IN718"), density_kg_per_m3=8.19e6)
    alloy = replace(alloy, melting_c=13440, rate_factor=0.85)
    (finding,) = erodibility(alloy, reference=D2, law=LAW).findings
    assert "None of these indices ranks materials well" in finding.message
    assert finding.data["rate_factor"] == 0.85


def flagged(material):
    asked = replace(requirement(TABLES), material=material)
    choice = choose_passes(asked, technology=TABLES.technology, catalogue=TABLES.catalogue)
    return [f.code for f in choice.findings if f.code == "rate-factor-unlike-its-indices"]


@pytest.mark.parametrize("tag", list(SourceTag))
def test_a_plan_flags_a_wild_factor_whatever_source_is_given_for_it(tag):
    alloy = TABLES.catalogue.material("304")
    assert not flagged(alloy)
    said = {**alloy.sources, "rate_factor": Source(tag=tag)}
    assert flagged(replace(alloy, rate_factor=9.5, sources=said))


def test_a_plan_flags_a_property_that_the_shop_mistyped_beside_the_shipped_factor():
    # kg/m3 typed as kg/dm3, W/mK a hundred times too small: all indices far above the factor.
    alloy = TABLES.catalogue.material("304")
    assert flagged(replace(alloy, density_kg_per_m3=7.93, melting_c=14.5))


def test_a_wild_factor_of_the_reference_itself_is_flagged():
    slipped = replace(D2, rate_factor=5.0)
    found = erodibility(slipped, reference=slipped, law=LAW).findings
    assert [f.code for f in found] == ["rate-factor-unlike-its-indices"]
