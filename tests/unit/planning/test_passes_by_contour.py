"""Every contour has the passes that its own demands ask for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.json_shapes import plan_shape
from kerfwright.adapters.tables import Tables
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Severity
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import OperationKind, Plan
from kerfwright.planning.planner import make_plan
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Part, Role
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.wirepath.builder import build_path


@pytest.fixture
def part(make_part: PartMaker) -> Part:
    return make_part(
        [
            (Role.OUTLINE, box(0, 0, 60, 40), None),
            (Role.OPENING, Contour.circle((15, 20), radius_mm=8), "P1"),
            (Role.OPENING, Contour.circle((45, 20), radius_mm=8), "P1"),
        ]
    )


def planned(part: Part, wanted: Requirement, tables: Tables) -> Plan:
    return make_plan(
        part, wanted, technology=tables.technology, catalogue=tables.catalogue, rules=tables.rules
    )


@pytest.fixture
def plan(part: Part, requirement: Requirement, tables: Tables) -> Plan:
    """±5 µm asks three passes, ±2.5 µm five, ±25 µm the rough pass."""
    own = {"H1": Demand(tolerance_um=2.5), "P1": Demand(tolerance_um=25.0, ra_um=3.7)}
    return planned(part, replace(requirement, contours=own), tables)


def test_each_contour_has_as_many_passes_as_it_asks_for(plan: Plan) -> None:
    assert {c.target.id: len(c.passes) for c in plan.contours} == {"P1": 1, "H2": 3, "H1": 5}
    assert len(plan.passes) == 5
    assert plan.contours_by_count() == ((5, ("H1",)), (3, ("H2",)), (1, ("P1",)))


def test_offsets_leave_the_stock_of_the_later_passes_of_their_own_contour(plan: Plan) -> None:
    # o_n = d/2 + g_n + stock of later passes, restated.
    for c in plan.contours:
        for k, one in enumerate(c.passes):
            later_um = sum(p.stock_um for p in c.passes[k + 1 :])
            wanted = plan.choice.wire.radius_mm + (one.gap_um + later_um) / 1000
            assert one.offset_mm == pytest.approx(wanted, abs=1e-12)
        assert len(c.loops) == len(c.passes)


def test_a_pass_of_one_number_is_the_same_but_for_its_offset(plan: Plan) -> None:
    for c in plan.contours:
        for one, of_job in zip(c.passes, plan.passes, strict=False):
            same = replace(one, offset_mm=0.0, reasons=())
            assert same == replace(of_job, offset_mm=0.0, reasons=())


def test_passes_that_a_contour_has_not_are_skipped(plan: Plan) -> None:
    skims: dict[str, set[int]] = {c.target.id: set() for c in plan.contours}
    for operation in plan.operations:
        if operation.kind is OperationKind.SKIM:
            skims[operation.contour_id].add(operation.pass_number)
    assert skims == {"P1": set(), "H2": {2, 3}, "H1": {2, 3, 4, 5}}
    kinds = [o.kind for o in plan.operations]
    last_rough = max(k for k, kind in enumerate(kinds) if kind is OperationKind.ROUGH)
    assert last_rough < kinds.index(OperationKind.SKIM)


def test_a_demand_that_is_the_jobs_changes_nothing(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    own = {"H1": requirement.demand, "H2": Demand(tolerance_um=requirement.tolerance_um)}
    alike = planned(part, replace(requirement, contours=own), tables)
    usual = planned(part, requirement, tables)
    mine, theirs = plan_shape(alike), plan_shape(usual)
    mine["requirement"]["contours"] = {}
    assert mine == theirs


def test_one_contour_beyond_the_process_is_refused_by_name_and_left_out(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    wanted = replace(requirement, contours={"H2": Demand(tolerance_um=0.1)})
    plan = planned(part, wanted, tables)
    (refusal,) = [f for f in plan.findings if f.severity is Severity.REFUSAL]
    assert {c.target.id for c in plan.contours} == {"P1", "H1"}
    # The passes of the others do not follow what nobody can hold.
    assert len(plan.passes) == 3
    assert refusal.code == "tolerance-beyond-process"
    assert refusal.where.contour_id == "H2"
    assert "asked of H2" in refusal.message


def test_where_nothing_can_be_held_the_plan_shows_what_comes_nearest(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    own = {"H2": Demand(tolerance_um=0.1), "H1": Demand(tolerance_um=0.2)}
    plan = planned(part, replace(requirement, tolerance_um=0.3, contours=own), tables)
    assert {c.target.id for c in plan.contours} == {"P1", "H1", "H2"}


def test_every_contour_of_a_demand_beyond_the_process_has_its_refusal(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    own = dict.fromkeys(("H1", "H2"), Demand(ra_um=0.05))
    plan = planned(part, replace(requirement, contours=own), tables)
    refused = [f.where.contour_id for f in plan.findings if f.severity is Severity.REFUSAL]
    assert refused == ["H1", "H2"]
    assert [c.target.id for c in plan.contours] == ["P1"]


def test_a_demand_on_a_contour_that_is_not_there_is_refused(
    part: Part, requirement: Requirement, tables: Tables
) -> None:
    with pytest.raises(InputError, match="it has P1, H1, H2"):
        planned(part, replace(requirement, contours={"H3": Demand(ra_um=1.0)}), tables)


def test_only_the_contour_whose_kerf_reaches_over_is_refused(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # The rough kerf is d/2 + gap beyond its path: 0.330 mm alone, 0.384 mm with all skims.
    pair = make_part(
        [(Role.OUTLINE, box(0, 0, 20, 20), None), (Role.OUTLINE, box(20.35, 0, 40, 20), None)]
    )
    own = {"P1": Demand(tolerance_um=2.5), "P2": Demand(tolerance_um=25.0, ra_um=3.7)}
    found = planned(pair, replace(requirement, contours=own), tables).findings
    assert [f.where.contour_id for f in found if f.code == "walls-closer-than-kerf"] == ["P1"]


def test_the_offset_table_has_a_number_for_each_pass_and_offset(plan: Plan) -> None:
    dialect = replace(plan.requirement.machine.dialect, offset_form=OffsetForm.CONTROLLER)
    machine = replace(plan.requirement.machine, dialect=dialect)
    text = write_program(build_path(plan), machine=machine, title="PLATE")
    table = [line for line in text.splitlines() if line.startswith("G10 L1")]
    pairs = {(p.number, round(p.offset_mm, 4)) for c in plan.contours for p in c.passes}
    assert len(table) == len(pairs) == 9


def test_two_passes_of_one_offset_keep_a_number_each(plan: Plan) -> None:
    # Who corrects one at the control must not move the other.
    path = build_path(plan)
    same = replace(path, cuts=tuple(replace(c, offset_mm=0.2) for c in path.cuts))
    dialect = replace(plan.requirement.machine.dialect, offset_form=OffsetForm.CONTROLLER)
    machine = replace(plan.requirement.machine, dialect=dialect)
    text = write_program(same, machine=machine, title="PLATE")
    assert text.count("G10 L1") == 5
