"""Programs as the planner and the writer make them: they pass, and faults in them are caught."""

from __future__ import annotations

import os
from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box
from tests.planted_faults import MUTATORS
from tests.small_programs import KEY, Program, contour_of

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.foundation.errors import ProgramError
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.planner import make_plan
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import EventKind
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.wirepath.builder import build_path

EVERY = 3 if os.environ.get("KERFWRIGHT_SOAK") else 29


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
