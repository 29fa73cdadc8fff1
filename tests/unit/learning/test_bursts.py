"""How far counts scatter beyond their rates, against counts drawn with a known burst."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.adapters.learning_rules import load_learning_rules
from kerfwright.learning.bursts import burst_of

RULES = load_learning_rules()
NONE = np.zeros(0)


def found(counts, middle, *, known=0.0, scatter_variance=0.0, **rules) -> float:
    return burst_of(
        np.asarray(counts, dtype=float),
        np.asarray(middle, dtype=float),
        known=np.full(len(middle), known),
        scatter_variance=scatter_variance,
        rules=replace(RULES, **rules),
    )


def test_without_counts_it_is_that_of_the_rules() -> None:
    assert found(NONE, NONE) == RULES.breaks_burst


# The wider the bursts, the more the limit on single counts takes off.
@pytest.mark.parametrize(("burst", "within"), [(1.0, 0.15), (2.0, 0.35), (3.0, 0.9)])
def test_the_burst_of_many_counts_is_found(burst: float, within: float) -> None:
    random = np.random.default_rng(5)
    mean = np.full(4000, 0.8)
    bursts = random.poisson(mean / burst)
    counts = [random.geometric(1 / burst, n).sum() for n in bursts]
    assert found(counts, mean) == pytest.approx(2 * burst - 2, abs=within)


def test_scatter_of_the_rates_is_not_taken_for_bursts() -> None:
    random = np.random.default_rng(6)
    rate = 2.0 * np.exp(0.5 * random.standard_normal(4000))
    counts = random.poisson(rate)
    middle = np.full(4000, 2.0)
    assert found(counts, middle, scatter_variance=0.25) < 0.15
    assert found(counts, middle) > 0.4


def test_one_wild_count_does_not_make_a_shop_wild() -> None:
    usual = np.full(60, 0.5)
    random = np.random.default_rng(7)
    counts = random.poisson(usual)
    wild = counts.copy()
    wild[0] = 400
    most = found(wild, usual)
    # By hand: at most 10 above its mean, squared, over the 30 expected and the weight of 5.
    assert most - found(counts, usual) <= 10**2 / 35 + 0.01
    assert most <= RULES.most_burst


def test_few_counts_move_it_little() -> None:
    assert abs(found([0, 1], [0.3, 0.4]) - RULES.breaks_burst) < 0.15


@pytest.mark.parametrize(("scatter_variance", "by_hand"), [(0.0, 1.3763), (0.25, 0.89544)])
def test_what_a_row_brings_to_its_own_rate_is_left_out_of_it(
    scatter_variance: float, by_hand: float
) -> None:
    # Three breaks and none where one was expected, each row's rate known to a variance of 0.3.
    # Without scatter, by hand: the pull is 0.3, so that the rows lie 2/0.7 and 1/0.7 off a rate
    # known to 0.3/0.7: (2.5 + 8.163 + 2.041 - 2 - 2 x 0.5351)/(5 + 2).
    assert found([3, 0], [1, 1], known=0.3, scatter_variance=scatter_variance) == pytest.approx(
        by_hand, abs=2e-4
    )
