"""Covariances split into independent causes, which sums over passes can share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.process.experience import Loadings
from kerfwright.process.nozzles import cause_of

Floats = NDArray[np.float64]

_NOISE: Final = 2.0**-40
"""Share of the largest eigenvalue below which one is rounding."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Causes:
    """What moves the feeds of several passes, as independent causes.

    Attributes
    ----------
    spread : Floats
        Standard deviation of the logarithm, one row a pass, one column a cause.
    """

    spread: Floats

    @classmethod
    def of(cls, covariance: Floats) -> Causes:
        """Split a covariance between passes, the largest cause first.

        ``C = V L V'`` gives loadings ``V sqrt(L)``; a cause has the same name in every pass.
        """
        values, vectors = np.linalg.eigh(covariance)
        order = np.argsort(values)[::-1]
        values, vectors = np.clip(values[order], 0.0, None), vectors[:, order]
        kept = values > _NOISE * values[0]
        return cls(spread=vectors[:, kept] * np.sqrt(values[kept]))

    def loadings(self, index: int) -> Loadings:
        """Return the loadings of a pass."""
        return _named(self.spread[index])

    def beside(self, covariance: Floats, states: Sequence[str]) -> tuple[Loadings, ...]:
        """Return the loadings of what states of the nozzles bring besides.

        Parameters
        ----------
        covariance : Floats
            Of the passes, then of the effect of each state.
        states : sequence of str

        Returns
        -------
        tuple of Loadings
            On the causes of the passes as far as the cuts told the two only together; the rest
            is the state's own cause.
        """
        count = len(self.spread)
        # The passes' C = S S' has columns at right angles: ``C_np S / |S|^2`` is the part in them.
        squares = (self.spread**2).sum(axis=0)
        shared = covariance[count:, :count] @ self.spread / squares
        rest = covariance[count:, count:] - shared @ shared.T
        own = _triangle(rest)
        noise = math.sqrt(_NOISE * float(squares.max(initial=0.0)))
        found = []
        for row, mine in zip(shared, own, strict=True):
            parts = zip(map(cause_of, states), mine.tolist(), strict=True)
            kept = tuple((name, sigma) for name, sigma in parts if abs(sigma) > noise)
            with_feed = tuple(pair for pair in _named(row) if abs(pair[1]) > noise)
            found.append((*with_feed, *kept))
        return tuple(found)


def _named(row: Floats) -> Loadings:
    return tuple((f"cutting rate {i + 1}", float(sigma)) for i, sigma in enumerate(row))


def _triangle(covariance: Floats) -> Floats:
    """Return L with ``L L' = C``, rows of it without a spread left as they are (Cholesky)."""
    found = np.zeros_like(covariance)
    for i in range(len(covariance)):
        for j in range(i):
            rest = covariance[i, j] - found[i, :j] @ found[j, :j]
            found[i, j] = rest / found[j, j] if found[j, j] else 0.0
        found[i, i] = math.sqrt(max(covariance[i, i] - found[i, :i] @ found[i, :i], 0.0))
    return found
