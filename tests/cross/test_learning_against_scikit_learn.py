"""The learner's fit against Bayesian ridge regression and Gaussian processes of scikit-learn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.learning.crossed import Crossed, Design
from kerfwright.learning.fitting import fit_measure
from kerfwright.learning.learn import learn
from kerfwright.learning.records import CROSSED, Input, Measure, levels
from kerfwright.learning.solve import fit_robust
from simulated_shops import RULES, TABLES, Shop

linear_model = pytest.importorskip("sklearn.linear_model")
gaussian_process = pytest.importorskip("sklearn.gaussian_process")
kernels = pytest.importorskip("sklearn.gaussian_process.kernels")


def one_hot(names):
    """Columns of 0 and 1 by name of level, made without the learner."""
    seen = sorted({name for row in names for name in row})
    return np.array([[float(name in row) for name in seen] for row in names]), seen


def shop_rows(jobs=12, seed=31):
    cuts = Shop(seed=seed).records(jobs)
    plain = learn([], technology=TABLES.technology, catalogue=TABLES.catalogue, rules=RULES)
    assert not plain.counts
    names, response = [], []
    for cut in cuts:
        row = levels(
            machine=cut.machine,
            material=cut.material,
            wire=cut.wire,
            height_mm=cut.height_mm,
            pass_number=cut.pass_number,
            rules=RULES,
        )
        names.append((*row, f"job {cut.job}"))
        response.append(math.log(cut.feed_mm_per_min))
    centred = np.array(response) - np.mean(response)
    return names, centred / centred.std()


def test_effects_and_covariance_are_those_of_bayesian_ridge():
    names, response = shop_rows()
    x, seen = one_hot(names)
    ridge = linear_model.BayesianRidge(fit_intercept=False, max_iter=2000, tol=1e-10)
    ridge.fit(x, response)
    is_job = np.array([name.startswith("job ") for name in seen])
    design = Design(
        columns=np.array([[seen.index(name) for name in row] for row in names]),
        variance=np.full(len(seen), 1 / ridge.lambda_),
        is_job=is_job,
    )
    found = fit_robust(
        response, design, scatter_variance=1 / ridge.alpha_, df=math.inf, scale_sigma_log=0
    )
    assert found.mean == pytest.approx(ridge.coef_[~is_job], abs=1e-8)
    covariance = ridge.sigma_[np.ix_(~is_job, ~is_job)]
    assert np.linalg.inv(found.precision.toarray()) == pytest.approx(covariance, abs=1e-8)


def process(x, variance, noise):
    """Gaussian process whose kernel is that of independent effects with these variances."""
    kernel = kernels.DotProduct(sigma_0=0.0, sigma_0_bounds="fixed") + kernels.WhiteKernel(
        noise_level=noise, noise_level_bounds="fixed"
    )
    return gaussian_process.GaussianProcessRegressor(kernel=kernel, alpha=0.0, optimizer=None), (
        x * np.sqrt(variance)
    )


def test_marginal_likelihoods_differ_as_those_of_a_gaussian_process():
    # The scales of the variances are chosen by these differences.
    names, response = shop_rows()
    x, seen = one_hot(names)
    columns = np.array([[seen.index(name) for name in row] for row in names])
    base = np.array([0.05 if name.startswith("job ") else 0.1 for name in seen])
    ours, theirs = [], []
    for inputs, noise in ((1.0, 0.2), (2.5, 0.2), (0.3, 0.5), (1.0, 0.05)):
        design = Design(
            columns=columns, variance=base * inputs, is_job=np.zeros(len(seen), dtype=bool)
        )
        moved, _ = design.in_sparse_order()
        equations = Crossed.of(moved).weighed(response, np.ones(len(response)))
        ours.append(equations.misfit(moved.variance, noise))
        machine, scaled = process(x, base * inputs, noise)
        theirs.append(-2 * machine.fit(scaled, response).log_marginal_likelihood_value_)
    assert np.diff(ours) == pytest.approx(np.diff(theirs), rel=1e-6)


def test_predictions_for_known_and_new_levels_are_those_of_a_gaussian_process():
    import dataclasses

    names, response = shop_rows()
    rules = dataclasses.replace(
        RULES, scatter_df=math.inf, variance_scale_sigma_log=0.0, slip_share=0.0
    )
    fitted = fit_measure(response, names, measure=Measure.FEED, rules=rules)
    strange = tuple(f"{name.split(' ')[0]} of another shop" for name in names[0][:-1])
    wanted = [
        names[0][:-1],
        names[-1][:-1],
        (*names[0][:2], *strange[2:3], *names[0][3:-2], strange[-1]),
        strange,
    ]
    x, seen = one_hot([*names, *wanted])
    kinds = {
        name: kind
        for row in [*names, *wanted]
        for kind, name in zip((*CROSSED, Input.JOB), row, strict=False)
    }
    shares = RULES.shares[Measure.FEED]
    variance = np.array([shares[kinds[name]] for name in seen])
    machine, scaled = process(x, variance, shares[Input.CUT])
    machine.fit(scaled[: len(names)], response)
    mean, covariance = machine.predict(scaled[len(names) :], return_cov=True)
    look = fitted.outlook(wanted)
    assert look.mean == pytest.approx(mean, abs=1e-6)
    # The library's covariance has its noise on the diagonal; ours keeps cut and job apart.
    noise = shares[Input.CUT] * np.eye(len(wanted))
    assert look.shared == pytest.approx(covariance - noise, abs=1e-6)
    assert (look.job, look.cut) == (shares[Input.JOB], shares[Input.CUT])
