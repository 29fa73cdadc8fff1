"""Rows that contradict what else is known: each weighed as a cut or as a slip, both kept open.

A row is a cut, with Student's t scatter, or a slip of the pen (hours for minutes, another pass, a
digit too many), which says nothing; and all rows of one job may share one slip.  Far off the
tables and alone, either may be true: weights alone would settle on one of the two, and claim to
be sure.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
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
_UNDAMPED: Final = 8
"""Sweeps in which nearly all rows settle; some go to and fro unless they are held back."""
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
    sheet_share : float
        How many sheets have one slip in many of their rows, of whatever jobs.
    """

    share: float
    sigma: float
    job_share: float = 0.0
    sheet_share: float = 0.0


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

    def slip_log(self, value: float) -> float:
        """Return the logarithm of the chance density of a row as a slip, times the root of 2 pi."""
        share, sigma = self.slips.share, self.slips.sigma
        return math.log(share / sigma) - (value / sigma) ** 2 / 2 if share > 0 else -math.inf

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
    ways, logs = _ways(values, mean, covariance, law, jobs)
    return mixed(_row_ends(values, mean, covariance, law, ways, logs), mean, covariance)


_MOST_JOBS: Final = 5
"""Jobs that are tried as one slip each: every way to tell them apart is one more."""
_NEVER: Final = 25.0
"""Logarithm of odds at which something is not tried."""


def _jobs_together(jobs: NDArray[np.int64] | None, law: RowLaw) -> list[NDArray[np.int64]]:
    """Return the rows of each job that has several, the jobs with most rows first."""
    if jobs is None or not law.slips.job_share > 0:
        return []
    found = [np.flatnonzero(jobs == job) for job in np.unique(jobs)]
    found.sort(key=lambda rows: -len(rows))
    return [rows for rows in found if len(rows) > 1]


def _job_odds(law: RowLaw) -> float:
    """Return the logarithm of the odds that a job is one slip before anything is known of it."""
    return math.log(law.slips.job_share) - math.log1p(-law.slips.job_share)


def _ways(
    values: Floats,
    mean: Floats,
    covariance: Floats,
    law: RowLaw,
    jobs: NDArray[np.int64] | None,
) -> tuple[NDArray[np.bool_], Floats]:
    """Return the rows that each way leaves to be told one by one, and log of its likelihood.

    A way takes some jobs as one slip each, all others as none; likelihoods are over that of none.
    """
    together = _jobs_together(jobs, law)
    alone = [
        _one_slip(values[at], mean[at], covariance[np.ix_(at, at)], law) + _job_odds(law)
        for at in together
    ]
    # All rows of the job slips of their own is a way too: what is far less likely than that, given
    # whatever holds of the others, need not be tried.
    each = [sum(law.slip_log(y) for y in values[at].tolist()) for at in together]
    # The likeliest are tried, whatever they are called.
    more = [one - own for one, own in zip(alone, each, strict=True)]
    likely = [k for k in range(len(more)) if more[k] > -_NEVER]
    tried = sorted(likely, key=lambda k: -more[k])[:_MOST_JOBS]
    taken = np.array(list(itertools.product((False, True), repeat=len(tried))), dtype=bool)
    left = np.ones((len(taken), len(values)), dtype=bool)
    for column, job in enumerate(tried):
        left[np.ix_(taken[:, column], together[job])] = False
    return left, taken @ np.array([alone[job] for job in tried])


def _one_slip(values: Floats, mean: Floats, covariance: Floats, law: RowLaw) -> float:
    """Return the logarithm of the likelihood of the rows of a job, all off by one slip."""
    wide = covariance + law.squared_scale * np.eye(len(values)) + law.slips.sigma**2
    off = values - mean
    return -0.5 * float(off @ np.linalg.solve(wide, off) + np.linalg.slogdet(wide)[1])


