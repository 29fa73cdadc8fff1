"""Ranges of sums whose parts share causes.

Every amount is ``x_i = m_i exp(sum_g s_ig z_g)`` with its likely value m_i, its spread s_ig from
each cause g and one standard normal z_g for each cause.  Amounts of one cause move together (one
material and wire cut fast or slow in every pass), causes are independent of each other.  Mean and
variance of the sum are exact; the sum is then taken as the lognormal with that mean and variance
(Fenton 1960).  That is exact where one cause with one spread makes all of it; against a
simulation of usual jobs it gives the 90th percentile within 0.5 % and the 10th within 2 %,
on the low side.  A part that is hardly known beside others that are, such as a hole far deeper than
is routine, would put the low end below what is sure: the ends are never further out than if
everything moved together, which is exact for one such part.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.ranges import Range
from kerfwright.process.experience import Loadings


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """One part of a sum.

    Attributes
    ----------
    likely : float
        In the unit of the sum, not negative.
    sigma_log : float
        Standard deviation of its logarithm.
    cause : str
        Amounts with the same cause move together.
    loadings : Loadings
        Where several causes move it: the spread from each, which takes the place of ``cause``;
        their squares add up to that of ``sigma_log``.
    count : float or None
        Mean count, where the amount is a count of chance events times what each takes: their own
        (Poisson) variance comes on top of that of the rate, ``sigma_log``.
    burst : float
        Of such a count: variance beyond Poisson over the mean, for events that come in bursts.
    """

    likely: float
    sigma_log: float
    cause: str
    loadings: Loadings = ()
    count: float | None = None
    burst: float = 0.0

    @property
    def by_cause(self) -> Mapping[str, float]:
        """Spread by cause."""
        return dict(self.loadings) if self.loadings else {self.cause: self.sigma_log}

    @property
    def mean(self) -> float:
        """Mean of the lognormal, ``m exp(s^2/2)``."""
        return self.likely * math.exp(self.sigma_log**2 / 2)

    @property
    def by_chance(self) -> float:
        """Variance of the count alone, ``mean^2 (1 + burst) / count``."""
        return self.mean**2 * (1 + self.burst) / self.count if self.count else 0.0

    @property
    def relative(self) -> Range:
        """Range over the likely value."""
        if self.count:
            counts = count_range(self.count, sigma_log=self.sigma_log, burst=self.burst)
            return Range(
                low=counts.low / counts.likely, likely=1.0, high=counts.high / counts.likely
            )
        return Range.lognormal(1.0, sigma_log=self.sigma_log)


def count_range(mean: float, *, sigma_log: float, burst: float = 0.0) -> Range:
    """Return the range of a count of chance events whose rate itself is uncertain.

    The rate is taken as a gamma with the variance of the lognormal, so that the count is negative
    binomial: ``variance = m (1 + b) + m² (exp(s²) - 1)``.

    Parameters
    ----------
    mean : float
        Of the count, above 0.
    sigma_log : float
        Standard deviation of the logarithm of the rate.
    burst : float
        Variance beyond Poisson over the mean: 0 for events by themselves, ``2 n - 2`` where they
        come in bursts of a geometric number, n on the mean.

    Returns
    -------
    Range
        ``likely`` is the count expected with the rate at its middle, ``mean / exp(s²/2)``, which
        need not be whole; low and high are the 10th and 90th percentile, whole numbers, but
        never on the other side of it.

    References
    ----------
    Poisson and gamma: the negative binomial (from memory of any textbook of statistics).

    Examples
    --------
    >>> r = count_range(0.05, sigma_log=1.0)
    >>> r.low, round(r.likely, 3), round(r.high, 3)
    (0.0, 0.03, 0.03)
    """
    likely = mean / math.exp(sigma_log**2 / 2)
    low, high = (_count_at(share, mean, sigma_log, burst) for share in (0.1, 0.9))
    return Range(low=min(float(low), likely), likely=likely, high=max(float(high), likely))


def whole_counts(mean: float, *, sigma_log: float, burst: float = 0.0) -> Range:
    """Return 10th, 50th and 90th percentile of a count as :func:`count_range`, all whole.

    Examples
    --------
    >>> whole_counts(3.0, sigma_log=0.3)
    Range(low=1.0, likely=3.0, high=6.0)
    """
    low, middle, high = (float(_count_at(p, mean, sigma_log, burst)) for p in (0.1, 0.5, 0.9))
    return Range(low=low, likely=middle, high=high)


def chance_of_any(mean: float, *, sigma_log: float, burst: float = 0.0) -> float:
    """Return the chance that a count as in :func:`count_range` is one or more.

    Examples
    --------
    >>> round(chance_of_any(0.1, sigma_log=0.0), 4)  # 1 - exp(-0.1)
    0.0952
    """
    return -math.expm1(_log_none(mean, _overdispersion(mean, sigma_log, burst)))


def _overdispersion(mean: float, sigma_log: float, burst: float) -> float:
    """Return the variance beyond Poisson over the squared mean: that of the gamma."""
    return math.expm1(sigma_log**2) + burst / mean


def _log_none(mean: float, overdispersion: float) -> float:
    """Return the logarithm of the chance of none."""
    return -mean if overdispersion == 0 else -math.log1p(mean * overdispersion) / overdispersion


def _count_at(share: float, mean: float, sigma_log: float, burst: float) -> int:
    """Return the smallest count with at least this share of the probability up to it."""
    overdispersion = _overdispersion(mean, sigma_log, burst)
    if mean > _MANY:
        # A normal of the same mean and variance: the chance of each is lost in the many.
        deviation = math.sqrt(mean + mean**2 * overdispersion)
        fitted = Range.lognormal(
            mean / math.sqrt(1 + (deviation / mean) ** 2),
            sigma_log=math.sqrt(math.log1p((deviation / mean) ** 2)),
        )
        return round(fitted.low if share < 1 / 2 else fitted.high)
    chance = summed = math.exp(_log_none(mean, overdispersion))
    count = 0
    while summed < share:
        chance *= mean * (1 + count * overdispersion) / ((count + 1) * (1 + mean * overdispersion))
        summed += chance
        count += 1
    return count


_MANY = 300.0
"""Counts above this are taken as continuous; the sum of chances would begin to underflow."""


def variance_by_cause(amounts: Iterable[Amount]) -> dict[str, float]:
    """Return the variance that each cause brings into the sum.

    ``cov(x_i, x_j) = mean_i mean_j (exp(sum_g s_ig s_jg) - 1)``; a covariance that several causes
    make is split among them as their terms in the exponent.
    """
    parts = tuple(amounts)
    causes = {
        cause: i for i, cause in enumerate(dict.fromkeys(c for p in parts for c in p.by_cause))
    }
    spread = np.zeros((len(causes), len(parts)))
    for column, part in enumerate(parts):
        for cause, sigma in part.by_cause.items():
            spread[causes[cause], column] = sigma
    mean = np.array([part.mean for part in parts])
    exponent = spread.T @ spread
    # expm1(x)/x, and its limit 1 where nothing is shared.
    slope = np.divide(np.expm1(exponent), exponent, out=np.ones_like(exponent), where=exponent != 0)
    weighted = slope * np.outer(mean, mean)
    found = np.einsum("gi,ij,gj->g", spread, weighted, spread)
    variances = {cause: float(found[i]) for cause, i in causes.items()}
    for part in parts:
        if part.count:
            variances[part.cause] += part.by_chance
    return variances


def total(amounts: Iterable[Amount]) -> Range:
    """Return the range of the sum, see the head of this module.

    Parameters
    ----------
    amounts : iterable of Amount

    Returns
    -------
    Range
        ``likely`` is the sum of the likely values, so that lines add up; low and high are the
        10th and 90th percentile.  It is the sum with every cause at its middle; long overruns
        weigh more than savings, so that it lies a little below the median of the sum.

    References
    ----------
    L. F. Fenton, "The sum of log-normal probability distributions in scatter transmission
    systems", IRE Trans. Communications Systems 8 (1960) 57-67 (from memory).

    Examples
    --------
    >>> one = total([Amount(likely=3.0, sigma_log=0.2, cause="rate"),
    ...              Amount(likely=4.0, sigma_log=0.2, cause="rate")])
    >>> round(one.high, 3)  # 7 exp(1.28155 * 0.2)
    9.045
    """
    parts = tuple(amounts)
    likely = math.fsum(p.likely for p in parts)
    mean = math.fsum(p.mean for p in parts)
    if mean == 0:
        return Range.exact(0.0)
    variance = math.fsum(variance_by_cause(parts).values())
    sigma = math.sqrt(math.log1p(variance / mean**2))
    fitted = Range.lognormal(mean / math.exp(sigma**2 / 2), sigma_log=sigma)
    # If everything moved together its ends would be the sums of the ends; causes that do not know
    # each other cannot spread the sum further.
    ends = [(p.likely, p.relative) for p in parts]
    low = max(fitted.low, math.fsum(m * r.low for m, r in ends))
    high = min(fitted.high, math.fsum(m * r.high for m, r in ends))
    return Range(low=min(low, likely), likely=likely, high=max(high, likely))
