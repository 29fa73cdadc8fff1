"""A quantity with its range."""

from __future__ import annotations

import math
from dataclasses import dataclass

Z_10_90 = 1.2815515655446004
"""Standard normal deviate of the 90th percentile (tables of the normal distribution)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Low, likely and high value: low and high are the 10th and 90th percentile.

    Likely is what comes out with every cause at its middle.  For one quantity that is the median
    (:meth:`lognormal`).  For a sum it is the sum of the likely values, so that lines add up; as
    overruns are longer than savings, it then lies a little below the median of the sum.

    Raises
    ------
    ValueError
        If not ``low <= likely <= high`` or a value is not finite.

    Examples
    --------
    >>> r = Range.lognormal(100.0, sigma_log=0.2)
    >>> round(r.low, 1), round(r.high, 1)
    (77.4, 129.2)
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        # Ordered within finite ends all are finite; millions of ranges are made.
        if -math.inf < self.low <= self.likely <= self.high < math.inf:
            return
        values = (self.low, self.likely, self.high)
        if not all(math.isfinite(v) for v in values):
            raise ValueError(f"a range needs finite values, got {values}")
        raise ValueError(f"a range needs low <= likely <= high, got {values}")

    @classmethod
    def exact(cls, value: float) -> Range:
        """Return the range of a value that is known."""
        return cls(low=value, likely=value, high=value)

    @classmethod
    def lognormal(cls, median: float, *, sigma_log: float) -> Range:
        """Return the 10–50–90 % range of a lognormal quantity.

        Parameters
        ----------
        median : float
            Median, in any unit, not negative.
        sigma_log : float
            Standard deviation of the natural logarithm, not negative.
        """
        factor = math.exp(Z_10_90 * sigma_log)
        return cls(low=median / factor, likely=median, high=median * factor)

    @property
    def sigma_log(self) -> float:
        """Standard deviation of the logarithm, where the quantity is lognormal."""
        return math.log(self.high / self.low) / (2 * Z_10_90)

    def __mul__(self, factor: float) -> Range:
        if factor < 0:
            raise ValueError(f"a range is scaled by a factor >= 0, got {factor}")
        return Range(low=self.low * factor, likely=self.likely * factor, high=self.high * factor)

    __rmul__ = __mul__

    def __add__(self, other: Range) -> Range:
        """Add two fully correlated quantities: the ranges add end by end."""
        return Range(
            low=self.low + other.low,
            likely=self.likely + other.likely,
            high=self.high + other.high,
        )
