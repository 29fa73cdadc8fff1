"""Good programs pass whatever digits, arcs and offsets the control reads."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.nc.writer import write_program
from kerfwright.planning.memory import Memory
from kerfwright.planning.planner import make_plan
from kerfwright.proof.prove import prove_program
from kerfwright.trade.machine import ArcForm, OffsetForm
from kerfwright.trade.part import LengthUnit, Part, Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

DIGITS = [
    (LengthUnit.INCH, 4),
    (LengthUnit.INCH, 5),
    (LengthUnit.INCH, 6),
    (LengthUnit.MILLIMETRE, 3),
    (LengthUnit.MILLIMETRE, 4),
]


def _turned(contour: Contour, angle: float) -> Contour:
    rows = contour.vertices.copy()
    cos, sin = math.cos(angle), math.sin(angle)
    rows[:, :2] = rows[:, :2] @ [[cos, sin], [-sin, cos]]
    return Contour.from_rows(rows.tolist(), is_closed=True)


@pytest.fixture(scope="module")
def plates(make_part: PartMaker) -> list[tuple[Part, Memory]]:
    """The same plate three ways turned, and lines that its plans for every dialect share."""
    return [
        (
            make_part(
                [
                    (Role.OUTLINE, _turned(box(-10.0, -10.0, 60.0, 40.0), angle), None),
                    (
                        Role.OPENING,
                        _turned(Contour.circle((10.0, 12.0), radius_mm=6.1), angle),
                        "P1",
                    ),
                ]
            ),
            Memory(),
        )
        for angle in (0.0, 0.1234, 0.777)
    ]


@pytest.mark.parametrize("offset_form", list(OffsetForm), ids=lambda f: f.value)
@pytest.mark.parametrize("arc_form", list(ArcForm), ids=lambda f: f.value)
@pytest.mark.parametrize(("unit", "decimals"), DIGITS)
def test_a_good_program_passes_in_every_dialect(
    plates: list[tuple[Part, Memory]],
    requirement: Requirement,
    tables: Tables,
    unit: LengthUnit,
    decimals: int,
    arc_form: ArcForm,
    offset_form: OffsetForm,
) -> None:
    dialect = replace(
        requirement.machine.dialect,
        unit=unit,
        decimals=decimals,
        feed_decimals=4,
        arc_form=arc_form,
        offset_form=offset_form,
    )
    wanted = replace(requirement, machine=replace(requirement.machine, dialect=dialect))
    for part, shapes in plates:
        memory = Memory(shapes)
        plan = make_plan(
            part,
            wanted,
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=tables.rules,
            memory=memory,
        )
        text = write_program(build_path(plan, memory=memory), machine=wanted.machine, title="PLATE")
        proof = prove_program(text, claim_of(plan))
        assert [f.code for f in proof.findings] == []
        assert proof.passed
