"""Shares of the spread of a feed, against slopes worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.unit.process.samples import machine
from tests.unit.process.test_passes import TABLES, some

from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.learning.learn import learn
from kerfwright.learning.records import Input, Measure
from kerfwright.process.feed_shares import OUTSIDE, rough_feed_shares, skim_feed_shares
from kerfwright.process.passes import passes_for

TECHNOLOGY = TABLES.technology
SPREAD, RULES = TECHNOLOGY.feed_spread, load_learning_rules()


def rough(height_mm: float, *, wire: str = "0.25", material: str = "D2", technology=TECHNOLOGY):
    return dict(
        rough_feed_shares(
            material=TABLES.catalogue.material(material),
            height_mm=height_mm,
            wire=TABLES.catalogue.wire(wire),
            technology=technology,
        )
    )


def skim(height_mm: float, *, material: str = "D2"):
    return dict(
        skim_feed_shares(
            material=TABLES.catalogue.material(material),
            height_mm=height_mm,
            wire=TABLES.catalogue.wire("0.25"),
            technology=TECHNOLOGY,
        )
    )


def sigma(height_mm: float, number: int = 1, **scene) -> float:
    return some(number, height_mm=height_mm, **scene)[-1].feed_sigma_log


def squares(height_mm: float, diameter_mm: float) -> tuple[float, float, float]:
    """What v0, A_inf and H_f bring of the variance of a rough feed, by hand.

    A = 1/(1/(v0 H) + 1/(A_inf f)) / (1 + u), u = (H/H_f)^2: a percent more v0 is t percent more
    rate, of A_inf 1 - t, of H_f 2 u/(1 + u).
    """
    plateau = 220 * min(1, math.sqrt(diameter_mm / 0.25))
    t = (1 / (12 * height_mm)) / (1 / (12 * height_mm) + 1 / plateau)
    u = (height_mm / 250) ** 2
    return (t * 0.15) ** 2, ((1 - t) * 0.12) ** 2, (2 * u / (1 + u) * 0.2) ** 2


@pytest.mark.parametrize("height_mm", [2.0, 20.0, 100.0, 200.0])
@pytest.mark.parametrize("wire", ["0.25", "0.1"])
def test_shares_are_the_squares_of_slope_times_spread(height_mm, wire):
    found = rough(height_mm, wire=wire)
    diameter = TABLES.catalogue.wire(wire).diameter_mm
    here, routine = squares(height_mm, diameter), squares(40.0, 0.25)
    more = max(0.0, math.fsum(here) - math.fsum(routine))
    whole = 0.35**2 + more + (0.099**2 if wire == "0.1" else 0.0)
    assert sigma(height_mm, wire=wire) == pytest.approx(math.sqrt(whole), rel=0.01)
    assert found["v0, thin plate"] == pytest.approx(here[0] / whole, rel=0.03)
    assert found["A_inf, plateau"] == pytest.approx(here[1] / whole, rel=0.03)
    assert found["H_f, tall work"] == pytest.approx(here[2] / whole, rel=0.08)
    assert found["K_s, shop derate"] == pytest.approx(0.157**2 / whole, rel=0.02)
    assert ("K_f, fine wire" in found) is (wire == "0.1")
    assert math.fsum(found.values()) == pytest.approx(1)


@pytest.mark.parametrize(
    ("height_mm", "expected"), [(40, 0.35), (150, 0.370), (200, 0.388), (250, 0.407), (300, 0.426)]
)
def test_in_tall_work_the_law_comes_on_top_of_what_is_outside_it(height_mm, expected):
    # What v0, A_inf, H_f, K_s, K_m and flushing leave of 0.35^2 at 40 mm, worked out by hand.
    law = math.fsum(squares(40.0, 0.25)) + 0.157**2 + 0.171**2 + 0.08**2
    outside = 0.35**2 - law
    assert sigma(height_mm) == pytest.approx(expected, abs=0.002)
    found = rough(height_mm)
    assert found[OUTSIDE] * sigma(height_mm) ** 2 == pytest.approx(outside, rel=0.02)


@pytest.mark.parametrize(
    ("material", "of_wire", "of_material", "expected"),
    [
        ("D2", 0.063, 0.171, 0.356),
        ("Ti64", 0.21, 0.25, 0.447),
        ("PCD", 0.21, 0.54, 0.655),
    ],
)
def test_coated_wire_and_odd_material_bring_their_own(material, of_wire, of_material, expected):
    # ln 1.3 is 0.262: 0.24 of it in steel, 0.8 elsewhere.
    scene = {"wire": "0.25 mm diffusion annealed", "material": material}
    found, whole = rough(40.0, **scene), sigma(40.0, **scene)
    assert whole == pytest.approx(expected, abs=0.001)
    assert found["K_w, rate factor of the wire"] * whole**2 == pytest.approx(of_wire**2, rel=0.02)
    assert found["K_m, material factor"] * whole**2 == pytest.approx(of_material**2, rel=0.02)
    plain = rough(40.0)
    assert "K_w, rate factor of the wire" not in plain
    assert found[OUTSIDE] * whole**2 == pytest.approx(plain[OUTSIDE] * 0.35**2, rel=0.01)
    # A skim has the root of K_m, and no K_w.
    skims = skim(40.0, material=material)
    thin = sigma(40.0, 2, **scene)
    assert thin == pytest.approx(math.hypot(0.25, 0.5 * math.sqrt(of_material**2 - 0.171**2)))
    assert skims["K_m, material factor"] == pytest.approx((0.5 * of_material / thin) ** 2)


def test_figures_kept_from_before_have_one_range_for_all_work():
    before = replace(
        SPREAD, routine_height_mm=0.0, wire_gain_share=0.0, wire_gain_elsewhere_share=0.0,
        material_elsewhere_log={},
    )  # fmt: skip
    kept = replace(TECHNOLOGY, feed_spread=before)
    one = passes_for(
        1,
        material=TABLES.catalogue.material("PCD"),
        height_mm=250.0,
        wire=TABLES.catalogue.wire("0.25 mm diffusion annealed"),
        machine=machine(),
        technology=kept,
    )[0]
    assert one.feed_sigma_log == 0.35
    found = rough(250.0, technology=replace(kept, feed_spread=replace(before, height_scale_log=2)))
    assert OUTSIDE not in found
    assert math.fsum(found.values()) == pytest.approx(1)


def test_the_plateau_over_the_diameter_is_a_cause_for_thick_wires_only():
    name = "d_p, plateau over the wire"
    assert name not in rough(100.0)
    thick = rough(100.0, wire="0.30")[name]
    # By hand: one deviation up d_p is 0.3197 mm and 0.30 mm wire carries sqrt(0.30/0.25), one
    # down 0.2576 mm and sqrt(0.2576/0.25) of A_inf; of that 1 - t at 100 mm reaches the rate.
    slope = (math.log(0.30 / 0.25) - math.log(0.2576 / 0.25)) / 2 / 2
    carried = 220 * math.sqrt(0.287 / 0.25)
    t = (1 / 1200) / (1 / 1200 + 1 / carried)
    whole = sigma(100.0, wire="0.30") ** 2
    assert thick == pytest.approx((slope * (1 - t)) ** 2 / whole, rel=0.03)
    assert rough(100.0, wire="0.33")[name] > thick > 0.005


def test_v0_leads_in_thin_plate_and_the_plateau_in_usual_work():
    assert rough(1.0)["v0, thin plate"] > rough(1.0)["A_inf, plateau"]
    assert rough(80.0)["v0, thin plate"] < rough(80.0)["A_inf, plateau"]
    assert rough(20.0)[OUTSIDE] > 0.3


def test_the_power_of_the_height_counts_only_in_tall_work():
    assert "m, power of the height" not in skim(40.0)
    assert sigma(40.0, 2) == 0.25
    # v goes as (50/H)^m: m of 0.5 spread by a fifth moves ln v by ln(2) 0.5 0.2 at 100 mm.
    tall, of_height = skim(100.0), math.log(2) * 0.5 * 0.2
    whole = 0.25**2 + of_height**2
    assert sigma(100.0, 2) == pytest.approx(math.sqrt(whole), rel=0.001)
    assert tall["m, power of the height"] == pytest.approx(of_height**2 / whole, rel=0.03)
    # The material enters by the square root.
    assert tall["K_m, material factor"] == pytest.approx((0.5 * 0.171) ** 2 / whole, rel=0.001)
    assert math.fsum(tall.values()) == pytest.approx(1)


def test_every_feed_tells_its_figures_and_keeps_its_range():
    for one in some(4):
        feed = next(r for r in one.reasons if "feed_mm_per_min" in r.quantity)
        assert math.fsum(share for _, share in feed.shares) == pytest.approx(1)
        assert "K_m, material factor" in dict(feed.shares)
        assert feed.range == one.feed_range_mm_per_min
        assert "feed_spread of passes.toml" in feed.source.citation


@pytest.mark.parametrize("height_mm", [20.0, 40.0, 50.0])
def test_the_split_of_routine_work_is_the_one_that_measured_cuts_move(height_mm):
    learned = RULES.shares[Measure.FEED]
    found = rough(height_mm)
    assert found["K_s, shop derate"] == pytest.approx(learned[Input.MACHINE], abs=0.005)
    material = learned[Input.FAMILY] + learned[Input.MATERIAL]
    assert found["K_m, material factor"] == pytest.approx(material, abs=0.005)
    assert found["K_flushing, how well closed nozzles close"] < learned[Input.JOB]
    of_law = found["v0, thin plate"] + found["A_inf, plateau"] + found["H_f, tall work"]
    assert of_law < learned[Input.HEIGHT] + learned[Input.PASS]


@pytest.mark.parametrize("height_mm", [5.0, 40.0, 150.0, 200.0, 250.0])
@pytest.mark.parametrize("wire", ["0.25", "0.1", "0.25 mm diffusion annealed"])
@pytest.mark.parametrize("material", ["D2", "Ti64", "PCD"])
@pytest.mark.parametrize("number", [1, 2])
def test_experience_without_a_cut_has_the_spread_of_the_tables(height_mm, wire, material, number):
    scene = {"height_mm": height_mm, "wire": wire, "material": material}
    plain = some(number, **scene)[-1]
    nothing = learn((), technology=TECHNOLOGY, catalogue=TABLES.catalogue, rules=RULES)
    moved = passes_for(
        number,
        material=TABLES.catalogue.material(material),
        height_mm=height_mm,
        wire=TABLES.catalogue.wire(wire),
        machine=machine(),
        technology=replace(TECHNOLOGY, experience=nothing),
    )[-1]
    assert moved.feed_mm_per_min == pytest.approx(plain.feed_mm_per_min)
    assert moved.feed_sigma_log == pytest.approx(plain.feed_sigma_log)
    assert math.fsum(share for _, share in moved.learned.feed_shares) == pytest.approx(1)
