"""Measured values so far from what was expected that they are more likely a slip of the pen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kerfwright.learning.learn import Standing, learn, standings
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
    now : float
        What is expected with everything recorded since.
    deviations : float
        How many standard deviations of a single cut; for breaks, how many of its Poisson scatter
        beyond a rate that is itself the limit's number of deviations up.
    is_in_question : bool
        Whether it is a size error that counts for nothing until it is confirmed.
    """

    cut: MeasuredCut
    measure: Measure
    value: float
    expected: float
    now: float
    deviations: float
    is_in_question: bool = False

    @property
    def counted(self) -> float | None:
        """How much of the way from the expected to the measured was gone; None for no measure.

        Of the logarithm, where the value is a ratio.  Beside other cuts it is the way that all of
        them went together.
        """
        if self.measure is Measure.SIZE:
            return (self.now - self.expected) / (self.value - self.expected)
        if not self.value > 0:
            return None
        return math.log(self.now / self.expected) / math.log(self.value / self.expected)


def far_values(
    cuts: Sequence[MeasuredCut],
    *,
    technology: Technology,
    catalogue: Catalogue,
    before: Posterior | None,
    after: Posterior | None,
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
    after : Posterior or None
        What is known with them; None where nothing was learned.
    rules : LearningRules
    """
    known = before or learn([], technology=technology, catalogue=catalogue, rules=rules)
    found = []
    # What was known is in the units of the rules of its time.
    stands, learned = (
        standings(cuts, technology=technology, rules=one.rules) for one in (known, after or known)
    )
    for cut, standing, later in zip(cuts, stands, learned, strict=True):
        for measure, value in standing.values.items():
            look = standing.outlook(measure, known.measures[measure])
            mean, deviation = float(look.mean[0]), math.sqrt(look.variance(0))
            expected = _expected(cut, standing, measure, known, mean)
            if measure is Measure.BREAKS:
                unit = standing.units[measure]
                most = expected * math.exp(unit * rules.far_deviations * deviation)
                off, shown = (value - most) / math.sqrt(most), value
            else:
                off = abs(value - mean) / deviation
                shown, _ = standing.shown(measure, cut, mean)
            asked = (
                measure is Measure.SIZE
                and after is not None
                and after.is_in_question(cut, later.names)
            )
            if off > rules.far_deviations or asked:
                now = after or known
                mean = float(later.outlook(measure, now.measures[measure]).mean[0])
                found.append(
                    FarValue(
                        cut=cut,
                        measure=measure,
                        value=shown,
                        expected=expected,
                        now=_expected(cut, later, measure, now, mean),
                        deviations=off,
                        is_in_question=asked,
                    )
                )
    return tuple(found)


def _expected(
    cut: MeasuredCut, standing: Standing, measure: Measure, known: Posterior, mean: float
) -> float:
    """Return what is expected of a cut, given in deviations, as a person writes it."""
    if measure is Measure.BREAKS:
        per_h = known.rules.breaks_per_h * math.exp(standing.units[measure] * mean)
        return per_h * cut.minutes / 60
    return standing.shown(measure, cut, mean)[1]
