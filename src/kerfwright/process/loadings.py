"""Spreads by cause: how those of a sum add up."""

from __future__ import annotations

import math

from kerfwright.process.experience import Loadings


def spread_of(loadings: Loadings) -> float:
    """Return the standard deviation that independent causes make together."""
    return math.sqrt(math.fsum(sigma**2 for _, sigma in loadings))


def together(*weighted: tuple[float, Loadings]) -> Loadings:
    """Return the loadings of a weighted sum of logarithms: equal causes add up.

    Examples
    --------
    >>> together((1.0, (("rate", 0.3),)), (0.5, (("rate", -0.1), ("nozzles", 0.2))))
    (('rate', 0.25), ('nozzles', 0.1))
    """
    found: dict[str, float] = {}
    for weight, loadings in weighted:
        for cause, sigma in loadings:
            found[cause] = found.get(cause, 0.0) + weight * sigma
    return tuple(found.items())
