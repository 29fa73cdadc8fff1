"""Beside the edge of the stock the program has a feed of its own; the proof holds it to that."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.json_shapes import plan_shape
from kerfwright.adapters.plan_claims import claim_from
from kerfwright.adapters.tables import Tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.regions import nearest_station
from kerfwright.geometry.segments import Segments
from kerfwright.motion.moves import CutKind, Moves, Purpose
from kerfwright.nc.writer import write_program
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.planning.rules import CornerStyle
from kerfwright.proof.prove import prove_program
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path
from kerfwright.wirepath.contour_frame import ContourFrame

PHYSICS = load_wire_physics()
REACH_MM = 3.0


@pytest.fixture
def plan(make_part: PartMaker, requirement: Requirement, tables: Tables):
    # The left side runs 2 mm inside the edge of the stock, the others 12 mm or more.
    part = make_part([(Role.OUTLINE, box(0, 0, 40, 20), None)], stock=box(-2.2, -12.2, 52.2, 32.2))

    def make(corners: CornerStyle = CornerStyle.ROLL) -> Plan:
        return make_plan(
            part,
            requirement,
            technology=tables.technology,
            catalogue=tables.catalogue,
            rules=replace(tables.rules, outside_corners=corners),
            physics=PHYSICS,
        )

    return make


def middles(moves: Moves) -> np.ndarray:
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    return (begin + moves.end_mm) / 2


@pytest.mark.parametrize("corners", list(CornerStyle))
@pytest.mark.parametrize("physics", [PHYSICS, None])
def test_the_moves_beside_the_edge_have_their_feed_and_the_others_theirs(
    plan, corners: CornerStyle, physics
) -> None:
    made = plan(corners)
    full = made.passes[0].feed_mm_per_min
    seen = 0
    for cut in build_path(made, physics=physics).cuts:
        if cut.kind is CutKind.SKIM:
            continue
        wall = np.isin(cut.moves.purpose, (Purpose.WALL, Purpose.CUT_OFF))
        # By hand: the edge nearest to the path is the line x = -2.2.
        away = middles(cut.moves)[wall, 0] + 2.2
        feed, length = cut.moves.feed_mm_per_min[wall], cut.moves.lengths_mm()[wall]
        assert (feed[away < REACH_MM] <= 0.4 * full * (1 + 1e-12)).all()
        # The longest move on either side has the plain feed: only corners are slower.
        for side, factor in ((away < REACH_MM, 0.4), (away > REACH_MM + 0.3, 1.0)):
            if side.any():
                longest = np.flatnonzero(side)[length[side].argmax()]
                assert feed[longest] == pytest.approx(factor * full)
                seen += 1
    assert seen >= 2


def test_the_feed_changes_no_oftener_than_there_are_stretches(plan) -> None:
    (rough,) = [c for c in build_path(plan()).cuts if c.kind is CutKind.ROUGH]
    on_wall = rough.moves.purpose != Purpose.LEAD_IN
    changes = np.count_nonzero(np.diff(rough.moves.feed_mm_per_min[on_wall]))
    assert changes <= 2 * len(plan().contours[0].flushing.beside)


def test_the_time_of_the_rough_cut_is_that_of_its_two_feeds(plan) -> None:
    made = plan()
    full, state = made.passes[0].feed_mm_per_min, made.contours[0].flushing
    cuts = [c.moves for c in build_path(made).cuts if c.kind is not CutKind.SKIM]
    minutes = sum(
        float((m.lengths_mm() / m.feed_mm_per_min)[np.isin(m.purpose, ON_WALL)].sum()) for m in cuts
    )
    way = made.contours[0].loops[0].contour.length_mm
    by_hand = way * ((1 - state.edge_share) + state.edge_share / 0.4) / full
    assert minutes == pytest.approx(by_hand, rel=0.01)
    assert minutes == pytest.approx(way / (full * state.rate_factor), rel=0.01)


ON_WALL = (Purpose.WALL, Purpose.CORNER, Purpose.CUT_OFF)


@pytest.mark.parametrize("corners", list(CornerStyle))
@pytest.mark.parametrize("form", list(OffsetForm))
def test_the_program_passes_and_one_too_fast_beside_the_edge_is_refused(
    plan, form: OffsetForm, corners: CornerStyle
) -> None:
    made = plan(corners)
    machine = made.requirement.machine
    machine = replace(machine, dialect=replace(machine.dialect, offset_form=form))
    text = write_program(build_path(made, physics=PHYSICS), machine=machine, title="edge")
    assert prove_program(text, claim_of(made)).passed
    # Every slow feed beside the edge taken for that of the cut.
    feeds = sorted({float(f) for f in re.findall(r"F([\d.]+)", text)})
    full = made.passes[0].feed_mm_per_min
    slow = min(feeds, key=lambda f: abs(f - 0.4 * full))
    fast = min(feeds, key=lambda f: abs(f - full))
    (written,) = {f for f in re.findall(r"F([\d.]+)", text) if float(f) == slow}
    (wanted,) = {f for f in re.findall(r"F([\d.]+)", text) if float(f) == fast}
    wrong = re.sub(rf"F{re.escape(written)}(?=\D|$)", f"F{wanted}", text)
    proof = prove_program(wrong, claim_of(made))
    assert {f.code for f in proof.findings} == {"feed-above-edge"}


def test_the_claim_read_back_from_the_plan_document_has_the_feed_beside_the_edge(plan) -> None:
    made = plan()
    direct = claim_of(made)
    read = claim_from(plan_shape(made, claim=direct))
    assert read.edge_feed_mm_per_min == pytest.approx(direct.edge_feed_mm_per_min)
    assert read.edge_reach_mm == direct.edge_reach_mm == REACH_MM
    assert read.feed_mm_per_min == pytest.approx(direct.feed_mm_per_min)


NO_WALLS = NearestIndex(Segments.joined([box(900, 900, 910, 910).segments]))


def test_a_lead_in_that_meets_the_wall_beside_the_edge_takes_the_feed_there(plan) -> None:
    made = plan()
    (contour,) = made.contours
    full = made.passes[0].feed_mm_per_min * made.rules.lead_feed_factor
    # By hand: the middle of the left side, 2.2 mm from the edge, and that of the right one.
    for x_mm, factor in ((0.0, 0.4), (40.0, 1.0)):
        station, _ = nearest_station(contour.target.contour, (x_mm, 10.0))
        here = replace(contour, lead_station_mm=station)
        assert ContourFrame(made, here, NO_WALLS).feeds(1)[Purpose.LEAD_IN] == pytest.approx(
            factor * full
        )


def test_a_memory_keeps_cuts_by_what_of_them_runs_beside_the_edge(plan) -> None:
    made = plan()
    (contour,) = made.contours
    state = contour.flushing
    assert len(state.beside) == 1
    memory = Memory()
    build_path(made, memory=memory)
    none = replace(state, beside=())
    (stretch,) = state.beside
    short = replace(state, beside=(replace(stretch, end_mm=stretch.end_mm - 4.0),))
    for other in (none, short):
        changed = replace(made, contours=(replace(contour, flushing=other),))
        kept, fresh = build_path(changed, memory=memory), build_path(changed)
        for one, two in zip(kept.cuts, fresh.cuts, strict=True):
            assert one.moves.feed_mm_per_min.tolist() == two.moves.feed_mm_per_min.tolist()
