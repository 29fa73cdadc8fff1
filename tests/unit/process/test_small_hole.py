from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.ranges import Range
from kerfwright.process.hole_depth import deepest_mm, depth_finding
from kerfwright.process.hole_misses import chance_off_place, place_held_um
from kerfwright.process.small_hole import (
    HoleDemand,
    drill,
    predict_hole,
    reach_mm,
    wander_mm,
)

TABLES = load_tables()
LAW = TABLES.technology.small_hole


def test_a_one_millimetre_hole_through_steel_is_drilled_in_about_two_minutes():
    # By hand: 30 mm/min in the table for 1 mm; 50 mm deep is L/D 50, so 30/1.5 = 20 mm/min;
    # the tube is 1 - 2 * 0.045 = 0.91 mm and travels 50 + 1.5 * 0.91 = 51.365 mm.
    hole = drill(50, diameter_mm=1.0, material=TABLES.catalogue.material("D2"), law=LAW)
    assert hole.minutes.likely == pytest.approx(51.365 / 20)
    assert hole.tube_diameter_mm == pytest.approx(0.91)
    # Tube: 0.8 of the depth wears away, 1.5 tube diameters go through the lower face: 41.365 mm.
    assert hole.tube_used_mm == pytest.approx(41.365)
    assert depth_finding(50, diameter_mm=1.0, law=LAW) is None


def test_carbide_takes_four_times_as_long_and_eats_the_tube():
    steel, carbide = (
        drill(20, diameter_mm=1.0, material=TABLES.catalogue.material(m), law=LAW)
        for m in ("D2", "carbide")
    )
    assert carbide.minutes.likely == pytest.approx(4 * steel.minutes.likely)
    assert carbide.tube_used_mm == pytest.approx(3 * 20 + 1.5 * 0.91)


def test_between_table_diameters_the_feed_lies_between():
    # Half way from 1 mm (30) to 2 mm (20) the table gives 25 mm/min.
    hole = drill(15, diameter_mm=1.5, material=TABLES.catalogue.material("D2"), law=LAW)
    assert hole.minutes.likely == pytest.approx((15 + 1.5 * 1.41) * 1.1 / 25)


def test_a_hole_deeper_than_practice_is_marked():
    deep = depth_finding(31, diameter_mm=0.3, law=LAW)
    assert deep is not None
    assert deep.code == "hole-too-deep"


def test_a_hole_no_wider_than_its_overcut_is_refused():
    with pytest.raises(RangeError, match="overcut"):
        drill(10, diameter_mm=0.09, material=TABLES.catalogue.material("D2"), law=LAW)


def test_every_family_of_material_can_be_drilled():
    for material in TABLES.catalogue.materials:
        assert drill(10, diameter_mm=1.0, material=material, law=LAW).minutes.likely > 0


def predicted(depth_mm=30.0, diameter_mm=1.0, material="D2", **asked):
    return predict_hole(
        depth_mm,
        diameter_mm=diameter_mm,
        material=TABLES.catalogue.material(material),
        law=LAW,
        demand=HoleDemand(**asked),
    )


def codes(hole):
    return [f.code for f in hole.findings]


def test_a_predicted_hole_is_the_drilled_one_with_size_place_and_tube():
    hole = predicted(50)
    assert hole.drilled == drill(
        50, diameter_mm=1.0, material=TABLES.catalogue.material("D2"), law=LAW
    )
    # By hand: 50 + 1.5 * 0.91; mean feed 20 mm/min; mouth 1 + 2 * 0.05; taper 0.0014 * 50.
    assert hole.tube_travel_mm == pytest.approx(51.365)
    assert hole.feed_mm_per_min.likely == pytest.approx(20)
    assert hole.entry_diameter_mm == pytest.approx(1.1)
    assert hole.exit_diameter_mm == pytest.approx(0.93)
    assert hole.wander_mm == pytest.approx(0.05)
    assert hole.findings == ()


