"""All cuts at once add up as one by one."""

from __future__ import annotations

import numpy as np
import pytest
from tests import handmade

from kerfwright.motion.moves import Purpose
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
