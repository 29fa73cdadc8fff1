"""Printed tables of rates, gaps and finishes; each check names where its figures come from."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
from tests.reference.facts_beside import rows
from tests.unit.process.samples import by_likely, machine, requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.units import length_mm
from kerfwright.process import consumption
from kerfwright.process.choice import choose_passes
from kerfwright.process.passes import passes_for
from kerfwright.process.rough import area_rate_mm2_per_min, rough_feed
from kerfwright.process.wire import static_bow_um, tension_n
from kerfwright.trade.roughness import finish, vdi_ra_um

TABLES = load_tables()
LAW = TABLES.technology.rough


def pass_list(count=6, *, material="D2", height_mm=40.0, wire="0.25"):
    return passes_for(
        count,
        material=TABLES.catalogue.material(material),
        height_mm=height_mm,
        wire=TABLES.catalogue.wire(wire),
        machine=machine(),
        technology=TABLES.technology,
    )


def choose(**changes):
    return choose_passes(
        requirement(TABLES, **changes), technology=TABLES.technology, catalogue=TABLES.catalogue
    )


HEIGHTS = (5, 10, 25, 50, 80, 100, 150, 200, 300)


@pytest.mark.parametrize(
    ("diameter_mm", "printed"),
    [
        (0.25, (47, 78, 126, 155, 162, 160, 144, 123, 85)),
        (0.20, (46, 74, 118, 142, 148, 146, 130, 111, 76)),
        (0.15, (44, 70, 108, 128, 131, 129, 114, 97, 67)),
        (0.10, (42, 64, 94, 109, 110, 107, 95, 80, 55)),
    ],
)
def test_the_area_rate_gives_the_printed_table_for_steel(diameter_mm, printed):
    # Table of area rates computed beforehand from the law with its seed constants (section 4 of
    # the process notes); rounded there to 1 mm2/min.  It checks the coding, not the physics.
    computed = [area_rate_mm2_per_min(h, diameter_mm=diameter_mm, law=LAW) for h in HEIGHTS]
    assert computed == pytest.approx(printed, abs=0.5)


def test_thin_wires_follow_the_square_root_and_thick_ones_a_plateau():
    # Schacht, PhD KU Leuven, chapter III (text read, author from memory): area rate goes with
    # sqrt(d) where Joule heat limits, and is flat from 0.25 mm.  In the limit without feed
    # limit the ratio of 0.10 to 0.20 mm is sqrt(0.5).
    def rate(d):
        return area_rate_mm2_per_min(100_000, diameter_mm=d, law=LAW)

    assert rate(0.10) / rate(0.20) == pytest.approx(0.707, abs=5e-4)
    assert rate(0.33) == rate(0.30) > rate(0.25)


# Schacht (text read): tool steel X210CrW12, 32.7 mm high, brass of 0.05 to 0.35 mm: flat from
# 0.25 mm with the older pulse source, from 0.33 mm with the newer, nothing gained above 0.35 mm.
OLDER_MM, NEWER_MM, HIGH_MM = 0.25, 0.33, 32.7


def plateau_rate(d: float, d_p: float, *, height_mm: float = HIGH_MM) -> float:
    law = replace(LAW, plateau_diameter_mm=d_p)
    return area_rate_mm2_per_min(height_mm, diameter_mm=d, law=law)


def test_each_published_plateau_is_flat_where_its_source_says():
    for d_p in (OLDER_MM, NEWER_MM):
        flat = [plateau_rate(d, d_p) for d in (d_p, 0.35)]
        assert flat[0] == flat[1] > plateau_rate(d_p - 0.01, d_p)
        assert plateau_rate(0.20, d_p) > plateau_rate(0.15, d_p) > plateau_rate(0.05, d_p)
        # A wire of 0.20 mm against the usual one is the same by both.
        assert plateau_rate(0.20, d_p) == pytest.approx(plateau_rate(0.20, OLDER_MM))


@pytest.mark.parametrize("height_mm", [5, HIGH_MM, 100, 300])
@pytest.mark.parametrize("d", [0.30, 0.33])
def test_the_shipped_plateau_lies_between_both_published_ones_and_its_range_holds_both(
    d, height_mm
):
    old, new = (plateau_rate(d, d_p, height_mm=height_mm) for d_p in (OLDER_MM, NEWER_MM))
    shipped = area_rate_mm2_per_min(height_mm, diameter_mm=d, law=LAW)
    assert old < shipped < new
    # 10 to 90 % of d_p; to the rounding of its printed spread.
    spread = math.exp(1.2816 * TABLES.technology.feed_spread.plateau_diameter_log)
    low, high = LAW.plateau_diameter_mm / spread, LAW.plateau_diameter_mm * spread
    assert low == pytest.approx(OLDER_MM, rel=5e-3)
    assert high == pytest.approx(NEWER_MM, rel=5e-3)
    # The usual wire, for which shops know their rates, stays.
    usual = [plateau_rate(LAW.usual_diameter_mm, p, height_mm=height_mm) for p in (low, high)]
    assert usual == pytest.approx([plateau_rate(0.25, OLDER_MM, height_mm=height_mm)] * 2)


def test_the_plateau_stays_below_the_published_axis():
    # Schacht: X210CrW12, 32.7 mm, all measured rates below 200 mm2/min (text read).
    assert area_rate_mm2_per_min(32.7, diameter_mm=0.33, law=LAW) < 200


def test_the_offsets_of_four_passes_by_the_identity():
    # Worked example: gaps 5, 9, 18, 40 and stock 5, 12, 35 µm with a 0.25 mm wire give
    # 0.130, 0.139, 0.160, 0.217 mm.  Identity cf. Huang, Liao, Hsue, JMPT 87 (1999) 69-81
    # (from memory).
    offsets = [round(p.offset_mm, 3) for p in pass_list(4)]
    assert offsets == [0.217, 0.160, 0.139, 0.130]


def test_the_rough_gap_lies_in_the_span_of_a_published_response_surface():
    # Kumar, Kumar, Kumar, IJAMT 68 (2013) 2645-2668 (equations read, attribution from memory):
    # 17-42 µm for titanium with a 0.25 mm wire.
    grid = [float(r["gap_um"]) for r in rows("titanium_surface.csv")]
    gap_um = pass_list(1, material="Ti64")[0].gap_um
    assert min(grid) <= gap_um <= max(grid)


def test_rough_titanium_is_as_rough_as_a_published_response_surface():
    # Same source: Ra 2.16-3.44 µm over the grid.
    grid = [float(r["ra_um"]) for r in rows("titanium_surface.csv")]
    assert min(grid) <= pass_list(1, material="Ti64")[0].ra_um <= max(grid)


def test_the_recast_of_nickel_lies_near_the_published_depth():
    # Materials 2023, 16, 930 (abstract read): 6.2 ± 2.1 µm in Inconel 718 without naming the
    # pass; the rough pass must be above and a trim within or below.
    rough, skim = pass_list(2, material="Inconel 718")
    assert rough.recast_um > 6.2
    assert abs(skim.recast_um - 6.2) <= 2.1


def test_a_taut_brass_wire_takes_a_third_of_its_strength():
    # Sato et al. (read): brass 0.30 mm at 22 N, which is 311 N/mm2.  Computed from it:
    # 15.5 N at 0.25, 9.9 N at 0.20, 2.5 N at 0.10 mm.
    assert 22 / (math.pi * 0.30**2 / 4) == pytest.approx(311, abs=0.5)
    tensions = {d: tension_n(TABLES.catalogue.wire(d)) for d in ("0.30", "0.25", "0.20", "0.10")}
    assert tensions["0.30"] == pytest.approx(22, abs=0.3)
    assert tensions["0.25"] == pytest.approx(15.5, abs=0.05)
    assert tensions["0.20"] == pytest.approx(9.9, abs=0.05)
    assert tensions["0.10"] == pytest.approx(2.5, abs=0.05)


def test_the_bow_of_a_taut_wire():
    # String mechanics, computed beforehand: 1 N/m over 80 mm between guides 100 mm apart at
    # 22 N bows 54.5 µm.
    bow_um = static_bow_um(1.0, height_mm=80, span_mm=100, tension_n=22)
    assert bow_um == pytest.approx(54.5, abs=0.05)


def test_a_sixteen_kilogram_spool_lasts_sixty_four_hours():
    # Trade notes: 16 kg of 0.25 mm brass at 10 m/min last about 64 h (computed there).
    wire = TABLES.catalogue.wire("0.25")
    ten = replace(wire, run_speed_m_per_min=10.0)
    assert 16 / consumption.wire_kg(60, wire=ten) == pytest.approx(64, abs=0.5)


@pytest.mark.parametrize(
    ("vdi_class", "ra_um"),
    [(0, 0.10), (12, 0.40), (18, 0.80), (24, 1.6), (30, 3.2), (36, 6.3), (39, 9.0)],
)
def test_vdi_classes_give_the_rounded_table(vdi_class, ra_um):
    # VDI 3400, rounded table as quoted in a trade journal, 2024, page 12 (read).
    assert float(f"{vdi_ra_um(vdi_class):.2g}") == pytest.approx(ra_um, rel=0.02)


def test_vdi_classes_give_the_exact_table():
    # Formula read, values computed there, 3 decimals.
    for row in rows("vdi_classes.csv"):
        read = finish(f"VDI {row['class']}").ra_um
        assert read == pytest.approx(float(row["ra_um"]), abs=5e-4)
        assert read / 0.0254 == pytest.approx(float(row["ra_uin"]), abs=0.05)


def test_wire_gauges_give_the_table():
    # ASTM B258, formula read on several pages; 4 decimals.
    for row in rows("wire_gauges.csv"):
        mm = length_mm(f"{row['gauge']} AWG")
        assert mm == pytest.approx(float(row["mm"]), abs=6e-5)
        assert mm / 25.4 == pytest.approx(float(row["inch"]), abs=6e-6)


def test_n_grades_give_the_table():
    # ISO 1302 as read on a tooling page.
    for row in rows("n_grades.csv"):
        assert finish(row["grade"]).ra_um == float(row["ra_um"])


OTHER_CONDUCTIVITY = {"AISI D2 tool steel", "AISI A2 tool steel"}
"""The database pages print more than handbooks; the table says so at the value."""
OTHER_DENSITY = {"Beryllium copper (C17300, as C172)"}


def test_the_shipped_materials_carry_the_collected_figures():
    collected = rows("work_materials.csv")
    assert len(collected) == len(TABLES.catalogue.materials) == 24
    for row in collected:
        material = TABLES.catalogue.material(row["material"])
        if row["material"] not in OTHER_DENSITY:
            assert material.density_kg_per_m3 == float(row["density_kg_per_m3"])
        if row["material"] not in OTHER_CONDUCTIVITY:
            assert material.conductivity_w_per_mk == float(row["conductivity_w_per_mk"])
        assert material.heat_capacity_j_per_kgk == float(row["heat_capacity_j_per_kgk"])
        # The density's tag is a letter, where the source prints one.
        if row["material"] not in OTHER_DENSITY:
            assert material.sources["density_kg_per_m3"].tag == row["read"][0]


def test_the_rate_factors_are_those_of_the_trade_table():
    # rate_indices.csv, column shop_rate (common practice, no source).
    for row in rows("rate_indices.csv"):
        material = TABLES.catalogue.material(row["material"])
        assert material.rate_factor == float(row["shop_rate"])
        assert material.melting_c == float(row["melting_c"])


@pytest.mark.parametrize(
    ("material", "density_g_cm3", "melting_k"),
    [("copper", 8.92, 1357.77), ("tungsten", 19.25, 3695), ("molybdenum", 10.28, 2895)],
)
def test_pure_metals_agree_with_open_element_data(material, density_g_cm3, melting_k):
    # Open library pymatgen-core 2026.10.16, element data.
    found = TABLES.catalogue.material(material)
    assert found.density_kg_per_m3 == pytest.approx(density_g_cm3 * 1000, rel=0.01)
    assert found.melting_c + 273.15 == pytest.approx(melting_k, rel=0.003)


# Facts of the trade: common practice, no source.


def test_a_rough_wall_is_about_125_microinch_rms_and_true_to_a_thousandth():
    # common practice, no source
    (rough,) = pass_list(1)
    assert rough.ra_um * 1.11 / 0.0254 == pytest.approx(125, rel=0.05)
    assert rough.tolerance_um == pytest.approx(25.4, rel=0.05)
    # The likely value is what the trade calls "about"; a limit of 125 is met by one wall in two.
    likely = by_likely(TABLES)
    asked = requirement(likely, ra_um=finish("125 µin RMS").ra_um, tolerance_um=25.4)
    choice = choose_passes(asked, technology=likely.technology, catalogue=likely.catalogue)
    assert len(choice.passes) == 1


def test_about_five_skims_reach_five_to_ten_microinch_rms():
    # common practice, no source
    last = pass_list(6)[-1]
    assert 5 <= last.ra_um * 1.11 / 0.0254 <= 10
    assert len(choose(ra_um=finish("8 µin RMS").ra_um).passes) == 6


def test_skims_reach_a_ten_thousandth_of_an_inch():
    # common practice, no source
    choice = choose(tolerance_um=2.54)
    assert choice.findings == ()
    assert len(choice.passes) == 5


def test_the_carbide_tooth_of_a_die_is_cut_slower_than_steel_and_aluminium_faster():
    # common practice, no source: density and melting point set the rate.
    feeds = {
        name: rough_feed(
            material=TABLES.catalogue.material(name),
            height_mm=30,
            wire=TABLES.catalogue.default_wire,
            machine=machine(),
            law=LAW,
        ).feed_mm_per_min
        for name in ("6061", "D2", "17-4", "carbide", "PCD")
    }
    assert sorted(feeds, key=feeds.get, reverse=True) == ["6061", "D2", "17-4", "carbide", "PCD"]


def test_hardness_is_no_input_of_the_rate():
    # common practice, no source: hardened and soft steel cut alike, so no field may carry it.
    reason = pass_list(1)[0].reasons[0]
    assert not any("hard" in name for name, value in reason.inputs if name != "wire")
    fields = TABLES.catalogue.material("D2").__dataclass_fields__
    assert not any("hard" in name for name in fields)


def test_wires_reach_from_three_to_twelve_thousandths_of_an_inch():
    # common practice, no source
    assert TABLES.catalogue.wire("0.003 in tungsten").diameter_mm == pytest.approx(0.0762, rel=0.02)
    assert TABLES.catalogue.wire("0.012 in").diameter_mm == pytest.approx(0.3048, rel=0.02)


def test_each_pass_halves_the_roughness_at_most():
    # Sequencing rule computed from the cube law: an eighth of the energy halves Ra; a pass that
    # asked for more would leave the marks of the one before.
    ra = [p.ra_um for p in pass_list(6)]
    assert all(0.5 <= b / a < 1 for a, b in itertools.pairwise(ra))
