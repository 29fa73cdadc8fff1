"""How the water reaches each contour, in feed, time, findings and plain words."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box
from tests.soak import some

from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.costing.breaks import expected_breaks
from kerfwright.costing.times import job_times
from kerfwright.motion.moves import CutKind, Purpose, WirePath
from kerfwright.planning.flushing import dirt, nozzle_factor
from kerfwright.planning.flushing_findings import how_often
from kerfwright.planning.plan import OperationKind, Plan, StartKind
from kerfwright.planning.planner import make_plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.choice import choose_passes
from kerfwright.process.flushing import Bath, BreakRisk, state_of
from kerfwright.process.technology import Flushing
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

RULES = load_tables().rules
PHYSICS = load_wire_physics()


def planned(
    part: Part, requirement: Requirement, tables: Tables, rules: PlanningRules = RULES
) -> Plan:
    return make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=rules,
    )


def codes(plan: Plan) -> list[str]:
    return [f.code for f in plan.findings]


def rough_feeds(plan: Plan) -> set[float]:
    moves = [c.moves for c in build_path(plan).cuts if c.kind is CutKind.ROUGH]
    return {
        float(f)
        for m in moves
        for f in np.unique(m.feed_mm_per_min[m.purpose == Purpose.WALL]).tolist()
    }


@pytest.fixture(scope="module")
def opening(make_part: PartMaker) -> Part:
    return make_part([(Role.OPENING, box(0, 0, 20, 10), None)])


def test_closed_nozzles_leave_the_nominal_feed(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    plan = planned(opening, requirement, tables)
    (contour,) = plan.contours
    assert contour.flushing.rate_factor == 1
    assert contour.flushing.risk is BreakRisk.USUAL
    assert rough_feeds(plan) == {plan.passes[0].feed_mm_per_min}
    assert not {"nozzle-not-closed", "cut-beside-stock-edge"} & set(codes(plan))


@pytest.mark.parametrize(
    ("nozzles", "factor"), [(Flushing.ONE_OPEN, 0.7), (Flushing.BOTH_OPEN, 0.4)]
)
def test_an_open_nozzle_slows_the_rough_pass_alone_and_the_time_follows(
    opening: Part, requirement: Requirement, tables: Tables, nozzles: Flushing, factor: float
) -> None:
    usual = planned(opening, requirement, tables)
    plan = planned(opening, requirement, tables, replace(RULES, nozzles=nozzles))
    # The nominal feed of the pass stays as it is; the contour's moves are slower.
    assert plan.passes == usual.passes
    nominal = plan.passes[0].feed_mm_per_min
    (feed,) = rough_feeds(plan)
    assert feed == pytest.approx(factor * nominal)
    minutes = {}
    for name, one in (("usual", usual), ("open", plan)):
        lines = job_times(one, build_path(one), rates=tables.rates).running
        minutes[name] = {line.line.operation: line.line.minutes.likely for line in lines}
    assert minutes["open"]["rough pass"] == pytest.approx(minutes["usual"]["rough pass"] / factor)
    assert minutes["open"]["skim pass 2"] == pytest.approx(minutes["usual"]["skim pass 2"])
    (finding,) = [f for f in plan.findings if f.code == "nozzle-not-closed"]
    assert finding.data["rate_factor"] == pytest.approx(factor)
    assert finding.remedy == plan.contours[0].flushing.advice


def test_an_open_nozzle_is_said_once_for_a_job_of_many_contours(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OPENING, box(30 * k, 0, 30 * k + 20, 10), None) for k in range(3)])
    plan = planned(part, requirement, tables, replace(RULES, nozzles=Flushing.BOTH_OPEN))
    assert [c.flushing.rate_factor for c in plan.contours] == [pytest.approx(0.4)] * 3
    (finding,) = [f for f in plan.findings if f.code == "nozzle-not-closed"]
    assert finding.message.startswith("Neither nozzle closes on the work")


@pytest.mark.parametrize("nozzles", [Flushing.ONE_OPEN, Flushing.BOTH_OPEN])
def test_the_risk_of_a_break_is_said_at_both_feeds_and_is_that_of_the_estimate(
    opening: Part, requirement: Requirement, tables: Tables, nozzles: Flushing
) -> None:
    rules = replace(RULES, nozzles=nozzles)
    plan = make_plan(
        opening,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=rules,
        physics=PHYSICS,
    )
    (finding,) = [f for f in plan.findings if f.code == "nozzle-not-closed"]
    (contour,) = plan.contours
    along = dirt(nozzles, requirement, contour.choice, tables.technology, rules)
    likely = along.worst_ratio >= tables.technology.flushing.debris.high_risk
    assert ("the wire would be likely to break" in finding.message) == likely
    # Told against closed nozzles first: "sooner" beside less than a usual cut has reads wrong.
    ratio = contour.flushing.breaks_unslowed / contour.flushing.breaks_closed
    assert f"about {ratio:.2g} times as often an hour as with them" in finding.message
    assert "sooner" not in finding.message
    # The factor is the one by which the estimate counts the hours of the rough cut.
    assert tables.rates.breaks is not None
    path = build_path(plan, physics=PHYSICS)
    rough = WirePath(cuts=tuple(c for c in path.cuts if c.kind is CutKind.ROUGH))
    counted = expected_breaks(plan, rough, rates=tables.rates.breaks).by_risk
    assert f"breaks about {counted:.2g} times as often an hour" in finding.message


def test_what_is_said_of_breaks_is_their_factor_and_of_fine_wire_that_it_is_a_guess(
    tables: Tables,
) -> None:
    usual = tables.catalogue.default_wire
    assert how_often([1.004], usual) == "as often an hour as in a usual rough cut"
    assert how_often([0.81], usual) == "about 0.81 times as often an hour as in a usual rough cut"
    # docs/process/wire.md: no published breaks of wire below 0.15 mm were found.
    for diameter_mm, is_guess in ((0.15, False), (0.1, True)):
        said = how_often([0.81], replace(usual, diameter_mm=diameter_mm))
        assert ("nothing is published on breaks of wire below 0.15 mm" in said) == is_guess


def test_a_nozzle_further_off_is_not_said_to_be_safer(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    dirt_said = []
    for gap_mm in (0.3, 1.0, 2.0):
        rules = replace(RULES, nozzles=Flushing.ONE_OPEN, upper_gap_mm=gap_mm)
        plan = make_plan(
            opening,
            replace(requirement, height_mm=60.0),
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=rules,
            physics=PHYSICS,
        )
        (finding,) = [f for f in plan.findings if f.code == "nozzle-not-closed"]
        assert (
            "Only the slower feed keeps it at that: an open nozzle makes no cut safer"
            in finding.message
        )
        dirt_said.append(float(finding.message.split("in up to ")[1].split(" times the dirt")[0]))
    assert dirt_said == sorted(dirt_said)
    assert dirt_said[0] < dirt_said[-1]


def test_without_the_physics_of_the_wire_no_count_of_breaks_is_claimed(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    plan = planned(opening, requirement, tables, replace(RULES, nozzles=Flushing.BOTH_OPEN))
    (finding,) = [f for f in plan.findings if f.code == "nozzle-not-closed"]
    assert "at the feed of this program it is" in finding.message
    assert "times" not in finding.message


def test_every_cut_says_how_to_set_the_water_and_nobody_has_to_stand_by_for_that(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    plan = planned(opening, requirement, tables)
    for operation in plan.operations:
        skims = operation.kind is OperationKind.SKIM
        assert operation.flushing.startswith("Low pressure" if skims else "Both nozzles")
    assert [o.attended for o in plan.operations if o.kind is OperationKind.ROUGH] == [False]
    cuts = build_path(plan).cuts
    assert [c.stop_before is not None for c in cuts] == [
        bool(o.instruction) for o in plan.operations
    ]


def test_a_cut_beside_the_edge_is_slower_by_its_share_of_the_way(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # The part's left side runs 2 mm inside the edge of the stock, the others 12 mm or more.
    part = make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-2.2, -12.2, 52.2, 32.2))
    plan = planned(part, requirement, tables)
    (contour,) = plan.contours
    path = contour.loops[0].contour
    # By hand: the wire runs 20 mm and its two corners along that side, and about 1 mm further
    # on each side until it is 3 mm from the edge.
    by_hand = (20 + 2 * 1.0) / path.length_mm
    share = contour.flushing.edge_share
    assert share == pytest.approx(by_hand, abs=0.01)
    assert contour.flushing.rate_factor == pytest.approx(1 / (1 - share + share / 0.4))
    assert contour.flushing.risk is BreakRisk.HIGH
    assert "within 3 mm of the edge" in contour.flushing.advice
    (finding,) = [f for f in plan.findings if f.code == "cut-beside-stock-edge"]
    assert "in one stretch" in finding.message
    assert "taken to 40% there" in finding.message
    assert finding.where is not None
    # The wire runs half a kerf outside the left side, the middle of the stretch half way up.
    assert finding.where.x_mm == pytest.approx(0, abs=0.3)
    assert finding.where.y_mm == pytest.approx(10, abs=0.3)
    assert finding.data["feed_mm_per_min"] == pytest.approx(0.4 * plan.passes[0].feed_mm_per_min)


def test_a_cut_from_the_edge_begins_at_half_power(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-1, -1, 41, 21))
    plan = planned(part, requirement, tables)
    (contour,) = plan.contours
    assert contour.start.kind is StartKind.EDGE
    assert contour.flushing.enters_from_edge
    assert contour.flushing.edge_share == 1
    assert contour.flushing.rate_factor == pytest.approx(0.4)
    assert "At most half power over the first 3 mm" in contour.flushing.advice


def test_start_holes_keep_clear_by_the_law_of_small_holes(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    usual = tables.technology
    wide = replace(usual, small_hole=replace(usual.small_hole, entry_growth_mm=0.25))
    starts = [
        make_plan(
            opening, requirement, technology=t, catalogue=tables.catalogue, rules=tables.rules
        )
        .contours[0]
        .start
        for t in (usual, wide)
    ]
    # The hole is set square off a long side, further from it by the wider mouth.
    walls = [min(abs(s.y_mm), abs(10 - s.y_mm), abs(s.x_mm), abs(20 - s.x_mm)) for s in starts]
    assert walls[1] - walls[0] == pytest.approx(0.2)


def test_beside_the_edge_the_feed_is_never_above_that_away_from_it(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # Nozzles so far off that the model gives less than the table's 0.4 for open ones.
    part = make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-2.2, -12.2, 52.2, 32.2))
    rules = replace(tables.rules, nozzles=Flushing.BOTH_OPEN, upper_gap_mm=3.0, lower_gap_mm=3.0)
    tall = replace(requirement, height_mm=80.0)
    (contour,) = planned(part, tall, tables, rules).contours
    state = contour.flushing
    assert state.beside
    assert state.along_factor < 0.4
    assert state.beside_factor == state.along_factor


GAPS_MM = (
    0.0,
    0.05,
    0.1,
    0.15,
    0.2,
    0.201,
    0.25,
    0.3,
    0.4,
    0.5,
    0.8,
    1.0,
    1.5,
    2.0,
    3.0,
    5.0,
    10.0,
)
THIN_AND_TALL_MM = (
    1.0,
    3.0,
    5.0,
    9.9,
    10.0,
    12.5,
    15.0,
    19.9,
    20.0,
    25.0,
    40.0,
    80.0,
    150.0,
    300.0,
)


def gap_rules(upper_mm: float, lower_mm: float, **changes: object) -> PlanningRules:
    nozzles = state_of(upper_mm, lower_mm, law=load_tables().technology.flushing)
    gaps = {"nozzles": nozzles, "upper_gap_mm": upper_mm, "lower_gap_mm": lower_mm}
    return replace(RULES, **{**gaps, **changes})  # type: ignore[arg-type]


@pytest.fixture
def factor_of(requirement: Requirement, tables: Tables) -> Callable[..., float]:
    chosen = choose_passes(requirement, technology=tables.technology, catalogue=tables.catalogue)

    def factor(height_mm: float, rules: PlanningRules) -> float:
        asked = replace(requirement, height_mm=height_mm)
        return nozzle_factor(rules.nozzles, asked, chosen, tables.technology, rules)

    return factor


# Every third of heights and baths together: each height or its neighbour, and each bath.
@pytest.mark.parametrize(
    ("height_mm", "bath"), some(list(itertools.product(THIN_AND_TALL_MM, Bath)))
)
def test_no_cut_is_faster_with_either_nozzle_further_off(
    factor_of: Callable[..., float], height_mm: float, bath: Bath
) -> None:
    table = np.array(
        [[factor_of(height_mm, gap_rules(u, o, bath=bath)) for u in GAPS_MM] for o in GAPS_MM]
    )
    assert np.diff(table, axis=0).max() <= 1e-12
    assert np.diff(table, axis=1).max() <= 1e-12
    # And the wider gap does cost something.
    assert table[0, 0] > table[-1, 0] > table[-1, -1] > 0


@pytest.mark.parametrize("height_mm", [1.0, 3.0, 5.0, 10.0])
def test_thin_work_under_a_wide_gap_is_no_faster_than_the_table_has_it_for_such_nozzles(
    factor_of: Callable[..., float], height_mm: float
) -> None:
    one, both = (
        factor_of(height_mm, replace(RULES, nozzles=state))
        for state in (Flushing.ONE_OPEN, Flushing.BOTH_OPEN)
    )
    for wide_mm in (2.0, 3.0, 10.0):
        for near_mm in (0.0, 0.1, 0.2):
            assert factor_of(height_mm, gap_rules(near_mm, wide_mm)) <= one + 1e-12
        assert factor_of(height_mm, gap_rules(wide_mm, 2.0)) <= both + 1e-12
    # The band of common practice for a gap above 0.5 mm, 0.6 to 0.8, is reached just above it.
    assert factor_of(height_mm, gap_rules(0.1, 0.65)) < 0.8


@pytest.mark.parametrize("height_mm", [1.0, 8.0, 15.0, 40.0, 100.0])
@pytest.mark.parametrize("other_mm", [0.1, 1.0])
def test_no_number_jumps_for_a_hundredth_of_a_millimetre_of_gap(
    opening: Part, requirement: Requirement, tables: Tables, height_mm: float, other_mm: float
) -> None:
    asked = replace(requirement, height_mm=height_mm)
    feeds, unslowed, breaks = [], [], []
    gaps = np.round(np.r_[np.arange(0.15, 0.3, 0.01), np.arange(1.15, 1.35, 0.01)], 3)
    for gap_mm in gaps:
        rules = gap_rules(other_mm, float(gap_mm))
        plan = make_plan(
            opening,
            asked,
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=rules,
            physics=PHYSICS,
        )
        state = plan.contours[0].flushing
        feeds.append(state.along_factor)
        unslowed.append(state.breaks_unslowed)
        breaks.append(state.breaks)
    near = np.diff(gaps) < 0.02
    for values, most in ((feeds, 0.02), (unslowed, 0.06), (breaks, 0.05)):
        steps = np.diff(np.log(values))[near]
        assert np.abs(steps).max() < most
    assert np.diff(feeds).max() <= 1e-12


@pytest.mark.parametrize("height_mm", [5.0, 10.0, 40.0, 100.0, 200.0])
def test_a_wider_gap_never_breaks_less_often_in_a_piece_and_hardly_less_an_hour(
    opening: Part, requirement: Requirement, tables: Tables, height_mm: float
) -> None:
    asked = replace(requirement, height_mm=height_mm)
    an_hour, a_piece = [], []
    for gap_mm in (0.1, 0.2, 0.3, 0.5, 1.0, 2.0, 5.0, 20.0):
        plan = make_plan(
            opening,
            asked,
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=gap_rules(0.1, gap_mm),
            physics=PHYSICS,
        )
        assert tables.rates.breaks is not None
        found = expected_breaks(plan, build_path(plan, physics=PHYSICS), rates=tables.rates.breaks)
        an_hour.append(plan.contours[0].flushing.breaks)
        a_piece.append(found.likely)
    # In tall work the feed falls further than the current that the wire bears.
    assert np.diff(np.log(an_hour)).min() >= -0.002
    assert np.diff(a_piece).min() >= -1e-9
    assert an_hour[-1] > 1.2 * an_hour[0]
    assert a_piece[-1] > 1.3 * a_piece[0]


@pytest.mark.parametrize("nozzles", [Flushing.ONE_OPEN, Flushing.BOTH_OPEN])
def test_why_says_how_often_it_would_break_at_the_feed_of_closed_nozzles(
    opening: Part, requirement: Requirement, tables: Tables, nozzles: Flushing
) -> None:
    plan = make_plan(
        opening,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=replace(RULES, nozzles=nozzles),
        physics=PHYSICS,
    )
    (contour,) = plan.contours
    state = contour.flushing
    (reason,) = [r for r in state.reasons if r.quantity == "breaks_unslowed"]
    inputs = dict(reason.inputs)
    # At the share of the break current of that feed, times the dirt there, nothing taken back.
    curve = PHYSICS.breaking.relative_rate
    by_heat = np.interp(inputs["utilisation"], [x for x, _ in curve], [y for _, y in curve])
    along = dirt(nozzles, requirement, contour.choice, tables.technology, plan.rules)
    assert reason.value == pytest.approx(max(by_heat, state.breaks_closed) * along.worst_ratio)
    assert reason.value > state.breaks > state.breaks_closed
    (finding,) = [f for f in plan.findings if f.code == "nozzle-not-closed"]
    assert f"{reason.value:.2g} times as often" in finding.message
    assert "That is why the feed is taken back" in finding.message


def test_the_factor_does_not_jump_where_the_flow_model_begins_to_hold(
    factor_of: Callable[..., float],
) -> None:
    # The largest difference of model and table is that of two nozzles hardly open, 0.93 and 0.4:
    # it goes over 10 mm of height, so that a tenth of a millimetre moves 0.006 at the most.
    heights = np.arange(8.0, 24.0, 0.1)
    for upper_mm, lower_mm in ((0.1, 0.3), (0.1, 2.0), (0.201, 0.201), (1.0, 1.0), (2.0, 2.0)):
        factors = [factor_of(h, gap_rules(upper_mm, lower_mm)) for h in heights]
        assert np.abs(np.diff(factors)).max() < 0.006


@pytest.mark.parametrize(
    ("height_mm", "said"),
    [
        (40.0, "by the flow model for the gaps given"),
        (15.0, "which counts 50% at this height"),
        (5.0, "no more than the shop's table has for nozzles that stand so"),
    ],
)
def test_the_reason_says_which_rule_decided_the_factor(
    opening: Part, requirement: Requirement, tables: Tables, height_mm: float, said: str
) -> None:
    asked = replace(requirement, height_mm=height_mm)
    (contour,) = planned(opening, asked, tables, gap_rules(0.1, 1.0)).contours
    (reason,) = [r for r in contour.flushing.reasons if r.quantity == "along_factor"]
    assert said in reason.formula
    (named,) = planned(opening, asked, tables, replace(RULES, nozzles=Flushing.ONE_OPEN)).contours
    (reason,) = [r for r in named.flushing.reasons if r.quantity == "along_factor"]
    assert "by the shop's table" in reason.formula
