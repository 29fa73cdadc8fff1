"""Equations of crossed effects: which rows carry which, their products, their factors.

Everything is sparse: five thousand rows with a thousand effects are one factorisation of
``X' W X / s^2 + 1/v`` a step, by jobs and combinations where these nest, else of a sparse matrix.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.linalg import block_diag
from scipy.sparse.linalg import SuperLU, splu

from kerfwright.learning.nested import Blocks, Nest, NestedFactor, Places

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_ROUNDING: Final = 1e-12
"""Share of two effects' own precisions below which they are not tied."""
_STEP: Final = 1e-3
"""Logarithm of variances over which a slope is taken by differences: good to some 1e-6 of it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """Which effects each row carries.

    Attributes
    ----------
    columns : Ints
        Index of the effect of each input, one row an observation; -1 where it has none.
    variance : Floats
        Prior variance of each effect.
    is_job : NDArray of bool
        Effects of single jobs: they are summed out in the end, no later cut shares them.
    is_told : NDArray of bool or None
        Effects whose prior variance is as told, whatever the others say of theirs; None for none.
    steps : Floats or None
        How many times each effect counts in a row, as `columns`; None where all count once.
    """

    columns: Ints
    variance: Floats
    is_job: NDArray[np.bool_]
    is_told: NDArray[np.bool_] | None = None
    steps: Floats | None = None

    def scaled(self, inputs: float, jobs: float) -> Floats:
        """Return the prior variances times the scales of inputs and jobs."""
        scales = np.where(self.is_job, jobs, inputs)
        if self.is_told is not None:
            scales[self.is_told] = 1.0
        return np.asarray(self.variance * scales)

    def groups(self) -> NDArray[np.bool_]:
        """Return which effects are inputs' with a scale to learn, jobs', and as told."""
        told = np.zeros(len(self.variance), dtype=bool) if self.is_told is None else self.is_told
        return np.array([~self.is_job & ~told, self.is_job, told])

    def in_sparse_order(self) -> tuple[Design, Ints]:
        """Return the effects in an order that keeps factors sparse, and how to put them back.

        Ordering once leaves a third of the time of a factorisation.  Effects that nest need none.
        """
        if Nest.of(self.columns, self.is_job) is not None:
            return self, np.arange(len(self.variance))
        matrix = self.matrix()
        pattern = matrix.T @ matrix + sparse.diags_array(1 / self.variance)
        factor = _factorised(sparse.csc_matrix(pattern), "MMD_AT_PLUS_A")
        place = np.asarray(factor.perm_c, dtype=np.int64)
        order = np.argsort(place)
        moved = Design(
            columns=np.where(self.columns < 0, -1, place[self.columns]),
            variance=self.variance[order],
            is_job=self.is_job[order],
            is_told=None if self.is_told is None else self.is_told[order],
            steps=self.steps,
        )
        return moved, place

    def matrix(self) -> Any:
        """Return X: of ones, but for effects that count by steps."""
        has = self.columns >= 0
        ends = np.concatenate([[0], np.cumsum(has.sum(axis=1))])
        figures = np.ones(ends[-1]) if self.steps is None else self.steps[has]
        return sparse.csr_array(
            (figures, self.columns[has], ends), shape=(len(has), len(self.variance))
        )

    def alike(self) -> tuple[Ints, Ints]:
        """Return the number of the effects and steps of each row, and a row with each."""
        if self.steps is None:
            return _alike(self.columns)
        numbers = np.unique(self.steps, return_inverse=True)[1].reshape(self.steps.shape)
        return _alike(np.column_stack([self.columns, numbers]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Factorised:
    """A factorised symmetric positive definite matrix, those tied to few others first.

    Attributes
    ----------
    order : Ints
    factor : SuperLU
        In that order.
    """

    order: Ints
    factor: SuperLU

    def solve(self, right: Floats) -> Floats:
        """Return the inverse of the matrix times some vectors."""
        found = np.empty_like(right)
        found[self.order] = self.factor.solve(right[self.order])
        return found


def factorised(matrix: Any) -> Factorised:
    """Factorise a symmetric positive definite sparse matrix.

    Combinations are tied to few levels, all else to nearly all of them: in this order factors are
    as sparse as by the search for the best, which takes twice as long as the factorisation.
    """
    whole = sparse.csc_matrix(matrix)
    counts = np.diff(whole.indptr)
    order = np.argsort(counts, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    # Picking rows and columns one after the other takes as long as the factorisation.
    moved = (whole.data, (place[whole.indices], np.repeat(place, counts)))
    return Factorised(
        order=order,
        factor=_factorised(sparse.csc_matrix(moved, shape=whole.shape), "NATURAL"),
    )


def _factorised(matrix: Any, ordering: Literal["NATURAL", "MMD_AT_PLUS_A"]) -> SuperLU:
    factor: SuperLU = splu(
        matrix,
        permc_spec=ordering,
        diag_pivot_thresh=0.0,
        # Factors of crossed effects stay so sparse that blocks of columns only cost.
        relax=1,
        panel_size=1,
        options={"SymmetricMode": True},
    )
    return factor


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossed:
    """X, and where the products of two effects of a row stand in ``X' W X``.

    Rows are weighed again and again: the pattern stays, and the figures are one sum over it, in
    which rows that carry the same effects are one.

    Attributes
    ----------
    matrix : sparse (n, k)
    gram : sparse (k, k)
        Where figures stand, by columns, indices sorted; the diagonal whole.
    alike : Ints
        Number of the effects of each row, the same for rows alike.
    place : Ints
        Index in the data of ``gram`` of each product of two effects of rows alike.
    kinds : Ints
        The number of each.
    products : Floats or None
        What each is; None where all are 1.
    diagonal : Ints
        Where the squares stand.
    places : Places or None
        Where they stand by jobs and combinations; None where these do not nest.
    """

    matrix: Any
    gram: Any
    alike: Ints
    place: Ints
    kinds: Ints
    products: Floats | None
    diagonal: Ints
    places: Places | None

    @classmethod
    def of(cls, design: Design) -> Crossed:
        """Find the pattern of a design."""
        count = len(design.variance)
        alike, first = design.alike()
        columns = design.columns[first]
        steps = None if design.steps is None else design.steps[first]
        once = replace(design, columns=columns, steps=None).matrix()
        gram = sparse.csc_matrix(once.T @ once + sparse.eye_array(count))
        gram.sort_indices()
        keys = np.repeat(np.arange(count), np.diff(gram.indptr)) * count + gram.indices
        pairs = columns[:, :, None] * count + columns[:, None, :]
        there = (columns[:, :, None] >= 0) & (columns[:, None, :] >= 0)
        diagonal = np.searchsorted(keys, np.arange(count) * (count + 1))
        nest = Nest.of(columns, design.is_job)
        products = None if steps is None else (steps[:, :, None] * steps[:, None, :])[there]
        return cls(
            matrix=design.matrix(),
            gram=gram,
            alike=alike,
            place=np.searchsorted(keys, pairs[there]),
            kinds=np.nonzero(there)[0],
            products=products,
            diagonal=diagonal,
            places=None if nest is None else Places.of(nest, gram, diagonal),
        )

    def weighed(self, response: Floats, weights: Floats) -> Normal:
        """Return the equations of rows that count by their weights."""
        gram = copy(self.gram)
        together = np.bincount(self.alike, weights)
        figures: Floats = np.asarray(together[self.kinds], dtype=np.float64)
        if self.products is not None:
            figures = figures * self.products
        gram.data = np.bincount(self.place, figures, minlength=len(gram.data))
        return Normal(
            gram=gram,
            right=np.asarray(self.matrix.T @ (weights * response)),
            square=float(np.dot(weights, response**2)),
            rows=len(response),
            diagonal=self.diagonal,
            places=self.places,
        )


def _alike(columns: Ints) -> tuple[Ints, Ints]:
    """Return the number of the effects of each row, and a row with each."""
    found = np.zeros(len(columns), dtype=np.int64)
    first = found[:1]
    for column in columns.T:
        span = int(column.max(initial=-1)) + 2
        _, first, found = np.unique(
            found * span + column + 1, return_index=True, return_inverse=True
        )
    return found, first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sites:
    """What some rows say that have a precision of their own, not divided by the scatter.

    Attributes
    ----------
    picked : (k, effects) Floats
        Their effects, of ones.
    precision : (k, k) Floats
    pull : (k,) Floats
    """

    picked: Floats
    precision: Floats
    pull: Floats

    def matrix(self) -> Any:
        """Return the precision of the effects."""
        picked = sparse.csr_array(self.picked)
        return picked.T @ sparse.csr_array(self.precision) @ picked


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sums:
    """Precisions of some sums of effects, beside those of the rows.

    Attributes
    ----------
    made : (k, effects) Floats
        What each sum is made of.
    precision : (k, k) Floats
        What they have of their own.
    own_pull : (k,) Floats
    taken : (k,) Floats
        What of the rows' is taken away, times their scatter.
    taken_at : (k,) Floats
        Where the rows have it.
    """

    made: Floats
    precision: Floats
    own_pull: Floats
    taken: Floats
    taken_at: Floats

    def more(self, scatter: float) -> Floats:
        """Return the precision beyond that of the rows."""
        return np.asarray(self.precision - np.diag(self.taken / scatter))

    def pull(self, scatter: float) -> Floats:
        """Return the pull beyond that of the rows."""
        return np.asarray(self.own_pull - self.taken * self.taken_at / scatter)


@dataclass(slots=True, kw_only=True)
class Normal:
    """Weighted normal equations of one set of weights."""

    gram: Any
    right: Floats
    square: float
    rows: float
    diagonal: Ints
    places: Places | None = None
    sites: Sites | None = None
    sums: Sums | None = None
    """Sums of effects that have more or less precision than the rows give them."""
    _blocks: Blocks | None = field(default=None, init=False)

    def kept(
        self, variance: Floats, scatter: float, *, is_job: NDArray[np.bool_], place: Ints
    ) -> Any:
        """Return the inverse covariance of the effects that are no job's, in order.

        Sums of effects change their covariance from C0 to ``C0 - W M W'``, so the inverse of it
        from K to ``K + K W M (1 - W'K W M)^-1 W'K``.
        """
        full = self._of_rows(variance, scatter)
        if self.sites is not None:
            full = full + self.sites.matrix()
        rest = without_jobs(full, is_job, place)
        if self.sums is None:
            return rest
        made, more = self.sums.made, self.sums.more(scatter)
        spread = replace(self, sums=None).solve(variance, scatter, made.T)
        one = np.eye(len(more))
        held = np.linalg.solve(one + more @ (made @ spread), more)
        spread = spread[place[~is_job[place]]]
        known = np.asarray(rest @ spread)
        change = known @ held @ np.linalg.solve(one - (spread.T @ known) @ held, known.T)
        scale = np.sqrt(rest.diagonal())
        # Effects that no row of a sum carries are tied by rounding alone.
        change[np.abs(change) < _ROUNDING * scale[:, None] * scale] = 0.0
        return sparse.csc_matrix(rest + (change + change.T) / 2)

    def _of_rows(self, variance: Floats, scatter: float) -> Any:
        # The matrix with other figures, without the checks of a new one: variances are tried often.
        full = copy(self.gram)
        full.data = self.gram.data / scatter
        full.data[self.diagonal] += 1 / variance
        return full

    def mean(self, variance: Floats, scatter: float) -> Floats:
        """Return the likeliest effects."""
        right = self.right / scatter
        if self.sites is not None:
            right = right + self.sites.picked.T @ self.sites.pull
        if self.sums is not None:
            right = right + self.sums.made.T @ self.sums.pull(scatter)
        return self.solve(variance, scatter, right)

    def solve(self, variance: Floats, scatter: float, right: Floats) -> Floats:
        """Return the covariance of the effects times a vector, or some.

        Precisions of rows judged together and of sums are taken in by
        ``A^-1 - A^-1 U (1 + C U'A^-1 U)^-1 C U'A^-1``: written into the matrix they would tie all
        effects of their rows, and its factors were dense.
        """
        factor = self.factor(variance, scatter)
        beside = self._beside(scatter)
        if beside is None:
            return np.asarray(factor.solve(right))
        made, more = beside
        both = factor.solve(np.column_stack([made.T, right]))
        spread, found = both[:, : len(made)], both[:, len(made) :].reshape(right.shape)
        held = np.linalg.solve(np.eye(len(more)) + more @ (made @ spread), more)
        return np.asarray(found - spread @ (held @ (made @ found)))

    def _beside(self, scatter: float) -> tuple[Floats, Floats] | None:
        """Return sums of effects that have a precision beside that of the rows, and that."""
        parts = []
        if self.sites is not None:
            parts.append((self.sites.picked, self.sites.precision))
        if self.sums is not None:
            parts.append((self.sums.made, self.sums.more(scatter)))
        if not parts:
            return None
        return np.vstack([made for made, _ in parts]), block_diag(*(more for _, more in parts))

    def factor(self, variance: Floats, scatter: float) -> NestedFactor | SuperLU:
        """Factorise the precision by the rows, of effects that nest or are in sparse order."""
        if self.places is None:
            return _factorised(self._of_rows(variance, scatter), "NATURAL")
        if self._blocks is None:
            self._blocks = Blocks.of(self.places, self.gram.data)
        return NestedFactor.of(self._blocks, variance, scatter)

    def misfit(self, variance: Floats, scatter: float) -> float:
        """Return -2 log of the marginal likelihood, up to what the variances do not move."""
        factor = self.factor(variance, scatter)
        return self._misfit(factor, factor.solve(self.right / scatter), variance, scatter)

    def _misfit(
        self, factor: NestedFactor | SuperLU, mean: Floats, variance: Floats, scatter: float
    ) -> float:
        logs = _log_determinant(factor) + float(np.log(variance).sum())
        explained = float(self.right @ mean) / scatter
        return logs + self.rows * float(np.log(scatter)) + self.square / scatter - explained

    def misfit_and_slopes(
        self, variance: Floats, scatter: float, groups: NDArray[np.bool_]
    ) -> tuple[float, Floats]:
        """Return the misfit, and its slopes by logarithms of variances of groups and of scatter.

        ``df/d ln v_g = sum_g (1 - (C_kk + u_k^2)/v_k)`` with the covariance C and the likeliest u;
        ``df/d ln s = n - sum_k (1 - (C_kk + u_k^2)/v_k) - y'W(y - X u)/s``.

        Parameters
        ----------
        variance : Floats
        scatter : float
        groups : (k, effects) NDArray of bool
            Each effect is in one, those of jobs are all in one.

        References
        ----------
        D. A. Harville, J. Amer. Statist. Assoc. 72 (1977) 320-338 (from memory): the slopes.
        """
        factor = self.factor(variance, scatter)
        mean = factor.solve(self.right / scatter)
        if isinstance(factor, NestedFactor):
            left = factor.shares(groups)
        else:
            left = self._shares(variance, scatter, groups)
        by_group = groups.sum(axis=1) - left - groups @ (mean**2 / variance)
        explained = float(self.right @ mean) / scatter
        own = self.rows - float(by_group.sum()) - self.square / scatter + explained
        found = self._misfit(factor, mean, variance, scatter)
        return found, np.append(by_group, own)

    def _shares(self, variance: Floats, scatter: float, groups: NDArray[np.bool_]) -> Floats:
        """Return sums of what is left of variances, ``-d log|A| / d ln v``, by differences."""
        found = np.zeros(len(groups))
        for k in np.flatnonzero(groups.any(axis=1)):
            less, more = (
                _log_determinant(self.factor(variance * np.exp(sign * _STEP * groups[k]), scatter))
                for sign in (-1, 1)
            )
            found[k] = (less - more) / (2 * _STEP)
        return found


def _log_determinant(factor: NestedFactor | SuperLU) -> float:
    if isinstance(factor, NestedFactor):
        return factor.log_determinant
    return float(np.log(np.abs(factor.U.diagonal())).sum())


def without_jobs(precision: Any, is_job: NDArray[np.bool_], place: Ints) -> Any:
    """Put effects back in order and sum the jobs' out: ``A - B D^-1 B'``."""
    full = sparse.csr_matrix(precision)
    kept, dropped = place[~is_job[place]], place[is_job[place]]
    block = full[kept][:, kept]
    across = full[kept][:, dropped]
    inner = sparse.csc_matrix(full[dropped][:, dropped])
    if inner.nnz > inner.shape[0]:
        # Rows judged together tie their jobs.
        gone = sparse.csc_matrix(across @ factorised(inner).solve(across.T.toarray()))
        rest = block - (gone + gone.T) / 2
    else:
        rest = block - across @ sparse.diags(1 / inner.diagonal()) @ across.T
    return sparse.csc_matrix(rest)
