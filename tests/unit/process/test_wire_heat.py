"""Temperature along the wire against its closed-form limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.foundation.errors import RangeError, UnknownNameError
from kerfwright.process.technology import Flushing
from kerfwright.process.wire_heat import (
    WireProfile,
    film_w_per_m2k,
    mean_square_share,
    solve_profile,
    wire_profile,
    wire_temperature,
)
from kerfwright.process.wire_physics import effective_current_a

PHYSICS = load_wire_physics()
BRASS = load_tables().catalogue.wire("0.25")


def profile(*, cells: int = 2000, **changes: float) -> WireProfile:
    """A wire of 100 mm that is heated evenly by 1 kW/m."""
    values = {
        "length_m": 0.1,
        "conduction_w_m": 5e-6,
        "transport_w_per_k": 0.03,
        "film_w_per_mk": 12.0,
        "water_c": 20.0,
    }
    return WireProfile(**(values | changes), source_w_per_m=np.full(cells, 1000.0))


def test_with_convection_alone_the_wire_is_as_hot_as_heat_over_film():
    still = profile(conduction_w_m=0.0, transport_w_per_k=0.0)
    assert solve_profile(still) == pytest.approx(np.full(2000, 20 + 1000 / 12), rel=1e-12)


def test_without_conduction_the_wire_warms_up_exponentially_as_it_travels():
    # T - T0 = q'/p (1 - exp(-p x / C)), the plug flow of a heat exchanger.
    flow = profile(conduction_w_m=0.0)
    x = flow.middles_m
    exact = 20 + 1000 / 12 * (1 - np.exp(-12 * x / 0.03))
    assert solve_profile(flow)[100:] == pytest.approx(exact[100:], rel=5e-3)
    # First order in the cell: half the cell, half the error.
    errors = []
    for cells in (1000, 2000):
        flow = profile(conduction_w_m=0.0, cells=cells)
        exact = 20 + 1000 / 12 * (1 - np.exp(-12 * flow.middles_m / 0.03))
        errors.append(np.abs(solve_profile(flow) - exact).max())
    assert errors[0] / errors[1] == pytest.approx(2.0, rel=0.1)


def test_without_film_and_conduction_all_heat_leaves_with_the_wire():
    # q' L / (rho c A v), at the middle of the last cell half a cell short of the end.
    bare = profile(conduction_w_m=0.0, film_w_per_mk=0.0)
    assert solve_profile(bare)[-1] == pytest.approx(20 + 1000 * 0.1 / 0.03, rel=1e-3)


def test_a_wire_at_rest_is_a_fin_with_a_cold_end_and_a_closed_one():
    # k A T'' = p (T - T0) - q' with T(0) = T0, T'(L) = 0.
    fin = profile(transport_w_per_k=0.0, conduction_w_m=5e-3)
    m, length, x = (12 / 5e-3) ** 0.5, 0.1, fin.middles_m
    exact = 20 + 1000 / 12 * (1 - np.cosh(m * (length - x)) / np.cosh(m * length))
    assert solve_profile(fin) == pytest.approx(exact, abs=1e-3)


def test_a_finer_grid_does_not_move_the_hottest_point():
    hot = []
    for cells in (800, 1600):
        made = wire_profile(
            BRASS, height_mm=40, mean_a=16, peak_a=600, physics=PHYSICS, cells=cells
        )
        hot.append(solve_profile(made).max())
    assert hot[0] == pytest.approx(hot[1], abs=0.1)


def test_heat_that_goes_in_comes_out_by_water_and_wire():
    made = wire_profile(BRASS, height_mm=40, mean_a=16, peak_a=600, physics=PHYSICS)
    above = solve_profile(made) - made.water_c
    cell = made.length_m / len(above)
    into_water = (made.film_w_per_mk * above).sum() * cell
    with_wire = made.transport_w_per_k * above[-1]
    back = made.conduction_w_m * above[0] / (cell / 2)
    total = made.source_w_per_m.sum() * cell
    assert into_water + with_wire == pytest.approx(total, rel=1e-2)
    assert into_water + with_wire + back == pytest.approx(total, rel=1e-3)


def joule_w(*, height_mm: float, upper_mm: float = 0.0, lower_mm: float = 0.0) -> float:
    """Joule heat of 16 A of sparks of 600 A by hand, spark by spark.

    The wire above a spark at z carries the share u = (l + L - z)/(2 l + L), that below 1 - u:
    I^2 rho (u^2 z + (1 - u)^2 (L - z))/A, a cubic in z, so that Simpson's rule is exact.
    """
    lead = PHYSICS.heat.lead_mm
    long = 2 * 20 + upper_mm + height_mm + lower_mm
    first, last = 20 + upper_mm, 20 + upper_mm + height_mm

    def metres(z: float) -> float:
        u = (lead + long - z) / (2 * lead + long)
        return (u**2 * z + (1 - u) ** 2 * (long - z)) / 1000

    mean = (metres(first) + 4 * metres((first + last) / 2) + metres(last)) / 6
    section = np.pi * 0.25e-3**2 / 4
    return PHYSICS.resistivity_ohm_m(BRASS) / section * 2 * 16 * 600 / 3 * mean


@pytest.mark.parametrize(("lead_m", "of_all"), [(0.0, 1 / 6), (1e4, 1 / 4)])
def test_the_wire_alone_leaves_a_sixth_of_its_resistance_and_strong_leads_a_quarter(lead_m, of_all):
    # A spark at mid-height sees R/4 (Schacht, read), one at z sees R z (1 - z): a sixth on average.
    edges = np.linspace(0, 0.3, 301)
    found = mean_square_share(edges, top_m=0.0, height_m=0.3, lead_m=lead_m)
    assert found.mean() == pytest.approx(of_all, rel=1e-4)
    if lead_m == 0:
        # By hand: (1 - y)^3 + y^3 over 3, exact over each cell.
        y = edges / 0.3
        exact = np.diff(y**4 - (1 - y) ** 4) / 12 / np.diff(y)
        assert found == pytest.approx(exact, rel=1e-9)


def test_a_spark_in_a_thin_plate_between_equal_contacts_takes_half_from_each():
    edges = np.linspace(0, 0.04, 401)
    found = mean_square_share(edges, top_m=0.02 - 1e-6, height_m=2e-6, lead_m=0.1)
    assert found == pytest.approx(np.full(400, 0.25), rel=1e-4)


def test_a_longer_way_to_one_contact_sends_the_current_to_the_other():
    edges = np.linspace(0, 0.16, 1601)
    found = mean_square_share(edges, top_m=0.1, height_m=0.04, lead_m=0.1)
    assert found[0] < 0.25 < found[-1]
    assert mean_square_share(edges, top_m=0.02, height_m=0.04, lead_m=0.1)[::-1] == pytest.approx(
        found
    )


def test_spark_and_joule_heat_add_up_to_their_totals():
    heat = PHYSICS.heat
    made = wire_profile(BRASS, height_mm=40, mean_a=16, peak_a=600, physics=PHYSICS)
    total = made.source_w_per_m.sum() * made.length_m / len(made.source_w_per_m)
    sparks = heat.spark_share_to_wire * heat.spark_voltage_v * 16
    assert total == pytest.approx(sparks + joule_w(height_mm=40), rel=1e-9)


def test_more_current_less_flow_and_open_nozzles_all_heat_the_wire():
    def hottest(**changes: object) -> float:
        values = {"height_mm": 60.0, "mean_a": 16.0, "peak_a": 600.0, "physics": PHYSICS}
        return wire_temperature(BRASS, **(values | changes)).hottest_c

    usual = hottest()
    assert hottest(mean_a=20.0) > usual
    assert hottest(flow_ratio=0.8) > usual
    assert usual < hottest(flushing=Flushing.ONE_OPEN) < hottest(flushing=Flushing.BOTH_OPEN)


@pytest.mark.parametrize("ratio", [0.5, 0.9, 2.0])
def test_the_film_goes_with_the_flow_as_in_a_turbulent_duct(ratio):
    # Nu = 0.023 Re^0.8 Pr^0.4, Dittus and Boelter, Univ. Calif. Publ. Eng. 2 (1930) 443, from
    # memory; one duct, one liquid.
    nusselt = [0.023 * re**0.8 * 7.0**0.4 for re in (2e4, 2e4 * ratio)]
    films = [
        film_w_per_m2k(PHYSICS, height_mm=40, flushing=Flushing.SEALED, flow_ratio=one)
        for one in (1.0, ratio)
    ]
    assert films[1] / films[0] == pytest.approx(nusselt[1] / nusselt[0], rel=1e-12)


def test_an_open_nozzle_costs_thick_work_more_of_its_cooling():
    thin, thick = (
        film_w_per_m2k(PHYSICS, height_mm=h, flushing=Flushing.BOTH_OPEN)
        / film_w_per_m2k(PHYSICS, height_mm=h, flushing=Flushing.SEALED)
        for h in (20, 100)
    )
    assert thick < thin < 1


@pytest.mark.parametrize("changes", [{"height_mm": 0}, {"mean_a": 0}, {"flow_ratio": 0}])
def test_no_height_no_current_or_no_flow_is_refused(changes):
    values = {"height_mm": 60, "mean_a": 16, "peak_a": 600, "physics": PHYSICS}
    with pytest.raises(RangeError, match="above 0"):
        wire_temperature(BRASS, **(values | changes))


def test_a_kind_of_wire_without_physics_is_named():
    with pytest.raises(UnknownNameError, match="straw"):
        PHYSICS.metal(replace(BRASS, kind="straw"))


def test_a_nozzle_far_off_leaves_the_wire_at_the_temperature_of_its_current_alone():
    # Far longer than the wire needs to settle, rho c A v / (h pi d), some millimetres: by hand
    # T = T0 + rho_el I_e^2 m / A / (h_free pi d) where it comes to the work.  Of 80 mm and two
    # leads the sparks leave 20 to 60 mm and a lead: m is the mean of the square of that share.
    # With the 80 mm of the gap in the way it would be less, which is not counted as relief.
    off = PHYSICS.with_nozzles_off((80.0, 0.0))
    found = wire_temperature(BRASS, height_mm=40, mean_a=16, peak_a=600, physics=off)
    area = np.pi * (0.125e-3) ** 2
    effective = effective_current_a(16, peak_a=600)
    joule = PHYSICS.resistivity_ohm_m(BRASS) / area * effective**2
    lead = PHYSICS.heat.lead_mm
    low, high = (lead + 20) / (2 * lead + 80), (lead + 60) / (2 * lead + 80)
    joule *= (low**2 + low * high + high**2) / 3
    film = PHYSICS.heat.free_film_share * PHYSICS.heat.film_w_per_m2k * np.pi * 0.25e-3
    before = found.temperature_c[found.along_mm < 20 + 80 - 2][-1]
    assert before == pytest.approx(20 + joule / film, rel=1e-3)
    # The work begins behind the gap and is as long as before.
    inside = found.along_mm[found.in_work]
    assert inside[0] == pytest.approx(100, abs=0.2)
    assert np.ptp(inside) == pytest.approx(40, abs=0.4)


def test_all_heat_of_a_longer_free_wire_leaves_with_water_and_wire():
    off = PHYSICS.with_nozzles_off((30.0, 5.0))
    made = wire_profile(BRASS, height_mm=40, mean_a=16, peak_a=600, physics=off)
    assert made.length_m == pytest.approx((40 + 2 * 20 + 35) / 1000)
    cell = made.length_m / len(made.source_w_per_m)
    above = solve_profile(made) - made.water_c
    into_water = (made.film_w_per_mk * above).sum() * cell
    with_wire = made.transport_w_per_k * above[-1]
    back = made.conduction_w_m * above[0] / (cell / 2)
    total = made.source_w_per_m.sum() * cell
    assert into_water + with_wire + back == pytest.approx(total, rel=1e-3)
    # More than the gaps alone bring, spark by spark, and no more than the most at each place: the
    # mean squares of 400 sparks over the work, written out again for each pair of gaps.
    sparks = PHYSICS.heat.spark_share_to_wire * PHYSICS.heat.spark_voltage_v * 16
    assert total > sparks + joule_w(height_mm=40, upper_mm=30, lower_mm=5)
    spark = (np.arange(400) + 0.5) / 400 * 40
    below = made.middles_m[:, None] * 1000 - 50 > spark
    most = np.zeros(len(made.middles_m))
    for upper in (20, 50):
        for lower in (20, 25):
            from_above = (100 + lower + 40 - spark) / (200 + upper + 40 + lower)
            most = np.maximum(most, (np.where(below, 1 - from_above, from_above) ** 2).mean(1))
    section = np.pi * 0.25e-3**2 / 4
    ohm = PHYSICS.resistivity_ohm_m(BRASS) * cell / section
    assert total == pytest.approx(sparks + 2 * 16 * 600 / 3 * ohm * most.sum(), rel=1e-4)


def test_closed_nozzles_are_the_limit_of_small_gaps():
    near = PHYSICS.with_nozzles_off((1e-6, 1e-6))
    hot = [
        wire_temperature(BRASS, height_mm=40, mean_a=16, peak_a=600, physics=p).hottest_c
        for p in (PHYSICS, near)
    ]
    assert hot[1] == pytest.approx(hot[0], rel=1e-6)


@pytest.mark.parametrize("state", list(Flushing))
def test_what_an_open_nozzle_costs_is_lost_in_the_kerf_and_the_free_wire_is_cooled_least(state):
    # 300 mm: the kerf keeps 0.6 cubed of its film, a contact in the stream of its nozzle all of it.
    off = PHYSICS.with_nozzles_off((10.0, 10.0))
    made = wire_profile(
        BRASS, height_mm=300, mean_a=16, peak_a=600, physics=off, flushing=state, cells=3600
    )
    film = made.film_w_per_mk / (np.pi * 0.25e-3 * PHYSICS.heat.film_w_per_m2k)
    at = {mm: film[np.searchsorted(made.middles_m, mm / 1000)] for mm in (10, 25, 180, 335, 350)}
    assert (at[10], at[350]) == pytest.approx((1, 1))
    assert (at[25], at[335]) == pytest.approx((PHYSICS.heat.free_film_share,) * 2)
    assert at[180] == pytest.approx(PHYSICS.heat.film[state] ** 3)


@pytest.mark.parametrize("height_mm", [10.0, 20.0])
def test_what_is_kept_of_one_height_is_taken_for_no_other(height_mm):
    asked = {"mean_a": 16.0, "peak_a": 600.0, "cells": 800}
    wire_profile(BRASS, height_mm=30.0, physics=PHYSICS, **asked)
    kept = wire_profile(BRASS, height_mm=height_mm, physics=PHYSICS, **asked)
    # An equal law that was never seen has nothing kept of it.
    unseen = replace(PHYSICS, heat=replace(PHYSICS.heat))
    fresh = wire_profile(BRASS, height_mm=height_mm, physics=unseen, **asked)
    assert (kept.source_w_per_m == fresh.source_w_per_m).all()
