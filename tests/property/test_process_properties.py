from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries
from tests.unit.process.samples import machine, requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.costing.uncertainty import Amount, total
from kerfwright.foundation.units import length_mm, tolerance
from kerfwright.process.choice import choose_passes
from kerfwright.process.hurt_layer import recast_left_um
from kerfwright.process.passes import passes_for
from kerfwright.process.rough import area_rate_mm2_per_min

TABLES = load_tables()
LAW = TABLES.technology.rough
heights = st.floats(1, 300)
wires = st.sampled_from(TABLES.catalogue.wires)
materials = st.sampled_from(TABLES.catalogue.materials)


@given(st.decimals("0.0001", "999", places=4))
def test_a_length_means_the_same_in_every_unit(value):
    inches = length_mm(f"{value} in")
    assert length_mm(f'{value}"') == inches
    assert length_mm(f"{value * 1000} thou") == pytest.approx(inches, rel=1e-12)
    assert length_mm(f"{value} mm") * 25.4 == pytest.approx(inches, rel=1e-12)
    assert length_mm(f"{value} mm") == length_mm(f"{value} mm".replace(".", ",", 1))


@given(st.integers(0, 500), st.integers(1, 500))
def test_the_two_limits_of_a_tolerance_may_be_written_in_either_order(up, down):
    one, other = tolerance(f"+{up}/-{down} um"), tolerance(f"-{down}/+{up} um")
    assert (one.half_um, one.shift_um) == (other.half_um, other.shift_um)
    assert one.half_um == pytest.approx((up + down) / 2)


@given(heights, st.floats(0.02, 0.33))
def test_the_area_rate_stays_below_each_of_its_limits(height_mm, diameter_mm):
    rate = area_rate_mm2_per_min(height_mm, diameter_mm=diameter_mm, law=LAW)
    assert 0 < rate < LAW.thin_plate_feed_mm_per_min * height_mm
    # What the usual wire of 0.25 mm carries, by the square root up to the plateau.
    carries = math.sqrt(min(diameter_mm, LAW.plateau_diameter_mm) / 0.25)
    assert rate < LAW.plateau_area_rate_mm2_per_min * carries


@given(heights, heights, st.floats(0.02, 0.33))
def test_taller_work_is_never_fed_faster(one, other, diameter_mm):
    short, tall = sorted((one, other))
    feeds = [area_rate_mm2_per_min(h, diameter_mm=diameter_mm, law=LAW) / h for h in (short, tall)]
    assert feeds[0] >= feeds[1] * (1 - 1e-12)


@settings(max_examples=tries(60), deadline=None)
@given(materials, heights, wires)
def test_later_passes_never_leave_a_worse_wall(material, height_mm, wire):
    passes = passes_for(
        6,
        material=material,
        height_mm=height_mm,
        wire=wire,
        machine=machine(),
        technology=TABLES.technology,
    )
    for worse, better in itertools.pairwise(passes):
        assert better.offset_mm < worse.offset_mm
        assert better.ra_um <= worse.ra_um
        assert better.recast_um <= worse.recast_um
        assert better.tolerance_um <= worse.tolerance_um
        # What the pass takes away is the way the wire moves in, less the change of the gap.
        moved_um = (worse.offset_mm - better.offset_mm) * 1000
        assert moved_um == pytest.approx(worse.gap_um + better.stock_um - better.gap_um)


@settings(max_examples=tries(60), deadline=None)
@given(
    materials,
    heights,
    st.none() | st.floats(0.5, 40),
    st.none() | st.floats(0.05, 5),
    st.none() | st.floats(0.2, 20),
)
def test_a_choice_meets_every_demand_or_says_which_it_does_not(
    material, height_mm, tolerance_um, ra_um, max_recast_um
):
    asked = {"tolerance_um": tolerance_um, "ra_um": ra_um, "max_recast_um": max_recast_um}
    demand = requirement(TABLES, material=material.name, height_mm=height_mm, **asked)
    choice = choose_passes(demand, technology=TABLES.technology, catalogue=TABLES.catalogue)
    last = choice.passes[-1]
    left_um = recast_left_um(choice.passes, law=TABLES.technology.spark.surface)
    missed = {f.code for f in choice.findings}
    met = {
        "tolerance-beyond-process": is_met_by(last.tolerance_um, tolerance_um),
        "finish-beyond-process": is_met_by(last.ra_um, ra_um),
        "recast-beyond-process": is_met_by(left_um, max_recast_um),
    }
    for code, is_met in met.items():
        assert is_met == (code not in missed)
    assert len(choice.passes) + len(choice.further) == 6


def is_met_by(reached_um: float, asked_um: float | None) -> bool:
    """Compare as a person would: the last digit of a conversion from inches decides nothing."""
    return asked_um is None or reached_um <= asked_um * (1 + 1e-9)


@given(st.lists(st.tuples(st.floats(0.01, 1e5), st.floats(0, 0.6)), min_size=1, max_size=8))
def test_shared_causes_make_a_range_at_least_as_wide_as_separate_ones(parts):
    shared = total(Amount(likely=m, sigma_log=s, cause="one") for m, s in parts)
    apart = total(Amount(likely=m, sigma_log=s, cause=str(i)) for i, (m, s) in enumerate(parts))
    assert shared.high >= apart.high * (1 - 1e-12)
    assert shared.low <= apart.low * (1 + 1e-12)
    assert shared.likely == apart.likely


@settings(max_examples=tries(60), deadline=None)
@given(materials, heights, wires)
def test_gap_roughness_recast_and_energy_of_a_pass_are_those_of_one_spark(
    material, height_mm, wire
):
    usual, fine = (
        passes_for(
            6,
            material=material,
            height_mm=height_mm,
            wire=drawn,
            machine=machine(),
            technology=TABLES.technology,
        )
        for drawn in (TABLES.catalogue.wire("0.25"), wire)
    )
    energies = [
        [next(r.value for r in p.reasons if r.quantity == "spark_energy_mj") for p in passes]
        for passes in (usual, fine)
    ]
    for number, (of_table, one, whole, less) in enumerate(zip(usual, fine, *energies, strict=True)):
        # By the cube root, in all three; held to the pass before only at the smallest spark.
        scale = (less / whole) ** (1 / 3)
        assert one.ra_um == pytest.approx(scale * of_table.ra_um)
        assert less <= whole * (1 + 1e-12)
        for name in ("gap_um", "recast_um", "stock_um"):
            value, most = getattr(one, name), scale * getattr(of_table, name)
            if number and energies[1][number - 1] == less:
                # The same smallest spark again leaves what it left the first time.
                assert value == getattr(fine[number - 1], name) or value <= most * (1 + 1e-9)
                continue
            assert value <= most * (1 + 1e-9)
            assert value == pytest.approx(most) or less == pytest.approx(0.001)
        assert one.ra_range_um.high <= of_table.ra_range_um.high * (1 + 1e-9)
    for before, this in itertools.pairwise(energies[1]):
        assert this < before or this == before == pytest.approx(0.001)
    for before, this in itertools.pairwise(fine):
        for name in ("gap_um", "ra_um", "recast_um"):
            assert getattr(this, name) <= getattr(before, name)
