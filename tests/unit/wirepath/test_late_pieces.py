"""Pieces that a rough cut frees behind a neck: somebody is called before each, in time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.motion.moves import CutKind, WirePath
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan, RoughAttendance
from kerfwright.planning.planner import make_plan
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import EventKind, Proof
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path
from kerfwright.wirepath.controller_form import controller_form_refusals


def rooms(neck_mm: float, count: int = 2, *, side_mm: float = 12.0, way_mm: float = 4.0) -> Contour:
    """Return square rooms in a row, joined by necks."""
    low, high = (side_mm - neck_mm) / 2, (side_mm + neck_mm) / 2
    under: list[tuple[float, float]] = []
    over: list[tuple[float, float]] = []
    for k in range(count):
        x0, x1 = k * (side_mm + way_mm), k * (side_mm + way_mm) + side_mm
        under += [(x0, low)] * (k > 0) + [(x0, 0.0), (x1, 0.0)] + [(x1, low)] * (k < count - 1)
        over += [(x0, high)] * (k > 0) + [(x0, side_mm), (x1, side_mm)]
        over += [(x1, high)] * (k < count - 1)
    return Contour.from_rows([*under, *reversed(over)])


def made(
    drawn: Contour, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> tuple[Plan, WirePath]:
    plan = make_plan(
        make_part([(Role.OPENING, drawn, None)]),
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    return plan, build_path(plan, physics=None)


def proved(plan: Plan, path: WirePath) -> Proof:
    text = write_program(path, machine=plan.requirement.machine, title="ROOMS")
    return prove_program(text, claim_of(plan))


@pytest.mark.parametrize(("neck", "count"), [(0.22, 2), (0.4, 2), (0.4, 3)])
def test_a_piece_behind_a_neck_comes_free_with_somebody_there(
    neck: float, count: int, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan, path = made(rooms(neck, count), make_part, requirement, tables)
    (contour,) = plan.contours
    assert contour.rough_attendance is RoughAttendance.PIECES_COME_FREE
    (rough,) = (c for c in path.cuts if c.kind is CutKind.ROUGH)
    assert rough.stops_within
    proof = proved(plan, path)
    assert proof.passed, [f.message for f in proof.findings]
    freed = [e for e in proof.events if e.kind is EventKind.PIECE_FREE]
    # Once more than half of the inside is free the proof counts no further piece.
    assert len(freed) == 2
    assert all(e.is_attended for e in freed)
    # The same program without them is the one that the proof refuses.
    bare = replace(rough, stops_within=())
    cuts = tuple(bare if c is rough else c for c in path.cuts)
    assert "piece-falls-unattended" in {f.code for f in proved(plan, WirePath(cuts=cuts)).findings}


def test_a_stop_comes_before_the_piece_is_free_by_as_much_metal_as_the_least_tab(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan, path = made(rooms(0.4), make_part, requirement, tables)
    (rough,) = (c for c in path.cuts if c.kind is CutKind.ROUGH)
    ((move, stop),) = rough.stops_within
    assert "H1 COMES FREE SOON" in stop.instruction
    length = rough.moves.lengths_mm()
    # The kerf closes where the wire comes back to the mouth of the neck: 0.17 to 0.25 mm off.
    to_come = np.cumsum(length[move:])
    place = rough.moves.end_mm[move:]
    mouth = int(np.argmax(np.abs(place[:, 1] - 6.0) < 0.25))
    assert to_come[mouth] == pytest.approx(plan.rules.tab_min_mm, abs=0.3)


def test_the_parted_move_goes_the_same_way(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan, path = made(rooms(0.4), make_part, requirement, tables)
    (rough,) = (c for c in path.cuts if c.kind is CutKind.ROUGH)
    loop = plan.contours[0].loops[0].contour
    ((move, _),) = rough.stops_within
    away, _ = NearestIndex(loop.segments).query(rough.moves.end_mm[move - 1 : move])
    assert away[0] == pytest.approx(0.0, abs=1e-9)


def test_an_opening_of_one_piece_has_no_stop_on_its_way(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    _, path = made(rooms(3.0, side_mm=20.0), make_part, requirement, tables)
    assert not any(c.stops_within for c in path.cuts)


def test_a_control_that_applies_the_offset_is_refused_such_a_cut_by_name(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan, path = made(rooms(0.4), make_part, requirement, tables)
    (said,) = controller_form_refusals(plan, path)
    assert "comes free within its rough cut" in said.message
    assert "cut the inside away whole" in said.remedy
