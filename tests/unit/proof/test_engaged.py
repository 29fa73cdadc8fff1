"""Faults planted in programs: a skim sent where no cut before it cleared the metal is found."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.adapters.tables import Tables
from kerfwright.app.plan_job import claim_of
from kerfwright.geometry.contour import Contour
from kerfwright.motion.moves import Cut, CutKind, Moves, WirePath
from kerfwright.nc.writer import write_program
from kerfwright.planning.plan import Plan
from kerfwright.planning.planner import make_plan
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Proof
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.wirepath.builder import build_path

_MOUTH_MM = 20.0
"""The pallet slots of the anchor begin here, right of the room that the start hole stands in."""


def slotted(width_mm: float, length_mm: float = 5.0) -> Contour:
    """Return a square of 20 mm with a slot that ends dead on its right."""
    low, high = 10 - width_mm / 2, 10 + width_mm / 2
    end = _MOUTH_MM + length_mm
    rows = [(0, 0), (20, 0), (20, low), (end, low), (end, high), (20, high), (20, 20), (0, 20)]
    return Contour.from_rows(rows)


def made(
    role: Role, drawn: Contour, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> tuple[Plan, WirePath]:
    plan = make_plan(
        make_part([(role, drawn, None)]),
        replace(requirement, wire=tables.catalogue.wire("0.25 hard brass")),
        technology=tables.technology,
        catalogue=tables.catalogue,
        rules=tables.rules,
    )
    return plan, build_path(plan, physics=None)


def proved(plan: Plan, path: WirePath) -> Proof:
    text = write_program(path, machine=plan.requirement.machine, title="FAULT")
    return prove_program(text, claim_of(plan))


def without_slot(cut: Cut) -> Cut:
    """Return a cut that goes straight past the slot."""
    moves = cut.moves
    keep = np.flatnonzero(moves.end_mm[:, 0] < _MOUTH_MM - 0.01)
    turn = moves.turn[keep].copy()
    # The move over the gap, and arcs whose beginning is gone.
    turn[np.diff(keep, prepend=-1) > 1] = 0
    return replace(cut, moves=_taken(moves, keep, turn))


def _taken(moves: Moves, keep: np.ndarray, turn: np.ndarray) -> Moves:
    return replace(
        moves,
        end_mm=moves.end_mm[keep],
        centre_mm=moves.centre_mm[keep],
        turn=turn,
        purpose=moves.purpose[keep],
        feed_mm_per_min=moves.feed_mm_per_min[keep],
    )


def in_solid(proof: Proof) -> list[tuple[str | None, int | None]]:
    return [
        (f.where.contour_id, f.where.pass_number)
        for f in proof.findings
        if f.code == "skim-in-solid"
    ]


@pytest.fixture
def anchor(make_part: PartMaker, requirement: Requirement, tables: Tables) -> tuple[Plan, WirePath]:
    """Return an opening whose slot the rough pass fits."""
    return made(Role.OPENING, slotted(0.6), make_part, requirement, tables)


def test_a_slot_that_the_rough_pass_cut_may_be_skimmed(anchor: tuple[Plan, WirePath]) -> None:
    proof = proved(*anchor)
    assert proof.passed, [f.message for f in proof.findings]
    assert not in_solid(proof)


def test_a_slot_that_the_rough_pass_skips_is_refused_to_the_skim_with_place_and_depth(
    anchor: tuple[Plan, WirePath],
) -> None:
    plan, path = anchor
    cuts = tuple(without_slot(c) if c.kind is CutKind.ROUGH else c for c in path.cuts)
    proof = proved(plan, WirePath(cuts=cuts))
    # What pass 2 cuts is open to pass 3.
    assert in_solid(proof) == [("H1", 2)]
    (said,) = (f for f in proof.findings if f.code == "skim-in-solid")
    offset = plan.contours[0].passes[1].offset_mm
    kerf = 2 * (plan.choice.wire.radius_mm + plan.passes[0].gap_um / 1000)
    # From the end of the slot back to the kerf that ran past its mouth.
    rough_at = _MOUTH_MM - plan.contours[0].passes[0].offset_mm
    assert said.data["deep_mm"] == pytest.approx(25 - offset - rough_at - kerf / 2, abs=0.02)
    assert said.data["allowed_mm"] == pytest.approx(kerf)
    assert said.where.x_mm == pytest.approx(25 - offset, abs=0.05)
    text = write_program(WirePath(cuts=cuts), machine=plan.requirement.machine, title="FAULT")
    line = text.splitlines()[(said.where.line or 0) - 1]
    assert line.startswith(("G01", "G02", "G03", "X", "Y", "N")), line


def test_a_slot_that_only_the_last_pass_enters_is_refused_to_that_pass(
    anchor: tuple[Plan, WirePath],
) -> None:
    plan, path = anchor
    cuts = tuple(without_slot(c) if c.pass_number < 3 else c for c in path.cuts)
    assert in_solid(proved(plan, WirePath(cuts=cuts))) == [("H1", 3)]


def test_a_punch_with_a_slot_that_the_rough_pass_skips_is_refused(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    slot = [(20, 10.3), (25, 10.3), (25, 9.7), (20, 9.7)]
    punch = Contour.from_rows([(20, 0), (40, 0), (40, 20), (20, 20), *slot])
    plan, path = made(Role.OUTLINE, punch, make_part, requirement, tables)
    assert not in_solid(proved(plan, path))

    def filled(cut: Cut) -> Cut:
        moves = cut.moves
        x, y = moves.end_mm.T
        keep = np.flatnonzero(~((x > 20 + 1e-6) & (x < 26) & (y > 9) & (y < 11)))
        turn = moves.turn[keep].copy()
        turn[np.diff(keep, prepend=-1) > 1] = 0
        return replace(cut, moves=_taken(moves, keep, turn))

    cuts = tuple(filled(c) if c.kind is CutKind.ROUGH else c for c in path.cuts)
    assert in_solid(proved(plan, WirePath(cuts=cuts))) == [("P1", 2)]


def test_a_rough_pass_that_misses_a_stretch_of_plain_wall_is_found_too(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    plan, path = made(Role.OPENING, box(0, 0, 20, 20), make_part, requirement, tables)

    def cut_short(cut: Cut) -> Cut:
        """Leave the far corner out: straight from one side to the next."""
        moves = cut.moves
        x, y = moves.end_mm.T
        keep = np.flatnonzero(np.hypot(x - 20, y - 20) > 1.0)
        return replace(cut, moves=_taken(moves, keep, moves.turn[keep]))

    cuts = tuple(cut_short(c) if c.kind is CutKind.ROUGH else c for c in path.cuts)
    assert cuts[0].moves.end_mm.shape != path.cuts[0].moves.end_mm.shape
    assert ("H1", 2) in in_solid(proved(plan, WirePath(cuts=cuts)))


@pytest.mark.parametrize("half_deg", [12.0, 30.0, 45.0])
def test_the_tips_of_sharp_corners_are_allowed(
    half_deg: float, make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    depth = 2.0 / math.tan(math.radians(half_deg))
    rows = [(0, 0), (20, 0), (20, 8), (20 + depth, 10), (20, 12), (20, 20), (0, 20)]
    plan, path = made(Role.OPENING, Contour.from_rows(rows), make_part, requirement, tables)
    assert not in_solid(proved(plan, path))
