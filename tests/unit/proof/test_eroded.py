"""Faults planted in programs that cut the inside of an opening away: each must be found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from tests.conftest import PartMaker
from tests.coreless_openings import SHAPES, Eroded, eroded, swept

from kerfwright.adapters.tables import Tables
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import flattened
from kerfwright.motion.moves import Cut, Moves, Purpose, Turn, WirePath
from kerfwright.nc.writer import write_program
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Proof
from kerfwright.trade.requirement import Requirement

_FELT_MM2 = 1e-3
"""What is left is planted from here on: a square of 0.03 mm."""
_MOST_PLANTED = 4
_INNERMOST_MM = 0.05


def refusals(proof: Proof) -> set[str]:
    return {f.code for f in proof.findings if f.severity.value == "refusal"}


def written(one: Eroded, *cuts: Cut) -> str:
    """Return the program with the rough cut replaced."""
    first, *more = (c for c in one.path.cuts if c.pass_number > 1)
    # Threaded anew: a cut with a fault may end anywhere.
    rough = [replace(c, cuts_wire=True) for c in cuts]
    path = WirePath(cuts=(*rough, replace(first, threads=True), *more))
    return write_program(path, machine=one.plan.requirement.machine, title="FAULT")


def proved(one: Eroded, moves: Moves) -> set[str]:
    """Return what the proof refuses of an opening whose rough cut has other moves."""
    text = written(one, replace(one.rough, moves=moves))
    return refusals(prove_program(text, one.claim))


def left_mm2(one: Eroded, moves: Moves) -> float:
    """Return what moves leave of what the wire could reach, by shapely (GEOS)."""
    (contour,) = one.plan.contours
    assert contour.coreless is not None
    wall = shapely.Polygon(flattened(contour.target.contour, chord_error_mm=1e-5))
    within = wall.buffer(-contour.passes[0].offset_mm, quad_segs=64)
    return float(within.difference(swept(moves, contour.coreless.kerf_mm / 2)).area)


def metal_mm2(one: Eroded, row: int) -> float:
    """Return what a move takes that nothing before it took, and no start hole, by shapely."""
    moves, (contour,) = one.rough.moves, one.plan.contours
    assert contour.coreless is not None
    radius = contour.coreless.kerf_mm / 2
    hole = shapely.Point(contour.start.x_mm, contour.start.y_mm)
    upto, before = (swept(without(moves, np.arange(k, len(moves))), radius) for k in (row + 1, row))
    return float(upto.difference(before.union(hole.buffer(contour.start.diameter_mm / 2))).area)


def without(moves: Moves, rows: np.ndarray) -> Moves:
    """Return moves with some left out; the wire goes straight to the end of the next."""
    keep = np.setdiff1d(np.arange(len(moves)), rows)
    turn = moves.turn[keep].copy()
    # Where the move before is gone, an arc would begin elsewhere.
    turn[np.isin(keep - 1, rows)] = Turn.LINE
    return replace(
        moves,
        end_mm=moves.end_mm[keep],
        centre_mm=moves.centre_mm[keep],
        turn=turn,
        purpose=moves.purpose[keep],
        feed_mm_per_min=moves.feed_mm_per_min[keep],
    )


@pytest.fixture(params=list(SHAPES))
def one(
    request: pytest.FixtureRequest,
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
) -> Eroded:
    return eroded(SHAPES[request.param], make_part, requirement, tables)


@pytest.fixture
def bore(make_part: PartMaker, requirement: Requirement, tables: Tables) -> Eroded:
    return eroded(Contour.circle((0.0, 0.0), radius_mm=2.2), make_part, requirement, tables)


def test_the_program_as_planned_passes(one: Eroded) -> None:
    proof = prove_program(one.text, one.claim)
    assert proof.passed, [f.message for f in proof.findings]
    assert not [e for e in proof.events if e.kind.value == "piece-free"]
    assert "long-way-in" not in {f.code for f in proof.findings}


def test_the_same_program_fails_where_a_slug_was_claimed_to_be_left_in(one: Eroded) -> None:
    # Without the claim the feeds of loops away from the wall have no leave.
    bare = replace(one.claim, coreless_ids=frozenset())
    said = prove_program(one.text, bare)
    assert "long-way-in" in {f.code for f in said.findings}


def test_every_missing_loop_of_a_bore_is_found(bore: Eroded) -> None:
    moves = bore.rough.moves
    far = np.round(np.hypot(*moves.end_mm.T), 6)
    rings = np.unique(far[(moves.turn != 0) & (moves.purpose == Purpose.INSIDE)])
    # The way to the innermost, a hair's breadth in radius, takes all that it takes.
    rings = [r for r in rings if r > _INNERMOST_MM]
    assert len(rings) > 2
    for ring in rings:
        rows = np.flatnonzero((moves.turn != 0) & (far == ring))
        found = proved(bore, without(moves, rows))
        assert "inside-not-cut-away" in found, ring


def test_a_missing_piece_of_a_loop_is_found(one: Eroded) -> None:
    moves = one.rough.moves
    length = moves.lengths_mm()
    inside = np.flatnonzero((moves.purpose == Purpose.INSIDE) & (length > 0.5))
    planted = 0
    for row in inside.tolist():
        # A point left out in the middle of a straight line leaves the way as it is.
        faulty = without(moves, np.array([row]))
        if left_mm2(one, faulty) < _FELT_MM2:
            continue
        planted += 1
        assert "inside-not-cut-away" in proved(one, faulty), row
        if planted == _MOST_PLANTED:
            break
    assert planted


def test_a_pitch_wider_than_the_kerf_is_found(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:

    one = eroded(Contour.circle((0.0, 0.0), radius_mm=2.2), make_part, requirement, tables)
    (contour,) = one.plan.contours
    assert contour.coreless is not None
    # The claim's kerf shrinks instead: the same loops then lie too far apart.
    wire = one.plan.choice.wire.radius_mm
    narrow = dict(one.claim.kerf_radius_mm)
    narrow[1] = contour.coreless.pitch_mm / 2 - 0.002
    assert narrow[1] < wire + 0.04
    said = prove_program(one.text, replace(one.claim, kerf_radius_mm=narrow))
    assert "inside-not-cut-away" in refusals(said)


def test_loops_cut_from_the_wall_inward_set_a_slug_free(bore: Eroded) -> None:
    (contour,) = bore.plan.contours
    assert contour.coreless is not None
    radii = [loop.contour.bounds_mm[2] for loop in contour.coreless.loops.every()]
    feed = contour.feed_mm_per_min(contour.passes[0])
    ends, centres, turns = [], [], []
    for radius in radii:  # the outermost first
        for x, y, turn in ((radius, 0.0, 0), (-radius, 0.0, -1), (radius, 0.0, -1)):
            ends.append((x, y))
            centres.append((0.0, 0.0))
            turns.append(turn)
    moves = Moves(
        start_mm=bore.rough.moves.start_mm,
        end_mm=np.array(ends),
        centre_mm=np.array(centres),
        turn=np.array(turns, dtype=np.int8),
        purpose=np.full(len(ends), Purpose.INSIDE, dtype=np.int8),
        feed_mm_per_min=np.full(len(ends), feed),
    )
    assert "scrap-comes-free" in proved(bore, moves)


def test_a_loop_into_the_wall_is_found(one: Eroded) -> None:
    moves = one.rough.moves
    end = moves.end_mm.copy()
    row = int(np.flatnonzero((moves.purpose == Purpose.INSIDE) & (moves.turn == 0))[-1])
    _, y0, x1, y1 = one.claim.contours[0].contour.bounds_mm
    end[row] = (x1 + 0.2, (y0 + y1) / 2)
    turn = moves.turn.copy()
    turn[row + 1] = 0
    found = proved(one, replace(moves, end_mm=end, turn=turn))
    assert "gouge" in found


def test_a_way_through_metal_at_the_feed_of_open_kerf_is_found(one: Eroded) -> None:
    moves = one.rough.moves
    length = moves.lengths_mm()
    inside = np.flatnonzero((moves.purpose == Purpose.INSIDE) & (length > 0.3))
    row = next(int(k) for k in inside if metal_mm2(one, int(k)) > 0.1 * length[k])
    feed = moves.feed_mm_per_min.copy()
    feed[row] = 50.0
    assert "feed-above-pass" in proved(one, replace(moves, feed_mm_per_min=feed))


def test_a_loop_faster_than_a_partial_kerf_may_be_is_found(bore: Eroded) -> None:
    moves = bore.rough.moves
    feed = np.where(moves.purpose == Purpose.INSIDE, moves.feed_mm_per_min * 1.3, 50.0)
    assert "feed-above-pass" in proved(bore, replace(moves, feed_mm_per_min=feed))


def test_an_unfinished_loop_along_the_wall_is_found(one: Eroded) -> None:
    # A nub at the lead-in, as where the wire stops short of where the loop began.
    moves = one.rough.moves
    wall = np.flatnonzero((moves.purpose == Purpose.WALL) | (moves.purpose == Purpose.CORNER))
    gone = np.flatnonzero(np.arange(len(moves)) >= wall[len(wall) // 2])
    assert proved(one, without(moves, gone))
