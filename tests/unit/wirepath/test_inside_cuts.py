"""The cut that takes the inside of an opening away: its way, its feeds, what it leaves."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from tests.conftest import PartMaker
from tests.coreless_openings import SHAPES, chords, eroded, swept

from kerfwright.adapters.tables import Tables
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.regions import flattened
from kerfwright.motion.moves import Purpose
from kerfwright.trade.requirement import Requirement


@pytest.mark.parametrize("name", SHAPES)
def test_the_cut_sweeps_all_that_the_wire_can_reach_and_comes_home(
    make_part: PartMaker, requirement: Requirement, tables: Tables, name: str
) -> None:
    one = eroded(SHAPES[name], make_part, requirement, tables)
    (contour,) = one.plan.contours
    assert contour.coreless is not None
    moves, offset = one.rough.moves, contour.passes[0].offset_mm
    radius = contour.coreless.kerf_mm / 2
    start = (contour.start.x_mm, contour.start.y_mm)
    assert moves.start_mm == pytest.approx(start)
    assert moves.end_mm[-1] == pytest.approx(start)
    assert one.rough.stop_before is None
    assert one.rough.stop_after is None
    # Shapely is asked, not the maker: what a disc on the rough path and inside it could take.
    wall = shapely.Polygon(flattened(contour.target.contour, chord_error_mm=1e-5))
    within = wall.buffer(-offset, quad_segs=64)
    kerf = swept(moves, radius)
    assert within.difference(kerf).area < 1e-7
    reachable = within.buffer(radius, quad_segs=64)
    assert kerf.symmetric_difference(reachable).area < 2e-4 * wall.length
    # Nothing is gouged: no point of the way is nearer to the wall than the offset.
    points = shapely.get_coordinates(shapely.segmentize(chords(moves), 0.02))
    away, _ = NearestIndex(contour.target.contour.segments).query(points)
    assert away.min() > offset - 1e-5


@pytest.mark.parametrize(
    ("name", "start"),
    [
        ("two chambers", (7.4, 1.6, 0.6)),
        ("bent chambers", (6.6, 6.4, 0.6)),
        ("bent chambers", (0.9, 0.9, 0.6)),
        ("square", (2.4, 0.7, 0.6)),
    ],
)
def test_a_drawn_start_hole_may_lie_anywhere_inside(
    make_part: PartMaker,
    requirement: Requirement,
    tables: Tables,
    name: str,
    start: tuple[float, float, float],
) -> None:
    one = eroded(SHAPES[name], make_part, requirement, tables, start=start)
    (contour,) = one.plan.contours
    assert (contour.start.x_mm, contour.start.y_mm) == start[:2]
    assert contour.coreless is not None
    wall = shapely.Polygon(flattened(contour.target.contour, chord_error_mm=1e-5))
    within = wall.buffer(-contour.passes[0].offset_mm, quad_segs=64)
    assert within.difference(swept(one.rough.moves, contour.coreless.kerf_mm / 2)).area < 1e-7


def test_the_way_in_a_bore_is_its_loops_and_the_steps_between_them(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    one = eroded(SHAPES["bore"], make_part, requirement, tables)
    (contour,) = one.plan.contours
    coreless = contour.coreless
    assert coreless is not None
    moves = one.rough.moves
    length, arcs = moves.lengths_mm(), moves.turn != 0
    radii = [loop.contour.bounds_mm[2] for loop in coreless.loops.every()]
    again = np.flatnonzero(arcs & (moves.purpose == Purpose.OVERLAP))
    # Every loop once round, and the overlap at the wall.
    once = np.setdiff1d(np.flatnonzero(arcs), again)
    assert length[once].sum() == pytest.approx(2 * math.pi * math.fsum(radii), abs=1e-6)
    assert length[again].sum() == pytest.approx(tables.rules.overlap_mm)
    steps = length[(moves.turn == 0) & (moves.purpose == Purpose.INSIDE)]
    assert steps.max() == pytest.approx(coreless.pitch_mm)


def test_loops_with_metal_on_a_part_of_the_kerf_are_faster_and_the_wall_is_not(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    one = eroded(SHAPES["square"], make_part, requirement, tables)
    (contour,) = one.plan.contours
    assert contour.coreless is not None
    moves, usual = one.rough.moves, contour.feed_mm_per_min(contour.passes[0])
    inside = moves.feed_mm_per_min[moves.purpose == Purpose.INSIDE]
    assert inside.max() == pytest.approx(usual * tables.rules.coreless_feed_most)
    assert inside.min() == pytest.approx(usual)
    wall = moves.feed_mm_per_min[moves.purpose == Purpose.WALL]
    assert wall == pytest.approx(usual)
    # In corners, where more of the front is in metal, no loop is faster.
    length = moves.lengths_mm()
    fast = length[(moves.purpose == Purpose.INSIDE) & (moves.feed_mm_per_min > usual * 1.001)]
    assert 0 < fast.sum() < length[moves.purpose == Purpose.INSIDE].sum()


def test_the_metal_taken_at_these_feeds_is_no_faster_than_a_full_kerf_takes(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    # Area actually taken anew by each move, by shapely, over its time: at most the rough rate.
    one = eroded(SHAPES["slot"], make_part, requirement, tables)
    (contour,) = one.plan.contours
    assert contour.coreless is not None
    moves, kerf = one.rough.moves, contour.coreless.kerf_mm
    full = contour.feed_mm_per_min(contour.passes[0]) * kerf
    length = moves.lengths_mm()
    opened = shapely.Point(*moves.start_mm).buffer(kerf / 2)
    for k in range(len(moves)):
        before = moves.end_mm[k - 1] if k else moves.start_mm
        single = type(moves)(
            start_mm=before,
            end_mm=moves.end_mm[k : k + 1],
            centre_mm=moves.centre_mm[k : k + 1],
            turn=moves.turn[k : k + 1],
            purpose=moves.purpose[k : k + 1],
            feed_mm_per_min=moves.feed_mm_per_min[k : k + 1],
        )
        takes = swept(single, kerf / 2)
        anew = takes.difference(opened).area
        opened = opened.union(takes)
        if moves.purpose[k] == Purpose.RETURN:
            # A home way or a loop in the start hole has nothing to take.
            hole = shapely.Point(contour.start.x_mm, contour.start.y_mm)
            left = takes.difference(hole.buffer(contour.start.diameter_mm / 2))
            assert left.area < 0.02 or anew < 1e-3
        elif length[k] > kerf:
            assert anew / length[k] * moves.feed_mm_per_min[k] < 1.02 * full


def test_loops_in_the_start_hole_run_at_the_feed_through_open_kerf(
    make_part: PartMaker, requirement: Requirement, tables: Tables
) -> None:
    big = Contour.circle((0.0, 0.0), radius_mm=2.5)
    one = eroded(big, make_part, requirement, tables, start=(0.0, 0.0, 3.0))
    (contour,) = one.plan.contours
    assert contour.coreless is not None
    moves = one.rough.moves
    returns = moves.feed_mm_per_min[moves.purpose == Purpose.RETURN]
    assert returns == pytest.approx(tables.rules.return_feed_mm_per_min)
    far = np.hypot(*moves.end_mm.T)
    free = contour.coreless.sure_hole_mm - contour.coreless.kerf_mm / 2
    slow = (moves.turn != 0) & (far < free - contour.coreless.pitch_mm)
    assert slow.any()
    assert (moves.purpose[slow] == Purpose.RETURN).all()
    # It is less than half of the hole: the wander is taken off.
    assert contour.coreless.sure_hole_mm < 1.5
