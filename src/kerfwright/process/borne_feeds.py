"""Rough feeds that a shop's own cuts have borne, against what the model of the wire allows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy.special import gammaincinv

SURE: Final = 0.9
"""One-sided confidence at which a rate of breaks must lie below what is accepted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Borne:
    """Cuts at a feed or faster, nozzles closed, of one combination and band of heights.

    Attributes
    ----------
    factor : float
        That feed, over the tables'.
    jobs : int
    hours : float
        Of cutting in which somebody counted the breaks.
    breaks : int
    """

    factor: float
    jobs: int
    hours: float
    breaks: int

    def hours_wanted(self, accepted_per_h: float) -> float:
        """Return the hours from which so few breaks show a rate below the accepted one.

        The upper end of the rate is ``gamma^-1(n + 1, 0.9) / t``: at it so few or fewer come in
        one run of ten.

        References
        ----------
        Garwood, Biometrika 28 (1936) 437-442, exact limits of a Poisson rate (from memory).

        Examples
        --------
        >>> none = Borne(factor=1.2, jobs=3, hours=20.0, breaks=0)
        >>> round(none.hours_wanted(0.15), 1)
        15.4
        """
        return float(gammaincinv(self.breaks + 1, SURE)) / accepted_per_h


@dataclass(frozen=True, slots=True, kw_only=True)
class BorneFeeds:
    """All of them.

    Attributes
    ----------
    steps : tuple of Borne
        The fastest first; each counts the cuts of those before it.
    settled_jobs : int
        Jobs from which no single one decides.
    usual_breaks_per_h : float
        Breaks in an hour of a usual rough pass.
    """

    steps: tuple[Borne, ...]
    settled_jobs: int
    usual_breaks_per_h: float

    def fastest(self, *, accepted: float) -> Borne | None:
        """Return the fastest feed that enough cuts bore, None where none did.

        Parameters
        ----------
        accepted : float
            Breaks an hour that are accepted, relative to a usual rough pass.
        """
        per_h = accepted * self.usual_breaks_per_h
        settled = (
            s
            for s in self.steps
            if s.jobs >= self.settled_jobs and s.hours >= s.hours_wanted(per_h)
        )
        return next(settled, None)

    def above(self, factor: float) -> Borne:
        """Return the cuts faster than a factor on the tables' feed; none is a count of none."""
        faster = [s for s in self.steps if s.factor > factor * _ROUNDING]
        return faster[-1] if faster else Borne(factor=factor, jobs=0, hours=0.0, breaks=0)

    def wanting(self, found: Borne, *, accepted: float) -> tuple[int, float]:
        """Return how many more jobs, and hours without a break, would settle a feed."""
        hours = found.hours_wanted(accepted * self.usual_breaks_per_h) - found.hours
        return max(0, self.settled_jobs - found.jobs), max(0.0, hours)


_ROUNDING: Final = 1 + 1e-9
_STEP: Final = 1.05


def borne_steps(cuts: Sequence[tuple[float, str, float, int]]) -> tuple[Borne, ...]:
    """Return cuts summed up by feed, in steps of 5 %, each at the slowest of its cuts.

    Parameters
    ----------
    cuts : sequence of (float, str, float, int)
        Feed over the tables', job, hours and breaks.

    Examples
    --------
    >>> steps = borne_steps([(1.2, "A", 2.0, 0), (1.21, "B", 3.0, 1), (0.9, "A", 4.0, 0)])
    >>> [(s.factor, s.jobs, s.hours, s.breaks) for s in steps]
    [(1.2, 2, 5.0, 1), (0.9, 2, 9.0, 1)]
    """
    steps: dict[int, Borne] = {}
    jobs: set[str] = set()
    hours, breaks = 0.0, 0
    for factor, job, more_hours, more_breaks in sorted(cuts, key=lambda cut: -cut[0]):
        jobs.add(job)
        hours, breaks = hours + more_hours, breaks + more_breaks
        step = math.floor(math.log(factor) / math.log(_STEP))
        steps[step] = Borne(factor=factor, jobs=len(jobs), hours=hours, breaks=breaks)
    return tuple(steps.values())
