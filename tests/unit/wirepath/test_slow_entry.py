"""A cut from the edge of the stock begins slowly, and its time counts that."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.plan_job import claim_of
from kerfwright.motion.moves import CutKind, Moves
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan, StartKind
from kerfwright.planning.planner import make_plan
from kerfwright.proof.prove import prove_program
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Role
from kerfwright.trade.placement import Placement
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

PHYSICS = load_wire_physics()


@pytest.fixture
def edge_plan(make_part: PartMaker, requirement: Requirement, tables: Tables):
    part = make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-1, -1, 41, 21))

    def make(**rules: float) -> Plan:
        plan = make_plan(
            part,
            requirement,
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=replace(tables.rules, **rules),
            physics=PHYSICS,
        )
        assert plan.contours[0].start.kind is StartKind.EDGE
        return plan

    return make


def rough_moves(plan: Plan) -> Moves:
    (cut,) = [c for c in build_path(plan, physics=PHYSICS).cuts if c.kind is CutKind.ROUGH]
    return cut.moves


def test_the_first_millimetres_of_metal_keep_the_feed_of_the_lead_in(edge_plan) -> None:
    plan = edge_plan()
    contour = plan.contours[0]
    start = np.array([contour.start.x_mm, contour.start.y_mm])
    # By hand: the stock is 1 mm wider than the part on every side, the start beyond that.
    outside = np.max(np.abs(start - np.array([20, 10])) - np.array([21, 11]))
    assert contour.flushing.slow_entry_mm == pytest.approx(outside + 3.0, abs=0.021)
    moves = rough_moves(plan)
    ends = np.cumsum(moves.lengths_mm())
    full = plan.passes[0].feed_mm_per_min * contour.flushing.rate_factor
    within = ends <= contour.flushing.slow_entry_mm + 1e-9
    assert within.any()
    assert moves.feed_mm_per_min[within] == pytest.approx(full * 0.5)
    # Behind the zone the feed is that of the cut again, but for its corners.
    assert moves.feed_mm_per_min.max() == pytest.approx(full)
    # The zone itself ends where it should: a move ends there.
    assert np.abs(ends - contour.flushing.slow_entry_mm).min() < 0.06


def test_an_entry_is_no_faster_than_a_cut_beside_the_edge_and_says_why_it_is_there(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # No wall is nearer to the edge than 8 mm: all of the cut but its entry has closed nozzles.
    plan = make_plan(
        make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-8, -8, 48, 28)),
        replace(requirement, placements={"P1": Placement(start_mm=(-9.0, 10.0))}),
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
        physics=PHYSICS,
    )
    (contour,) = plan.contours
    assert contour.start.kind is StartKind.EDGE
    assert not contour.flushing.beside
    moves = rough_moves(plan)
    entry = np.cumsum(moves.lengths_mm()) <= contour.flushing.slow_entry_mm
    # The trade's factor of nozzles that are both open, where half the feed is that of a hole.
    assert moves.feed_mm_per_min[0] == pytest.approx(0.4 * plan.passes[0].feed_mm_per_min)
    assert (moves.feed_mm_per_min[entry] <= 0.4 * plan.passes[0].feed_mm_per_min + 1e-9).all()
    assert "at most 40% of the usual rough feed" in contour.flushing.advice
    (said,) = [f for f in plan.findings if f.code == "start-from-edge"]
    assert "its start was placed there" in said.message


def test_its_time_is_longer_by_the_length_at_half_the_feed(edge_plan) -> None:
    short, usual = edge_plan(slow_entry_mm=2.0), edge_plan(slow_entry_mm=3.0)
    minutes = [
        float((m.lengths_mm() / m.feed_mm_per_min).sum())
        for m in (rough_moves(p) for p in (short, usual))
    ]
    feed = usual.passes[0].feed_mm_per_min * usual.contours[0].flushing.rate_factor
    # One more millimetre at half the feed takes as long again.
    assert minutes[1] - minutes[0] == pytest.approx(1.0 / feed, rel=0.05)


@pytest.mark.parametrize("form", list(OffsetForm))
def test_the_program_with_a_slow_entry_passes_its_proof(edge_plan, form: OffsetForm) -> None:
    plan = edge_plan()
    machine = plan.requirement.machine
    text = write_program(
        build_path(plan, physics=PHYSICS),
        machine=replace(machine, dialect=replace(machine.dialect, offset_form=form)),
        title="edge",
    )
    assert prove_program(text, claim_of(plan)).passed


def test_a_cut_from_a_hole_has_no_slow_entry_beyond_its_lead_in(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan = make_plan(
        make_part([(Role.OPENING, box(0, 0, 20, 10), None)]),
        requirement,
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
        physics=PHYSICS,
    )
    assert plan.contours[0].flushing.slow_entry_mm == 0
