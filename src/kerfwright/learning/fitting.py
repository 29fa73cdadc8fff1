"""The fit of one measure: its rows, the levels they have, and what is found."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from kerfwright.learning.bursts import burst_of, rate_of_rows
from kerfwright.learning.counts import fit_counts
from kerfwright.learning.crossed import Design, Floats, Ints
from kerfwright.learning.posterior import Fitted
from kerfwright.learning.records import CROSSED, Input, LearningRules, Measure, Told
from kerfwright.learning.slips import NO_SLIPS, Slips
from kerfwright.learning.solve import fit_robust

_EMPTY = np.zeros(0)


def fit_measure(
    response: Floats,
    names: Sequence[tuple[str, ...]],
    *,
    measure: Measure,
    rules: LearningRules,
    exposure: Floats = _EMPTY,
    told: Sequence[tuple[Told, ...]] = (),
    agreed: NDArray[np.bool_] | None = None,
    hands: Ints | None = None,
    units: Floats | None = None,
) -> Fitted:
    """Fit one measure.

    Parameters
    ----------
    response : Floats
        In the tables' standard deviations; counts for breaks.
    names : sequence of tuple of str
        Levels of each row in the order of CROSSED, then its job.
    measure : Measure
    rules : LearningRules
    exposure : Floats
        For breaks: how many the tables expect.
    told : sequence of tuple of Told
        For feeds: of each row what else moves it; empty where nothing does.
    agreed : NDArray of bool or None
        Rows that count whole however far off; None for none.
    hands : Ints or None
        Number of what wrote each row; None where each job is its own.
    units : Floats or None
        The tables' standard deviation of each row, of the logarithm; None where it is one.
    """
    shares = rules.shares[measure]
    if not len(response):
        return _nothing(measure, rules)
    design, seen = _design(names, shares, told)
    # One job tells how far it was off, not how far shops are: it moves by the shares as they stand.
    is_alone = len({row[-1] for row in names}) == 1
    if measure is Measure.BREAKS:
        # Effects in sigmas, as with the other measures: one logarithm is 1/sigma of them.
        square = rules.breaks_sigma_log**2
        log_design = replace(design, variance=design.variance * square)
        found = fit_counts(
            response,
            exposure,
            log_design,
            scatter_variance=shares[Input.CUT] * square,
            df=rules.scatter_df,
        )
        found = replace(
            found, mean=found.mean / rules.breaks_sigma_log, precision=found.precision * square
        )
    else:
        found = fit_robust(
            response,
            design,
            scatter_variance=shares[Input.CUT],
            df=rules.scatter_df,
            scale_sigma_log=0.0 if is_alone else rules.variance_scale_sigma_log,
            slips=_slips(measure, rules),
            agreed=agreed,
            hands=hands,
            units=units,
            is_scatter_one=measure is Measure.SIZE and rules.size_prior_jobs > 0,
        )
    inputs, jobs, scatter = found.scales
    variance = {kind: shares[kind] * inputs for kind in CROSSED}
    variance |= {Input.JOB: shares[Input.JOB] * jobs, Input.CUT: shares[Input.CUT] * scatter}
    burst = 0.0
    if measure is Measure.BREAKS:
        own, known = rate_of_rows(names, seen=seen, mean=found.mean, precision=found.precision)
        burst = burst_of(
            response,
            exposure * np.exp(rules.breaks_sigma_log * own),
            known=known * rules.breaks_sigma_log**2,
            scatter_variance=(variance[Input.JOB] + variance[Input.CUT])
            * rules.breaks_sigma_log**2,
            rules=rules,
        )
    return Fitted(
        burst=burst,
        names=seen,
        mean=found.mean,
        precision=found.precision,
        variance=MappingProxyType(variance),
        records=len(response),
        sheets=found.sheets,
        is_settled=found.is_settled,
    )


def _nothing(measure: Measure, rules: LearningRules) -> Fitted:
    """Return the fit of no rows: the tables."""
    return Fitted(
        names=(),
        mean=_EMPTY,
        precision=sparse.csc_matrix((0, 0)),
        variance={kind: rules.shares[measure][kind] for kind in Input},
        records=0,
        burst=rules.breaks_burst if measure is Measure.BREAKS else 0.0,
    )


def _slips(measure: Measure, rules: LearningRules) -> Slips:
    """Return how often a value is no measurement.

    A size that is not in question always is one, and what is held counts all of them, see
    :mod:`kerfwright.learning.sizes`: no promise on a hope that one was mistyped.
    """
    if measure is Measure.SIZE:
        return NO_SLIPS
    return Slips(
        share=rules.slip_share,
        sigma=rules.slip_sigmas,
        job_share=rules.job_slip_share,
        sheet_share=rules.sheet_slip_share,
    )


def _design(
    names: Sequence[tuple[str, ...]],
    shares: Mapping[Input, float],
    told: Sequence[tuple[Told, ...]],
) -> tuple[Design, tuple[str, ...]]:
    """Return the design with levels numbered by name, jobs last: no order of rows plays a part."""
    kinds = (*CROSSED, Input.JOB)
    by_kind = [sorted({row[i] for row in names}) for i in range(len(kinds))]
    more = dict(sorted((one.level, one.variance) for row in set(told) for one in row))
    *crossed, jobs = by_kind
    seen = (*(name for group in crossed for name in group), *more)
    index = {name: number for number, name in enumerate((*seen, *jobs))}
    prior = [shares[kind] for kind, group in zip(CROSSED, crossed, strict=True) for _ in group]
    variance = np.array([*prior, *more.values(), *[shares[Input.JOB]] * len(jobs)])
    columns = np.array([[index[name] for name in row] for row in names], dtype=np.int64)
    is_told = steps = None
    if more:
        # What inputs say of the width of their effects says nothing of those that tables tell.
        is_told = np.zeros(len(variance), dtype=bool)
        is_told[len(prior) : len(seen)] = True
        most = max(len(row) for row in told)
        levels = np.full((len(told), most), -1, dtype=np.int64)
        counts = np.ones((len(told), most))
        for at, row in enumerate(told):
            for k, one in enumerate(row):
                levels[at, k], counts[at, k] = index[one.level], one.step
        once = np.ones_like(columns, dtype=np.float64)
        steps = np.column_stack([once[:, :-1], counts, once[:, -1]])
        columns = np.column_stack([columns[:, :-1], levels, columns[:, -1]])
    is_job = np.arange(len(variance)) >= len(seen)
    design = Design(columns=columns, variance=variance, is_job=is_job, is_told=is_told, steps=steps)
    return design, seen
