"""The state of the wire in each pass, by hand where it can be."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest
from tests.unit.process.samples import machine
from tests.unit.process.test_wire_break import rough_break_risk

from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.foundation.errors import InputError
from kerfwright.process.flushing import BreakRisk
from kerfwright.process.passes import passes_for
from kerfwright.process.technology import Flushing, Pass
from kerfwright.process.wire_scene import WireScene
from kerfwright.process.wire_shape import pass_shapes
from kerfwright.process.wire_state import WireState, heat_risk, wire_states
from wire_breaks import break_risk

TABLES = load_tables()
PHYSICS = load_wire_physics()
D2 = TABLES.catalogue.material("D2")
WIRE = TABLES.catalogue.default_wire
SCENE = WireScene(wire=WIRE, material=D2, height_mm=40.0, physics=PHYSICS)


def passes(count: int = 5, *, material: str = "D2", height_mm: float = 40.0) -> tuple[Pass, ...]:
    return passes_for(
        count,
        material=TABLES.catalogue.material(material),
        height_mm=height_mm,
        wire=WIRE,
        machine=machine(),
        technology=TABLES.technology,
    )


def states(scene: WireScene = SCENE, **options) -> tuple[WireState, ...]:
    return wire_states(passes(), scene=scene, spark=TABLES.technology.spark, **options)


def test_tension_and_stress_are_those_of_the_page():
    # PROCESS section 2: 15.5 N on 0.25 mm brass of 900 N/mm²; 0.35 x 900 = 315 N/mm².
    state = states()[0]
    assert state.tension_n == pytest.approx(15.5, abs=0.05)
    assert state.stress_n_per_mm2 == pytest.approx(315)


def test_the_current_is_the_charge_times_the_volume_a_second():
    rough, skim = states()[:2]
    p = passes()
    # By hand: 20 C/mm³ x feed/60 mm/s x 40 mm x kerf of 0.25 + 2 x 0.04 mm.
    assert rough.mean_current_a == pytest.approx(20 * p[0].feed_mm_per_min / 60 * 40 * 0.33)
    # The skim takes 35 µm of wall: 20 x 8/60 x 40 x 0.035 = 3.73 A.
    assert skim.mean_current_a == pytest.approx(3.733, abs=1e-3)


def test_carbide_takes_more_charge_for_its_volume():
    made = passes(material="carbide")
    carbide = TABLES.catalogue.material("carbide")
    scene = replace(SCENE, material=carbide)
    (rough, *_) = wire_states(made, scene=scene, spark=TABLES.technology.spark)
    # By hand: the volume of steel's formula over the rate factor of 0.4.
    expected = 20 * made[0].feed_mm_per_min / 60 * 40 * 0.33 / 0.4
    assert rough.mean_current_a == pytest.approx(expected)


@pytest.mark.parametrize("material", ["D2", "carbide", "PCD", "304", "6061"])
@pytest.mark.parametrize("height_mm", [5.0, 40.0, 150.0, 300.0])
def test_no_skim_heats_the_wire_as_much_as_its_rough_pass(material, height_mm):
    scene = replace(SCENE, material=TABLES.catalogue.material(material), height_mm=height_mm)
    made = passes(material=material, height_mm=height_mm)
    rough, *skims = wire_states(made, scene=scene, spark=TABLES.technology.spark)
    for skim, one in zip(skims, made[1:], strict=True):
        # By hand: at most the root of the share of the pulse energy, which goes as Ra cubed.
        share = (one.ra_um / made[0].ra_um) ** 1.5
        assert skim.mean_current_a <= rough.mean_current_a * share * (1 + 1e-9)
        assert skim.relative_breaks <= rough.relative_breaks


def test_the_rough_pass_agrees_with_the_break_risk_of_the_pass_alone():
    for flushing in Flushing:
        alone = rough_break_risk(
            passes()[0],
            height_mm=40,
            rate_factor=D2.rate_factor,
            flushing=flushing,
        )
        rough = states(flushing=flushing)[0]
        assert rough.utilisation == pytest.approx(alone.utilisation)
        assert rough.hottest_c == pytest.approx(alone.hottest_c)
        assert rough.rank == pytest.approx(alone.probability)


def test_open_nozzles_at_one_feed_bring_the_wire_nearer_to_a_break_but_no_skim():
    closed, one, both = (states(flushing=f) for f in Flushing)
    assert closed[0].utilisation < one[0].utilisation < both[0].utilisation
    assert closed[1:] == one[1:] == both[1:]


@pytest.mark.parametrize("wire", ["0.1", "0.20", "0.25", "0.30", "0.33"])
def test_energy_peak_length_and_mean_current_of_each_pass_are_those_of_one_spark(wire):
    scene = replace(SCENE, wire=TABLES.catalogue.wire(wire))
    found = states(scene)
    # Sato et al. (read): 700 A at 0.30 mm; that peaks go with the diameter is common practice.
    assert found[0].peak_current_a == pytest.approx(700 * scene.wire.diameter_mm / 0.30)
    for one in found:
        # A triangle of current at 20 V: E = I_p t u / 2, Q = I_p t / 2, I = f Q.
        assert one.spark_energy_mj == pytest.approx(one.peak_current_a * one.pulse_us * 20 / 2000)
        charge_c = one.peak_current_a * one.pulse_us * 1e-6 / 2
        assert one.mean_current_a == pytest.approx(one.sparks_khz * 1000 * charge_c)
        # Sparks come one after the other.
        assert one.sparks_khz * one.pulse_us < 1000
        # The family of the page on the surface: peak and length fall together.
        share = one.spark_energy_mj / found[0].spark_energy_mj
        assert one.peak_current_a / found[0].peak_current_a == pytest.approx(share**0.5)
        assert one.pulse_us / found[0].pulse_us == pytest.approx(share**0.5)


def test_by_hand_a_third_skim_has_sparks_of_37_amperes():
    # Ra 0.45 of 2.8 µm: (0.45/2.8)^1.5 of 583.3 A; 8 mJ x (0.45/2.8)^3 = 0.0332 mJ.
    skim = states()[3]
    assert skim.spark_energy_mj == pytest.approx(0.0332, abs=1e-4)
    assert skim.peak_current_a == pytest.approx(37.6, abs=0.05)
    assert skim.pulse_us == pytest.approx(0.0883, abs=5e-4)


@pytest.mark.parametrize("wire", ["0.15", "0.25", "0.30"])
def test_the_heat_of_each_pass_is_that_of_its_own_sparks(wire):
    scene = replace(SCENE, wire=TABLES.catalogue.wire(wire))
    made = passes()
    for one, this in zip(states(scene), made, strict=True):
        peak = 700 * scene.wire.diameter_mm / 0.30 * (this.ra_um / made[0].ra_um) ** 1.5
        alone = break_risk(
            scene.wire,
            height_mm=40,
            mean_a=one.mean_current_a,
            tension_n=scene.tension_n,
            peak_a=peak,
            physics=PHYSICS,
        )
        assert one.hottest_c == pytest.approx(alone.hottest_c, rel=1e-6)
        assert one.break_current_a == pytest.approx(alone.threshold_a, rel=1e-5)
        assert one.margin == pytest.approx(alone.margin, rel=1e-6)
        reason = next(r for r in one.reasons if r.quantity == "break_current_a")
        assert dict(reason.inputs)["I_p_a"] == pytest.approx(peak)


def test_small_sparks_heat_the_wire_less_than_the_same_current_of_rough_ones():
    rough, *skims = states()
    carried = [s.break_current_a for s in (rough, *skims)]
    assert carried == sorted(carried)
    assert skims[-1].break_current_a > 1.5 * rough.break_current_a


@pytest.mark.parametrize(("wire", "pulse_us"), [("0.30", 1.143), ("0.33", 1.039)])
def test_a_thick_wire_has_the_energy_of_the_table_in_a_shorter_pulse_which_is_the_hotter_side(
    wire, pulse_us
):
    scene = replace(SCENE, wire=TABLES.catalogue.wire(wire))
    rough = states(scene)[0]
    assert rough.spark_energy_mj == pytest.approx(8.0)
    # By hand: 2 x 8 mJ over 20 V and 700 or 770 A, not above the longest of Sato et al., 1.4 µs.
    assert rough.pulse_us == pytest.approx(pulse_us, abs=1e-3)
    tabled = break_risk(
        scene.wire,
        height_mm=40,
        mean_a=rough.mean_current_a,
        tension_n=scene.tension_n,
        peak_a=states()[0].peak_current_a,
        physics=PHYSICS,
    )
    assert rough.break_current_a < tabled.threshold_a
    assert rough.hottest_c > tabled.hottest_c


def test_bow_and_barrel_are_those_of_the_shapes_of_the_passes():
    shapes = pass_shapes(passes(), wire=WIRE, height_mm=40, physics=PHYSICS)
    assert [(s.lag_um, s.barrel_um) for s in states()] == [(s.lag_um, s.barrel_um) for s in shapes]


def test_each_skim_has_a_cooler_wire_and_a_weaker_spark():
    found = states()
    for before, after in itertools.pairwise(found):
        assert after.hottest_c < before.hottest_c
        assert after.spark_energy_mj < before.spark_energy_mj


def test_the_risk_is_raised_from_its_share_on_and_high_only_above_what_is_allowed():
    law = PHYSICS.breaking
    risks = [
        heat_risk(u, physics=PHYSICS)
        for u in (0.5, law.raised_share + 1e-6, law.most_share, law.most_share + 1e-6)
    ]
    assert risks == [BreakRisk.USUAL, BreakRisk.RAISED, BreakRisk.RAISED, BreakRisk.HIGH]


def test_every_reason_that_rests_on_a_spread_has_its_range_and_shares():
    for state in states():
        by_name = {r.quantity: r for r in state.reasons}
        parts = by_name["break_current_a"]
        # The law's own spread, a normal logarithm: 10-90 % is exp(1.28 x 0.1) either way.
        assert parts.range is not None
        assert parts.range.high / parts.value == pytest.approx(math.exp(1.28155 * 0.1), rel=1e-4)
        used = by_name["utilisation"]
        assert sum(share for _, share in used.shares) == pytest.approx(1)
        assert by_name["tension_n"].value == state.tension_n


def test_a_wire_that_parts_cold_is_at_high_risk_whatever_the_feed():
    soft = replace(PHYSICS, tension=replace(PHYSICS.tension, share=1.0))
    state = states(replace(SCENE, physics=soft))[0]
    assert state.break_current_a == 0
    assert state.risk is BreakRisk.HIGH


def test_no_pass_is_no_state():
    with pytest.raises(InputError, match="needs a pass"):
        wire_states((), scene=SCENE, spark=TABLES.technology.spark)
