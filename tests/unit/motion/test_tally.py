"""All cuts at once add up as one by one."""

from __future__ import annotations

import numpy as np
import pytest
from tests import handmade

from kerfwright.motion.moves import Cut, CutKind, Moves, Purpose, lengths_of_runs_mm
from kerfwright.motion.tally import tally
from kerfwright.wirepath.builder import build_path


def test_lengths_and_times_of_all_cuts_are_those_of_each_by_itself() -> None:
    cuts = build_path(handmade.plan(handmade.wheel())).cuts
    found = tally(cuts, idle_mm_per_min=500.0)
    for k, cut in enumerate(cuts):
        lengths, feeds = cut.moves.lengths_mm(), cut.moves.feed_mm_per_min
        wall = cut.moves.purpose != Purpose.RETURN
        assert found.wall_mm[k] == pytest.approx(lengths[wall].sum())
        assert found.wall_min[k] == pytest.approx((lengths[wall] / feeds[wall]).sum())
        assert found.return_mm[k] == pytest.approx(lengths[~wall].sum(), abs=1e-12)
        assert found.least_feed_mm_per_min[k] == feeds[wall].min()
        assert found.most_feed_mm_per_min[k] == feeds[wall].max()
    assert found.wall_mm.sum() > 100


def test_no_cuts_add_up_to_nothing() -> None:
    found = tally((), idle_mm_per_min=500.0)
    assert found.wall_mm.sum() == 0
    assert np.isnan(found.least_feed_mm_per_min).all()


def ring(radius_mm: float, second_radius_mm: float | None, *, sides: int, feed: float) -> Moves:
    """Return a polygon about the origin, of a wire that leans where a second radius is given."""
    turns = 2 * np.pi * np.arange(sides + 1) / sides
    corners = np.column_stack([np.cos(turns), np.sin(turns)])
    second = None if second_radius_mm is None else second_radius_mm * corners
    return Moves(
        start_mm=radius_mm * corners[0],
        end_mm=radius_mm * corners[1:],
        centre_mm=np.zeros((sides, 2)),
        turn=np.zeros(sides, dtype=np.int8),
        purpose=np.full(sides, Purpose.WALL.value, dtype=np.int8),
        feed_mm_per_min=np.full(sides, feed),
        second_start_mm=None if second is None else second[0],
        second_end_mm=None if second is None else second[1:],
    )


def cut_of(moves: Moves) -> Cut:
    return Cut(
        contour_id="H1",
        pass_number=1,
        kind=CutKind.ROUGH,
        offset_mm=0.0,
        condition=1,
        threads=False,
        cuts_wire=False,
        stop_before=None,
        stop_after=None,
        moves=moves,
        nominal=None,
        offset_on_left=False,
    )


def test_a_leaning_wire_takes_the_time_of_its_way_half_way_up() -> None:
    # A cone of 20 mm below and 10 mm above: half way up 15 mm, and the feed is that half way up.
    sides, feed = 180, 2.5
    cuts = [
        cut_of(ring(20, None, sides=sides, feed=feed)),
        cut_of(ring(20, 10, sides=sides, feed=feed)),
        cut_of(ring(10, 20, sides=sides, feed=feed)),
    ]
    found = tally(cuts, idle_mm_per_min=500.0)
    edge = 2 * sides * np.sin(np.pi / sides)
    assert found.wall_mm == pytest.approx([20 * edge, 15 * edge, 15 * edge])
    assert found.wall_min == pytest.approx(found.wall_mm / feed)


def test_runs_together_are_as_long_as_one_by_one_whether_they_lean_or_not() -> None:
    runs = [
        ring(5, 7, sides=9, feed=1),
        ring(3, None, sides=4, feed=1),
        ring(2, 1, sides=5, feed=1),
    ]
    together = lengths_of_runs_mm(runs)
    assert together == pytest.approx(np.concatenate([run.lengths_mm() for run in runs]))
    assert len(lengths_of_runs_mm(())) == 0
