"""What is called likely: lines add up, and it lies a little below the middle of a sum."""

from __future__ import annotations

import numpy as np
import pytest

from kerfwright.costing.uncertainty import Amount, total

PARTS = (
    Amount(likely=50.0, sigma_log=0.35, cause="cutting"),
    Amount(likely=40.0, sigma_log=0.25, cause="skimming"),
    Amount(likely=60.0, sigma_log=0.20, cause="people"),
)


def test_likely_values_add_up_and_more_than_half_come_out_above() -> None:
    # A simulation of the parts themselves, without the formula for the sum.
    draws = np.random.default_rng(11).normal(size=(200_000, 3))
    sums = sum(p.likely * np.exp(p.sigma_log * z) for p, z in zip(PARTS, draws.T, strict=True))
    made = total(PARTS)
    assert made.likely == pytest.approx(150.0)
    above = float((sums > made.likely).mean())
    assert 0.5 < above < 0.6
    assert made.low < made.likely < float(np.median(sums)) < made.high


def test_of_one_cause_likely_is_the_median() -> None:
    (part,) = PARTS[:1]
    made = total([part])
    assert made.likely**2 == pytest.approx(made.low * made.high)
