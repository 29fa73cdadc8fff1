"""Slow corners cost what the program's text says they cost."""

from __future__ import annotations

import pytest
from test_price_against_program import minutes_of
from tests.conftest import PartMaker

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.costing.estimate import estimate
from kerfwright.geometry.contour import Contour
from kerfwright.nc.reader import read_program
from kerfwright.nc.writer import write_program
from kerfwright.planning.planner import make_plan
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

TABLES = load_tables()
TOOTHED = [
    (0, 0),
    (6, 0),
    (6, 2),
    (8, 2),
    (8, 0),
    (14, 0),
    (14, 9),
    (9, 9),
    (9, 7),
    (5, 7),
    (5, 9),
    (0, 9),
]


def test_slow_corners_lengthen_program_and_bill_alike(make_part: PartMaker) -> None:
    machine = load_machine()
    wanted = Requirement(
        material=TABLES.catalogue.material("D2"),
        height_mm=80.0,
        machine=machine,
        tolerance_um=10.0,
        ra_um=1.6,
    )
    plan = make_plan(
        make_part([(Role.OPENING, Contour.from_rows(TOOTHED), None)]),
        wanted,
        technology=TABLES.technology,
        catalogue=TABLES.catalogue,
        rules=TABLES.rules,
    )
    billed, read = {}, {}
    for physics in (None, load_wire_physics()):
        path = build_path(plan, physics=physics)
        text = write_program(path, machine=machine, title="toothed")
        read[physics is not None] = minutes_of(read_program(text, machine=machine))
        found = estimate(plan, path, rates=TABLES.rates)
        cutting = [t for t in found.times if "pass" in t.operation or t.operation == "cut-off"]
        billed[physics is not None] = sum(t.minutes.likely for t in cutting)
    # Feeds carry three decimals: up to 0.0005 in 1.4 mm/min, and in 0.5 in slow zones.
    assert billed[True] == pytest.approx(read[True], rel=5e-4)
    assert billed[False] == pytest.approx(read[False], rel=5e-4)
    assert 1.005 < billed[True] / billed[False] < 1.5
