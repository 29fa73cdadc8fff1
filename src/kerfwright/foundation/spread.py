"""How uncertain inputs make a result uncertain, and which of them brings how much.

Every input is a standard normal deviate in disguise: a lognormal one is ``m exp(s z)``, a normal
one ``m + s z``.  The slope of a result along one deviate is taken across one deviation either way,
``(g(+1) - g(-1)) / 2`` with the others at their middle, ``g`` being the logarithm of the result
for :func:`of_ratio` and the result itself for :func:`of_sum`.  The squares of the slopes add up
to the variance, and each is the share of its input.  That is exact for products of powers of
lognormal inputs, and for weighted sums of normal ones; elsewhere it is of first order, and the
chord over a whole deviation bends with the curve where a tangent would not.

The ends of the range are the result 1.28 deviations out, all inputs together, along the steepest
way there (the first-order point of reliability methods): exact in the same cases, and for any
monotone formula that one input moves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Shares


class Law(StrEnum):
    """How a value scatters about its middle."""

    LOGNORMAL = "lognormal"
    NORMAL = "normal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertain:
    """One input of a formula.

    Attributes
    ----------
    name : str
        As a person reads it; equal names are one cause, also across results.
    value : float
        Median.
    sigma : float
        Standard deviation: of the logarithm for a lognormal value, in the value's unit for a
        normal one; 0 for a value that is known.
    law : Law

    Raises
    ------
    RangeError
        If the deviation is below 0, or a lognormal value with one is not above 0.
    """

    name: str
    value: float
    sigma: float = 0.0
    law: Law = Law.LOGNORMAL

    def __post_init__(self) -> None:
        is_ratio = self.law is Law.LOGNORMAL and self.sigma > 0
        if not self.sigma >= 0 or (is_ratio and not self.value > 0):
            raise RangeError(
                f"{self.name} of {self.value:g} with a deviation of {self.sigma:g}: the deviation "
                "must not be below 0, and a lognormal value must be above 0",
                code="spread-out-of-range",
            )

    def at(self, deviates: float) -> float:
        """Return the value at some standard deviations from its middle."""
        if self.law is Law.NORMAL:
            return self.value + self.sigma * deviates
        return self.value * math.exp(self.sigma * deviates)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A result with its distribution.

    Attributes
    ----------
    value : float
        With every input at its middle.
    sigma : float
        Of the logarithm (:func:`of_ratio`) or in the unit of the value (:func:`of_sum`).
    range : Range
        10–50–90 %.
    loadings : Shares
        Slope along each input's deviate: results that name the same inputs move together by them.
    """

    value: float
    sigma: float
    range: Range
    loadings: Shares

    @property
    def shares(self) -> Shares:
        """Share of the variance by input, the largest first; empty where nothing is uncertain."""
        variance = self.sigma**2
        if variance == 0:
            return ()
        parts = [(name, slope**2 / variance) for name, slope in self.loadings if slope]
        return tuple(sorted(parts, key=lambda part: -part[1]))


def of_ratio(formula: Callable[..., float], inputs: Sequence[Uncertain]) -> Outcome:
    """Return the distribution of a positive result; its spread is that of the logarithm.

    Parameters
    ----------
    formula : callable
        Takes the values of the inputs in their order; must be above 0.
    inputs : sequence of Uncertain

    Raises
    ------
    RangeError
        If the formula gives a value not above 0 within one deviation of an input.

    Examples
    --------
    A bow under a push known to a factor of 2 either way (10–90 %) and a tension known to 10 %:

    >>> bow = of_ratio(lambda q, t: 54.5 * q * 22 / t,
    ...     [Uncertain(name="push", value=1, sigma=0.54), Uncertain(name="T", value=22, sigma=0.1)])
    >>> round(bow.range.low, 1), round(bow.range.high, 1), [round(s, 3) for _, s in bow.shares]
    (27.0, 110.2, [0.967, 0.033])
    """

    def logarithm(*values: float) -> float:
        result = formula(*values)
        if not result > 0:
            raise RangeError(
                f"a result of {result:g} within one deviation of its inputs is no ratio",
                code="spread-out-of-range",
            )
        return math.log(result)

    return _outcome(formula, _slopes(logarithm, inputs), inputs)


