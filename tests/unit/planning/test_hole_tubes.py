"""Strokes and tube changes of small holes, each against its formula worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from hole_samples import hole, law, planned, program_of, rules, with_holder
from kerfwright.adapters.drills import load_drill
from kerfwright.adapters.tables import load_tables
from kerfwright.planning.hole_plan import ChangeKind, Electrode, PlannedHole, Stroke
from kerfwright.planning.hole_tubes import changes_of, stroke_of
from kerfwright.process.small_hole import predict_hole
from kerfwright.proof.holes import prove_holes
from kerfwright.trade.hole_work import Hole, leaning

Z = 1.2815515655
D2 = load_tables().catalogue.material("D2")
TUBE = Electrode(condition=1, tube=1, diameter_mm=0.5, overcut_mm=0.05)


def stroke(one: Hole, *, rate_factor: float = 1.0, finds: bool = True) -> Stroke:
    predicted = predict_hole(
        one.depth_mm, diameter_mm=0.6, material=D2, law=replace(law(), overcut_mm=0.05)
    )
    machine = with_holder(load_drill(), finds_breakthrough=finds)
    return stroke_of(
        one, electrode=TUBE, predicted=predicted, gap_mm=1.0, holder=machine.tubes, material=D2,
        law=law(), rules=rules(), rate_factor=rate_factor,
    )  # fmt: skip


def test_a_through_stroke_by_hand() -> None:
    # Steel: wear 0.8, 10 to 90 % a factor exp(1.2816 x 0.25); tube 0.5 mm, 1.5 of it run on.
    factor = math.exp(Z * 0.25)
    found = stroke(hole("A", 0, 0, depth_mm=10.0), rate_factor=1.25, finds=False)
    assert found.run_on_mm == pytest.approx(0.75)
    assert found.feed_way_mm == pytest.approx(10 * (1 + 0.8 * factor) + 0.75)
    assert found.used_mm == pytest.approx(8 + 0.75)
    assert found.used_most_mm == pytest.approx(8 * factor + 0.75)
    assert found.beyond_mm == pytest.approx(0.75 + 8 * (factor - 1 / factor))
    assert found.dressed_mm == 0
    # 18 + 12 x 0.2 mm/min at 0.6 mm, less by L/D 16.7 of 100; 25 % faster.
    feed = (18 + 12 * 0.2) / (1 + 10 / 0.6 / 100)
    assert found.minutes == pytest.approx(10.75 / feed / 1.25)
    # The feed is that of the holder: what the tube loses at the likely wear is fed too.
    assert found.feed_mm_per_min == pytest.approx((10 * 1.8 + 0.75) / found.minutes)
    guide_mm = load_drill().tubes.guide_length_mm
    assert found.needs_mm == pytest.approx(guide_mm + 1.0 + 10 + 0.75)
    assert stroke(hole("A", 0, 0, depth_mm=10.0)).beyond_mm == pytest.approx(0.75)


def test_a_blind_stroke_on_a_slope_by_hand() -> None:
    found = stroke(
        hole("A", 0, 0, depth_mm=10.0, is_through=False, into=leaning(30, heading_deg=0))
    )
    lip = 0.25 * math.tan(math.radians(30))
    assert found.lip_mm == pytest.approx(lip)
    assert found.feed_way_mm == pytest.approx(lip + 18)
    assert (found.run_on_mm, found.beyond_mm) == (0, 0)
    assert found.used_mm == pytest.approx(8)
    # One and a half tubes are cut off before it.
    assert found.dressed_mm == pytest.approx(0.75)
    feed = (18 + 12 * 0.2) / (1 + 10 / 0.6 / 100)
    assert found.minutes == pytest.approx((lip + 10) / feed)
    assert found.feed_mm_per_min == pytest.approx((lip + 18) / found.minutes)


def rows(*tubes: int, **stroke_fields: float) -> list[PlannedHole]:
    (one,) = planned(hole("A", 0, 0)).holes
    fields = {"used_mm": 10.0, "used_most_mm": 15.0, "needs_mm": 20.0, "dressed_mm": 0.0}
    a_stroke = replace(one.stroke, **(fields | stroke_fields))
    return [
        replace(one, number=n, electrode=replace(one.electrode, tube=t), stroke=a_stroke)
        for n, t in enumerate(tubes, start=1)
    ]


def test_tubes_are_changed_by_the_most_wear_and_said_to_be_left_by_the_likely() -> None:
    # 70 mm free: after three holes 25 mm are left at the most wear; the fourth would end at 10 mm
    # where 20 must be left.  At the likely wear 40 mm are.
    holder = with_holder(load_drill(), length_mm=100.0, held_mm=30.0).tubes
    found = changes_of(rows(1, 1, 1, 1), holder)
    assert [(c.before, c.kind, c.left_mm) for c in found] == [
        (1, ChangeKind.FIRST, 0.0), (4, ChangeKind.TUBE, pytest.approx(40.0)),
    ]  # fmt: skip
    # With 5 mm cut off before each, two holes are all.
    found = changes_of(rows(1, 1, 1, dressed_mm=5.0), holder)
    assert [(c.before, c.left_mm) for c in found] == [(1, 0.0), (3, pytest.approx(40.0))]


def test_another_tube_is_another_guide_however_long_the_one_before() -> None:
    holder = with_holder(load_drill(), length_mm=100.0, held_mm=30.0).tubes
    found = changes_of(rows(1, 2, 2, 1), holder)
    assert [(c.before, c.kind, c.tube) for c in found] == [
        (1, ChangeKind.FIRST, 1), (2, ChangeKind.GUIDE, 2), (4, ChangeKind.GUIDE, 1),
    ]  # fmt: skip
    assert [c.left_mm for c in found] == [0.0, pytest.approx(60.0), pytest.approx(50.0)]


def normal(z: float) -> float:
    return math.erfc(-z / math.sqrt(2)) / 2


def test_a_tube_ends_before_it_comes_out_where_the_wear_is_above_what_it_is_fed_for() -> None:
    # Out it comes up to k = 0.8 exp(1.2816 x 0.25) + 0.75/L, as the run-on is fed too.
    for depth_mm in (5.0, 60.0):
        most = 0.8 * math.exp(Z * 0.25) + 0.75 / depth_mm
        want = 1 - normal(math.log(most / 0.8) / 0.25)
        found = stroke(hole("A", 0, 0, depth_mm=depth_mm))
        assert found.not_through_chance == pytest.approx(want, rel=1e-9)
    # At 60 mm that is about one in eleven; deeper it comes near to one in ten.
    assert round(1 / found.not_through_chance) == 11
    assert stroke(hole("A", 0, 0, is_through=False)).not_through_chance == 0


def test_the_proof_finds_the_same_share_from_the_words_of_the_program() -> None:
    plan = planned(hole("A", 0, 0, depth_mm=50.0), hole("B", 20, 0))
    text, claim = program_of(plan)
    worst = max(p.stroke.not_through_chance for p in plan.holes)
    assert prove_holes(text, claim).most_not_through == pytest.approx(worst, rel=1e-3)
    blind, claim = program_of(planned(hole("A", 0, 0, is_through=False)))
    assert prove_holes(blind, claim).most_not_through == 0


@pytest.mark.parametrize("finds", [True, False])
def test_who_drills_is_told_the_share_and_what_to_do(finds: bool) -> None:
    machine = with_holder(load_drill(), finds_breakthrough=finds)
    plan = planned(hole("A", 0, 0, depth_mm=50.0), hole("B", 20, 0), machine=machine)
    (said,) = (f for f in plan.findings if f.code == "through-depth-by-wear")
    assert "about one case in 11 the tube ends before it comes out of hole A" in said.message
    assert "touch off again" in said.remedy
    assert ("feeds no further than the program" in said.remedy) == finds
    assert "through-depth-by-wear" not in {
        f.code for f in planned(hole("A", 0, 0, is_through=False)).findings
    }
