"""The range of a sum against a simulation of the same model with NumPy."""

from __future__ import annotations

import numpy as np
import pytest

from kerfwright.costing.uncertainty import Amount, total

CASES = {
    "one cause is exact": [(100, 0.35, "rate"), (20, 0.35, "rate")],
    "job of one piece": [
        (23, 0.25, "programming"),
        (67.5, 0.25, "set-up"),
        (15, 0.25, "loading"),
        (120, 0.35, "rate"),
        (40, 0.25, "rate"),
        (12, 0.33, "rate"),
        (3, 0.4, "drilling"),
        (8, 0.25, "inspection"),
    ],
    "nearly all cutting": [(900, 0.35, "rate"), (200, 0.25, "rate"), (60, 0.25, "set-up")],
    "people only": [(23, 0.25, "a"), (67, 0.25, "b"), (15, 0.25, "c")],
}


@pytest.mark.parametrize("name", CASES)
def test_the_range_of_a_sum_agrees_with_a_simulation(name):
    parts = [Amount(likely=m, sigma_log=s, cause=c) for m, s, c in CASES[name]]
    generator = np.random.default_rng(20240817)
    normal = {p.cause: generator.standard_normal(400_000) for p in parts}
    drawn = sum(p.likely * np.exp(p.sigma_log * normal[p.cause]) for p in parts)
    low, middle, high = np.percentile(drawn, [10, 50, 90])
    found = total(parts)
    # The fit has mean and variance but not the skewness of the sum: within 2 % at the low end.
    assert found.low == pytest.approx(low, rel=0.02)
    assert found.high == pytest.approx(high, rel=0.005)
    # The lines add up to a little less than the median.
    assert found.likely <= middle * 1.002
    assert found.likely == pytest.approx(middle, rel=0.04)


def test_a_part_hardly_known_puts_no_end_below_what_the_others_cost_for_sure():
    # A hole of 400 diameters among set-up and programming: simulated with NumPy, two causes.
    parts = (
        Amount(likely=80.0, sigma_log=0.25, cause="people"),
        Amount(likely=20.0, sigma_log=0.0, cause="known"),
        Amount(likely=60.0, sigma_log=1.6, cause="drilling"),
    )
    z = np.random.default_rng(1).normal(size=(2, 400_000))
    low, high = np.quantile(80 * np.exp(0.25 * z[0]) + 20 + 60 * np.exp(1.6 * z[1]), [0.1, 0.9])
    found = total(parts)
    assert 20 + 80 * np.exp(-0.25 * 1.2816) < found.low < low
    assert found.high == pytest.approx(high, rel=0.06)
    # One cause beside what is known: the ends are exact, or nearer than that.
    alone = total(parts[1:])
    assert alone.low == pytest.approx(20 + 60 * np.exp(-1.6 * 1.2816), rel=1e-4)
