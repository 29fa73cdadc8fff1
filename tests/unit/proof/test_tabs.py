"""The bridge that the rough pass leaves is measured."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.planning.planner import make_plan
from kerfwright.proof.prove import prove_program
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path


@pytest.fixture
def plan(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Plan:
    part = make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, Contour.circle((20, 20), radius_mm=8), "P1"),
        ]
    )
    return make_plan(
        part,
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )


def codes(plan: Plan, claim_plan: Plan) -> set[str]:
    text = write_program(build_path(plan), machine=plan.requirement.machine, title="tabs")
    return {f.code for f in prove_program(text, claim_of(claim_plan)).findings}


def test_the_planned_tab_is_found_wide_enough(plan: Plan) -> None:
    assert "tab-too-narrow" not in codes(plan, plan)


@pytest.mark.parametrize("width", [0.05, 1.0, 2.0])
def test_a_tab_cut_narrower_than_planned_is_refused(plan: Plan, width: float) -> None:
    def narrow(c: ContourPlan) -> ContourPlan:
        by = c.tab.width_mm - width
        start = (c.tab.start_station_mm + by) % c.target.contour.length_mm
        return replace(c, tab=replace(c.tab, start_station_mm=start))

    spoilt = replace(plan, contours=tuple(map(narrow, plan.contours)))
    assert "tab-too-narrow" in codes(spoilt, plan)
