"""Equations of nested effects against dense algebra, slopes against differences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from kerfwright.learning.crossed import Crossed, Design, Sites, Sums
from kerfwright.learning.nested import Nest, NestedFactor
from kerfwright.learning.solve import _ScalePrior

SCATTER = 0.4


def shop(*, rows=300, seed=1, told=False):
    """Rows of jobs that each have a machine and a material, and combinations of these by pass."""
    generator = np.random.default_rng(seed)
    job = generator.integers(60, size=rows)
    machine = generator.integers(3, size=60)[job]
    material = generator.integers(4, size=60)[job]
    number = generator.integers(4, size=rows)
    combination = (machine * 4 + material) * 4 + number
    kinds = [machine, material, number, combination, job]
    columns, first = [], 0
    for kind in kinds:
        of = np.unique(kind, return_inverse=True)[1]
        columns.append(first + of)
        first += of.max() + 1
    is_job = np.arange(first) >= columns[-1].min()
    is_told = None
    if told:
        is_told = np.zeros(first, dtype=bool)
        is_told[1] = True
    return Design(
        columns=np.array(columns).T,
        variance=generator.uniform(0.1, 0.5, size=first),
        is_job=is_job,
        is_told=is_told,
    ), generator


def ring(*, rows=400, seed=1):
    """Every job has rows of many combinations: nothing nests."""
    generator = np.random.default_rng(seed)
    columns = np.array(
        [generator.integers(300, size=rows), 300 + generator.integers(50, size=rows)]
    )
    columns[0, :300], columns[1, :50] = np.arange(300), 300 + np.arange(50)
    variance = generator.uniform(0.1, 0.5, size=350)
    return Design(columns=columns.T, variance=variance, is_job=np.arange(350) >= 300), generator


def dense(design):
    found = np.zeros((len(design.columns), len(design.variance)))
    for column in design.columns.T:
        found[np.arange(len(found)), column] = 1
    return found


def equations(design, generator):
    response = generator.standard_normal(len(design.columns))
    weights = generator.uniform(0.1, 1.0, size=len(design.columns))
    return Crossed.of(design).weighed(response, weights), response, weights


def precision(design, weights):
    x = dense(design)
    return x.T @ (weights[:, None] * x) / SCATTER + np.diag(1 / design.variance)


def test_what_nests_is_found_and_what_does_not_is_none():
    design, _ = shop()
    nest = Nest.of(design.columns, design.is_job)
    # Machines and materials that some job had, and no more passes than four to each.
    pairs = len(np.unique(design.columns[:, :2], axis=0))
    assert (nest.groups, nest.size) == (pairs, 4)
    assert set(nest.jobs) | set(nest.inner) | set(nest.outer) == set(range(len(design.variance)))
    design, _ = ring()
    assert Nest.of(design.columns, design.is_job) is None


def test_rows_of_one_kind_are_summed_as_if_each_stood_alone():
    design, generator = shop()
    design = replace(design, columns=np.concatenate([design.columns, design.columns[:50]]))
    found, response, weights = equations(design, generator)
    x = dense(design)
    assert found.gram.toarray() == pytest.approx(x.T @ (weights[:, None] * x))
    assert found.right == pytest.approx(x.T @ (weights * response))


@pytest.mark.parametrize("made", [shop, ring])
def test_the_factor_is_that_of_dense_algebra(made):
    design, generator = made()
    design, _ = design.in_sparse_order()
    found, _, weights = equations(design, generator)
    whole = precision(design, weights)
    right = generator.standard_normal((len(whole), 3))
    exact = np.linalg.solve(whole, right)
    assert found.solve(design.variance, SCATTER, right) == pytest.approx(exact, abs=1e-10)
    one = found.solve(design.variance, SCATTER, right[:, 0])
    assert one == pytest.approx(exact[:, 0], abs=1e-10)


def test_determinant_and_what_is_left_of_variances_are_those_of_dense_algebra():
    design, generator = shop(told=True)
    found, _, weights = equations(design, generator)
    whole = precision(design, weights)
    factor = found.factor(design.variance, SCATTER)
    assert isinstance(factor, NestedFactor)
    assert factor.log_determinant == pytest.approx(np.linalg.slogdet(whole)[1], abs=1e-8)
    left = np.linalg.inv(whole).diagonal() / design.variance
    assert factor.shares(design.groups()) == pytest.approx(design.groups() @ left, rel=1e-9)


@pytest.mark.parametrize("made", [shop, ring])
def test_rows_judged_together_and_sums_count_as_if_written_into_the_matrix(made):
    design, generator = made()
    design, _ = design.in_sparse_order()
    found, _, weights = equations(design, generator)
    picked = dense(design)[:4]
    root = generator.standard_normal((4, 4))
    sites = Sites(picked=picked, precision=root @ root.T, pull=generator.standard_normal(4))
    lead = generator.uniform(size=(2, len(design.variance)))
    sums = Sums(
        made=lead, precision=2 * np.eye(2), own_pull=np.ones(2), taken=np.array([0.1, 0.2]),
        taken_at=np.array([1.0, -1.0]),
    )  # fmt: skip
    whole = precision(design, weights) + picked.T @ sites.precision @ picked
    whole += lead.T @ sums.more(SCATTER) @ lead
    pull = found.right / SCATTER + picked.T @ sites.pull + lead.T @ sums.pull(SCATTER)
    with_both = replace(found, sites=sites, sums=sums)
    mean = with_both.mean(design.variance, SCATTER)
    assert mean == pytest.approx(np.linalg.solve(whole, pull), abs=1e-9)


@pytest.mark.parametrize("made", [lambda: shop(told=True), ring])
def test_slopes_are_those_of_the_misfit(made):
    design, generator = made()
    design, _ = design.in_sparse_order()
    found, _, _ = equations(design, generator)
    groups, step = design.groups(), 1e-4
    value, slopes = found.misfit_and_slopes(design.variance, SCATTER, groups)
    assert value == pytest.approx(found.misfit(design.variance, SCATTER), abs=1e-9)

    def moved(index, by):
        variance, scatter = design.variance, SCATTER * np.exp(by * (index == 3))
        if index < 3:
            variance = variance * np.exp(by * groups[index])
        return found.misfit(variance, scatter)

    by_differences = [(moved(k, step) - moved(k, -step)) / (2 * step) for k in range(4)]
    assert slopes == pytest.approx(by_differences, abs=1e-4)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("wide", [0.3, 1.0, 3.0])
def test_the_search_ends_no_less_likely_than_searches_without_slopes(seed, wide):
    # The one by differences that these slopes replaced, and the simplex, which needs none.
    design, generator = shop(rows=500, seed=seed)
    true = generator.standard_normal(len(design.variance)) * np.sqrt(design.variance)
    response = wide * (dense(design) @ true + 0.6 * generator.standard_normal(500))
    rows = Crossed.of(design).weighed(response, np.ones(500))
    prior = _ScalePrior(centre=-0.1, sigma_log=0.7, groups=design.groups())

    def unpack(logs):
        inputs, jobs, scatter = np.exp(logs)
        return design.scaled(inputs, jobs), SCATTER * scatter

    def misfit(logs):
        return rows.misfit(*unpack(logs)) + np.sum(((logs + 0.1) / 0.7) ** 2)

    start = ours = by_differences = np.full(3, -0.1)
    limits = {"eps": 1e-3, "maxiter": 4, "ftol": 1e-6, "gtol": 0.02}
    for _ in range(3):
        ours = prior.best(rows, unpack, ours)
        by_differences = minimize(
            misfit, by_differences, method="L-BFGS-B", bounds=[(-2.8, 2.8)] * 3, options=limits
        ).x
    simplex = minimize(misfit, start, method="Nelder-Mead", bounds=[(-2.8, 2.8)] * 3).fun
    # A hundredth of a logarithm of likelihood is no more than either search is held to.
    assert misfit(ours) <= min(misfit(by_differences), simplex) + 0.02
