"""A flag for a shop's own alloy, not a model of the rate."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.process.samples import requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.sources import Source, SourceTag
from kerfwright.process.choice import choose_passes
from kerfwright.process.erodibility import erodibility
from kerfwright.process.rough import area_rate_mm2_per_min
from kerfwright.process.spark_law import ErodibilityLaw

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


def test_the_known_rate_factors_are_those_of_the_shipped_materials():
    factors = [m.rate_factor for m in TABLES.catalogue.materials]
    assert (LAW.least_known_rate_factor, LAW.most_known_rate_factor) == (min(factors), max(factors))


def test_the_possible_rate_factors_are_the_removal_of_edm_at_large_over_that_of_steel():
    # El-Hofy (read): 0.1 to 1000 mm3/min.  Steel at full rate, 0.25 mm wire, 40 um gap.
    peak = max(
        area_rate_mm2_per_min(h, diameter_mm=0.25, law=TABLES.technology.rough)
        for h in range(10, 300, 5)
    )
    removal = peak * 0.33
    assert pytest.approx(1000 / removal, rel=0.03) == LAW.most_possible_rate_factor
    assert pytest.approx(0.1 / removal, rel=0.1) == LAW.least_possible_rate_factor


@pytest.mark.parametrize("name", ["D2", "Ti-6Al-4V", "6061"])
@pytest.mark.parametrize(
    ("factor", "severity"),
    [(8.5, "warning"), (40, "refusal"), (850, "refusal"), (0.03, "warning"), (0.001, "refusal")],
)
def test_an_own_alloy_with_a_wild_factor_is_warned_of_or_refused_once(name, factor, severity):
    alloy = replace(TABLES.catalogue.material(name), rate_factor=factor)
    asked = replace(requirement(TABLES), material=alloy)
    choice = choose_passes(asked, technology=TABLES.technology, catalogue=TABLES.catalogue)
    (said,) = (f for f in choice.findings if f.code.startswith("rate-factor-"))
    assert said.severity == severity
    assert f"{factor:.3g}" in said.message
    assert said.remedy
    if severity == "refusal":
        assert said.data["limit"] in {19, 0.002}


def test_a_quick_alloy_that_no_index_doubts_is_warned_of_beyond_twice_the_quickest_known():
    # Palatnik alone would let a poor conductor that melts low be 9 times as quick as steel.
    alloy = replace(
        TABLES.catalogue.material("Ti-6Al-4V"), conductivity_w_per_mk=3.0, rate_factor=8.5
    )
    assert codes(alloy) == ["rate-factor-beyond-known"]
    assert codes(replace(alloy, rate_factor=4.5)) == []
    said = erodibility(alloy, reference=D2, law=LAW).findings[0]
    assert "above 4.6, 2 times outside all shipped materials (0.12 to 2.3)" in said.message


def test_figures_kept_before_there_were_limits_say_nothing_new():
    kept = ErodibilityLaw(
        kalpakjian_exponent=LAW.kalpakjian_exponent,
        unlike_factor=LAW.unlike_factor,
        sources=LAW.sources,
    )
    alloy = replace(D2, rate_factor=40)
    found = erodibility(alloy, reference=D2, law=kept).findings
    assert [f.code for f in found] == ["rate-factor-unlike-its-indices"]
