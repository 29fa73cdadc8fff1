"""Factors that are 1 at most: a range that ends there, and the deviation that is left."""

from __future__ import annotations

import math

from kerfwright.foundation.ranges import Z_10_90, Range


def range_to_one(median: float, *, sigma_log: float) -> Range:
    """Return the 10–50–90 % range of a lognormal factor, values above 1 being 1.

    Parameters
    ----------
    median : float
        Above 0, at most 1.
    sigma_log : float
        Before the bound.

    Examples
    --------
    >>> range_to_one(0.9, sigma_log=0.2).high
    1.0
    """
    free = Range.lognormal(median, sigma_log=sigma_log)
    return Range(low=free.low, likely=free.likely, high=min(1.0, free.high))


def sigma_to_one(median: float, *, sigma_log: float) -> float:
    """Return the standard deviation of ``min(0, ln x)`` of a lognormal factor x.

    With ``m = ln(median)``, ``c = -m/s``: ``E y = m Phi(c) - s phi(c)`` and
    ``E y^2 = (m^2 + s^2) Phi(c) - s (2 m + s c) phi(c)``, moments of a normal with all above 0
    gathered there.

    Parameters
    ----------
    median : float
        Above 0, at most 1.
    sigma_log : float
        Before the bound.

    References
    ----------
    Integration by parts of the normal density; held against a simulation in the tests.

    Examples
    --------
    >>> sigma_to_one(1.0, sigma_log=0.2) < 0.2 / 2 ** 0.5, sigma_to_one(0.5, sigma_log=0.1)
    (True, 0.1)
    """
    if not sigma_log:
        return 0.0
    mean = math.log(median)
    c = -mean / sigma_log
    if c > _FAR:
        return sigma_log
    below = math.erfc(-c / math.sqrt(2)) / 2
    density = math.exp(-(c**2) / 2) / math.sqrt(2 * math.pi)
    first = mean * below - sigma_log * density
    second = (mean**2 + sigma_log**2) * below - sigma_log * (2 * mean + sigma_log * c) * density
    return math.sqrt(max(0.0, second - first**2))


_FAR = 4 * Z_10_90
"""Deviations below 1 from which the bound takes nothing that counts: one case in 6 million."""
