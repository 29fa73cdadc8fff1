from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.foundation.errors import RangeError
from kerfwright.process.corner_error import (
    arc_error_um,
    circle_error_um,
    corner_error_um,
    largest_corner_error_um,
    largest_lag_um,
)


def test_at_a_square_corner_the_error_is_the_lag():
    assert corner_error_um(math.pi / 2, lag_um=25) == pytest.approx(25)
    assert largest_corner_error_um(math.radians(30), lag_um=25) == pytest.approx(12.5)


def test_a_turn_beyond_square_first_grows_to_the_lag_and_then_dies():
    runs = np.linspace(0, 200, 2001)
    errors = corner_error_um(math.radians(150), lag_um=25, run_um=runs)
    assert errors[0] == pytest.approx(12.5)
    assert errors.max() == pytest.approx(25, rel=1e-4)
    assert errors[-1] < 0.1


def test_left_and_right_turns_err_alike():
    right, left = (corner_error_um(a, lag_um=25, run_um=10) for a in (-1.0, 1.0))
    assert right == pytest.approx(left)


def test_a_circle_wide_against_the_lag_errs_by_lag_squared_over_its_diameter():
    assert circle_error_um(10_000, lag_um=25) == pytest.approx(25**2 / 20_000, rel=1e-5)


def test_a_circle_as_small_as_the_lag_is_lost():
    assert circle_error_um(25, lag_um=25) == pytest.approx(25)
    assert circle_error_um(20, lag_um=25) == pytest.approx(20)


def test_no_lag_is_refused():
    with pytest.raises(RangeError, match="above 0"):
        corner_error_um(1.0, lag_um=0.0)


@given(
    radius=st.floats(0, 1e5),
    sweep=st.floats(0, 2 * math.pi),
    low=st.floats(0.01, 500),
    high=st.floats(0.01, 500),
)
def test_more_lag_never_errs_less(radius, sweep, low, high):
    low, high = sorted((low, high))
    a, b = (float(arc_error_um(radius, sweep_rad=sweep, lag_um=v)) for v in (low, high))
    assert a <= b * (1 + 1e-9) + 1e-9


@given(
    radius=st.floats(0, 1e5),
    sweep=st.floats(1e-3, 2 * math.pi),
    allowed=st.floats(0.1, 50),
)
def test_the_largest_lag_just_keeps_the_allowance(radius, sweep, allowed):
    lag = float(largest_lag_um(allowed, radius_um=radius, sweep_rad=sweep))
    kept = float(arc_error_um(radius, sweep_rad=sweep, lag_um=lag * (1 - 1e-9)))
    assert kept <= allowed * (1 + 1e-6)
    beyond = float(arc_error_um(radius, sweep_rad=sweep, lag_um=lag * 1.01))
    assert beyond >= allowed * (1 - 1e-6)
