"""Ranges of sums whose parts share causes.

Every amount is ``x_i = m_i exp(s_i z_g)`` with its likely value m_i, its spread s_i and one
standard normal z_g for each cause g.  Amounts of one cause move together (one material and
wire cut fast or slow in every pass), causes are independent of each other.  To first order
(JCGM 100:2008, GUM, equations 13 and 16, from memory) the sum M = sum m_i has

    s^2 = sum over causes of (sum over its amounts of m_i s_i)^2 / M^2

and is taken as lognormal about M, which is exact where one cause makes all of it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from kerfwright.foundation.ranges import Range


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
    """

    likely: float
    sigma_log: float
    cause: str


def sigma_by_cause(amounts: Iterable[Amount]) -> dict[str, float]:
    """Return the standard deviation that each cause brings into the sum, in its unit."""
    sigmas: defaultdict[str, float] = defaultdict(float)
    for amount in amounts:
        sigmas[amount.cause] += amount.likely * amount.sigma_log
    return dict(sigmas)


def total(amounts: Iterable[Amount]) -> Range:
    """Return the range of the sum, see the head of this module.

    Parameters
    ----------
    amounts : iterable of Amount

    References
    ----------
    JCGM 100:2008, Guide to the expression of uncertainty in measurement, equations 13 and 16
    (from memory).

    Examples
    --------
    >>> sum_ = total([Amount(likely=3.0, sigma_log=0.1, cause="a"),
    ...               Amount(likely=4.0, sigma_log=0.1, cause="b")])
    >>> round(sum_.high, 3)
    7.663
    """
    parts = tuple(amounts)
    likely = math.fsum(p.likely for p in parts)
    if likely == 0:
        return Range.exact(0.0)
    sigma = math.hypot(*sigma_by_cause(parts).values())
    return Range.lognormal(likely, sigma_log=sigma / likely)
