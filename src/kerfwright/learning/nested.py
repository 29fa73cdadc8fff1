"""Equations of effects that nest: jobs within combinations, combinations beside a few inputs.

A row has one job, and jobs of one machine, material and wire have the combinations of these alone.
So jobs are summed out one by one, combinations by small groups at once, and what is left are as
many equations as there are levels of the other inputs: a few dozen, dense.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.linalg import cho_solve
from scipy.sparse.csgraph import connected_components

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_MOST_IN_GROUPS: Final = 4e6
"""Groups times the cube of the largest: products that their inverses take."""
_MOST_ACROSS: Final = 2e7
"""Jobs and combinations times the square of the others: more is quicker by sparse factors."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nest:
    """Where effects stand: jobs, those of the input with most levels in groups, all others.

    Attributes
    ----------
    jobs, inner, outer : Ints
        Effects of jobs, of the input with most levels, of the others.
    slot : Ints
        Place of each inner effect among all groups filled up to the largest.
    groups, size : int
        Groups that no job ties, and inner effects of the largest.
    """

    jobs: Ints
    inner: Ints
    outer: Ints
    slot: Ints
    groups: int
    size: int

    @classmethod
    def of(cls, columns: Ints, is_job: NDArray[np.bool_]) -> Nest | None:
        """Find how effects nest.

        Parameters
        ----------
        columns : Ints
            Effects of each row, by input; -1 for none.
        is_job : NDArray of bool

        Returns
        -------
        Nest or None
            None where they do not, or where it saves nothing.
        """
        own = (columns >= 0) & is_job[columns]
        shared = (columns >= 0) & ~own
        if not len(columns) or not shared.any() or (own.sum(axis=1) != 1).any():
            return None
        levels = [np.unique(column[at]) for column, at in zip(columns.T, shared.T, strict=True)]
        input_ = max(range(len(levels)), key=lambda k: len(levels[k]))
        inner, has = levels[input_], shared[:, input_]
        others = np.delete(columns, input_, axis=1)
        if np.isin(inner, others).any():
            return None
        jobs = np.flatnonzero(is_job)
        count = len(is_job)
        tied = sparse.coo_array(
            (np.ones(has.sum()), (columns[own][has], columns[has, input_])), shape=(count, count)
        )
        group = connected_components(tied, directed=False)[1][inner]
        group = np.unique(group, return_inverse=True)[1]
        outer = np.setdiff1d(np.flatnonzero(~is_job), inner)
        groups, size = int(group.max()) + 1, int(np.bincount(group).max())
        across = (len(jobs) + groups * size) * len(outer) ** 2
        if groups * size**3 > _MOST_IN_GROUPS or across > _MOST_ACROSS:
            return None
        order = np.argsort(group, kind="stable")
        first = np.searchsorted(group[order], group[order])
        slot = np.empty(len(inner), dtype=np.int64)
        slot[order] = group[order] * size + np.arange(len(inner)) - first
        return cls(jobs=jobs, inner=inner, outer=outer, slot=slot, groups=groups, size=size)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Places:
    """Where the products of two effects of a nest stand in sparse equations.

    Attributes
    ----------
    nest : Nest
    diagonal : Ints
        Of every effect.
    job_inner, job_outer, inner_outer, outer_outer : (Ints, Ints, Ints)
        Places, and row and column of the block.
    pairs : (Ints, Ints, Ints)
        Two products of one job with inner effects, by their places in `job_inner`, and where the
        two effects meet in their group.
    """

    nest: Nest
    diagonal: Ints
    job_inner: tuple[Ints, Ints, Ints]
    job_outer: tuple[Ints, Ints, Ints]
    inner_outer: tuple[Ints, Ints, Ints]
    outer_outer: tuple[Ints, Ints, Ints]
    pairs: tuple[Ints, Ints, Ints]

    @classmethod
    def of(cls, nest: Nest, gram: Any, diagonal: Ints) -> Places:
        """Find them in a symmetric matrix by columns."""
        count = gram.shape[0]
        kind = np.full(count, 2)
        number = np.empty(count, dtype=np.int64)
        kind[nest.jobs], kind[nest.inner] = 0, 1
        number[nest.jobs] = np.arange(len(nest.jobs))
        number[nest.inner] = nest.slot
        number[nest.outer] = np.arange(len(nest.outer))
        row = gram.indices.astype(np.int64)
        column = np.repeat(np.arange(count), np.diff(gram.indptr))

        def block(first: int, second: int) -> tuple[Ints, Ints, Ints]:
            at = np.flatnonzero((kind[row] == first) & (kind[column] == second))
            # By rows, as the products of one job have to stand together.
            at = at[np.lexsort((number[column[at]], number[row[at]]))]
            return at, number[row[at]], number[column[at]]

        job_inner = block(0, 1)
        _, job, slot = job_inner
        starts = np.searchsorted(job, job)
        many = np.searchsorted(job, job, side="right") - starts
        one = np.repeat(np.arange(len(job)), many)
        other = np.arange(len(one)) - np.repeat(np.cumsum(many) - many, many) + starts[one]
        return cls(
            nest=nest,
            diagonal=diagonal,
            job_inner=job_inner,
            job_outer=block(0, 2),
            inner_outer=block(1, 2),
            outer_outer=block(2, 2),
            pairs=(one, other, slot[one] * nest.size + slot[other] % nest.size),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocks:
    """Figures of sparse equations by blocks of a nest.

    Attributes
    ----------
    places : Places
    own : Floats
        Diagonal, by effects.
    job_inner : sparse (slots, jobs)
    job_outer : (jobs, outer) Floats
    inner_outer : (slots, outer) Floats
    outer : (outer, outer) Floats
    squares : Floats
        Products of two figures of one job with inner effects, as `pairs` of the places.
    pair_job : Ints
    """

    places: Places
    own: Floats
    job_inner: Any
    job_outer: Floats
    inner_outer: Floats
    outer: Floats
    squares: Floats
    pair_job: Ints

    @classmethod
    def of(cls, places: Places, figures: Floats) -> Blocks:
        """Take the figures of a matrix apart."""
        nest = places.nest
        slots, jobs, outer = nest.groups * nest.size, len(nest.jobs), len(nest.outer)

        def dense(block: tuple[Ints, Ints, Ints], rows: int) -> Floats:
            at, row, column = block
            found = np.zeros((rows, outer))
            found[row, column] = figures[at]
            return found

        at, job, slot = places.job_inner
        one, other, _ = places.pairs
        inner = figures[at]
        return cls(
            places=places,
            own=figures[places.diagonal],
            job_inner=sparse.csc_array(
                (inner, slot, np.searchsorted(job, np.arange(jobs + 1))), shape=(slots, jobs)
            ),
            job_outer=dense(places.job_outer, jobs),
            inner_outer=dense(places.inner_outer, slots),
            outer=dense(places.outer_outer, outer),
            squares=inner[one] * inner[other],
            pair_job=job[one],
        )

    def by_jobs(self, weights: Floats) -> tuple[Floats, Floats, Floats]:
        """Return sums over jobs of the products that they make of their effects.

        Parameters
        ----------
        weights : (jobs,) Floats

        Returns
        -------
        (groups, size, size), (slots, outer), (outer, outer) Floats
        """
        nest, where = self.places.nest, self.places.pairs[2]
        inner = np.bincount(
            where, self.squares * weights[self.pair_job], minlength=nest.groups * nest.size**2
        )
        weighed = self.job_outer * weights[:, None]
        return (
            np.asarray(inner.reshape(nest.groups, nest.size, nest.size), dtype=np.float64),
            np.asarray(self.job_inner @ weighed),
            self.job_outer.T @ weighed,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NestedFactor:
    """The factorised precision ``G/s + 1/v`` of effects that nest.

    Attributes
    ----------
    blocks : Blocks
        Of G.
    variance : Floats
    scatter : float
    by_job : Floats
        Inverse precision of each job alone.
    lower : (groups, size, size) Floats
        Inverse lower triangular factors of the groups, jobs summed out.
    across : (slots, outer) Floats
        What the inner have in common with the outer, jobs summed out.
    back : (slots, outer) Floats
        The same, times the inverse of the groups.
    outer : (outer, outer) Floats
        Lower triangular factor of what is left.
    log_determinant : float
    """

    blocks: Blocks
    variance: Floats
    scatter: float
    by_job: Floats
    lower: Floats
    across: Floats
    back: Floats
    outer: Floats
    log_determinant: float

    @classmethod
    def of(cls, blocks: Blocks, variance: Floats, scatter: float) -> NestedFactor:
        """Factorise; variances are by effects."""
        nest = blocks.places.nest
        precision = blocks.own / scatter + 1 / variance
        jobs = 1 / precision[nest.jobs]
        less = blocks.by_jobs(jobs / scatter**2)
        slots = nest.groups * nest.size
        inner = np.ones(slots)
        inner[nest.slot] = precision[nest.inner]
        groups = -less[0]
        steps = np.arange(nest.size)
        groups[:, steps, steps] += inner.reshape(nest.groups, nest.size)
        factors: Floats = np.asarray(np.linalg.cholesky(groups), dtype=np.float64)
        across = blocks.inner_outer / scatter - less[1]
        lower = _inverse(factors)
        half = _by_groups(lower, across)
        outer = blocks.outer / scatter - less[2] - half.T @ half
        outer[np.diag_indices_from(outer)] += 1 / variance[nest.outer]
        last: Floats = np.asarray(np.linalg.cholesky(outer), dtype=np.float64)
        logs = np.log(factors[:, steps, steps]).sum() + np.log(last.diagonal()).sum()
        return cls(
            blocks=blocks,
            variance=variance,
            scatter=scatter,
            by_job=jobs,
            lower=lower,
            across=across,
            back=_by_groups(np.swapaxes(lower, 1, 2), half),
            outer=last,
            log_determinant=float(2 * logs - np.log(jobs).sum()),
        )

    def solve(self, right: Floats) -> Floats:
        """Return the covariance of the effects times a vector, or some."""
        nest, blocks = self.blocks.places.nest, self.blocks
        sides = right.reshape(len(right), -1)
        jobs = self.by_job[:, None] * sides[nest.jobs] / self.scatter
        inner = np.zeros((nest.groups * nest.size, sides.shape[1]))
        inner[nest.slot] = sides[nest.inner]
        inner -= blocks.job_inner @ jobs
        outer = sides[nest.outer] - blocks.job_outer.T @ jobs - self.back.T @ inner
        found = np.empty_like(sides)
        found[nest.outer] = outer = self._of_outer(outer)
        inner = self._of_inner(inner) - self.back @ outer
        found[nest.inner] = inner[nest.slot]
        others = blocks.job_inner.T @ inner + blocks.job_outer @ outer
        found[nest.jobs] = self.by_job[:, None] * (sides[nest.jobs] - others / self.scatter)
        return found.reshape(right.shape)

    def shares(self, groups: NDArray[np.bool_]) -> Floats:
        """Return the sum of each effect's variance left over that before, by groups.

        Parameters
        ----------
        groups : (k, effects) NDArray of bool
            Jobs are in one of them, whole.
        """
        nest, blocks = self.blocks.places.nest, self.blocks
        outer = self._of_outer(np.eye(len(nest.outer)))
        between = self.back @ outer
        spread = self.back.reshape(nest.groups, nest.size, -1)
        inner = np.swapaxes(self.lower, 1, 2) @ self.lower
        inner += between.reshape(spread.shape) @ np.swapaxes(spread, 1, 2)
        found = np.zeros(len(self.variance))
        found[nest.outer] = outer.diagonal()
        steps = np.arange(nest.size)
        found[nest.inner] = inner[:, steps, steps].ravel()[nest.slot]
        # A job's variance is its own and what its other effects leave: by jobs together.
        own = self.by_job / self.variance[nest.jobs]
        tied = blocks.by_jobs(own * self.by_job / self.scatter**2)
        jobs = own.sum() + np.vdot(tied[0], inner) - 2 * np.vdot(tied[1], between)
        jobs += np.vdot(tied[2], outer)
        found /= self.variance
        return np.asarray(groups @ found + groups[:, nest.jobs].any(axis=1) * jobs)

    def _of_outer(self, right: Floats) -> Floats:
        if not len(right):
            return right
        return np.asarray(cho_solve((self.outer, True), right, check_finite=False))

    def _of_inner(self, right: Floats) -> Floats:
        return _by_groups(np.swapaxes(self.lower, 1, 2), _by_groups(self.lower, right))


def _inverse(lower: Floats) -> Floats:
    """Return the inverses of lower triangular matrices, all at once."""
    found = np.zeros_like(lower)
    for k in range(lower.shape[1]):
        found[:, k, k] = 1.0
        found[:, k] -= (lower[:, k, None, :k] @ found[:, :k])[:, 0]
        found[:, k] /= lower[:, k, k, None]
    return found


def _by_groups(factors: Floats, right: Floats) -> Floats:
    """Return the product of each group's factor with its rows."""
    groups, size, _ = factors.shape
    found: Floats = (factors @ right.reshape(groups, size, -1)).reshape(groups * size, -1)
    return found
