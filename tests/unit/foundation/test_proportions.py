"""Wilson's interval against published values and another library."""

from __future__ import annotations

import pytest
from scipy.stats import binomtest

from kerfwright.foundation.proportions import wilson


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611),
     (1, 29, 0.0061, 0.1718)],
)  # fmt: skip
def test_published_intervals_come_out(count: int, of: int, low: float, high: float) -> None:
    # R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in
    # Medicine 17 (1998) 857-872, table I, method 3 (from memory).
    share = wilson(count, of)
    assert (round(share.low, 4), round(share.high, 4)) == (low, high)


@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_every_small_count_is_as_another_library_has_it(level: float) -> None:
    for of in range(1, 25):
        for count in range(of + 1):
            share = wilson(count, of, level=level)
            other = binomtest(count, of).proportion_ci(level, method="wilson")
            assert share.low == pytest.approx(other.low, abs=1e-12)
            assert share.high == pytest.approx(other.high, abs=1e-12)


def test_nothing_counted_says_nothing() -> None:
    assert (wilson(0, 0).low, wilson(0, 0).high) == (0.0, 1.0)
    for odd in ((3, 2, 0.95), (-1, 2, 0.95), (1, 2, 1.0)):
        with pytest.raises(ValueError, match="no share"):
            wilson(*odd[:2], level=odd[2])
