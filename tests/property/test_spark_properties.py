"""Relations of spark, flushing and small holes that hold whatever the numbers."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tests.closed_forms_of_flow import kerf_pressure
from tests.soak import tries

from kerfwright.adapters.tables import load_tables
from kerfwright.process.flushing import Bath, NozzleSetting, derate
from kerfwright.process.hole_depth import deepest_mm
from kerfwright.process.small_hole import predict_hole, reach_mm
from kerfwright.process.spark_surface import choose_energies

TABLES = load_tables()
TECHNOLOGY = TABLES.technology
materials = st.sampled_from(TABLES.catalogue.materials)
gaps = st.floats(0, 5)
heights = st.floats(20, 250)


@given(materials, st.floats(0.05, 5), st.floats(0.2, 20))
@settings(max_examples=tries(60), deadline=None)
def test_a_recast_and_a_finish_limit_are_kept_or_said_to_be_beyond(material, ra_um, recast_um):
    choice = choose_energies(
        material=material, law=TECHNOLOGY.spark, ra_um=ra_um, max_recast_um=recast_um
    )
    last = choice.passes[-1].surface
    kept = last.ra_um.likely <= ra_um * 1.0001 and last.recast_um.likely <= recast_um * 1.0001
    assert kept == (not choice.findings)
    energies = [p.surface.energy_mj for p in choice.passes]
    assert energies == sorted(energies, reverse=True)
    assert choice.step >= choice.steepest_step * 0.9999


@given(gaps, gaps, heights, st.sampled_from(Bath), st.floats(0, 20))
@settings(max_examples=tries(60), deadline=None)
def test_a_set_up_and_the_same_turned_over_are_equally_good(top, bottom, height, bath, lean):
    one, other = (
        derate(
            NozzleSetting(top_gap_mm=t, bottom_gap_mm=b, bath=bath, lean_deg=lean),
            height_mm=height,
            wire_mm=0.25,
            gap_um=40,
            law=TECHNOLOGY.flushing,
        )
        for t, b in ((top, bottom), (bottom, top))
    )
    assert one.rate_factor == pytest.approx(other.rate_factor)
    assert one.break_term == pytest.approx(other.break_term)
    assert 0 < one.rate_factor <= 1


@given(st.floats(0, 1), st.floats(0, 1), heights, st.floats(0, 50), st.floats(0.01, 0.99))
def test_the_pressure_lies_between_none_and_the_higher_nozzle(top, bottom, height, x, share):
    found = kerf_pressure(
        x, share * height, height_mm=height, mouth_mm=3, top_mpa=top, bottom_mpa=bottom
    )
    assert -1e-12 <= float(found) <= max(top, bottom) + 1e-12


@given(materials, st.floats(0.3, 3), st.floats(0.5, 200))
@settings(max_examples=tries(60), deadline=None)
def test_a_deeper_hole_takes_longer_wanders_more_and_ends_narrower(material, diameter, depth):
    law = TECHNOLOGY.small_hole
    assume(depth * 1.2 * law.taper_mm_per_mm < diameter)
    one, deeper = (
        predict_hole(d, diameter_mm=diameter, material=material, law=law)
        for d in (depth, depth * 1.2)
    )
    assert deeper.drilled.minutes.likely > one.drilled.minutes.likely
    assert deeper.wander_mm > one.wander_mm
    assert deeper.exit_diameter_mm < one.exit_diameter_mm < one.entry_diameter_mm
    assert reach_mm(depth, diameter_mm=diameter, law=law) > diameter / 2
    too_deep = "hole-too-deep" in [f.code for f in one.findings]
    assert too_deep == (depth / diameter > deepest_mm(diameter, law=law) / diameter)
