"""Rough feeds that a shop's own cuts have borne, summed up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final


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
        Breaks in an hour of a usual rough pass, by the tables.
    usual_sigma_log : float
        Deviation of its logarithm there.
    """

    steps: tuple[Borne, ...]
    settled_jobs: int
    usual_breaks_per_h: float
    usual_sigma_log: float

    def fastest(self) -> Borne | None:
        """Return the fastest feed that enough jobs had, broken or not; None where none did."""
        return next((s for s in self.steps if s.jobs >= self.settled_jobs), None)

    def above(self, factor: float) -> Borne:
        """Return the cuts faster than a factor on the tables' feed; none is a count of none."""
        faster = [s for s in self.steps if s.factor > factor * _ROUNDING]
        return faster[-1] if faster else Borne(factor=factor, jobs=0, hours=0.0, breaks=0)

    def at_least(self, factor: float) -> Borne:
        """Return the cuts at a factor on the tables' feed or faster, to a step of their sum."""
        return self.above(factor / STEP)

    @property
    def single_steps(self) -> tuple[Borne, ...]:
        """The cuts of each step alone."""
        before = (Borne(factor=0.0, jobs=0, hours=0.0, breaks=0), *self.steps)
        return tuple(
            replace(s, hours=s.hours - b.hours, breaks=s.breaks - b.breaks)
            for b, s in zip(before, self.steps, strict=False)
        )


_ROUNDING: Final = 1 + 1e-9
STEP: Final = 1.05
"""Feeds are summed up, and told apart, in steps of 5 %."""


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
        step = math.floor(math.log(factor) / math.log(STEP))
        steps[step] = Borne(factor=factor, jobs=len(jobs), hours=hours, breaks=breaks)
    return tuple(steps.values())