def test_feed_time_and_wear_have_ranges_about_their_likely_values():
    hole = predicted()
    minutes = hole.drilled.minutes
    assert hole.feed_mm_per_min.low == pytest.approx(hole.tube_travel_mm / minutes.high)
    # 10-90 % of the wear, 24 mm, is a factor exp(1.2816 * 0.25) = 1.378 either way; the way
    # through the lower face, 1.5 * 0.91 mm, is certain.
    assert hole.tube_used_mm.likely == pytest.approx(24 + 1.365)
    assert hole.tube_used_mm.high == pytest.approx(24 * 1.378 + 1.365, abs=0.01)
    assert hole.tube_used_mm.likely == hole.drilled.tube_used_mm
    # Titanium and nickel wear 0.9 to 1.2, carbide 2 to 4 times the depth (no source).
    for material, low, high in (("Ti64", 0.9, 1.2), ("IN718", 0.9, 1.2), ("carbide", 2, 4)):
        used = predicted(material=material).tube_used_mm
        assert used.low < high * 30 + 1.365
        assert low * 30 + 1.365 < used.likely < high * 30 + 1.365


def test_the_tube_used_holds_the_way_through_the_lower_face_of_one_to_one_and_a_half_tubes():
    # Common practice, no source: 1.0 to 1.5 tube diameters beyond the wear.
    deep, shallow = predicted(40.0, 2.0), predicted(20.0, 2.0)
    # Wear goes with the depth, so twice the shallow less the deep hole leaves the rest.
    rest_mm = 2 * shallow.tube_used_mm.likely - deep.tube_used_mm.likely
    assert 1.0 <= rest_mm / (2.0 - 2 * LAW.overcut_mm) <= 1.5


def test_a_hole_wanders_a_tenth_in_a_hundred_and_small_tubes_more():
    assert wander_mm(100, diameter_mm=1.0, law=LAW) == pytest.approx(0.1)
    assert wander_mm(100, diameter_mm=0.3, law=LAW) == pytest.approx(0.2)
    assert wander_mm(100, diameter_mm=3.0, law=LAW) == pytest.approx(0.1)


def test_walls_keep_clear_of_radius_mouth_and_wander():
    assert reach_mm(100, diameter_mm=2.0, law=LAW) == pytest.approx(1 + 0.05 + 0.1)


def test_the_depth_limit_is_where_the_finding_begins():
    deepest = deepest_mm(0.5, law=LAW)
    assert deepest == pytest.approx(75)
    assert codes(predicted(49.9, 0.5)) == []
    assert codes(predicted(deepest * 0.999, 0.5)) == ["hole-depth-unproved"]
    assert codes(predicted(deepest * 1.001, 0.5)) == ["hole-too-deep"]


def test_a_diameter_outside_the_table_is_said_so():
    assert codes(predicted(10, 4.0)) == ["hole-diameter-untabled"]
    assert codes(predicted(10, 0.2)) == ["hole-diameter-untabled"]


def untapered(hole):
    # What the taper does to a zone has its own tests, test_hole_taper.py.
    return [f for f in hole.findings if f.code != "hole-taper-beyond-tolerance"]


def test_one_pass_holds_one_to_two_thousandths_of_an_inch():
    # DESIGN section 5: small holes hold 0.001 to 0.002 in in one pass (common practice).
    assert codes(predicted(tolerance_um=50.8)) == []
    (careful,) = untapered(predicted(tolerance_um=25.4))
    assert (careful.code, careful.severity) == ("hole-tolerance-beyond-process", Severity.WARNING)
    (refused,) = untapered(predicted(tolerance_um=20))
    assert refused.severity is Severity.REFUSAL
    assert "25 µm (0.000985 in) with care" in refused.message


