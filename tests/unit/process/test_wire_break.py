"""Stress, margin and the current at which the wire parts."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.process.passes import passes_for
from kerfwright.process.rough import area_rate_mm2_per_min
from kerfwright.process.technology import Flushing, read_curve
from kerfwright.process.wire import tension_n
from kerfwright.process.wire_break import (
    break_current_a,
    break_margin,
)
from kerfwright.process.wire_heat import WireTemperature, wire_temperature
from kerfwright.process.wire_physics import rough_current_a
from wire_breaks import break_risk

PHYSICS = load_wire_physics()
TABLES = load_tables()
BRASS = TABLES.catalogue.wire("0.25")


def even(temperature_c: float, mean_a: float = 10.0) -> WireTemperature:
    return WireTemperature(
        along_mm=np.linspace(0, 80, 50),
        temperature_c=np.full(50, temperature_c),
        in_work=np.array([False] * 10 + [True] * 30 + [False] * 10),
        mean_a=mean_a,
    )


def test_a_cold_wire_holds_what_craters_leave_of_its_strength():
    # 10 A take 0.7435 of the 8.181 mm³ that run through in a second; 0.35 of the strength is load.
    tension = tension_n(BRASS, share=PHYSICS.tension.share)
    margin = break_margin(even(20, mean_a=10), wire=BRASS, tension_n=tension, physics=PHYSICS)
    assert margin == pytest.approx((1 - 0.7435 / 8.181) / 0.35, rel=1e-4)


def test_craters_wear_a_wire_in_proportion_to_the_current_and_against_its_speed():
    # By how the figure is set: 15 % at 30.9 A of 0.30 mm at 13 m/min.
    wire = replace(TABLES.catalogue.wire("0.30"), run_speed_m_per_min=13.0)
    worn = PHYSICS.tension.worn_share(wire, mean_a=30.9)
    assert worn == pytest.approx(0.15, rel=1e-3)
    slow = replace(wire, run_speed_m_per_min=6.5)
    assert PHYSICS.tension.worn_share(slow, mean_a=30.9) == pytest.approx(2 * worn)
    assert PHYSICS.tension.worn_share(slow, mean_a=15.45) == pytest.approx(worn)


def test_figures_kept_before_wear_went_with_the_current_wear_every_wire_alike():
    kept = replace(PHYSICS, tension=replace(PHYSICS.tension, kept_section_left=0.85))

    def carried(speed: float) -> float:
        wire = replace(BRASS, run_speed_m_per_min=speed)
        return break_current_a(wire, height_mm=40, tension_n=15, peak_a=583, physics=kept)

    assert carried(5.0) == pytest.approx(carried(10.0), rel=0.02)


@pytest.mark.parametrize("diameter", ["0.30", "0.25", "0.20", "0.10"])
@pytest.mark.parametrize("height_mm", [10.0, 40.0, 150.0])
def test_a_slower_wire_parts_at_less_current_down_to_none(diameter, height_mm):
    wire = TABLES.catalogue.wire(diameter)

    def carried(speed: float) -> float:
        return break_current_a(
            replace(wire, run_speed_m_per_min=speed),
            height_mm=height_mm,
            tension_n=tension_n(wire, share=PHYSICS.tension.share),
            peak_a=PHYSICS.pulse.peak_a * wire.diameter_mm / 0.30,
            physics=PHYSICS,
        )

    speeds = [0.05, 0.5, 1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0]
    amps = [carried(v) for v in speeds]
    assert amps == sorted(amps)
    # So slow that wear decides, the current goes with the speed; at the usual speed it hardly does.
    assert amps[0] / amps[1] == pytest.approx(0.1, rel=0.05)
    assert amps[3] < 0.93 * amps[7]
    assert 1 < amps[9] / amps[7] < 1.08


def test_the_margin_falls_with_heat_and_with_tension():
    values = [
        break_margin(even(t), wire=BRASS, tension_n=n, physics=PHYSICS)
        for t, n in ((20, 10), (200, 10), (400, 10), (400, 20))
    ]
    assert values == sorted(values, reverse=True)
    assert values[2] == pytest.approx(2 * values[3])


def test_at_the_break_current_the_margin_is_used_up():
    scene = {"height_mm": 40.0, "peak_a": 600.0, "physics": PHYSICS}
    current = break_current_a(BRASS, tension_n=15, **scene)
    warm = wire_temperature(BRASS, mean_a=current, **scene)
    margin = break_margin(warm, wire=BRASS, tension_n=15, physics=PHYSICS)
    assert margin == pytest.approx(1, abs=1e-3)
    risk = break_risk(BRASS, mean_a=current, tension_n=15, **scene)
    assert risk.utilisation == pytest.approx(1, rel=1e-5)
    assert risk.probability == pytest.approx(0.5, abs=1e-3)


@pytest.mark.parametrize("deviations", [-2.0, -1.0, 0.5, 1.0])
def test_the_rank_is_the_share_of_wires_that_part_below_the_current(deviations):
    # By the table a wire in six parts at 10 % less than the middle one: a standard deviation.
    scene = {"height_mm": 40.0, "peak_a": 600.0, "physics": PHYSICS}
    middle = break_current_a(BRASS, tension_n=15, **scene)
    found = break_risk(BRASS, mean_a=middle * 1.1051709**deviations, tension_n=15, **scene)
    assert found.probability == pytest.approx(NormalDist().cdf(deviations), abs=1e-5)


def test_a_wire_pulled_beyond_its_strength_parts_at_once():
    risk = break_risk(BRASS, height_mm=40, mean_a=5, tension_n=60, peak_a=600, physics=PHYSICS)
    assert risk.threshold_a == 0
    assert risk.probability == 1


def test_the_risk_rises_with_current_and_tension_and_falls_with_flow():
    def risk(**changes: float) -> float:
        values = {"height_mm": 40, "mean_a": 18, "tension_n": 15, "peak_a": 600}
        return break_risk(BRASS, physics=PHYSICS, **(values | changes)).probability

    by_current = [risk(mean_a=a) for a in (12, 16, 18, 20, 24)]
    assert by_current == sorted(by_current)
    assert risk(tension_n=18) > risk()
    assert risk(flow_ratio=1.2) < risk()


@pytest.mark.parametrize("flushing", list(Flushing))
@pytest.mark.parametrize("height_mm", [5, 20, 40, 80, 150, 250])
@pytest.mark.parametrize("diameter", ["0.30", "0.25", "0.20", "0.10"])
def test_the_rate_law_of_the_tables_asks_for_no_current_that_parts_the_wire(
    diameter, height_mm, flushing
):
    # The two were made apart: the rate law from published shapes over height and diameter, the
    # break current from heat and strength set at one published cut of 80 mm with 0.30 mm wire.
    wire, law = TABLES.catalogue.wire(diameter), TABLES.technology.rough
    rate = area_rate_mm2_per_min(height_mm, diameter_mm=wire.diameter_mm, law=law)
    rate *= law.flushing[flushing] * read_curve(law.fine_wire, wire.diameter_mm)
    used = break_risk(
        wire,
        height_mm=height_mm,
        mean_a=rough_current_a(rate, kerf_mm=wire.diameter_mm + 0.08, physics=PHYSICS),
        tension_n=tension_n(wire, share=PHYSICS.tension.share),
        peak_a=PHYSICS.pulse.peak_a * wire.diameter_mm / 0.30,
        physics=PHYSICS,
        flushing=flushing,
    ).utilisation
    assert 0.2 < used < 1.1


def rough_break_risk(one, *, height_mm, rate_factor, flushing=Flushing.SEALED):
    """Return the risk in a rough pass by itself, written apart from the states of a plan."""
    kerf_mm = BRASS.diameter_mm + 2 * one.gap_um / 1000
    rate = one.feed_mm_per_min * height_mm / rate_factor
    return break_risk(
        BRASS,
        height_mm=height_mm,
        mean_a=rough_current_a(rate, kerf_mm=kerf_mm, physics=PHYSICS),
        tension_n=tension_n(BRASS, share=PHYSICS.tension.share),
        peak_a=PHYSICS.pulse.peak_a * BRASS.diameter_mm / PHYSICS.pulse.diameter_mm,
        physics=PHYSICS,
        flushing=flushing,
    )


def rough(height_mm: float, *, material: str = "D2", feed_factor: float = 1.0):
    found = TABLES.catalogue.material(material)
    (first,) = passes_for(
        1,
        material=found,
        height_mm=height_mm,
        wire=BRASS,
        machine=load_machine(),
        technology=TABLES.technology,
    )
    return rough_break_risk(
        replace(first, feed_mm_per_min=first.feed_mm_per_min * feed_factor),
        height_mm=height_mm,
        rate_factor=found.rate_factor,
    )


@pytest.mark.parametrize("height_mm", [10, 40, 100, 200])
def test_a_planned_rough_pass_keeps_clear_of_the_break_and_a_pushed_one_does_not(height_mm):
    # Shops run at about 0.7 of what the rate law gives (common practice, no source).
    assert rough(height_mm).probability < 0.05
    assert rough(height_mm, feed_factor=3.0).probability > 0.5


def test_carbide_takes_the_current_of_steel_though_it_cuts_at_two_fifths():
    steel, carbide = rough(40), rough(40, material="carbide")
    assert carbide.utilisation == pytest.approx(steel.utilisation, rel=1e-6)
