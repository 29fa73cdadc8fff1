"""Findings where the wire trails too far even at the least feed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker

from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.planning.memory import Memory
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path
from kerfwright.wirepath.trailing import limits_of, trailing_findings

SHIPPED = load_wire_physics()
SQUARE = Contour.from_rows([(0, 0), (20, 0), (20, 20), (0, 20)])
ROUND = Contour.circle((0, 0), radius_mm=8)


def findings(
    wall: Contour,
    *,
    pressure_kpa: float,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> tuple[Finding, ...]:
    physics = replace(SHIPPED, push=replace(SHIPPED.push, pressure_kpa=pressure_kpa))
    plan = make_plan(
        make_part([(Role.OPENING, wall, None)]),
        replace(requirement, height_mm=60.0),
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    return trailing_findings(plan, build_path(plan, physics=physics), physics=physics)


@pytest.fixture
def scene(make_part: PartMaker, requirement: Requirement, tables: Tables) -> dict[str, object]:
    return {"make_part": make_part, "requirement": requirement, "tables": tables}


def test_at_the_shipped_push_every_corner_can_be_held(scene: dict[str, object]) -> None:
    assert findings(SQUARE, pressure_kpa=SHIPPED.push.pressure_kpa, **scene) == ()


def test_a_push_too_hard_to_slow_away_is_named_with_its_place(scene: dict[str, object]) -> None:
    found = findings(SQUARE, pressure_kpa=40.0, **scene)
    assert found
    for finding in found:
        assert finding.code == "wire-lag-beyond-allowance"
        assert finding.data["error_um"] > finding.data["allowed_um"]
        corner = min(abs(abs(finding.where.x_mm - 10) - 10), abs(abs(finding.where.y_mm - 10) - 10))
        assert corner < 0.5
    last = max(f.where.pass_number for f in found)
    assert {f.severity for f in found if f.where.pass_number < last} <= {Severity.NOTE}


def test_a_wide_bore_has_no_corner_to_trail_at(scene: dict[str, object]) -> None:
    assert findings(ROUND, pressure_kpa=40.0, **scene) == ()


def test_every_pass_of_the_plan_has_its_limit(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = make_plan(
        make_part([(Role.OPENING, SQUARE, None)]),
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    limits = limits_of(plan, physics=SHIPPED)
    assert sorted(limits) == [p.number for p in plan.passes]


def test_what_trails_is_remembered_by_how_the_feed_is_held(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    memory, part = Memory(), make_part([(Role.OPENING, SQUARE, None)])
    physics = replace(SHIPPED, push=replace(SHIPPED.push, pressure_kpa=40.0))

    def said(height_mm: float, shared: Memory | None) -> tuple[Finding, ...]:
        plan = make_plan(
            part,
            replace(requirement, height_mm=height_mm),
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=tables.rules,
            memory=shared,
        )
        path = build_path(plan, physics=physics, memory=shared)
        return trailing_findings(plan, path, physics=physics, memory=shared)

    heights = (60.0, 80.0, 60.0)
    assert [said(h, memory) for h in heights] == [said(h, None) for h in heights]
    assert said(60.0, memory) != said(80.0, memory)