def test_the_exit_is_placed_no_better_than_setting_and_wander_together():
    # By hand: usual sqrt(50² + 100²) = 111.8 µm after 100 mm; where the hole drifts no more than
    # one in ten, 100/exp(1.2816 x 0.54) = 50.1 µm, sqrt(50² + 50.1²) = 70.8.
    (refused,) = predicted(100, exit_position_um=70).findings
    assert (refused.code, refused.severity) == ("hole-position-beyond-process", Severity.REFUSAL)
    (warned,) = predicted(100, exit_position_um=110).findings
    assert (warned.code, warned.severity) == ("hole-position-beyond-process", Severity.WARNING)
    assert "would miss" in warned.message
    (edge,) = predicted(100, exit_position_um=112).findings
    assert (edge.code, edge.severity) == ("hole-position-may-be-missed", Severity.WARNING)
    assert "Do not promise it" in edge.remedy


def test_the_place_that_is_promised_is_missed_by_no_more_than_allowed():
    (edge,) = predicted(100, exit_position_um=112).findings
    held = edge.data["held_um"]
    assert codes(predicted(100, exit_position_um=held)) == []
    assert codes(predicted(100, exit_position_um=0.9 * held)) == ["hole-position-may-be-missed"]


def test_the_chance_of_an_exit_out_of_place_agrees_with_exits_drawn_one_by_one():
    random = np.random.default_rng(11)
    count = 200_000
    # Setting: 50 µm hold 95.45 % of the mouths; wander: 100 µm, standard deviation 0.54 of the log.
    sigma = 50 / math.sqrt(-2 * math.log(1 - 0.9545))
    drift = 100 * np.exp(0.54 * random.normal(size=count))
    to = random.uniform(0, 2 * math.pi, count)
    x = sigma * random.normal(size=count) + drift * np.cos(to)
    y = sigma * random.normal(size=count) + drift * np.sin(to)
    for limit in (112, 150, 220):
        wander = Range.lognormal(100.0, sigma_log=0.54)
        chance = chance_off_place(limit, setting_um=50.0, wander_um=wander)
        assert chance == pytest.approx((np.hypot(x, y) > limit).mean(), abs=0.006)


def test_a_recast_limit_knows_the_material():
    assert codes(predicted(max_recast_um=15)) == ["hole-recast-beyond-process"]
    assert codes(predicted(material="carbide", max_recast_um=30)) == []
    (finding,) = predicted(max_recast_um=5).findings
    assert finding.severity is Severity.REFUSAL


def test_a_recast_limit_that_the_likely_layer_meets_is_not_sure():
    # In steel 20 µm is the middle of 10 to 40: half of the holes have more.
    (half,) = predicted(max_recast_um=20).findings
    assert (half.code, half.severity) == ("hole-recast-may-be-missed", Severity.WARNING)
    assert half.data["chance"] == pytest.approx(0.5)
    assert "about one hole in 2 would miss" in half.message
    assert "40 µm" in half.remedy
    assert codes(predicted(max_recast_um=39)) == ["hole-recast-may-be-missed"]
    assert codes(predicted(max_recast_um=40)) == []


def test_recast_is_refused_below_the_thin_end_of_its_range_and_not_before():
    # 10 to 40 µm in steel: one hole in ten has 10 or less.
    severities = [predicted(max_recast_um=v).findings[0].severity for v in (7, 9.9, 10.1, 15)]
    assert severities == [Severity.REFUSAL, Severity.REFUSAL, Severity.WARNING, Severity.WARNING]
    (finding,) = predicted(max_recast_um=10.1).findings
    assert "about 9 holes in 10 would miss" in finding.message


def test_a_tolerance_closer_than_usual_says_how_many_holes_miss_it():
    # By hand: 25 µm is one standard deviation, 31.7 % lie outside.
    (finding,) = untapered(predicted(tolerance_um=25))
    assert finding.data["chance"] == pytest.approx(0.3173, abs=1e-4)
    assert "about one hole in 3 would miss" in finding.message


def test_a_shop_that_counts_the_likely_value_is_not_warned_where_it_is_met():
    law = replace(LAW, allowed_miss=0.5)
    hole = predict_hole(
        30.0,
        diameter_mm=1.0,
        material=TABLES.catalogue.material("D2"),
        law=law,
        demand=HoleDemand(max_recast_um=20),
    )
    assert hole.findings == ()


