"""Breaks an hour by the model of the wire and a shop's own counts together."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from kerfwright.foundation.kept import Kept
from kerfwright.foundation.ranges import Range
from kerfwright.process.break_spread import log_factor
from kerfwright.process.wire_physics import BreakLaw

Floats = NDArray[np.float64]
_RATES: Final = Kept(most=1024)
"""All contours of a plan ask for the same few feeds."""
_POSTERIORS: Final = Kept(most=64)
"""What the counts say is the same for every feed that is asked about."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedBreaks:
    """What the model of the wire and a shop's counts together say of breaks an hour.

    ``rho = r F(u, c)``: ``r`` the breaks an hour of a usual rough cut of this shop, ``F`` what the
    model has for the share ``u`` of the break current, ``c`` the logarithm by which that share is
    off in all cuts of the combination.  Every counted cut weighs, at its own feed, so that no feed
    is tried after another: ``n ln(r F) - r F t``, over ``1 + b`` for the bursts ``b``.  What was
    learned of ``r`` has the same counts in it, as if every cut were usual.  They are taken out by
    going back to the tables as far as they are what was learned: by the share ``I s^2`` that their
    information ``I = max(n, r t)/(1 + b)`` has in that of the learned logarithm, ``1/s^2``.
    Dividing their likelihood out exactly would leave no tail: the learned range is a lognormal,
    which falls slower than a count forbids.

    Attributes
    ----------
    law : BreakLaw
    per_h : Range
        Of ``r``, as learned.
    before_per_h : Range
        Of ``r`` by the tables, before any count.
    burst : float
        Variance of a count beyond Poisson, over its mean.
    cuts : tuple of (float, float, int)
        Share of the break current, hours and breaks.
    charge_more_log : float
        By which the charge for a volume is less sure than in steel, of its logarithm.

    References
    ----------
    Bayes' rule on a grid (computed); quasi-likelihood for counts that scatter more than Poisson's:
    McCullagh and Nelder, Generalized Linear Models, 1989, chapter 9 (from memory).
    """

    law: BreakLaw
    per_h: Range
    before_per_h: Range
    burst: float
    cuts: tuple[tuple[float, float, int], ...]
    charge_more_log: float = 0.0

    def rate_per_h(self, share: float) -> Range:
        """Return the breaks an hour at a share of the break current, 10–50–90 %."""
        return _RATES.once(lambda: self._rate_per_h(share), self.law, key=(self._known, share))

    def _rate_per_h(self, share: float) -> Range:
        log_rate, common, weights = _POSTERIORS.once(self._posterior, self.law, key=self._known)
        values = log_rate + log_factor(self.law.relative_rate, share, common)
        values = np.minimum(values, _MOST_LOG)
        order = np.argsort(values)
        below = np.cumsum(weights[order]) - weights[order] / 2
        low, likely, high = np.exp(np.interp([0.1, 0.5, 0.9], below, values[order])).tolist()
        return Range(low=low, likely=likely, high=high)

    @property
    def _known(self) -> Hashable:
        """All but the law, which is told by identity."""
        return self.per_h, self.before_per_h, self.burst, self.cuts, self.charge_more_log

    def with_more(self, share: float, hours: float) -> CountedBreaks:
        """Return the same with hours without a break at a share of the break current."""
        return replace(self, cuts=(*self.cuts, (share, hours, 0)))

    def share_borne(self, *, accepted_per_h: float, at_most: float) -> float:
        """Return the largest share at which the likely rate is accepted, up to a most."""
        if self.likely_per_h(at_most) <= accepted_per_h:
            return at_most
        if self.likely_per_h(_LEAST_SHARE) > accepted_per_h:
            return 0.0
        return _crossing(
            lambda share: self.likely_per_h(share) - accepted_per_h, _LEAST_SHARE, at_most
        )

    def hours_wanted(self, share: float, *, accepted_per_h: float) -> float:
        """Return how many hours more at a share without a break would make its rate accepted."""

        def beyond(hours: float) -> float:
            return self.with_more(share, hours).likely_per_h(share) - accepted_per_h

        if beyond(0.0) <= 0:
            return 0.0
        most = _FIRST_HOURS
        while beyond(most) > 0:
            most *= 2
        return _crossing(beyond, 0.0, most)

    def likely_per_h(self, share: float) -> float:
        """Return the likely breaks an hour at a share of the break current."""
        return self.rate_per_h(share).likely

    def _posterior(self) -> tuple[Floats, Floats, Floats]:
        """Return logarithms of the rate, of the error of the share, and weights, one a node."""
        sigma = math.hypot(self.law.charge_sigma_log, self.charge_more_log, self.law.sigma_log)
        z, common = (a.ravel() for a in np.meshgrid(_RATE_NODES, _NODES, indexing="ij"))
        middle, width = self._others()
        log_rate, off = middle + width * z, sigma * common
        log_weight = -(z**2 + common**2) / 2
        for share, hours, breaks in self.cuts:
            log_per_h = log_rate + log_factor(self.law.relative_rate, share, off)
            log_per_h = np.minimum(log_per_h, _MOST_LOG)
            log_weight += (breaks * log_per_h - hours * np.exp(log_per_h)) / (1 + self.burst)
        weights = np.exp(log_weight - log_weight.max())
        return log_rate, off, weights / weights.sum()

    def _others(self) -> tuple[float, float]:
        """Return middle and deviation of the logarithm of a usual cut's rate without these cuts."""
        breaks, hours = (sum(c[k] for c in self.cuts) for k in (2, 1))
        information = max(breaks, self.per_h.likely * hours) / (1 + self.burst)
        kept = max(0.0, 1 - information * self.per_h.sigma_log**2)
        before, learned = (math.log(r.likely) for r in (self.before_per_h, self.per_h))
        precision = kept / self.per_h.sigma_log**2 + (1 - kept) / self.before_per_h.sigma_log**2
        return before + kept * (learned - before), 1 / math.sqrt(precision)


def _crossing(function: Callable[[float], float], low: float, high: float) -> float:
    return float(brentq(function, low, high, rtol=_CLOSE, xtol=_CLOSE))


_NODES: Final = np.linspace(-4.0, 4.0, 61)
_RATE_NODES: Final = np.linspace(-6.0, 6.0, 121)
"""Counts may say that a shop's wire breaks far more often than any table expects."""
_LEAST_SHARE: Final = 1e-3
_FIRST_HOURS: Final = 8.0
_CLOSE: Final = 1e-3
_MOST_LOG: Final = 30.0
"""Breaks an hour that no cut bears, kept from overflow."""
