"""The running wire in plans: feed held to its margin, findings, and what helps."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables, load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.motion.moves import CutKind, Purpose
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import Bath, BreakRisk
from kerfwright.process.technology import Flushing
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

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


def test_beside_the_edge_the_wire_is_judged_at_the_feed_of_the_program(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    part = make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-2.2, -12.2, 52.2, 32.2))
    plan = planned(part, requirement, tables)
    (contour,) = plan.contours
    assert 0 < contour.flushing.edge_share < 1
    rough = plan.wire_states[0]
    assert rough.flushing is Flushing.BOTH_OPEN
    nominal = plan.passes[0].feed_mm_per_min
    assert rough.feed_mm_per_min == pytest.approx(nominal * contour.flushing.rate_factor)
    assert contour.flushing.breaks_by_dirt > 1


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