def test_a_hole_that_narrows_to_nothing_is_refused():
    with pytest.raises(RangeError, match="narrows"):
        predicted(300, 0.3)


def test_beyond_routine_feed_and_wander_are_less_sure_and_beyond_all_published_refused():
    # Routine at 0.3 mm is 30 mm; at twice the depth the deviation of the logarithm is 0.8.
    z = 1.2815515655
    known, doubtful = (
        drill(d, diameter_mm=0.3, material=TABLES.catalogue.material("D2"), law=LAW)
        for d in (30, 60)
    )
    assert known.minutes.high / known.minutes.likely == pytest.approx(math.exp(z * 0.4))
    assert doubtful.minutes.high / doubtful.minutes.likely == pytest.approx(math.exp(z * 0.8))
    wander = predicted(60, 0.3).wander_range_mm
    assert wander.high / wander.likely == pytest.approx(math.exp(z * 2 * 0.54))
    warned = depth_finding(60, diameter_mm=0.3, law=LAW)
    assert warned.severity is Severity.WARNING
    assert "0.8 in place of 0.4" in warned.message
    assert depth_finding(180, diameter_mm=0.3, law=LAW).severity is Severity.WARNING
    assert depth_finding(180.1, diameter_mm=0.3, law=LAW).severity is Severity.REFUSAL


def test_what_is_said_between_published_and_shop_depths_does_not_contradict_itself():
    said = depth_finding(60, diameter_mm=0.5, law=LAW)
    assert said.severity is Severity.NOTE
    assert "75 mm" in said.message
    assert "routine" not in said.message
    assert said.remedy


def test_a_hole_outside_the_table_is_told_what_helps_its_own_size():
    small, large = (predicted(5, d).findings[0] for d in (0.2, 4.0))
    assert "larger hole" in small.remedy
    assert "wire" not in small.remedy
    assert "wire" in large.remedy


def test_a_place_without_wander_is_missed_as_often_as_a_wall():
    # A half zone is two standard deviations of a wall: 2 x 0.02275 lie outside.
    nothing = Range.lognormal(1e-9, sigma_log=0.54)
    chance = chance_off_place(50.0, setting_um=50.0, wander_um=nothing)
    assert chance == pytest.approx(0.0455003, abs=1e-6)


def test_the_best_place_of_an_exit_is_setting_and_a_small_wander_as_squares():
    (refused,) = predicted(100, exit_position_um=60).findings
    low = 100 * math.exp(-1.2815515655 * 0.54)
    assert refused.data["best_um"] == pytest.approx(math.hypot(50, low), rel=1e-3)
    assert refused.data["usual_um"] == pytest.approx(math.hypot(50, 100), rel=1e-3)


def test_the_distance_that_is_held_is_the_radius_with_the_allowed_share_beyond_it():
    # Without wander it is Rayleigh's: s sqrt(-2 ln 0.1), s = 50/sqrt(-2 ln 0.0455).
    nothing = Range.lognormal(1e-9, sigma_log=0.54)
    held = place_held_um(0.1, setting_um=50.0, wander_um=nothing)
    want = 50 * math.sqrt(math.log(0.1) / math.log(0.0455002639))
    assert held == pytest.approx(want, abs=0.01)
    # With it, just the allowed share lies beyond.
    wander = Range.lognormal(100.0, sigma_log=0.54)
    held = place_held_um(0.1, setting_um=50.0, wander_um=wander)
    assert chance_off_place(held, setting_um=50.0, wander_um=wander) == pytest.approx(0.1, abs=1e-4)


def test_a_place_beyond_what_is_known_is_no_better_where_it_goes_well():
    # 0.3 mm through 120 mm: 240 µm of wander; good is 240/exp(1.2816 x 0.54), however unsure.
    found = predicted(120, 0.3, exit_position_um=30).findings
    (place,) = (f for f in found if f.code.startswith("hole-position"))
    good = 240 * math.exp(-1.2815515655 * 0.54)
    assert place.data["best_um"] == pytest.approx(math.hypot(50, good))
