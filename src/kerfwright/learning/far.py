"""Measured values so far from what was expected that they are more likely a slip of the pen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.learning.learn import learn, standings
from kerfwright.learning.posterior import Posterior
from kerfwright.learning.records import LearningRules, Measure, MeasuredCut
from kerfwright.process.technology import Technology
from kerfwright.trade.catalogue import Catalogue


@dataclass(frozen=True, slots=True, kw_only=True)
class FarValue:
    """One measured value far from what was expected of it before.

    Attributes
    ----------
    cut : MeasuredCut
    measure : Measure
    value, expected : float
        Feed in mm/min, Ra and size error in µm, wire in kg, breaks as a count of the row.
    deviations : float
        How many standard deviations of a single cut; for breaks, how many of its Poisson scatter
        beyond a rate that is itself the limit's number of deviations up.
    """

    cut: MeasuredCut
    measure: Measure
    value: float
    expected: float
    deviations: float


def far_values(
    cuts: Sequence[MeasuredCut],
    *,
    technology: Technology,
    catalogue: Catalogue,
    before: Posterior | None,
    rules: LearningRules,
) -> tuple[FarValue, ...]:
    """Return the values that lie further off than the rules let pass without a word.

    Parameters
    ----------
    cuts : sequence of MeasuredCut
        New ones.
    technology : Technology
    catalogue : Catalogue
    before : Posterior or None
        What was known before them; None for the tables alone.
    rules : LearningRules
    """
    known = before or learn([], technology=technology, catalogue=catalogue, rules=rules)
    found = []
    # What was known is in the units of the rules of its time.
    for cut, standing in zip(
        cuts, standings(cuts, technology=technology, rules=known.rules), strict=True
    ):
        for measure, value in standing.values.items():
            look = known.measures[measure].outlook([standing.names])
            mean, deviation = float(look.mean[0]), math.sqrt(look.variance(0))
            unit = standing.units[measure]
            if measure is Measure.BREAKS:
                expected = known.rules.breaks_per_h * cut.minutes / 60 * math.exp(unit * mean)
                most = expected * math.exp(unit * rules.far_deviations * deviation)
                off = (value - most) / math.sqrt(most)
                shown = value
            else:
                off = abs(value - mean) / deviation
                shown, expected = standing.shown(measure, cut, mean)
            if off > rules.far_deviations:
                found.append(
                    FarValue(
                        cut=cut, measure=measure, value=shown, expected=expected, deviations=off
                    )
                )
    return tuple(found)
