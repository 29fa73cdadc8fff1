"""The running wire in plans: feed held to its margin, findings, and what helps."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.motion.moves import CutKind, Purpose
from kerfwright.planning.plan import Plan
from kerfwright.planning.plan_answers import plan_answers
from kerfwright.planning.planner import make_plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import Bath, BreakRisk
from kerfwright.process.technology import Flushing
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path
from kerfwright.wirepath.trailing import limits_of

RULES = load_tables().rules
PHYSICS = load_wire_physics()


def planned(
    part: Part,
    requirement: Requirement,
    tables: Tables,
    *,
    rules: PlanningRules = RULES,
    physics: WirePhysics | None = PHYSICS,
) -> Plan:
    return make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=rules,
        physics=physics,
    )


def thirsty(times: float) -> WirePhysics:
    """Return physics in which a volume takes more charge."""
    law = PHYSICS.breaking
    return replace(PHYSICS, breaking=replace(law, charge_c_per_mm3=law.charge_c_per_mm3 * times))


@pytest.fixture(scope="module")
def opening(make_part: PartMaker) -> Part:
    return make_part([(Role.OPENING, box(0, 0, 20, 10), None)])


def test_a_usual_plan_has_a_state_for_each_pass_and_no_word_on_the_wire(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    plan = planned(opening, requirement, tables)
    assert [s.pass_number for s in plan.wire_states] == [p.number for p in plan.passes]
    assert plan.wire_states[0].risk is BreakRisk.USUAL
    (contour,) = plan.contours
    assert contour.flushing.margin_factor == contour.flushing.rate_factor == 1
    assert not {"feed-held-by-wire", "wire-break-margin-thin"} & {f.code for f in plan.findings}


def test_without_physics_there_is_no_state_and_the_plan_is_the_same(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    bare = planned(opening, requirement, tables, physics=None)
    assert bare.wire_states == ()
    assert bare.operations == planned(opening, requirement, tables).operations


def test_a_rate_beyond_the_wire_is_taken_back_to_its_margin_in_program_and_time(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    usual = planned(opening, requirement, tables)
    used = 2 * usual.wire_states[0].utilisation
    assert used > 0.95
    plan = planned(opening, requirement, tables, physics=thirsty(2))
    (contour,) = plan.contours
    # By hand: current goes with the feed, so the feed falls as 0.95 over what it would use.
    assert contour.flushing.margin_factor == pytest.approx(0.95 / used)
    assert plan.wire_states[0].utilisation == pytest.approx(0.95)
    assert plan.wire_states[0].risk is BreakRisk.RAISED
    (rough,) = [c for c in build_path(plan).cuts if c.kind is CutKind.ROUGH]
    wall = rough.moves.feed_mm_per_min[rough.moves.purpose == Purpose.WALL]
    assert wall.max() == pytest.approx(plan.passes[0].feed_mm_per_min * 0.95 / used)
    reasons = {r.quantity: r for r in contour.flushing.reasons}
    assert reasons["margin_factor"].value == contour.flushing.margin_factor
    held, thin = (
        next(f for f in plan.findings if f.code == code)
        for code in ("feed-held-by-wire", "wire-break-margin-thin")
    )
    assert contour.target.id in held.message
    assert "95% of the mean current" in thin.message
    assert "0.3 mm" in thin.remedy
    assert "a rank, not a count" in thin.message


def test_the_warning_names_open_nozzles_first_where_they_are_what_limits(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    tall = replace(requirement, height_mm=150.0)
    rules = replace(RULES, nozzles=Flushing.BOTH_OPEN)
    plan = planned(opening, tall, tables, rules=rules, physics=thirsty(2.3))
    (thin,) = [f for f in plan.findings if f.code == "wire-break-margin-thin"]
    assert thin.remedy.startswith("close the nozzles")


def test_beside_the_edge_and_away_from_it_the_wire_is_judged_at_the_feed_of_that_place(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-2.2, -12.2, 52.2, 32.2))
    plan = planned(part, requirement, tables)
    (contour,) = plan.contours
    assert 0 < contour.flushing.edge_share < 1
    # At 40 % of the feed the wire is cooler beside the edge, and dirtier.
    rough = plan.wire_states[0]
    assert rough.flushing is Flushing.SEALED
    assert rough.feed_mm_per_min == plan.passes[0].feed_mm_per_min
    assert contour.flushing.breaks_by_dirt > 1
    assert contour.flushing.breaks_beside > contour.flushing.breaks
    # A wire that wants more current is held in both places by itself.
    held = planned(part, requirement, tables, physics=thirsty(4)).contours[0].flushing
    assert held.margin_factor < held.beside_margin_factor
    assert held.along_factor == pytest.approx(contour.flushing.along_factor * held.margin_factor)
    assert held.beside_factor == pytest.approx(0.4 * held.beside_margin_factor)


def test_breaks_beside_the_edge_count_by_the_time_spent_there(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-2.2, -12.2, 52.2, 32.2))
    state = planned(part, requirement, tables).contours[0].flushing
    whole, clear = (
        planned(
            make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=stock), requirement, tables
        )
        .contours[0]
        .flushing
        for stock in (box(-2.2, -2.2, 42.2, 22.2), box(-20, -20, 60, 40))
    )
    # By hand: times of the two parts of the way, at 40 % and at the full feed.
    beside, along = state.edge_share / 0.4, 1 - state.edge_share
    by_hand = (beside * whole.breaks + along * clear.breaks) / (beside + along)
    assert whole.edge_share == 1
    assert clear.edge_share == 0
    assert state.breaks == pytest.approx(by_hand)


def test_a_gap_given_as_a_number_takes_the_factor_of_the_flow_model(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    factors = []
    for gap in (0.1, 0.3, 0.5, 2.0):
        nozzles = Flushing.ONE_OPEN if gap > 0.2 else Flushing.SEALED
        rules = replace(RULES, nozzles=nozzles, upper_gap_mm=gap)
        (contour,) = planned(opening, requirement, tables, rules=rules).contours
        factors.append(contour.flushing.rate_factor)
    # The page on flushing: 0.85 at 0.5 mm and 0.67 for one nozzle open, at 20 mm.
    assert factors[0] == 1
    assert factors == sorted(factors, reverse=True)
    assert factors[2] == pytest.approx(0.85, abs=0.005)
    assert factors[3] == pytest.approx(0.67, abs=0.005)


def test_a_nozzle_kept_off_lengthens_the_free_wire(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    usual = planned(opening, requirement, tables)
    rules = replace(RULES, nozzles=Flushing.ONE_OPEN, upper_gap_mm=60.0)
    off = planned(opening, requirement, tables, rules=rules)
    # A string under an even push over the height: the bow goes with h (2 L - h), the frequency
    # with 1/L.  By hand: L = 20 + 2 * 10 + 60 = 100 mm, 20 * (200 - 20) = 3600 over
    # 20 * (80 - 20) = 1200.
    rough, usual_rough = off.wire_states[0], usual.wire_states[0]
    assert rough.lag_um / usual_rough.lag_um == pytest.approx(3600 / 1200)
    assert rough.barrel_um == usual_rough.barrel_um
    frequencies = rough.natural_frequency_hz, usual_rough.natural_frequency_hz
    assert frequencies[0] / frequencies[1] == pytest.approx(40 / 100)
    (told,) = [r for r in rough.reasons if r.quantity == "natural_frequency_hz"]
    assert dict(told.inputs)["L_mm"] == 100
    answers = plan_answers(off, technology=tables.technology, physics=PHYSICS)
    lags = [a.reason for a in answers if a.reason.quantity == "lag_um"]
    assert len(lags) == len(off.passes)
    assert all(dict(r.inputs)["L_mm"] == 100 for r in lags)
    limits, usual_limits = (limits_of(p, physics=PHYSICS) for p in (off, usual))
    assert limits[1].lag_um / usual_limits[1].lag_um == pytest.approx(3)


def test_both_gaps_count_for_the_free_wire() -> None:
    rules = replace(RULES, upper_gap_mm=3.0, lower_gap_mm=4.5)
    tension = PHYSICS.with_nozzles_off(rules.nozzles_off_mm).tension
    assert tension.span_mm(20.0) == 47.5
    assert RULES.nozzles_off_mm == (0, 0)


def test_gaps_beyond_the_room_of_the_machine_are_refused(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    def refusals(gap_mm: float) -> list[Finding]:
        rules = replace(RULES, nozzles=Flushing.ONE_OPEN, upper_gap_mm=gap_mm)
        plan = planned(opening, requirement, tables, rules=rules)
        return [f for f in plan.findings if f.code == "nozzles-beyond-machine"]

    limit = requirement.machine.max_height_mm
    assert not refusals(limit - 20)
    (refusal,) = refusals(500.0)
    assert refusal.severity is Severity.REFUSAL
    assert refusal.data == {"value_mm": 520.0, "limit_mm": limit}
    assert "upper 500 mm off" in refusal.message
    assert f"{limit:.4g} mm" in refusal.message
    assert f"no more than {limit - 20:.4g} mm" in refusal.remedy


def test_work_above_the_bath_is_slower_only_where_a_nozzle_is_open(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    def factor(nozzles: Flushing, bath: Bath) -> float:
        rules = replace(RULES, nozzles=nozzles, bath=bath)
        return planned(opening, requirement, tables, rules=rules).contours[0].flushing.rate_factor

    assert factor(Flushing.SEALED, Bath.OPEN_AIR) == factor(Flushing.SEALED, Bath.SUBMERGED)
    # By hand: 1.25 times the dirt to the power -0.42 is 0.911.
    ratio = factor(Flushing.ONE_OPEN, Bath.OPEN_AIR) / factor(Flushing.ONE_OPEN, Bath.SUBMERGED)
    assert ratio == pytest.approx(1.25**-0.42)


def test_the_breaks_of_the_state_go_on_evenly_where_a_gap_counts_as_open(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    # Gaps to 0.2 mm count as closed nozzles, and the feed is that of the gap before and after.
    asked = replace(requirement, height_mm=80.0)

    def breaks(gap_mm: float) -> float:
        nozzles = Flushing.BOTH_OPEN if gap_mm > 0.2 else Flushing.SEALED
        rules = replace(RULES, nozzles=nozzles, upper_gap_mm=gap_mm, lower_gap_mm=gap_mm)
        plan = planned(opening, asked, tables, rules=rules)
        closed = max(c.flushing.breaks_closed for c in plan.contours)
        assert plan.wire_states[0].relative_breaks >= closed - 1e-12
        return plan.wire_states[0].relative_breaks

    below, above = breaks(0.2), breaks(0.2001)
    assert above == pytest.approx(below, rel=1e-3)


def test_a_wire_run_slowly_is_worn_through_so_that_the_feed_is_held(
    opening: Part, requirement: Requirement, tables: Tables
) -> None:
    def wires_at(speed: float) -> Tables:
        known = tables.catalogue
        # Of its own kind alone: the others run as fast as their tables say.
        usual = replace(known.default_wire, run_speed_m_per_min=speed)
        kinds = tuple(
            replace(k, wires=tuple(replace(w, run_speed_m_per_min=speed) for w in k.wires))
            if known.default_wire in k.wires
            else k
            for k in known.wire_kinds
        )
        return replace(tables, catalogue=replace(known, wire_kinds=kinds, default_wire=usual))

    asked = replace(requirement, height_mm=70.0)
    usual, slow, crawling = (planned(opening, asked, wires_at(v)) for v in (10.0, 4.0, 1.5))
    states = [one.wire_states[0] for one in (usual, slow, crawling)]
    assert states[0].relative_breaks < states[1].relative_breaks
    held = [[f.code for f in one.findings].count("feed-held-by-wire") for one in (usual, crawling)]
    assert held == [0, 1]
    (thin,) = [f for f in crawling.findings if f.code == "wire-break-margin-thin"]
    assert thin.remedy.startswith("run the wire at 2.25 m/min (")
    assert states[2].feed_mm_per_min < 0.8 * states[0].feed_mm_per_min
