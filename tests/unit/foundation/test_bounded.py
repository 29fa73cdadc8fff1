"""Factors that are 1 at most, against a simulation of the same rule."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.foundation.bounded import range_to_one, sigma_to_one

DRAWS = 400_000


@pytest.mark.parametrize("median", [1.0, 0.97, 0.9, 0.7])
@pytest.mark.parametrize("sigma", [0.05, 0.2, 0.5])
def test_bound_takes_from_range_and_deviation_what_a_simulation_loses(median, sigma):
    drawn = math.log(median) + sigma * np.random.default_rng(3).standard_normal(DRAWS)
    bounded = np.minimum(drawn, 0.0)
    # Standard error of a deviation of so many draws: below 0.3 %.
    assert sigma_to_one(median, sigma_log=sigma) == pytest.approx(bounded.std(), rel=0.01)
    low, likely, high = np.exp(np.percentile(bounded, (10, 50, 90)))
    found = range_to_one(median, sigma_log=sigma)
    assert (found.low, found.likely, found.high) == pytest.approx((low, likely, high), rel=0.005)
    assert found.high <= 1


def test_nothing_unsure_stays_so():
    assert sigma_to_one(0.8, sigma_log=0.0) == 0
    assert range_to_one(0.8, sigma_log=0.0).high == 0.8
