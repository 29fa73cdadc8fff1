"""The sparse fit against dense algebra and a general optimiser."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import ndtr

from kerfwright.learning.counts import fit_counts
from kerfwright.learning.crossed import Design
from kerfwright.learning.solve import _MIXED, effective_scatter, fit_robust


def crossed(*, rows=60, seed=1, groups=(3, 4, 12)):
    """Rows with one level of each group at random; the last group are the jobs."""
    generator = np.random.default_rng(seed)
    # Every level is there once at least, as the learner's own numbering makes sure.
    columns = []
    first = 0
    for count in groups:
        drawn = np.concatenate([np.arange(count), generator.integers(count, size=rows - count)])
        columns.append(first + generator.permutation(drawn))
        first += count
    variance = np.concatenate([np.full(n, v) for n, v in zip(groups, (0.5, 0.3, 0.2), strict=True)])
    is_job = np.arange(first) >= first - groups[-1]
    design = Design(columns=np.array(columns).T, variance=variance, is_job=is_job)
    return design, generator


def dense(design):
    matrix = np.zeros((len(design.columns), len(design.variance)))
    for column in design.columns.T:
        matrix[np.arange(len(matrix)), column] = 1
    return matrix


def test_the_normal_fit_is_the_conditional_normal_of_the_textbook():
    # y = X u + e: E[u|y] = D X' (X D X' + s^2)^-1 y and cov = D - D X' (...)^-1 X D, inverted in
    # the space of the observations instead of that of the effects.
    design, generator = crossed()
    response = generator.standard_normal(60)
    found = fit_robust(response, design, scatter_variance=0.4, df=math.inf, scale_sigma_log=0)
    x, prior = dense(design), np.diag(design.variance)
    gain = prior @ x.T @ np.linalg.inv(x @ prior @ x.T + 0.4 * np.eye(60))
    kept = ~design.is_job
    assert found.mean == pytest.approx((gain @ response)[kept], abs=1e-10)
    covariance = (prior - gain @ x @ prior)[np.ix_(kept, kept)]
    assert np.linalg.inv(found.precision.toarray()) == pytest.approx(covariance, abs=1e-10)
    assert found.scales == (1, 1, 1)


def test_the_students_t_fit_is_where_its_likelihood_is_highest():
    design, generator = crossed(seed=2)
    response = generator.standard_t(3, size=60)
    found = fit_robust(response, design, scatter_variance=0.4, df=5, scale_sigma_log=0)
    x = dense(design)
    scale_squared = 0.4 / effective_scatter(5) ** 2

    def minus_log(u):
        off = (response - x @ u) ** 2 / scale_squared
        return 3 * np.log1p(off / 5).sum() + (u**2 / design.variance).sum() / 2

    best = minimize(minus_log, np.zeros(x.shape[1]), method="BFGS", options={"gtol": 1e-8})
    # The weights are settled to a few thousandths after the turns they are given.
    assert found.mean == pytest.approx(best.x[~design.is_job], abs=0.01)


def test_the_fit_of_poisson_counts_is_where_its_likelihood_is_highest():
    design, generator = crossed(seed=3)
    exposure = generator.uniform(0.2, 3.0, size=60)
    counts = generator.poisson(exposure).astype(float)
    found = fit_counts(counts, exposure, design, scatter_variance=0, df=5)
    x = dense(design)

    def minus_log(u):
        line = x @ u
        return (exposure * np.exp(line) - counts * line).sum() + (u**2 / design.variance).sum() / 2

    best = minimize(minus_log, np.zeros(x.shape[1]), method="BFGS", options={"gtol": 1e-8})
    assert found.mean == pytest.approx(best.x[~design.is_job], abs=1e-5)
    curvature = x.T @ np.diag(exposure * np.exp(x @ best.x)) @ x + np.diag(1 / design.variance)
    covariance = np.linalg.inv(curvature)[np.ix_(~design.is_job, ~design.is_job)]
    assert np.linalg.inv(found.precision.toarray()) == pytest.approx(covariance, rel=1e-3, abs=1e-5)


def test_the_fit_of_counts_with_wild_ones_is_where_the_likelihood_of_effects_and_rows_is_highest():
    # The likelihood as written on the page, without weights: each row has a logarithm of its own,
    # Student's t, beside the effects.
    design, generator = crossed(seed=3)
    exposure = generator.uniform(0.2, 3.0, size=60)
    counts = generator.poisson(exposure).astype(float)
    counts[7] += 400
    found = fit_counts(counts, exposure, design, scatter_variance=0.3, df=5)
    x = dense(design)
    scale_squared = 0.3 / effective_scatter(5) ** 2
    effects = x.shape[1]

    def minus_log(both):
        u, e = both[:effects], both[effects:]
        line = x @ u + e
        tails = 3 * np.log1p(e**2 / scale_squared / 5).sum()
        poisson = (exposure * np.exp(line) - counts * line).sum()
        return poisson + tails + (u**2 / design.variance).sum() / 2

    # From the obvious: no effect, and each row's own logarithm what its count shows.
    start = np.append(np.zeros(effects), np.log((counts + 0.5) / (exposure + 0.5)))
    best = minimize(minus_log, start, method="BFGS", options={"gtol": 1e-6, "maxiter": 2000})
    assert found.mean == pytest.approx(best.x[:effects][~design.is_job], abs=1e-3)
    own = best.x[effects:]
    assert found.weights == pytest.approx(6 / (5 + own**2 / scale_squared), abs=1e-3)
    assert found.weights[7] < 0.1
    # Curvature of effects and rows together, the rows' with the expected information 6/8.
    expected = exposure * np.exp(x @ best.x[:effects] + own)
    rows = np.diag(expected + found.weights * 6 / 8 / scale_squared)
    across = x.T @ np.diag(expected)
    left = across @ x + np.diag(1 / design.variance)
    covariance = np.linalg.inv(np.block([[left, across], [across.T, rows]]))[:effects, :effects]
    kept = np.ix_(~design.is_job, ~design.is_job)
    assert np.linalg.inv(found.precision.toarray()) == pytest.approx(
        covariance[kept], rel=5e-3, abs=1e-4
    )


def test_a_wild_observation_gets_little_weight_and_moves_little():
    design, generator = crossed(seed=4)
    response = 0.5 * generator.standard_normal(60)
    clean = fit_robust(response, design, scatter_variance=0.25, df=5, scale_sigma_log=0.7)
    wild = response.copy()
    wild[7] += 20
    robust = fit_robust(wild, design, scatter_variance=0.25, df=5, scale_sigma_log=0.7)
    normal = fit_robust(wild, design, scatter_variance=0.25, df=math.inf, scale_sigma_log=0.7)
    moved = [np.max(np.abs(f.mean - clean.mean)) for f in (robust, normal)]
    assert robust.weights[7] < 0.1
    assert moved[0] < 0.25
    assert moved[1] > 2 * moved[0]


def test_variance_scales_follow_the_data_and_stay_at_the_prior_without():
    design, generator = crossed(rows=600, seed=5, groups=(20, 20, 150))
    x = dense(design)
    true = generator.standard_normal(len(design.variance)) * np.sqrt(design.variance)
    tight = x @ true + 0.2 * generator.standard_normal(600)
    found = fit_robust(tight, design, scatter_variance=0.16, df=math.inf, scale_sigma_log=0.7)
    # The scatter is half as wide as thought: a quarter of the variance.
    assert found.scales[2] == pytest.approx(0.25, rel=0.2)
    little = Design(
        columns=np.array([[0, 1, 2]]), variance=np.array([0.5, 0.3, 0.2]),
        is_job=np.array([False, False, True]),
    )  # fmt: skip
    one = fit_robust(np.array([1.0]), little, scatter_variance=0.16, df=5, scale_sigma_log=0.7)
    assert one.scales == pytest.approx((1, 1, 1), rel=0.15)


def test_copied_values_do_not_drive_the_scatter_to_nothing():
    design, _ = crossed(rows=400, seed=6)
    found = fit_robust(np.full(400, 0.3), design, scatter_variance=0.4, df=5, scale_sigma_log=0.7)
    assert np.isfinite(found.mean).all()
    assert found.scales[2] > 0.03


def test_the_precision_claimed_under_students_t_is_that_of_many_repeated_fits():
    # A thousand means of twenty draws each: their true errors against the claimed deviations.
    # Without the expected information, 6/8 at 5 degrees of freedom, the claim is a quarter short.
    means, rows, df = 1000, 20, 5
    generator = np.random.default_rng(7)
    which = np.repeat(np.arange(means), rows)
    design = Design(
        columns=np.column_stack([which, np.full(means * rows, means)]),
        variance=np.append(np.full(means, 1e4), 2.0**-30),
        is_job=np.append(np.zeros(means, dtype=bool), np.array([True])),
    )
    scatter = effective_scatter(df) ** 2
    found = fit_robust(
        generator.standard_t(df, size=means * rows),
        design,
        scatter_variance=scatter,
        df=df,
        scale_sigma_log=0,
    )
    claimed = 1 / found.precision.diagonal()
    assert np.mean(found.mean**2) / np.mean(claimed) == pytest.approx(1, abs=0.12)


@pytest.mark.parametrize("sigma_log", [0.2, 0.4, 0.7])
def test_a_range_is_widened_as_a_mixture_of_variances_asks(sigma_log):
    # x ~ N(0, V) with ln V ~ N(0, s^2): the 10-90 % range by integration over V against that of a
    # normal of variance exp(c s^2), to second order.
    logs, weights = np.polynomial.hermite_e.hermegauss(60)
    z = 1.2815515655446004  # 90th percentile of the normal.
    end = z * math.exp(_MIXED * sigma_log**2 / 2)
    inside = np.sum(weights * ndtr(end / np.exp(sigma_log * logs / 2))) / np.sum(weights)
    assert inside == pytest.approx(0.9, abs=0.002)