def of_product(value: float, powers: Sequence[tuple[Uncertain, float]]) -> Outcome:
    """Return the distribution of a product of powers of lognormal inputs, by its closed form.

    What :func:`of_ratio` finds by moving each input: the deviations of the logarithms, times the
    powers, squared and added.

    Parameters
    ----------
    value : float
        With every input at its middle.
    powers : sequence of (Uncertain, float)
        Inputs, each named once, and their powers.

    Examples
    --------
    >>> gap = Uncertain(name="gap", value=9.0, sigma=0.1)
    >>> found = of_product(81.0, [(gap, 2.0)])
    >>> found.sigma, found.loadings
    (0.2, (('gap', 0.2),))
    """
    loadings = tuple((one.name, power * one.sigma) for one, power in powers if one.sigma)
    sigma = math.sqrt(math.fsum(slope**2 for _, slope in loadings))
    span = Range.lognormal(value, sigma_log=sigma) if sigma else Range.exact(value)
    return Outcome(value=value, sigma=sigma, range=span, loadings=loadings)


def of_sum(formula: Callable[..., float], inputs: Sequence[Uncertain]) -> Outcome:
    """Return the distribution of a result of either sign; its spread is in the same unit.

    Parameters
    ----------
    formula : callable
        Takes the values of the inputs in their order.
    inputs : sequence of Uncertain

    Examples
    --------
    >>> gap = Uncertain(name="gap", value=9.0, sigma=0.8, law=Law.NORMAL)
    >>> wall = of_sum(lambda g: 10.0 - g, [gap])
    >>> round(wall.range.low, 2), round(wall.range.high, 2)
    (-0.03, 2.03)
    """
    return _outcome(formula, _slopes(formula, inputs), inputs)


def normal(value: float, *, sigma: float) -> Range:
    """Return the 10–50–90 % range of a normal quantity."""
    return Range(low=value - Z_10_90 * sigma, likely=value, high=value + Z_10_90 * sigma)


def _slopes(function: Callable[..., float], inputs: Sequence[Uncertain]) -> Shares:
    """Return the slope along the deviate of each cause."""
    middles = [one.value for one in inputs]
    slopes: dict[str, float] = {}
    for one in inputs:
        if one.sigma and one.name not in slopes:
            low, high = (
                function(*_moved(inputs, middles, cause=one.name, deviates=d)) for d in (-1.0, 1.0)
            )
            slopes[one.name] = (high - low) / 2
    return tuple(slopes.items())


def _moved(
    inputs: Sequence[Uncertain], middles: Sequence[float], *, cause: str, deviates: float
) -> list[float]:
    """Return the values with one cause so many deviations off; it moves all its inputs."""
    return [
        one.at(deviates) if one.name == cause else middle
        for one, middle in zip(inputs, middles, strict=True)
    ]


def _outcome(
    formula: Callable[..., float], loadings: Shares, inputs: Sequence[Uncertain]
) -> Outcome:
    sigma = math.sqrt(math.fsum(slope**2 for _, slope in loadings))
    value = formula(*(one.value for one in inputs))
    if sigma == 0:
        return Outcome(value=value, sigma=0.0, range=Range.exact(value), loadings=loadings)
    slopes = dict(loadings)
    low, high = (
        formula(*(one.at(end * slopes.get(one.name, 0.0) / sigma) for one in inputs))
        for end in (-Z_10_90, Z_10_90)
    )
    span = Range(low=min(low, value), likely=value, high=max(high, value))
    return Outcome(value=value, sigma=sigma, range=span, loadings=loadings)
