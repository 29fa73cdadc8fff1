"""Plans of small holes: tubes, strokes, changes, order and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from hole_samples import hole, law, mixed, planned, rules, with_holder
from kerfwright.adapters.drills import load_drill
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Severity
from kerfwright.planning.hole_plan import ChangeKind, HolePlan, OrderReason
from kerfwright.planning.hole_tubes import choose_tube
from kerfwright.trade.hole_work import Hole, leaning


def codes(plan: HolePlan) -> dict[str, Severity]:
    return {f.code: f.severity for f in plan.findings}


def test_the_tube_with_two_overcuts_is_the_hole() -> None:
    found = choose_tube(1.0, diameters_mm=(0.8, 0.9, 1.0), rules=rules(), usual_mm=0.045)
    assert (found.diameter_mm, found.overcut_mm, found.off_um) == (0.9, 0.05, 0.0)
    between = choose_tube(1.0, diameters_mm=(0.7, 1.0), rules=rules(), usual_mm=0.045)
    assert (between.diameter_mm, between.off_um) == (1.0, 60.0)


def test_a_stroke_is_lip_depth_wear_and_run_on() -> None:
    plan = planned(hole("A", 0, 0), hole("B", 9, 0, into=leaning(30, heading_deg=0), depth_mm=9.0))
    square, slanted = sorted(plan.holes, key=lambda p: p.hole.id)
    wear = law().wear_ratio["steel"]
    most = wear * math.exp(1.2815515655 * law().wear_sigma_log)
    run_on = 1.5 * 0.5
    assert square.electrode.diameter_mm == 0.5
    assert square.stroke.feed_way_mm == pytest.approx(8 * (1 + most) + run_on)
    assert square.stroke.used_mm == pytest.approx(8 * wear + run_on)
    # A tube of 0.5 mm meets a slope of 30° on 0.25 tan 30° above the mouth.
    lip = 0.25 * math.tan(math.radians(30))
    assert slanted.stroke.lip_mm == pytest.approx(lip)
    assert slanted.stroke.feed_way_mm == pytest.approx(2 * lip + 9 * (1 + most) + run_on)
    # The guide of 6 mm clears the slope with half a millimetre to spare.
    assert slanted.guide_gap_mm == pytest.approx(3 * math.tan(math.radians(30)) + 0.5)


def test_a_tube_is_changed_before_it_would_be_too_short() -> None:
    machine = with_holder(load_drill(), length_mm=100.0)
    plan = planned(*(hole(f"H{n}", 3.0 * n, 0) for n in range(12)), machine=machine)
    stroke = plan.holes[0].stroke
    a_tube = math.floor((100 - 30 - stroke.needs_mm) / stroke.used_most_mm)
    assert [c.before for c in plan.changes] == list(range(1, 13, a_tube))
    assert [c.kind for c in plan.changes] == [
        ChangeKind.FIRST, *[ChangeKind.TUBE] * (len(plan.changes) - 1)
    ]  # fmt: skip


def test_holes_of_one_tube_stay_together_and_each_is_planned_once() -> None:
    plan = planned(*mixed())
    tubes = [p.electrode.tube for p in plan.holes]
    assert tubes == sorted(tubes)
    assert {p.hole.id for p in plan.holes} == {h.id for h in mixed()}
    assert [c.kind for c in plan.changes] == [ChangeKind.FIRST, ChangeKind.GUIDE]


def test_a_hole_where_a_refused_one_lies_is_drilled() -> None:
    """Refused as its copy, neither would be drilled: the copy may be the row that was meant."""
    # As deep and as wide, and tighter than the process holds: refused for itself.
    tight = hole("A", 0, 0, tolerance_um=1.0)
    plan = planned(tight, hole("B", 0, 0), hole("C", 0, 0))
    assert [p.hole.id for p in plan.holes] == ["B"]
    doubled = [f for f in plan.findings if f.code == "hole-doubled"]
    assert [f.data["other"] for f in doubled] == ["B"]


@pytest.mark.parametrize(
    ("wrong", "code"),
    [
        (hole("W", 0, 0, diameter_mm=1.75, tolerance_um=20.0), "hole-no-tube"),
        (hole("W", 0, 0, into=leaning(60, heading_deg=0), outward=leaning(120, heading_deg=180)),
         "hole-angle-out-of-reach"),
        (hole("W", 0, 0, into=leaning(75, heading_deg=0)), "hole-slope-too-steep"),
        (hole("W", 0, 0, into=leaning(69, heading_deg=0)), "guide-too-far"),
        (hole("W", 0, 0, depth_mm=250.0, diameter_mm=2.0), "tube-too-short"),
        (hole("W", 0, 0, room_mm=0.5), "no-room-beyond"),
        (hole("W", 0, 0, position_um=10.0), "hole-place-beyond-process"),
        (hole("W", 0, 0, tolerance_um=10.0), "hole-tolerance-beyond-process"),
        (hole("W", 0, 0, max_recast_um=2.0), "hole-recast-beyond-process"),
        (hole("W", 50.0, 50.0), "hole-doubled"),
        (hole("W", 0, 0, depth_mm=220.0, diameter_mm=0.3), "hole-narrows-to-nothing"),
        (hole("W", 0, 0, depth_mm=220.0, diameter_mm=0.3, is_through=False),
         "hole-narrows-to-nothing"),
    ],
)  # fmt: skip
def test_a_hole_that_cannot_be_drilled_as_asked_is_left_out_by_name(wrong: Hole, code: str) -> None:
    machine = load_drill()
    if code == "hole-angle-out-of-reach":
        machine = replace(machine, axes=())
    if code == "guide-too-far":
        machine = with_holder(machine, guide_diameter_mm=12.0)
    plan = planned(hole("G", 50.0, 50.0), wrong, machine=machine)
    assert codes(plan)[code] is Severity.REFUSAL
    assert [h.id for h in plan.left_out] == ["W"]
    assert [p.hole.id for p in plan.holes] == ["G"]
    (finding,) = (f for f in plan.findings if f.code == code)
    assert "W" in finding.message
    assert finding.remedy


@pytest.mark.parametrize(
    ("diameter_mm", "wanted"),
    [
        (1.75, "Put a tube between in"),
        (3.5, "Put a tube thicker than 3 mm (0.1181 in)"),
        (0.1, "Put a tube thinner than 0.2 mm (0.0079 in)"),
    ],
)
def test_the_tube_that_is_wanted_is_one_that_would_make_the_hole(
    diameter_mm: float, wanted: str
) -> None:
    plan = planned(hole("W", 0, 0, diameter_mm=diameter_mm, tolerance_um=20.0))
    (refusal,) = (f for f in plan.findings if f.code == "hole-no-tube")
    assert refusal.remedy.startswith(wanted)
    assert refusal.remedy.endswith("or allow the size it makes.")


@pytest.mark.parametrize(
    ("odd", "code"),
    [
        (hole("W", 0, 0, into=leaning(45, heading_deg=0)), "hole-slope-steep"),
        (hole("W", 0, 0, diameter_mm=1.75), "hole-size-off"),
        (hole("W", 50.7, 50), "hole-web-thin"),
        (hole("W", 0, 0, position_um=30.0), "hole-place-beyond-process"),
        (hole("W", 0, 0, is_through=False), "blind-depth-by-wear"),
        (hole("W", 0, 0, depth_mm=70.0, diameter_mm=0.3), "hole-too-deep"),
    ],
)
def test_what_wants_a_look_is_warned_of_and_drilled(odd: Hole, code: str) -> None:
    plan = planned(hole("G", 50.0, 50.0), odd)
    assert codes(plan)[code] is Severity.WARNING
    assert len(plan.holes) == 2


def test_a_job_beyond_the_travel_is_refused_whole() -> None:
    plan = planned(hole("A", 0, 0), hole("B", 400, 0))
    assert codes(plan)["travel-exceeded"] is Severity.REFUSAL


def test_close_holes_are_drilled_in_rounds_where_heat_asks_for_it() -> None:
    close = [hole(f"H{n}", 1.5 * n, 0, depth_mm=3.0) for n in range(40)]
    hot = planned(*close)
    assert hot.order is not None
    assert hot.order.reason is OrderReason.HEAT
    assert hot.order.rounds > 1
    assert hot.order.rise_k < hot.order.rise_shortest_k
    assert hot.order.travel_mm > hot.order.shortest_mm
    apart = planned(*(hole(f"H{n}", 12.0 * n, 0, depth_mm=3.0) for n in range(20)))
    assert apart.order is not None
    assert apart.order.reason is OrderReason.TRAVEL
    assert apart.order.rise_k <= rules().rise_limit_k
    assert apart.order.travel_mm == pytest.approx(12.0 * 19)


def test_a_control_that_does_not_find_the_breakthrough_wants_more_room() -> None:
    wanted = hole("A", 0, 0, room_mm=2.0)
    assert not planned(wanted).left_out
    blindly = with_holder(load_drill(), finds_breakthrough=False)
    assert [h.id for h in planned(wanted, machine=blindly).left_out] == ["A"]


def test_the_work_is_turned_high_and_the_tube_travels_clear_of_what_was_left_out_too() -> None:
    tall = hole("T", 40, 40, z=30.0, position_um=1.0)
    plan = planned(hole("A", 0, 0), hole("B", 10, 0, into=leaning(20, heading_deg=0)), tall)
    assert [h.id for h in plan.left_out] == ["T"]
    assert plan.turning_z_mm > math.hypot(40, 40, 30)
    upright = next(p for p in plan.holes if p.hole.id == "A")
    assert upright.clear_z_mm == pytest.approx(33.0)


def test_no_hole_at_all_gives_a_plan_without_an_order() -> None:
    plan = planned(hole("W", 0, 0, position_um=1.0))
    assert plan.holes == ()
    assert plan.order is None


def test_a_hole_out_of_the_face_is_no_hole() -> None:
    with pytest.raises(InputError, match="leaves the face"):
        hole("W", 0, 0, into=(0.0, 0.0, 1.0))


def test_the_place_of_a_through_hole_is_held_at_its_exit_too_and_never_refused_there():
    # 0.59 mm through 40 mm wanders by some 0.07 mm: ±50 µm is usual at the mouth, not at the exit.
    deep = hole("D", 0, 0, diameter_mm=0.59, depth_mm=40.0, position_um=50.0)
    plan = planned(deep)
    assert plan.left_out == ()
    (said,) = [f for f in plan.findings if f.code == "hole-position-beyond-process"]
    assert said.severity is Severity.WARNING
    assert said.data["usual_um"] == pytest.approx(math.hypot(50, 68), rel=0.05)
    assert plan.holes[0].not_promised == ("exit",)
    # A few millimetres wander too little to matter: no word.
    shallow = planned(replace(deep, depth_mm=6.0))
    assert "hole-position-beyond-process" not in {f.code for f in shallow.findings}
    blind = planned(replace(deep, is_through=False, id="B"))
    assert "hole-position-beyond-process" not in {f.code for f in blind.findings}
    assert blind.holes[0].not_promised == ()


def test_a_row_names_what_of_its_hole_is_not_promised():
    plan = planned(hole("R", 0, 0, max_recast_um=22.0), hole("F", 20, 0))
    assert [(p.hole.id, p.not_promised) for p in plan.holes] == [("R", ("recast",)), ("F", ())]


def test_holes_that_want_another_remedy_stand_in_another_finding():
    plan = planned(
        hole("A", 0, 0, diameter_mm=0.05), hole("D", 10, 0, diameter_mm=6.0),
        hole("E", 20, 0, diameter_mm=5.0), hole("G", 30, 0),
    )  # fmt: skip
    small, large = sorted(
        (f for f in plan.findings if f.code == "hole-no-tube"), key=lambda f: f.data["tube_mm"]
    )
    assert "thinner than" in small.remedy
    assert "Also" not in small.message
    assert "thicker than" in large.remedy
    assert "Hole D" in large.message
    assert "less or as much: E." in large.message


def test_a_remedy_with_numbers_of_one_hole_says_whose_they_are():
    plan = planned(
        hole("A", 0, 0, max_recast_um=21.0), hole("B", 10, 0, diameter_mm=0.59, depth_mm=50.0,
        position_um=110.0), hole("C", 20, 0, diameter_mm=0.59, depth_mm=40.0, position_um=90.0),
    )  # fmt: skip
    (place,) = (f for f in plan.findings if f.code == "hole-position-may-be-missed")
    assert "Numbers are those of hole" in place.remedy
    (recast,) = (f for f in plan.findings if f.code == "hole-recast-may-be-missed")
    assert "Numbers are" not in recast.remedy


@pytest.mark.parametrize(
    ("apart_mm", "code", "severity"),
    [
        # 0.6 mm holes: setting parts them by no more than sqrt(2) x 0.05 = 0.071 mm.
        (0.1, "hole-meets-hole", Severity.REFUSAL),
        (0.52, "hole-meets-hole", Severity.REFUSAL),
        (0.54, "hole-web-thin", Severity.WARNING),
        (0.9, "hole-web-thin", Severity.WARNING),
    ],
)
def test_bores_that_meet_for_certain_are_refused(
    apart_mm: float, code: str, severity: Severity
) -> None:
    plan = planned(hole("A", 0, 0), hole("B", apart_mm, 0))
    found = {c: s for c, s in codes(plan).items() if c.startswith("hole-")}
    assert found == {code: severity}
    assert [h.id for h in plan.left_out] == ["B"] * (severity is Severity.REFUSAL)


def test_ends_that_meet_for_certain_are_said_to_meet_and_may_be_meant_to():
    down = hole("A", 0, 0, depth_mm=20.0, is_through=False)
    slant = hole("B", 10, 0, depth_mm=math.hypot(10, 20), is_through=False,
                 into=leaning(math.degrees(math.atan2(10, 20)), heading_deg=180))  # fmt: skip
    plan = planned(down, slant)
    (said,) = (f for f in plan.findings if f.code == "hole-web-thin")
    assert "at the end it meets hole" in said.message
    assert "meant to meet" in said.remedy
    assert plan.left_out == ()


def test_mouth_and_exit_are_placed_with_one_setting():
    # The machine holds ±20 µm with care; 0.59 mm through 40 mm drifts 0.00159 x 40 = 63 µm.
    plan = planned(hole("A", 0, 0, diameter_mm=0.59, depth_mm=40.0, position_um=30.0))
    said = {f.code: f for f in plan.findings}
    assert "±20 µm" in said["hole-place-beyond-process"].message
    assert "at the exit too" in said["hole-place-beyond-process"].message
    leaves = said["hole-position-beyond-process"]
    assert "with the mouth set within ±20 µm" in leaves.message
    wander = plan.holes[0].predicted.wander_range_mm * 1000
    assert leaves.data["best_um"] == pytest.approx(math.hypot(20, wander.low))
    assert leaves.data["usual_um"] == pytest.approx(math.hypot(20, wander.likely))
    # What is usual is asked: no care is taken, and none said.
    plan = planned(hole("A", 0, 0, diameter_mm=0.59, depth_mm=40.0, position_um=50.0))
    (leaves,) = (f for f in plan.findings if f.code == "hole-position-beyond-process")
    assert "with the mouth set within ±50 µm" in leaves.message


def test_a_blind_hole_has_a_least_depth_of_touch_and_form_of_the_tube():
    # 0.03 mm of touch and a quarter of the 0.5 mm tube: 0.155 mm.
    deep = hole("G", 0, 0, is_through=False, depth_mm=0.156)
    flat = hole("W", 5, 0, is_through=False, depth_mm=0.154)
    plan = planned(deep, flat)
    assert [h.id for h in plan.left_out] == ["W"]
    (said,) = (f for f in plan.findings if f.code == "blind-too-shallow")
    assert said.severity is Severity.REFUSAL
    assert said.data["least_mm"] == pytest.approx(0.155)
    # On a slope of 30° one side begins 0.25 tan 30° = 0.144 mm above the mouth.
    slanted = hole("S", 0, 0, is_through=False, depth_mm=0.29, into=leaning(30, heading_deg=0))
    assert [h.id for h in planned(slanted).left_out] == ["S"]
    assert planned(replace(slanted, depth_mm=0.31)).left_out == ()
    assert planned(replace(flat, is_through=True)).left_out == ()


def test_the_depth_of_a_blind_hole_hangs_on_wear_and_touch_as_squares():
    plan = planned(hole("B", 0, 0, is_through=False, depth_mm=1.0))
    (said,) = (f for f in plan.findings if f.code == "blind-depth-by-wear")
    z = 1.2815515655
    by_wear = 1 - 1.8 / (1 + 0.8 * math.exp(z * 0.25))
    assert said.data["low_mm"] == pytest.approx(1 - math.hypot(by_wear, z * 0.015))
    by_wear = 1.8 / (1 + 0.8 / math.exp(z * 0.25)) - 1
    assert said.data["high_mm"] == pytest.approx(1 + math.hypot(by_wear, z * 0.015))


def test_an_order_says_how_many_tubes_it_and_the_listed_one_take_up():
    sizes = (0.6, 1.0, 0.6, 1.0, 0.6)
    plan = planned(*(hole(f"H{n}", 10.0 * n, 0, diameter_mm=d) for n, d in enumerate(sizes)))
    assert plan.order is not None
    assert (plan.order.changes, plan.order.as_listed_changes) == (2, 5)
    assert plan.order.as_listed_mm < plan.order.travel_mm


def test_each_hole_knows_how_warm_its_place_is():
    plan = planned(*(hole(f"H{n}", 3.0 * n, 0) for n in range(4)))
    assert plan.holes[0].rise_k == 0
    assert max(p.rise_k for p in plan.holes) == plan.order.rise_k > 0