def _row_ends(
    values: Floats,
    mean: Floats,
    covariance: Floats,
    law: RowLaw,
    ways: NDArray[np.bool_],
    logs: Floats,
) -> Ends:
    """Return where the rows may end in each way, each a cut or a slip by itself."""
    # Both beginnings at once: the first half doubts every row, the second trusts every row.
    count = len(ways)
    sites = _Sites.of(values, mean, covariance, law, np.tile(ways, (2, 1)))
    sites.trust(np.arange(count, 2 * count))
    sites.settle()
    doubting, trusting = sites.is_settled[:count], sites.is_settled[count:]
    # Where all rows are cuts already there is no other end.
    believed = doubting & np.all((sites.honest[:count] > _BELIEVED) | ~ways, axis=1)
    apart = np.abs(sites.tau[:count] - sites.tau[count:])
    alike = np.all(apart <= _SAME_END * (1 + np.abs(sites.tau[count:])), axis=1)
    takes = np.concatenate([doubting, trusting & ~believed & ~(doubting & alike)])
    if not takes.any():
        # Rows that go to and fro have no likelihood, but something has to be said of them.
        takes[:count] = True
    return sites.ends(takes, np.tile(logs, 2))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ends:
    """Ways in which the rows may be told apart: the normal factor of each, how likely it is.

    The first axis is the ends', the second the rows'.
    """

    log: Floats
    tau: Floats
    nu: Floats
    honest: Floats
    weight: Floats

    def likely(self) -> Ends:
        """Return them without those that no sum of doubles would show."""
        at = ~(self.log < self.log.max() - _UNSEEN)
        return Ends(**{name: getattr(self, name)[at] for name in _OF_ENDS})


_OF_ENDS: Final = ("log", "tau", "nu", "honest", "weight")
_UNSEEN: Final = 45.0
"""Logarithm of odds: 3e-20, a thousandth of the rounding of a double."""


def mixed(ends: Ends, mean: Floats, covariance: Floats) -> Weighed:
    """Return the normal factor that leaves mean and covariance of a mixture of normals.

    An end leaves the mean ``m + V a`` and the covariance ``V - V A V``; so does the mixture, with
    the spread of the ends' own means in A.  V need not have an inverse: two rows may be alike.
    """
    ends = ends.likely()
    one = np.eye(len(mean))
    inner = np.linalg.inv(one + ends.tau[:, :, None] * covariance)
    pulls = (inner @ (ends.nu - ends.tau * mean)[:, :, None])[:, :, 0]
    part = np.exp(ends.log - ends.log.max()) if len(ends.log) > 1 else np.ones(1)
    part /= part.sum()
    pull = part @ pulls
    off = pulls - pull
    hold = np.einsum("k,kij,kj->ij", part, inner, ends.tau) - (part * off.T) @ off
    precision = np.linalg.solve(one - hold @ covariance, hold)
    precision = (precision + precision.T) / 2
    return Weighed(
        precision=precision,
        pull=pull + precision @ (covariance @ pull + mean),
        honest=part @ ends.honest,
        weight=part @ ends.weight,
    )


_SAME_END: Final = 1e-3
_BELIEVED: Final = 0.9


