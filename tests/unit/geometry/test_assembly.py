"""Loops from loose pieces, what is mended and what is not."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.foundation.tolerances import Tolerances
from kerfwright.geometry.assembly import Assembly, assemble, near_ends
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.overlaps import RepairKind

Piece = tuple[np.ndarray, bool]
HALF = 1.0


def line(*ends: float) -> Piece:
    return np.array([[ends[0], ends[1], 0.0], [ends[2], ends[3], 0.0]]), False


def arc(x0: float, y0: float, x1: float, y1: float, bulge: float) -> Piece:
    return np.array([[x0, y0, bulge], [x1, y1, 0.0]]), False


def circle(x: float, y: float, radius: float, turn: float = 0.0) -> Piece:
    dx, dy = radius * math.cos(turn), radius * math.sin(turn)
    return np.array([[x + dx, y + dy, HALF], [x - dx, y - dy, HALF]]), True


def square(side: float = 10.0, gap: float = 0.0) -> list[Piece]:
    return [
        line(gap, 0, side, 0),
        line(side, side, side, 0),
        line(side, side, 0, side),
        line(0, 0, 0, side),
    ]


def kinds(result: Assembly) -> list[RepairKind]:
    return [repair.kind for repair in result.repairs]


def test_lines_in_any_order_and_sense_close_a_square() -> None:
    result = assemble(square())
    assert len(result.loops) == 1
    assert not result.open_chains
    assert not result.repairs
    assert abs(result.loops[0].contour.area_mm2) == pytest.approx(100.0)
    assert sorted(result.loops[0].strands) == [0, 1, 2, 3]


def test_lines_and_arcs_of_either_sense_close_a_slot() -> None:
    pieces = [
        line(0, 0, 20, 0),
        arc(20, 10, 20, 0, -HALF),
        line(20, 10, 0, 10),
        arc(0, 10, 0, 0, HALF),
    ]
    result = assemble(pieces)
    assert abs(result.loops[0].contour.area_mm2) == pytest.approx(200 + 25 * math.pi)


def test_a_small_gap_is_closed_with_its_place_and_shift() -> None:
    result = assemble(square(gap=0.003))
    assert len(result.loops) == 1
    (repair,) = result.repairs
    assert repair.kind is RepairKind.GAP
    assert repair.size_mm == pytest.approx(0.003)
    # Two lines meet where they cross: here only the shortened one moves.
    assert (repair.x_mm, repair.y_mm) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert repair.shift_um == pytest.approx(3.0)
    assert set(repair.strands) == {0, 3}


def test_a_gap_beside_an_arc_is_closed_in_its_middle() -> None:
    pieces = [
        line(0, 0, 20, 0),
        arc(20.004, 0, 20.004, 10, HALF),
        line(20.004, 10, 0, 10),
        line(0, 10, 0, 0),
    ]
    result = assemble(pieces)
    (repair,) = result.repairs
    assert repair.x_mm == pytest.approx(20.002)
    assert repair.shift_um == pytest.approx(2.0)


def test_a_gap_above_the_tolerance_stays_open() -> None:
    result = assemble(square(gap=0.006))
    assert not result.loops
    assert len(result.open_chains) == 1
    assert not result.repairs


def test_the_gap_tolerance_is_the_callers() -> None:
    assert assemble(square(gap=0.05), tolerances=Tolerances(gap_mm=0.1)).loops
    assert not assemble(square(gap=0.003), tolerances=Tolerances(gap_mm=0.001)).loops


def test_of_three_free_ends_the_nearest_two_join() -> None:
    pieces = [line(0, 0, 10, 0), line(10.001, 0, 20, 5), line(10.004, 0, 20, -5)]
    result = assemble(pieces)
    assert kinds(result) == [RepairKind.GAP]
    assert set(result.repairs[0].strands) == {0, 1}
    assert len(result.open_chains) == 2


def test_a_line_drawn_twice_counts_once() -> None:
    result = assemble([*square(), line(10, 0, 0, 0)])
    assert len(result.loops) == 1
    assert kinds(result) == [RepairKind.DUPLICATE]
    assert result.repairs[0].strands == (4, 0)


def test_a_line_drawn_three_times_counts_once() -> None:
    result = assemble([*square(), line(10, 0, 0, 0), line(0, 0, 10, 0)])
    assert len(result.loops) == 1
    assert kinds(result) == [RepairKind.DUPLICATE] * 2


def test_a_circle_drawn_twice_from_other_quadrants_counts_once() -> None:
    result = assemble([circle(5, 5, 2), circle(5, 5, 2, turn=0.7)])
    assert len(result.loops) == 1
    assert kinds(result) == [RepairKind.DUPLICATE]


def test_an_arc_on_a_circle_is_dropped() -> None:
    result = assemble([circle(0, 0, 5), arc(5, 0, 0, 5, math.tan(math.pi / 8))])
    assert len(result.loops) == 1
    assert not result.open_chains
    assert kinds(result) == [RepairKind.OVERLAP]
    assert result.repairs[0].size_mm == pytest.approx(5 * math.pi / 2)


def test_a_closed_chain_drawn_again_as_lines_counts_once() -> None:
    closed = np.array([[0.0, 0, 0], [10, 0, 0], [10, 10, 0], [0, 10, 0]]), True
    result = assemble([closed, *square()])
    assert len(result.loops) == 1
    assert kinds(result) == [RepairKind.DUPLICATE] * 4


def test_lines_that_run_over_each_other_are_trimmed() -> None:
    pieces = [line(0, 0, 6, 0), line(4, 0, 10, 0), *square()[1:]]
    result = assemble(pieces)
    assert len(result.loops) == 1
    assert abs(result.loops[0].contour.area_mm2) == pytest.approx(100.0)
    (repair,) = result.repairs
    assert repair.kind is RepairKind.OVERLAP
    assert repair.size_mm == pytest.approx(2.0)


def test_arcs_of_one_circle_that_run_over_each_other_are_trimmed() -> None:
    def piece(a: float, b: float) -> Piece:
        p, q = (3 * math.cos(a), 3 * math.sin(a)), (3 * math.cos(b), 3 * math.sin(b))
        return arc(*p, *q, math.tan((b - a) / 4))

    result = assemble([piece(0.0, 2.5), piece(2.0, 4.5), piece(4.0, 2 * math.pi)])
    assert len(result.loops) == 1
    assert result.loops[0].contour.area_mm2 == pytest.approx(9 * math.pi)


def test_a_sharp_wedge_of_long_lines_is_not_taken_for_a_doubled_line() -> None:
    result = assemble([line(0, 0, 50, 0), line(50, 0, 50, 0.2), line(50, 0.2, 0, 0)])
    assert len(result.loops) == 1
    assert not result.repairs


def test_a_fillet_that_leaves_along_its_line_is_not_taken_for_an_overlap() -> None:
    quarter = math.tan(math.pi / 8)
    result = assemble(
        [line(0, 0, 9, 0), arc(9, 0, 10, 1, quarter), line(10, 1, 10, 9), line(10, 9, 0, 0)]
    )
    assert len(result.loops) == 1
    assert not result.repairs


def test_a_piece_without_length_is_dropped_and_said() -> None:
    result = assemble([*square(), line(10, 0, 10, 0)])
    assert len(result.loops) == 1
    assert kinds(result) == [RepairKind.ZERO_LENGTH]


def test_where_three_pieces_meet_nothing_is_guessed() -> None:
    result = assemble([*square(), line(10, 10, 15, 15)])
    assert not result.loops
    (network,) = result.branched
    np.testing.assert_allclose(network.points_mm, [[10, 10]])
    assert network.ends == (3,)
    assert network.strands == (0, 1, 2, 3, 4)
    assert len(network.chains) == 5


def test_a_branching_spoils_only_its_own_network() -> None:
    far = [(rows + np.array([100.0, 0, 0]), closed) for rows, closed in square()]
    result = assemble([*square(), line(10, 10, 15, 15), *far])
    assert len(result.loops) == 1
    assert result.loops[0].strands == (5, 6, 7, 8)


def test_a_contour_that_shares_its_edge_is_open_where_the_overlap_was() -> None:
    closed = np.array([[0.0, 0, 0], [10, 0, 0], [10, 10, 0], [0, 10, 0]]), True
    beside = [line(10, 0, 20, 0), line(20, 0, 20, 10), line(20, 10, 10, 10), line(10, 10, 10, 0)]
    result = assemble([closed, *beside])
    assert len(result.loops) == 1
    assert [chain.was_cut for chain in result.open_chains] == [True]


def test_loops_come_in_the_order_of_their_first_piece() -> None:
    far = [(rows + np.array([100.0, 0, 0]), closed) for rows, closed in square()]
    mixed = [far[0], square()[0], circle(50, 50, 1), *far[1:], *square()[1:]]
    result = assemble(mixed)
    assert [loop.strands[0] for loop in result.loops] == [0, 1, 2]


def test_an_open_chain_keeps_its_bulges_when_walked_backwards() -> None:
    result = assemble([arc(0, 0, 2, 0, 0.5), arc(4, 0, 2, 0, -0.25)])
    (chain,) = result.open_chains
    np.testing.assert_allclose(chain.contour.vertices, [[0, 0, 0.5], [2, 0, 0.25], [4, 0, 0]])


def test_nothing_gives_nothing() -> None:
    result = assemble([])
    assert (result.loops, result.open_chains, result.branched, result.repairs) == ((), (), (), ())


def test_a_star_of_many_lines_is_one_branching() -> None:
    angle = np.linspace(0, 2 * math.pi, 3000, endpoint=False)
    result = assemble([line(0, 0, 100 * math.cos(a), 100 * math.sin(a)) for a in angle])
    (network,) = result.branched
    assert network.ends == (3000,)
    assert not result.repairs


def test_ends_near_each_other_point_to_a_broken_contour() -> None:
    broken = Contour.from_rows([(0.3, 0), (10, 0), (10, 10), (0, 0)], is_closed=False)
    elsewhere = Contour.from_rows([(50, 0), (60, 0)], is_closed=False)
    (found,) = near_ends([elsewhere, broken], reach_mm=0.5, share=0.02)
    assert found.chains == (1, 1)
    assert found.gap_mm == pytest.approx(0.3)


def test_a_short_line_alone_is_no_broken_contour() -> None:
    short = Contour.from_rows([(0, 0), (0.2, 0)], is_closed=False)
    assert near_ends([short], reach_mm=0.5, share=0.02) == ()


def test_two_gaps_of_one_contour_are_both_found() -> None:
    left = Contour.from_rows([(10, 0.1), (10, 10), (0, 10)], is_closed=False)
    right = Contour.from_rows([(0, 9.8), (0, 0), (10, 0)], is_closed=False)
    found = near_ends([left, right], reach_mm=0.5, share=0.02)
    assert [round(ends.gap_mm, 6) for ends in found] == [0.1, 0.2]


def test_a_row_of_dashes_is_no_broken_contour() -> None:
    dashes = [
        Contour.from_rows([(3.0 * k, 0), (3.0 * k + 2.7, 0)], is_closed=False) for k in range(40)
    ]
    assert near_ends(dashes, reach_mm=0.5, share=0.02) == ()


def test_a_ring_of_dashes_is_a_broken_contour() -> None:
    step = math.tau / 60
    dashes = [
        Contour.from_rows(
            [(9 * math.cos(a), 9 * math.sin(a)), (9 * math.cos(b), 9 * math.sin(b))],
            is_closed=False,
        )
        for a, b in ((k * step, (k + 0.6) * step) for k in range(60))
    ]
    assert len(near_ends(dashes, reach_mm=0.5, share=0.02)) == 60
