"""Rows that contradict what else is known: each weighed as a cut or as a slip, both kept open.

A row is a cut, with Student's t scatter, or a slip of the pen (hours for minutes, another pass, a
digit too many), which says nothing; and all rows of one job may share one slip.  Far off the
tables and alone, either may be true: weights alone would settle on one of the two, and claim to
be sure.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

Floats = NDArray[np.float64]

_NODES: Final = 24
_LIGHTEST, _HEAVIEST = 1e-4, 8.0
"""Weights by which Student's t is made of normals: from there to there, evenly in logarithms."""
_SWEEPS: Final = 60
_DAMPING: Final = 0.7
_SETTLED: Final = 1e-7
_LEAST_LEFT: Final = 0.05
"""An update that leaves less of a precision would leave none after the next."""


def t_weights(squares: Floats, df: float) -> Floats:
    """Return the weights of rows by their squared distances over the squared scale of Student's t.

    ``(n + 1)/(n + r^2/s^2)``, the mean weight of the normals that make it up; 1 for normal scatter.
    """
    if math.isinf(df):
        return np.ones_like(squares)
    weights: Floats = (df + 1) / (df + squares)
    return weights


def t_information(df: float) -> float:
    """Return the expected information of a row over what its weight alone would claim."""
    return 1.0 if math.isinf(df) else (df + 1) / (df + 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slips:
    """How often a row is a slip of the pen, and how far off.

    Attributes
    ----------
    share : float
        How many of all rows; 0 for none.
    sigma : float
        Standard deviation of a slip about the tables, in theirs.
    job_share : float
        How many jobs have all their rows written down wrong by one and the same slip.
    """

    share: float
    sigma: float
    job_share: float = 0.0


NO_SLIPS: Final = Slips(share=0.0, sigma=1.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RowLaw:
    """How a row is scattered about its middle.

    Attributes
    ----------
    squared_scale : float
        Of Student's t.
    df : float
        Its degrees of freedom; infinity for normal scatter.
    slips : Slips
    """

    squared_scale: float
    df: float
    slips: Slips

    def normals(self) -> tuple[Floats, Floats]:
        """Return variances and shares of the normals that make up the scatter of a true cut."""
        if math.isinf(self.df):
            return np.array([self.squared_scale]), np.ones(1)
        logs = np.linspace(math.log(_LIGHTEST), math.log(_HEAVIEST), _NODES)
        half = self.df / 2
        share = np.exp(half * math.log(half) - gammaln(half) + half * logs - half * np.exp(logs))
        return self.squared_scale / np.exp(logs), share / share.sum()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weighed:
    """What rows say together of their middles, as one normal factor.

    Attributes
    ----------
    precision : (n, n) Floats
    pull : (n,) Floats
        Of the factor ``exp(pull' f - f' precision f / 2)``; it may be negative where rows leave
        less known than before.
    honest : (n,) Floats
        Chance that a row is a cut and no slip.
    weight : (n,) Floats
        The same times the weight of its scatter, 1 for a usual one.
    """

    precision: Floats
    pull: Floats
    honest: Floats
    weight: Floats


def weigh(
    values: Floats,
    *,
    mean: Floats,
    covariance: Floats,
    law: RowLaw,
    jobs: NDArray[np.int64] | None = None,
) -> Weighed:
    """Weigh rows against what else is known of them, and against each other.

    Each row's factor ``(1 - e) t((y - f)/s) + e N(y; 0, S^2)`` is replaced by the normal that
    leaves the same mean and variance of f, given all the others (expectation propagation).  That
    is done from two beginnings, that nobody is believed yet and that all are.  Rows of one job may
    also be one slip together (minutes for hours in every line): for each such way the job's rows
    say nothing and are as likely as ``N(y; m, V + s^2 + S^2 11')``.  The ends are mixed as likely
    as each is, to a normal of the same mean and covariance.

    Parameters
    ----------
    values : (n,) Floats
    mean, covariance : Floats
        Of the middles f, from all other rows.
    law : RowLaw
    jobs : (n,) integers, optional
        The job of each row; without them no two rows share a slip.

    References
    ----------
    T. P. Minka, "Expectation propagation for approximate Bayesian inference", UAI 2001 (from
    memory): the clutter problem.
    P. Jylänki, J. Vanhatalo, A. Vehtari, "Robust Gaussian process regression with a Student-t
    likelihood", J. Mach. Learn. Res. 12 (2011) 3227-3257 (from memory): factors with a precision
    below 0, and two ends.
    """
    together = _jobs_together(jobs, law)
    ends: list[_End] = []
    for count in range(len(together) + 1):
        for slipped in itertools.combinations(together, count):
            log = count * math.log(law.slips.job_share) if count else 0.0
            log += (len(together) - count) * math.log1p(-law.slips.job_share)
            for rows in slipped:
                log += _one_slip(values[rows], mean[rows], covariance[np.ix_(rows, rows)], law)
            out = np.concatenate(slipped) if slipped else np.zeros(0, dtype=np.int64)
            rest = np.setdiff1d(np.arange(len(values)), out)
            ends += [
                end.among(rest, len(values), more=log)
                for end in _row_ends(values[rest], mean[rest], covariance[np.ix_(rest, rest)], law)
            ]
    return _mixed(ends, mean, covariance)


_MOST_JOBS: Final = 5
"""Jobs that are tried as one slip each: every way to tell them apart is one more."""


def _jobs_together(jobs: NDArray[np.int64] | None, law: RowLaw) -> list[NDArray[np.int64]]:
    """Return the rows of each job that has several, the jobs with most rows first."""
    if jobs is None or not law.slips.job_share > 0:
        return []
    found = [np.flatnonzero(jobs == job) for job in np.unique(jobs)]
    found.sort(key=lambda rows: -len(rows))
    return [rows for rows in found if len(rows) > 1][:_MOST_JOBS]


def _one_slip(values: Floats, mean: Floats, covariance: Floats, law: RowLaw) -> float:
    """Return the logarithm of the likelihood of the rows of a job, all off by one slip."""
    wide = covariance + law.squared_scale * np.eye(len(values)) + law.slips.sigma**2
    off = values - mean
    return -0.5 * float(off @ np.linalg.solve(wide, off) + np.linalg.slogdet(wide)[1])


def _row_ends(values: Floats, mean: Floats, covariance: Floats, law: RowLaw) -> list[_End]:
    """Return where the rows may end, each a cut or a slip by itself."""
    if not len(values):
        none = np.zeros(0)
        return [_End(log=0.0, tau=none, nu=none, honest=none, weight=none)]
    doubting = _Sites.of(values, mean, covariance, law)
    doubting.settle()
    if doubting.is_settled and float(doubting.honest.min()) > _BELIEVED:
        # All rows are cuts already: there is no other end.
        return [doubting.end()]
    trusting = _Sites.of(values, mean, covariance, law)
    trusting.trust()
    trusting.settle()
    if not trusting.is_settled or not doubting.is_settled:
        return [(trusting if trusting.is_settled else doubting).end()]
    if np.allclose(doubting.tau, trusting.tau, rtol=_SAME_END, atol=_SAME_END):
        return [doubting.end()]
    return [doubting.end(), trusting.end()]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _End:
    """One way in which the rows may be told apart: the normal factor of each, how likely it is."""

    log: float
    tau: Floats
    nu: Floats
    honest: Floats
    weight: Floats

    def among(self, rows: NDArray[np.int64], count: int, *, more: float) -> _End:
        """Return the end with these rows among others that say nothing."""

        def spread(part: Floats) -> Floats:
            whole = np.zeros(count)
            whole[rows] = part
            return whole

        return _End(
            log=self.log + more,
            tau=spread(self.tau),
            nu=spread(self.nu),
            honest=spread(self.honest),
            weight=spread(self.weight),
        )


def _mixed(ends: list[_End], mean: Floats, covariance: Floats) -> Weighed:
    """Return the normal factor that leaves mean and covariance of a mixture of normals.

    An end leaves the mean ``m + V a`` and the covariance ``V - V A V``; so does the mixture, with
    the spread of the ends' own means in A.  V need not have an inverse: two rows may be alike.
    """
    one = np.eye(len(mean))
    pulls, holds = [], []
    for end in ends:
        inner = np.linalg.inv(one + end.tau[:, None] * covariance)
        pulls.append(inner @ (end.nu - end.tau * mean))
        holds.append(inner * end.tau)
    logs = np.array([end.log for end in ends])
    part = np.exp(logs - logs.max()) if len(ends) > 1 else np.ones(1)
    part /= part.sum()
    pull = part @ np.array(pulls)
    hold = np.einsum("k,kij->ij", part, np.array(holds))
    for share, here in zip(part, pulls, strict=True):
        hold = hold - share * np.outer(here - pull, here - pull)
    precision = np.linalg.solve(one - hold @ covariance, hold)
    precision = (precision + precision.T) / 2
    return Weighed(
        precision=precision,
        pull=pull + precision @ (covariance @ pull + mean),
        honest=part @ np.array([end.honest for end in ends]),
        weight=part @ np.array([end.weight for end in ends]),
    )


_SAME_END: Final = 1e-3
_BELIEVED: Final = 0.9


@dataclass(slots=True, kw_only=True, eq=False)
class _Sites:
    """Normal factors under way."""

    values: Floats
    first_mean: Floats
    first: Floats
    law: RowLaw
    variances: Floats
    shares: Floats
    tau: Floats
    nu: Floats
    honest: Floats
    weight: Floats
    mean: Floats
    covariance: Floats
    is_settled: bool = False

    @classmethod
    def of(cls, values: Floats, mean: Floats, covariance: Floats, law: RowLaw) -> _Sites:
        variances, shares = law.normals()
        none = np.zeros(len(values))
        return cls(
            values=values, first_mean=mean, first=covariance, law=law, variances=variances,
            shares=shares, tau=none.copy(), nu=none.copy(), honest=none.copy(),
            weight=none.copy(), mean=mean.copy(), covariance=covariance.copy(),
        )  # fmt: skip

    def trust(self) -> None:
        """Begin with every row a usual cut."""
        self.tau[:] = 1 / self.law.squared_scale
        self.nu[:] = self.values / self.law.squared_scale
        whole = np.linalg.inv(np.eye(len(self.values)) + self.first * self.tau)
        self.covariance = whole @ self.first
        self.mean = whole @ (self.first_mean + self.first @ self.nu)

    def cavity(self, i: int) -> tuple[float, float]:
        """Return mean and variance of a row's middle by all the others; 0 if there is none."""
        left = 1 / self.covariance[i, i] - self.tau[i]
        if left <= 0:
            return 0.0, 0.0
        return float((self.mean[i] / self.covariance[i, i] - self.nu[i]) / left), float(1 / left)

    def chances(self, i: int, mean: float, variance: float) -> Floats:
        """Return the chance density of a row by each normal of its scatter, and as a slip."""
        y, wide = self.values[i], variance + self.variances
        slip = self.law.slips.share
        cut = (1 - slip) * self.shares * np.exp(-((y - mean) ** 2) / (2 * wide)) / np.sqrt(wide)
        far = slip * math.exp(-((y / self.law.slips.sigma) ** 2) / 2) / self.law.slips.sigma
        return np.append(cut, far)

    def settle(self) -> None:
        for sweep in range(_SWEEPS):
            damping = _DAMPING if sweep else 1.0
            steps = [self.update(i, damping) for i in range(len(self.values))]
            if max(steps) < _SETTLED:
                self.is_settled = True
                break

    def update(self, i: int, damping: float) -> float:
        """Renew one factor; return how far it moved, in deviations; infinity if it cannot be."""
        mean, variance = self.cavity(i)
        if not variance:
            return math.inf
        chances = self.chances(i, mean, variance)
        whole = float(chances.sum())
        if not whole > 0:
            # Beyond what a float holds: it says nothing.
            return 0.0
        part = chances / whole
        gain = variance / (variance + self.variances)
        means = np.append(mean + gain * (self.values[i] - mean), mean)
        spreads = np.append(variance * (1 - gain), variance)
        now = float(part @ means)
        spread = float(part @ (spreads + (means - now) ** 2))
        self.honest[i] = 1 - part[-1]
        self.weight[i] = self._weight(part, means[:-1], spreads[:-1], i)
        more = damping * (1 / spread - 1 / variance - self.tau[i])
        pull = damping * (now / spread - mean / variance - self.nu[i])
        here = float(self.covariance[i, i])
        if 1 + more * here < _LEAST_LEFT:
            return math.inf
        column = self.covariance[:, i].copy()
        gained = 1 / (1 + more * here)
        self.mean += column * (pull - more * self.mean[i]) * gained
        self.covariance -= np.outer(column, column) * (more * gained)
        self.tau[i] += more
        self.nu[i] += pull
        return float(abs(more) * here + abs(pull) * math.sqrt(here))

    def _weight(self, part: Floats, means: Floats, spreads: Floats, i: int) -> float:
        squares = (self.values[i] - means) ** 2 + spreads
        return float(part[:-1] @ t_weights(squares / self.law.squared_scale, self.law.df))

    def end(self) -> _End:
        return _End(
            log=self.evidence(), tau=self.tau, nu=self.nu, honest=self.honest, weight=self.weight
        )

    def evidence(self) -> float:
        """Return the logarithm of the likelihood of the rows, up to what both ends share."""
        count = len(self.values)
        found = -0.5 * float(np.linalg.slogdet(np.eye(count) + self.first * self.tau)[1])
        off = self.nu - self.tau * self.first_mean
        found += float(off @ self.covariance @ off) / 2
        found += float(self.nu @ self.first_mean - self.tau @ self.first_mean**2 / 2)
        for i in range(count):
            mean, variance = self.cavity(i)
            chance = float(self.chances(i, mean, variance).sum())
            left = 1 + self.tau[i] * variance
            if not chance > 0 or not left > 0:
                return -math.inf
            pulled = self.nu[i] * mean + self.nu[i] ** 2 * variance / 2
            pulled -= self.tau[i] * mean**2 / 2
            found += math.log(chance) + 0.5 * math.log(left) - float(pulled / left)
        return found