@dataclass(slots=True, kw_only=True, eq=False)
class _Sites:
    """Normal factors under way, of every way at once: the first axis is the ways'.

    Rows that a way leaves out have a factor of nothing and keep it.
    """

    values: Floats
    first_mean: Floats
    first: Floats
    law: RowLaw
    ways: NDArray[np.bool_]
    variances: Floats
    shares: Floats
    """Normals that make up the scatter of a cut, times the chance to be one."""
    slip: Floats
    """Chance density of each row as a slip."""
    tau: Floats
    nu: Floats
    honest: Floats
    weight: Floats
    mean: Floats
    covariance: Floats
    is_settled: NDArray[np.bool_]

    @classmethod
    def of(
        cls,
        values: Floats,
        mean: Floats,
        covariance: Floats,
        law: RowLaw,
        ways: NDArray[np.bool_],
    ) -> _Sites:
        variances, shares = law.normals()
        none, count = np.zeros(ways.shape), len(ways)
        slip = np.array([math.exp(law.slip_log(value)) for value in values.tolist()])
        return cls(
            values=values, first_mean=mean, first=covariance, law=law, ways=ways,
            variances=variances, shares=(1 - law.slips.share) * shares, slip=slip,
            tau=none.copy(), nu=none.copy(), honest=none.copy(), weight=none.copy(),
            mean=np.tile(mean, (count, 1)),
            covariance=np.tile(covariance, (count, 1, 1)), is_settled=np.zeros(count, dtype=bool),
        )  # fmt: skip

    def trust(self, which: NDArray[np.int64]) -> None:
        """Begin some of the ways with every row a usual cut."""
        self.tau[which] = self.ways[which] / self.law.squared_scale
        self.nu[which] = self.tau[which] * self.values
        whole = np.linalg.inv(np.eye(len(self.values)) + self.first * self.tau[which, None, :])
        self.covariance[which] = whole @ self.first
        start = self.first_mean + self.nu[which] @ self.first
        self.mean[which] = (whole @ start[:, :, None])[:, :, 0]

    def cavity(self, i: int, here: Floats) -> tuple[Floats, Floats]:
        """Return mean and variance of a row's middle by all the others; 0 if there is none."""
        left = 1 / here - self.tau[:, i]
        left[~(left > 0)] = math.inf
        return (self.mean[:, i] / here - self.nu[:, i]) / left, 1 / left

    def chances(self, i: int, mean: Floats, variance: Floats) -> tuple[Floats, Floats]:
        """Return the chance density of a row by each normal of its scatter, as that of a slip.

        With what of the way to the row its middle goes by each of the normals.
        """
        wide = variance[:, None] + self.variances
        off = -((self.values[i] - mean) ** 2) / 2
        cut = np.exp(off[:, None] / wide) / np.sqrt(wide)
        cut *= self.shares
        return cut, variance[:, None] / wide

    def settle(self) -> None:
        """Renew the factors, row by row, until they stay."""
        moving = np.arange(len(self.ways))
        for sweep in range(_SWEEPS):
            if not len(moving):
                break
            there = self._taken(moving)
            with np.errstate(divide="ignore", invalid="ignore"):
                furthest = there.swept(1.0 if sweep < _UNDAMPED else _DAMPING)
            self._put(moving, there)
            self.is_settled[moving] = furthest < _SETTLED
            moving = moving[furthest >= _SETTLED]

    def _taken(self, which: NDArray[np.int64]) -> _Sites:
        """Return some of the ways alone."""
        if len(which) == len(self.ways):
            return self
        return replace(self, **{name: getattr(self, name)[which] for name in _OF_WAYS})

    def _put(self, which: NDArray[np.int64], there: _Sites) -> None:
        """Put back what was taken."""
        if there is not self:
            for name in _OF_WAYS:
                getattr(self, name)[which] = getattr(there, name)

    def swept(self, damping: float) -> Floats:
        """Renew every factor once.

        Returns how far the furthest of each way moved, in deviations; infinity if one cannot be.
        """
        furthest = np.zeros(len(self.ways))
        # What each row takes off the covariance, taken off at the end of the sweep in one.
        less, columns = np.zeros_like(self.covariance), np.zeros_like(self.covariance)
        for i in range(len(self.values)):
            column = self.covariance[:, :, i] - _times(columns[:, :i, i], less[:, :i])
            moved, more = self.update(i, column, damping)
            np.maximum(furthest, moved, out=furthest)
            columns[:, i] = column
            less[:, i] = column * (more / (1 + more * column[:, i]))[:, None]
        self.covariance -= np.swapaxes(less, 1, 2) @ columns
        return furthest

    def update(self, i: int, column: Floats, damping: float) -> tuple[Floats, Floats]:
        """Renew the factor of one row by its column of the covariance.

        Returns how far it moved, as in a sweep, and by how much its precision rose.
        """
        here, tau, nu = column[:, i], self.tau[:, i], self.nu[:, i]
        mean, variance = self.cavity(i, here)
        cut, gain = self.chances(i, mean, variance)
        whole = cut.sum(axis=1) + self.slip[i]
        is_open, is_held = variance > 0, whole > 0
        cut /= whole[:, None]
        # A slip leaves the middle where it is: it gains nothing.
        mean_gain, square_gain = _dot(cut, gain), _dot(cut, gain * gain)
        off = self.values[i] - mean
        middle = mean + off * mean_gain
        spread = variance * (1 - mean_gain) + off**2 * (square_gain - mean_gain**2)
        more = damping * (1 / spread - 1 / variance - tau)
        pull = damping * (middle / spread - mean / variance - nu)
        # By each normal the row is off by what it did not gain, give or take what is left.
        left = 1 - gain
        squares = (off[:, None] * left) ** 2 + variance[:, None] * left
        weight = _dot(cut, t_weights(squares / self.law.squared_scale, self.law.df))
        moved = np.abs(more) * here + np.abs(pull) * np.sqrt(here)
        able = self.ways[:, i] & is_open & is_held
        np.copyto(self.honest[:, i], 1 - self.slip[i] / whole, where=able)
        np.copyto(self.weight[:, i], weight, where=able)
        able &= 1 + more * here >= _LEAST_LEFT
        if not able.all():
            # Beyond what a float holds it says nothing.
            lost = self.ways[:, i] & (is_held | ~is_open)
            moved = np.where(able, moved, np.where(lost, math.inf, 0.0))
            more[~able] = 0.0
            pull[~able] = 0.0
        self.mean += column * ((pull - more * self.mean[:, i]) / (1 + more * here))[:, None]
        tau += more
        nu += pull
        return moved, more

    def ends(self, which: NDArray[np.bool_], logs: Floats) -> Ends:
        """Return some of the ways as they ended, by the likelihood of each and of its rows."""
        return Ends(
            log=(self.evidence() + logs)[which],
            tau=self.tau[which],
            nu=self.nu[which],
            honest=self.honest[which],
            weight=self.weight[which],
        )

    def evidence(self) -> Floats:
        """Return the logarithm of the likelihood of the rows, up to what both ends share."""
        one = np.eye(len(self.values))
        found = -0.5 * np.linalg.slogdet(one + self.first * self.tau[:, None, :])[1]
        off = self.nu - self.tau * self.first_mean
        found += np.einsum("ki,kij,kj->k", off, self.covariance, off) / 2
        found += self.nu @ self.first_mean - self.tau @ self.first_mean**2 / 2
        for i in range(len(self.values)):
            mean, variance = self.cavity(i, self.covariance[:, i, i])
            tau, nu = self.tau[:, i], self.nu[:, i]
            chance = self.chances(i, mean, variance)[0].sum(axis=1)
            chance += self.slip[i]
            left = 1 + tau * variance
            pulled = nu * mean + nu**2 * variance / 2 - tau * mean**2 / 2
            with np.errstate(divide="ignore", invalid="ignore"):
                more = np.log(chance) + 0.5 * np.log(left) - pulled / left
            more[~((chance > 0) & (left > 0))] = -math.inf
            found += np.where(self.ways[:, i], more, 0.0)
        return np.asarray(found)


_OF_WAYS: Final = ("ways", "tau", "nu", "honest", "weight", "mean", "covariance", "is_settled")


def _times(factors: Floats, rows: Floats) -> Floats:
    """Return the sum of the rows of each way, each times its factor."""
    summed: Floats = (factors[:, None, :] @ rows)[:, 0]
    return summed


def _dot(one: Floats, other: Floats) -> Floats:
    """Return the product of each way's two vectors."""
    found: Floats = np.einsum("kj,kj->k", one, other)
    return found
