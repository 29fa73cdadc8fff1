"""Energy to surface, and energies that remove what the last pass hurt."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from tests.unit.process.samples import by_likely, requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process.choice import choose_passes
from kerfwright.process.spark_surface import choose_energies, energy_of_ra_mj, surface_of

# The choice by the likely values, which the pass table prints.
TABLES = by_likely(load_tables())
SPARK = TABLES.technology.spark
TABLE = TABLES.technology.passes
D2 = TABLES.catalogue.material("D2")
CARBIDE = TABLES.catalogue.material("carbide")


def chain(material=D2, **asked):
    return choose_energies(material=material, law=SPARK, **asked)


def last(choice):
    return choice.passes[-1].surface


def test_an_eighth_of_the_energy_halves_gap_roughness_and_recast():
    one, eighth = (surface_of(e, material=D2, law=SPARK) for e in (0.8, 0.1))
    assert eighth.ra_um.likely == pytest.approx(one.ra_um.likely / 2)
    assert eighth.gap_um == pytest.approx(one.gap_um / 2)
    assert eighth.recast_um.likely == pytest.approx(one.recast_um.likely / 2)


def test_roughness_and_energy_lead_back_to_each_other_in_every_material():
    for material in TABLES.catalogue.materials:
        energy = energy_of_ra_mj(0.5, material=material, law=SPARK)
        assert surface_of(energy, material=material, law=SPARK).ra_um.likely == pytest.approx(0.5)


def test_the_published_exponents_bracket_the_roughness():
    # 0.28 from a published table against 1/3 from similarity: they part by (9.8/0.01)^0.053.
    ra = surface_of(0.01, material=D2, law=SPARK).ra_um
    assert ra.low == ra.likely
    assert ra.high / ra.likely == pytest.approx((9.8 / 0.01) ** (1 / 3 - 0.28))


@pytest.mark.parametrize("energy", [0.0, -1.0, 9.9, float("nan")])
def test_an_energy_out_of_range_is_refused(energy):
    with pytest.raises(RangeError, match="mJ"):
        surface_of(energy, material=D2, law=SPARK)


def test_every_skim_takes_the_recast_and_the_peaks_of_the_pass_before():
    passes = chain(ra_um=0.2).passes
    for before, after in itertools.pairwise(passes[1:]):
        hurt = before.surface.recast_um.likely + before.surface.peak_um
        assert after.stock_um == pytest.approx(hurt)
    rough = passes[0].surface
    straight = SPARK.surface.straightening_um
    assert passes[1].stock_um == pytest.approx(rough.hurt_um + straight)


@pytest.mark.parametrize("material", [D2, CARBIDE], ids=["steel", "carbide"])
@pytest.mark.parametrize("ra_um", [2.0, 1.0, 0.5, 0.2, 0.15])
def test_no_skim_takes_more_craters_of_its_own_than_it_can_and_one_pass_fewer_would(
    material, ra_um
):
    choice = chain(material, ra_um=ra_um)
    passes = choice.passes
    reach = SPARK.surface.crater_layers_per_skim
    for before, after in itertools.pairwise(passes):
        layers = before.surface.hurt_um / after.surface.crater_depth_um
        assert layers <= reach * (1 + 1e-9)
    skims = len(passes) - 1
    assert choice.steepest_step ** (skims - 1) > last(choice).energy_mj / 9.8


def test_the_last_pass_just_meets_finish_and_recast_with_the_materials_factors():
    for material in (D2, CARBIDE):
        fine = chain(material, ra_um=0.4)
        assert last(fine).ra_um.likely == pytest.approx(0.4)
        clean = chain(material, max_recast_um=2.0)
        assert last(clean).recast_um.likely == pytest.approx(2.0)
        both = chain(material, ra_um=0.4, max_recast_um=0.8)
        assert last(both).recast_um.likely == pytest.approx(0.8)
        assert last(both).ra_um.likely < 0.4


def test_carbide_hurts_less_and_comes_with_fewer_passes_to_a_recast_limit():
    assert len(chain(CARBIDE, max_recast_um=1.0).passes) < len(chain(max_recast_um=1.0).passes)
    # By hand: recast 4.0 * 0.6 of the steel Ra, peaks 3 * 0.7: 4.5 against 7.
    steel, carbide = (surface_of(1, material=m, law=SPARK).hurt_um for m in (D2, CARBIDE))
    assert carbide / steel == pytest.approx((4 * 0.6 + 3 * 0.7) / 7)


def test_nothing_asked_is_the_rough_pass_alone():
    choice = chain()
    assert len(choice.passes) == 1
    assert choice.passes[0].stock_um == 0
    assert choice.findings == ()


def test_a_surface_below_the_smallest_spark_is_said_so_with_what_is_left():
    choice = chain(max_recast_um=0.1)
    (finding,) = choice.findings
    assert finding.code == "energy-below-smallest-spark"
    assert last(choice).energy_mj == pytest.approx(SPARK.pulse.smallest_energy_mj)
    assert finding.data["ra_um"] == pytest.approx(last(choice).ra_um.likely)


def test_a_skim_that_gets_nowhere_is_refused_with_its_remedy():
    stuck = replace(SPARK, surface=replace(SPARK.surface, crater_layers_per_skim=1.0))
    with pytest.raises(RangeError, match="crater_layers_per_skim"):
        choose_energies(material=D2, law=stuck, ra_um=0.4)


# The shipped pass table against energies chosen only from the last finish: docs/process/surface.md
# states these factors.


def test_the_shipped_passes_agree_with_energies_that_remove_what_the_last_pass_hurt():
    choice = chain(ra_um=TABLE[-1].ra_um)
    assert len(choice.passes) == len(TABLE)
    for mine, shipped in zip(choice.passes, TABLE, strict=True):
        found = mine.surface
        for value, table, factor in (
            (found.ra_um.likely, shipped.ra_um, 1.2),
            (found.gap_um, shipped.gap_um, 1.45),
            (found.recast_um.likely, shipped.recast_um, 1.4),
        ):
            assert table / factor < value < table * factor
        if mine.number > 1:
            assert shipped.stock_um / 2 < mine.stock_um < shipped.stock_um * 2


def test_the_late_skims_of_the_shipped_table_take_less_than_recast_and_peaks():
    # Said in the docs: they leave part of the layer of the pass before.
    shares = [
        after.stock_um / (before.recast_um + SPARK.surface.peak_per_ra * before.ra_um)
        for before, after in itertools.pairwise(TABLE)
    ]
    assert shares[0] > 1.5
    assert all(0.6 < share < 0.9 for share in shares[2:])


def test_each_chosen_pass_says_the_energy_that_its_roughness_stands_for():
    # By hand: (1.4/1.40)^3 = 1 mJ for the first skim in steel; carbide has 0.7 of the roughness
    # at the same energy.
    for material in ("D2", "carbide"):
        asked = requirement(TABLES, material=material, tolerance_um=3.0)
        choice = choose_passes(asked, technology=TABLES.technology, catalogue=TABLES.catalogue)
        energies = [
            reason.value
            for one in choice.passes
            for reason in one.reasons
            if reason.quantity == "spark_energy_mj"
        ]
        assert len(energies) == len(choice.passes)
        assert energies[1] == pytest.approx(1.0)
        assert energies == sorted(energies, reverse=True)


@pytest.mark.parametrize("material", ["D2", "carbide", "IN718"])
@pytest.mark.parametrize("limit_um", [8.0, 3.0, 1.2])
def test_the_chosen_passes_keep_a_recast_limit_with_the_materials_factor(material, limit_um):
    asked = requirement(TABLES, material=material, max_recast_um=limit_um)
    choice = choose_passes(asked, technology=TABLES.technology, catalogue=TABLES.catalogue)
    factor = asked.material.recast_factor
    assert choice.passes[-1].recast_um <= limit_um
    assert choice.passes[-1].recast_um == pytest.approx(
        TABLE[len(choice.passes) - 1].recast_um * factor
    )
    if len(choice.passes) > 1:
        assert TABLE[len(choice.passes) - 2].recast_um * factor > limit_um
        assert choice.limiting == "recast"
