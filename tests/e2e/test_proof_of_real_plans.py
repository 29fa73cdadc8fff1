"""Programs as the planner and the writer make them: they pass, and faults in them are caught."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.planted_faults import MUTATORS
from tests.small_programs import KEY, Program, contour_of
from tests.soak import SOAK

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.foundation.errors import ProgramError
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.memory import Memory
from kerfwright.planning.order import order_operations
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.planning.wires import paths_of
from kerfwright.process.technology import Pass
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import EventKind
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.wirepath.builder import build_path

EVERY = 3 if SOAK else 29


ALIKE: dict[str, Demand] = {}
OWN = {"H1": Demand(tolerance_um=2.5, ra_um=0.3), "P1": Demand(tolerance_um=25.0, ra_um=3.0)}
"""A bore finer than the job, an outline that the rough pass serves."""


@pytest.fixture(
    params=[(form, own) for own in (ALIKE, OWN) for form in OffsetForm],
    ids=lambda p: p[0].value + (", own passes" if p[1] else ""),
)
def program(
    request: pytest.FixtureRequest,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> Program:
    """A plate with a round hole and a keyed opening, cut from stock."""
    plate = box(-10.0, -10.0, 80.0, 40.0)
    hole = Contour.circle((10.0, 12.0), radius_mm=6.0)
    key = contour_of(list(KEY.corners))
    part = make_part(
        [(Role.OUTLINE, plate, None), (Role.OPENING, hole, "P1"), (Role.OPENING, key, "P1")]
    )
    form, own = request.param
    dialect = replace(requirement.machine.dialect, offset_form=form)
    wanted = replace(
        requirement, machine=replace(requirement.machine, dialect=dialect), contours=own
    )
    plan = make_plan(
        part, wanted, technology=tables.technology, catalogue=tables.catalogue, rules=tables.rules
    )
    text = write_program(build_path(plan), machine=wanted.machine, title="PLATE")
    return Program("plate", text, claim_of(plan))


def mixed_plan(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Plan:
    """A plate with two bores: H1 fine, H2 and the outline as the job."""
    part = make_part(
        [
            (Role.OUTLINE, box(0.0, 0.0, 60.0, 30.0), None),
            (Role.OPENING, Contour.circle((15.0, 15.0), radius_mm=6.0), "P1"),
            (Role.OPENING, Contour.circle((45.0, 15.0), radius_mm=6.0), "P1"),
        ]
    )
    wanted = replace(requirement, contours={"H1": Demand(tolerance_um=2.5)})
    return make_plan(
        part, wanted, technology=tables.technology, catalogue=tables.catalogue, rules=tables.rules
    )


def written_with(plan: Plan, name: str, passes: tuple[Pass, ...]) -> str:
    """Return the whole program of a plan in which one contour has other passes; all agrees."""
    contours = []
    for c in plan.contours:
        if c.target.id == name:
            choice = replace(c.choice, passes=passes)
            paths = paths_of(c.target, choice, Memory())
            contours.append(replace(c, choice=choice, loops=paths.loops))
        else:
            contours.append(c)
    other = replace(
        plan, contours=tuple(contours), operations=order_operations(contours, skim_flushing="")
    )
    return write_program(build_path(other), machine=plan.requirement.machine, title="PLATE")


def refused(text: str, plan: Plan) -> set[str]:
    proof = prove_program(text, claim_of(plan))
    assert proof.passed == (not proof.findings)
    return {f.code for f in proof.findings}


def test_a_bore_cut_with_the_offsets_of_the_others_is_refused(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = mixed_plan(make_part, requirement, tables)
    fine, usual = (
        next(c for c in plan.contours if c.target.id == name).passes for name in ("H1", "H2")
    )
    assert (len(fine), len(usual)) == (5, 3)
    assert refused(written_with(plan, "H1", fine), plan) == set()
    # Header and path agree, and every skim is there: only the claim knows better.
    loose = tuple(
        replace(p, offset_mm=usual[p.number - 1].offset_mm) if p.number <= 3 else p for p in fine
    )
    assert "offset-not-planned" in refused(written_with(plan, "H1", loose), plan)


def test_a_bore_with_the_skims_of_the_others_is_refused_and_the_reverse(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = mixed_plan(make_part, requirement, tables)
    fine, usual = (
        next(c for c in plan.contours if c.target.id == name).passes for name in ("H1", "H2")
    )
    assert {"missing-pass", "offset-not-planned"} <= refused(written_with(plan, "H1", usual), plan)
    assert "pass-not-planned" in refused(written_with(plan, "H2", fine), plan)


def test_a_skim_left_out_of_one_contour_is_missed_although_others_have_fewer(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = mixed_plan(make_part, requirement, tables)
    whole = [o for o in plan.operations if (o.contour_id, o.pass_number) != ("H1", 4)]
    short = replace(
        plan, operations=tuple(replace(o, number=k) for k, o in enumerate(whole, start=1))
    )
    text = write_program(build_path(short), machine=plan.requirement.machine, title="PLATE")
    assert refused(text, plan) == {"missing-pass"}


def test_a_planned_program_passes_without_any_finding(program: Program) -> None:
    proof = prove_program(program.text, program.claim)
    assert proof.findings == ()
    assert proof.max_gouge_um <= program.claim.tolerance_um
    assert proof.max_leftover_um <= program.claim.tolerance_um
    freed = [e for e in proof.events if e.kind is EventKind.PIECE_FREE]
    assert {e.contour_id for e in freed} == {"P1", "H1", "H2"}
    assert all(e.is_attended for e in freed)


def test_faults_planted_in_a_planned_program_are_caught(program: Program) -> None:
    missed = []
    planted = 0
    for mutator in MUTATORS:
        for fault in list(mutator(program.text, program.claim))[::EVERY]:
            planted += 1
            try:
                proof = prove_program(fault.text, program.claim)
            except ProgramError:
                continue
            if proof.passed:
                missed.append((fault.kind, fault.name))
    assert planted > 30
    assert missed == []
