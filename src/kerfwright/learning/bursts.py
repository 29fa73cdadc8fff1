"""How far counts of breaks scatter beyond Poisson and beyond their rates."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.learning.crossed import factorised
from kerfwright.learning.records import LearningRules

Floats = NDArray[np.float64]

_OWN_PULL: Final = 0.9
"""A row that nearly decides its own rate tells little of its scatter: no more is put right."""


def burst_of(
    counts: Floats, middle: Floats, *, known: Floats, scatter_variance: float, rules: LearningRules
) -> float:
    """Return the variance of counts beyond Poisson and beyond that of their rates, over the mean.

    ``b = (n_0 b_0 + sum(r^2 - m - m^2 (exp(s^2 + v) - 1))) / (n_0 + sum m)``: the moments of a
    count of bursts, shrunk to the rules' figure, not below 0 nor above the most.  ``r`` is what a
    count differs by from the mean that the other rows would give it.

    Parameters
    ----------
    counts : Floats
        Events of each row.
    middle : Floats
        Expected with each row's rate at its middle.
    known : Floats
        Variance of the logarithm of that rate, v, as the rows leave it.
    scatter_variance : float
        Of the logarithm of a row's own rate, s².
    rules : LearningRules

    Notes
    -----
    A count counts for no more than ``most_burst + 2`` above its mean: one wild row says little of
    the others.  Leaving a row out divides its residual by one less its own pull on the rate, the
    usual first-order formula (from memory of any textbook of regression).
    """
    mean = middle * math.exp(scatter_variance / 2)
    pull = np.minimum(_OWN_PULL, known * mean / (1 + mean * math.expm1(scatter_variance)))
    off = np.minimum(counts - mean, rules.most_burst + 2) / (1 - pull)
    own = scatter_variance + known / (1 - pull)
    beyond = float((off**2 - mean - mean**2 * np.expm1(own)).sum())
    total = rules.burst_weight * rules.breaks_burst + beyond
    found = total / (rules.burst_weight + float(mean.sum()))
    return float(np.clip(found, 0.0, rules.most_burst))


def rate_of_rows(
    names: Sequence[tuple[str, ...]], *, seen: Sequence[str], mean: Floats, precision: Any
) -> tuple[Floats, Floats]:
    """Return the effects that rows add up to, and their variance.

    Parameters
    ----------
    names : sequence of tuple of str
        Levels of each row; those not among `seen` count as 0.
    seen : sequence of str
    mean : Floats
        By level seen.
    precision : sparse matrix
        Of the levels seen.
    """
    place = {name: number for number, name in enumerate(seen)}
    # Past the last level is the one of names not seen, which adds nothing.
    levels = np.array([[place.get(name, len(seen)) for name in row] for row in names])
    kinds, which = np.unique(levels, axis=0, return_inverse=True)
    covariance = np.zeros((len(seen) + 1, len(seen) + 1))
    covariance[:-1, :-1] = factorised(precision).solve(np.eye(len(seen)))
    variance = covariance[kinds[:, :, None], kinds[:, None, :]].sum(axis=(1, 2))
    means = np.append(mean, 0.0)[kinds].sum(axis=1)
    return means[which.ravel()], variance[which.ravel()]
