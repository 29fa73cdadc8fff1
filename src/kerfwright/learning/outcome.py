"""A job's own passes: what was predicted beside what was measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from kerfwright.foundation.ranges import Range
from kerfwright.learning.records import MeasuredCut


@dataclass(frozen=True, slots=True, kw_only=True)
class PassForecast:
    """What a job predicted of one pass, for one piece.

    Attributes
    ----------
    number : int
    wall_mm : float
        Length along walls and leads.
    minutes : Range
        For that length.
    feed_share : float
        Mean feed along it over the full feed of the pass with the pass table's stock.
    ra_um : float
    tolerance_um : float
    """

    number: int
    wall_mm: float
    minutes: Range
    feed_share: float
    ra_um: float
    tolerance_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PassOutcome:
    """One pass of a job, predicted and measured.

    Attributes
    ----------
    number : int
    cuts : int
        Measured ones.
    length_mm : float
        Length of them all.
    predicted_min : Range
        For that length.
    measured_min : float
    predicted_ra_um : float
    measured_ra_um : float or None
        Middle of those measured.
    tolerance_um : float
    size_error_um : float or None
        The worst.
    breaks : int or None
        All that were counted; None where nobody counted.
    """

    number: int
    cuts: int
    length_mm: float
    predicted_min: Range
    measured_min: float
    predicted_ra_um: float
    measured_ra_um: float | None
    tolerance_um: float
    size_error_um: float | None
    breaks: int | None

    @property
    def is_inside(self) -> bool:
        """Whether the time lies in its 10–90 % range."""
        return self.predicted_min.low <= self.measured_min <= self.predicted_min.high


def outcomes(
    forecasts: Sequence[PassForecast], cuts: Sequence[MeasuredCut]
) -> tuple[PassOutcome, ...]:
    """Return each measured pass of a job beside its forecast; passes not planned are left out.

    Parameters
    ----------
    forecasts : sequence of PassForecast
    cuts : sequence of MeasuredCut
        Those of the job.
    """
    found = []
    for said in forecasts:
        group = [cut for cut in cuts if cut.pass_number == said.number]
        if not group or not said.wall_mm:
            continue
        length_mm = math.fsum(cut.length_mm for cut in group)
        part = length_mm / said.wall_mm
        finishes = [cut.ra_um for cut in group if cut.ra_um is not None]
        sizes = [cut.size_error_um for cut in group if cut.size_error_um is not None]
        counted = [cut.breaks for cut in group if cut.breaks is not None]
        found.append(
            PassOutcome(
                number=said.number,
                cuts=len(group),
                length_mm=length_mm,
                predicted_min=Range(
                    low=said.minutes.low * part,
                    likely=said.minutes.likely * part,
                    high=said.minutes.high * part,
                ),
                measured_min=math.fsum(cut.minutes for cut in group),
                predicted_ra_um=said.ra_um,
                measured_ra_um=median(finishes) if finishes else None,
                tolerance_um=said.tolerance_um,
                size_error_um=max(sizes, key=abs) if sizes else None,
                breaks=sum(counted) if counted else None,
            )
        )
    return tuple(found)
