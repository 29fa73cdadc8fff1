"""Whether a way keeps clear of the walls is asked finely only where a wall may be near."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.motion.moves import Purpose, Turn
from kerfwright.wirepath.contour_frame import _between
from kerfwright.wirepath.runs import arc, samples, straight

LINE = straight([np.array([0.0, 0.0]), np.array([3.0, 0.0]), np.array([3.0, 4.0])],
                purpose=Purpose.APPROACH)  # fmt: skip
QUARTER = arc(
    np.array([2.0, 0.0]), np.array([0.0, 2.0]), np.zeros(2),
    turn=Turn.COUNTER_CLOCKWISE, purpose=Purpose.APPROACH,
)  # fmt: skip


@pytest.mark.parametrize(("run", "length"), [(LINE, 7.0), (QUARTER, math.pi)])
def test_samples_lie_on_the_run_no_farther_apart_than_asked(run, length) -> None:
    found = samples(run, step_mm=0.1)
    assert found.way_mm[0] == 0
    assert found.way_mm[-1] == pytest.approx(length)
    steps = np.diff(found.way_mm)
    assert (steps >= 0).all()
    assert steps.max() <= 0.1 + 1e-12
    # A chord is never longer than the way.
    assert (np.hypot(*np.diff(found.points, axis=0).T) <= steps + 1e-12).all()
    if run is QUARTER:
        assert np.hypot(*found.points.T) == pytest.approx(2.0)


@settings(deadline=None)
@given(st.floats(-1, 5), st.floats(-1, 5), st.floats(0.05, 1.5), st.floats(0.05, 1.2))
def test_no_fine_sample_within_the_limit_is_left_out(x, y, radius, limit) -> None:
    walls = NearestIndex(Contour.circle((x, y), radius_mm=radius).segments)
    for run in (LINE, QUARTER):
        coarse = samples(run, step_mm=0.1)
        away, _ = walls.query(coarse.points)
        kept = _between(run, coarse, away, limit)
        every = samples(run, step_mm=0.01).points
        # A sample just at the limit may fall on either side of it by rounding.
        all_near = every[walls.query(every)[0] < limit - 1e-9]
        assert {tuple(p) for p in all_near} <= {tuple(p) for p in kept}
