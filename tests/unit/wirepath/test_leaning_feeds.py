"""A leaning wire is taken back at corners of both faces, and nowhere a corner is not."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.wirepath.test_feeds import limit

from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Moves, Purpose
from kerfwright.wirepath.feeds import slowed, trailing_um


def leaning(lower: list[tuple[float, float]], upper: list[tuple[float, float]]) -> Moves:
    first, second = np.array(lower), np.array(upper)
    n = len(first) - 1
    return Moves(
        start_mm=first[0],
        end_mm=first[1:],
        centre_mm=np.zeros((n, 2)),
        turn=np.zeros(n, dtype=np.int8),
        purpose=np.full(n, Purpose.WALL, dtype=np.int8),
        feed_mm_per_min=np.full(n, 3.0),
        second_start_mm=second[0],
        second_end_mm=second[1:],
    )


def taken_back(moves: Moves) -> Moves:
    made, _ = slowed(moves, nominal=None, offset_mm=0.15, offset_on_left=False, limit=limit())
    return made


SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]
WIDER = [(0.0, -1.0), (11.0, -1.0), (11.0, 10.0)]


def test_a_corner_of_a_leaning_wall_gets_a_slow_zone_and_keeps_its_path():
    moves = leaning(SQUARE, WIDER)
    made = taken_back(moves)
    assert made.feed_mm_per_min.min() < 0.7 * 3.0
    assert made.feed_mm_per_min[[0, -1]] == pytest.approx(3.0)
    # The wire is where it was: both ends of each move part in one share.
    for ends, corner in ((made.end_mm, SQUARE[1]), (made.second_end_mm, WIDER[1])):
        assert np.abs(ends - corner).max(axis=1).min() == 0
    share = made.end_mm[0, 0] / 10.0
    assert made.second_end_mm[0, 0] == pytest.approx(11.0 * share)


def test_the_face_with_the_sharper_corner_decides():
    # The upper face is rounded by many small chords, the lower one turns at a point.
    turn = np.linspace(0, np.pi / 2, 33)
    arc: Floats = np.column_stack([9 + 2 * np.sin(turn), 1 - 2 * np.cos(turn)])
    upper = [(0.0, -1.0), *map(tuple, arc.tolist()), (11.0, 10.0)]
    lower = [(0.0, 0.0), *([(9.0, 0.0)] * 33), (9.0, 10.0)]
    swung = leaning(lower, upper)
    # By hand: a square corner trails by the lag itself, whatever the wire does about its point.
    alone = trailing_um(leaning([*lower[:2], lower[-1]], [*lower[:2], lower[-1]]), limit=limit())
    assert trailing_um(swung, limit=limit()).max() == pytest.approx(alone.max())
    assert taken_back(swung).feed_mm_per_min.min() == pytest.approx(
        taken_back(leaning([*lower[:2], lower[-1]], WIDER)).feed_mm_per_min.min()
    )


def test_a_straight_leaning_wall_keeps_its_feed():
    straight = leaning([(0.0, 0.0), (5.0, 0.0), (10.0, 0.0)], [(0.0, 1.0), (5.0, 1.0), (10.0, 1.0)])
    assert taken_back(straight) is straight
