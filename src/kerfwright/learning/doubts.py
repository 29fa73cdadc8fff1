"""Which rows may be slips of the pen: far off, and with little company that says the same."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.learning.crossed import Design, Floats, Ints

_FAR: Final = 3.0
"""Deviations from the tables, or from the middle of all rows, from which a row may be a slip."""
_NEARER: Final = 1.5
"""Deviations from which a row goes along with one of its job that may be a slip."""
_COMPANY: Final = 12
"""Rows that share an input's level: among more, weights alone tell a wild one."""
_MOST_DOUBTED: Final = 40
"""Rows that are weighed one by one; a shop with more of them does not live by slips of the pen."""
_MANY_JOBS: Final = 8
"""Jobs from which their middle is a place to be far off from."""
_BACKING: Final = ((6.0, 2), (math.inf, 3))
"""How far off, and how many jobs with a level in common, most of them as far off, are believed."""


def doubted_rows(response: Floats, design: Design, *, hands: Ints | None = None) -> Ints:
    """Return rows that stand alone and far off, in an order that is theirs.

    A level of an input of which most jobs are far off the same way is far off itself: its rows
    are not alone.  One of twelve good jobs backs nobody, nor does a far row of another machine,
    material, wire, height and pass, nor one written by the same hand.

    Parameters
    ----------
    response : Floats
        In the tables' standard deviations.
    design : Design
    hands : Ints or None
        Number of the sheet of each row; None where each job is a sheet of its own.
    """
    carried = design.columns[design.columns >= 0]
    company = np.bincount(carried, minlength=len(design.variance))
    # A job is always small; an input that a row has not, the last here, is none to be alone in.
    company = np.append(np.where(design.is_job, len(response), company), len(response))
    alone = company[design.columns].min(axis=1) <= _COMPANY
    jobs = jobs_of(design)
    wrote = jobs if hands is None else hands
    off = np.abs(response)
    if len(np.unique(jobs)) >= _MANY_JOBS:
        off = np.maximum(off, np.abs(response - np.median(response)))
    found = np.flatnonzero(alone & (off > _FAR))
    if len(found):
        found = found[~_backed(found, response, design, jobs, wrote)]
    if len(found):
        # A slip shared by all rows of a job takes the nearer ones along: left out, they would
        # vouch for the far ones.
        for job, sign in {(int(jobs[i]), math.copysign(1.0, response[i])) for i in found}:
            nearer = (jobs == job) & alone & (response * sign > _NEARER) & (job >= 0)
            found = np.union1d(found, np.flatnonzero(nearer))
    order = np.lexsort((*design.columns[found].T, response[found], -off[found]))
    return np.asarray(found[order[:_MOST_DOUBTED]])


def jobs_of(design: Design) -> Ints:
    """Return the effect of the job of each row; -1 for none."""
    own = np.where(design.is_job[design.columns], design.columns, -1)
    return np.asarray(own.max(axis=1, initial=-1))


def _backed(
    rows: Ints, response: Floats, design: Design, jobs: Ints, hands: Ints
) -> NDArray[np.bool_]:
    """Return whether most jobs of one of a row's levels are as far off the same way.

    One sheet is one hand: jobs of a second one must be among them.
    """
    columns = design.columns[rows]
    shared = (columns >= 0) & ~design.is_job[columns]
    off = response[rows]
    every = _jobs_at(np.ones(len(response), dtype=bool), design, jobs)[columns]
    above = _jobs_at(response > _FAR, design, jobs)[columns]
    below = _jobs_at(-response > _FAR, design, jobs)[columns]
    far = np.where(off[:, None] > 0, above, below)
    wrote = [_jobs_at(sign * response > _FAR, design, hands)[columns] for sign in (1.0, -1.0)]
    several = np.where(off[:, None] > 0, *wrote) > 1
    need = np.select([np.abs(off) <= end for end, _ in _BACKING], [n for _, n in _BACKING])
    is_backed = shared & several & (far >= need[:, None]) & (2 * far > every)
    return np.asarray(np.any(is_backed, axis=1))


def _jobs_at(rows: NDArray[np.bool_], design: Design, jobs: Ints) -> Ints:
    """Return how many jobs have some of the rows at each level."""
    at = design.columns[rows]
    has = at >= 0
    span = len(design.variance) + 1
    pairs = np.unique(at[has] * span + np.repeat(jobs[rows] + 1, has.sum(axis=1)))
    return np.bincount(pairs // span, minlength=len(design.variance))
