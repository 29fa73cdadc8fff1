"""Shares of the spread of a feed, against slopes worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.unit.process.test_passes import TABLES, some

from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.learning.records import Input, Measure
from kerfwright.process.feed_shares import OUTSIDE, rough_feed_shares, skim_feed_shares

LAW, SPREAD = TABLES.technology.rough, TABLES.technology.feed_spread


def rough(height_mm: float, *, wire: str = "0.25", spread=SPREAD):
    return dict(
        rough_feed_shares(
            material=TABLES.catalogue.material("D2"),
            height_mm=height_mm,
            wire=TABLES.catalogue.wire(wire),
            law=LAW,
            spread=spread,
        )
    )


def skim(height_mm: float):
    return dict(
        skim_feed_shares(
            height_mm=height_mm,
            wire=TABLES.catalogue.wire("0.25"),
            rough=LAW,
            law=TABLES.technology.skim,
            spread=SPREAD,
        )
    )


@pytest.mark.parametrize("height_mm", [2.0, 20.0, 100.0, 200.0])
@pytest.mark.parametrize("wire", ["0.25", "0.1"])
def test_shares_are_the_squares_of_slope_times_spread(height_mm, wire):
    found = rough(height_mm, wire=wire)
    diameter = TABLES.catalogue.wire(wire).diameter_mm
    # By hand, A = 1/(1/(v0 H) + 1/(A_inf f)) / (1 + u), u = (H/H_f)^2: a percent more v0 is t
    # percent more rate, of A_inf 1 - t, of H_f 2 u/(1 + u).
    plateau = 220 * min(1, math.sqrt(diameter / 0.25))
    t = (1 / (12 * height_mm)) / (1 / (12 * height_mm) + 1 / plateau)
    u = (height_mm / 250) ** 2
    whole = 0.35**2
    assert found["v0, thin plate"] == pytest.approx((t * 0.15) ** 2 / whole, rel=0.02)
    assert found["A_inf, plateau"] == pytest.approx(((1 - t) * 0.12) ** 2 / whole, rel=0.02)
    assert found["H_f, tall work"] == pytest.approx((2 * u / (1 + u) * 0.2) ** 2 / whole, rel=0.08)
    assert found["K_s, shop derate"] == pytest.approx(0.157**2 / whole)
    assert ("K_f, fine wire" in found) is (wire == "0.1")
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
    assert thick == pytest.approx((slope * (1 - t)) ** 2 / 0.35**2, rel=0.03)
    assert rough(100.0, wire="0.33")[name] > thick > 0.005


def test_v0_leads_in_thin_plate_and_the_plateau_in_usual_work():
    assert rough(1.0)["v0, thin plate"] > rough(1.0)["A_inf, plateau"]
    assert rough(80.0)["v0, thin plate"] < rough(80.0)["A_inf, plateau"]
    assert rough(20.0)[OUTSIDE] > 0.3


def test_figures_that_spread_wider_than_the_whole_are_scaled_to_it():
    found = rough(250.0, spread=replace(SPREAD, height_scale_log=2.0))
    assert OUTSIDE not in found
    assert math.fsum(found.values()) == pytest.approx(1)


def test_the_power_of_the_height_counts_only_in_tall_work():
    assert "m, power of the height" not in skim(40.0)
    # v goes as (50/H)^m: m of 0.5 spread by a fifth moves ln v by ln(2) 0.5 0.2 at 100 mm.
    tall = skim(100.0)
    assert tall["m, power of the height"] == pytest.approx(
        (math.log(2) * 0.5 * 0.2) ** 2 / 0.25**2, rel=0.03
    )
    # The material enters by the square root.
    assert tall["K_m, material factor"] == pytest.approx((0.5 * 0.171) ** 2 / 0.25**2)
    assert math.fsum(tall.values()) == pytest.approx(1)


def test_every_feed_tells_its_figures_and_keeps_its_range():
    for one in some(4):
        feed = next(r for r in one.reasons if "feed_mm_per_min" in r.quantity)
        assert math.fsum(share for _, share in feed.shares) == pytest.approx(1)
        assert "K_m, material factor" in dict(feed.shares)
        assert feed.range == one.feed_range_mm_per_min
        assert "feed_spread of passes.toml" in feed.source.citation


@pytest.mark.parametrize("height_mm", [5.0, 20.0, 50.0, 100.0])
def test_the_split_is_the_one_that_measured_cuts_move(height_mm):
    learned = load_learning_rules().shares[Measure.FEED]
    found = rough(height_mm, wire="0.1")
    assert found["K_s, shop derate"] == pytest.approx(learned[Input.MACHINE], abs=0.005)
    material = learned[Input.FAMILY] + learned[Input.MATERIAL]
    assert found["K_m, material factor"] == pytest.approx(material, abs=0.005)
    assert found["K_f, fine wire"] == pytest.approx(learned[Input.WIRE], abs=0.005)
    assert found["K_flushing, how well closed nozzles close"] < learned[Input.JOB]
    of_law = found["v0, thin plate"] + found["A_inf, plateau"] + found["H_f, tall work"]
    assert of_law < learned[Input.HEIGHT] + learned[Input.PASS]
