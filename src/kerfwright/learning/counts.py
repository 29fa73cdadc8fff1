"""Crossed effects on the logarithm of a rate, from counts that scatter beyond Poisson."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import wrightomega

from kerfwright.learning.crossed import Crossed, Design, Floats
from kerfwright.learning.slips import t_information, t_weights
from kerfwright.learning.solve import Effects, effective_scatter

_NEWTON_STEPS: Final = 50
_COUNT_REWEIGHTS: Final = 200
"""Turns at most until the weights of counts settle: one wild count takes some twenty."""


def fit_counts(
    counts: Floats,
    exposure: Floats,
    design: Design,
    *,
    scatter_variance: float,
    df: float,
) -> Effects:
    """Fit crossed effects on the logarithm of a rate to counts with Student's t scatter.

    A count is Poisson about ``exposure exp(X u + e)``, the row's own e Student's t: as with the
    other measures, e is normal with variance ``s^2/w`` given the row's weight, and the weights are
    ``(n + 1)/(n + e^2/s^2)`` (expectation-maximisation).  The pull of a row on the effects is
    ``w e/s^2``, never more than ``(n + 1)/(2 s sqrt(n))`` breaks and less the wilder the count.

    Parameters
    ----------
    counts : Floats
        Events of each row.
    exposure : Floats
        Events expected with all effects at 0.
    design : Design
        Variances in squared logarithms.
    scatter_variance : float
        Variance of a row's own logarithm, as that of the normal with the same 10–90 % range; 0
        for counts that scatter as Poisson alone, where one wild count moves everything.
    df : float
        Degrees of freedom; infinity for normal scatter of the logarithm.

    References
    ----------
    P. McCullagh, J. A. Nelder, "Generalized Linear Models", 2nd ed. (1989) (from memory):
    iterated weighted least squares.
    Weights as in :func:`kerfwright.learning.solve.fit_robust`.
    """
    design, place = design.in_sparse_order()
    crossed = Crossed.of(design)
    matrix = crossed.matrix
    mean, weights = np.zeros(len(design.variance)), np.ones(len(counts))
    has_weights = scatter_variance > 0 and not np.isinf(df)
    squared_scale = scatter_variance / (effective_scatter(df) ** 2 if has_weights else 1.0)
    for _ in range(_COUNT_REWEIGHTS if has_weights else 1):
        rows = _Counts(counts=counts, exposure=exposure, own_variance=squared_scale / weights)
        mean = _settled(mean, crossed, rows, design.variance)
        if has_weights:
            own = rows.own(matrix @ mean)
            before, weights = weights, t_weights(own**2 / squared_scale, df)
            if float(np.max(np.abs(weights - before))) < _SETTLED:
                break
    information = t_information(df) if has_weights else 1.0
    line = matrix @ mean
    own = _Counts(counts=counts, exposure=exposure, own_variance=squared_scale / weights).own(line)
    claimed = _Counts(
        counts=counts, exposure=exposure, own_variance=squared_scale / weights / information
    )
    curvature = claimed.curvature(line, own)
    is_job = design.is_job
    claimed_by = crossed.weighed(counts, curvature)
    precision = claimed_by.kept(design.variance, 1.0, is_job=is_job, place=place)
    mean = mean[place[~is_job[place]]]
    return Effects(mean=mean, precision=precision, scales=(1.0, 1.0, 1.0), weights=weights)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Counts:
    """Counts whose rows have a normal logarithm of their own, taken at its likeliest."""

    counts: Floats
    exposure: Floats
    own_variance: Floats

    def own(self, line: Floats) -> Floats:
        """Return the likeliest e of each row: ``e = v (count - exposure exp(line + e))``."""
        # With w = v m exp(v k) and m the expected count it is v k - W(w); the Wright omega
        # function takes ln w, which does not overflow for a wild count.
        pulled = self.own_variance * self.counts
        positive = self.own_variance > 0
        logs = np.log(np.where(positive, self.own_variance, 1.0) * self.exposure) + line + pulled
        return np.where(positive, pulled - wrightomega(logs), 0.0)

    def cost(self, line: Floats) -> float:
        own = self.own(line)
        whole = line + own
        poisson = self.exposure * np.exp(whole) - self.counts * whole
        spread = np.where(self.own_variance > 0, self.own_variance, 1.0)
        return float(np.sum(poisson + own**2 / spread / 2))

    def pull(self, line: Floats, own: Floats) -> Floats:
        """Return the slope of the log likelihood in the line of each row."""
        return self.counts - self.exposure * np.exp(line + own)

    def curvature(self, line: Floats, own: Floats) -> Floats:
        """Return the information of each row on its line, its own logarithm summed out."""
        expected = self.exposure * np.exp(line + own)
        return expected / (1 + self.own_variance * expected)


def _settled(mean: Floats, crossed: Crossed, rows: _Counts, variance: Floats) -> Floats:
    """Return the likeliest effects for given weights by Newton's method."""
    matrix = crossed.matrix

    def cost(effects: Floats) -> float:
        return rows.cost(matrix @ effects) + float(np.sum(effects**2 / variance) / 2)

    for _ in range(_NEWTON_STEPS):
        line = matrix @ mean
        own = rows.own(line)
        gradient = matrix.T @ rows.pull(line, own) - mean / variance
        equations = crossed.weighed(rows.counts, rows.curvature(line, own))
        step = equations.factor(variance, 1.0).solve(gradient)
        # The cost is convex, so halving ends; it guards the first steps from far away.
        length, here = 1.0, cost(mean)
        while cost(mean + length * step) > here and length > 2**-20:
            length /= 2
        mean = mean + length * step
        if float(np.max(np.abs(step))) < _SETTLED:
            break
    return mean


_SETTLED: Final = 2.0**-20
"""Newton steps below a millionth of a logarithm change nothing that is shown."""
