"""Crossed effects from few or many observations: sparse, shrunk to nothing, robust.

``y = X u + e`` with one effect of each input for a row, ``u_k ~ N(0, v_k)`` and scatter e.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from kerfwright.foundation.ranges import Z_10_90
from kerfwright.learning.crossed import Crossed, Design, Floats, Ints, Normal, Sites
from kerfwright.learning.doubts import doubted_rows, jobs_of
from kerfwright.learning.sheet_levels import SheetRows
from kerfwright.learning.sheets import JudgedSheet, Sheet, alike_sheets
from kerfwright.learning.slips import (
    NO_SLIPS,
    RowLaw,
    Slips,
    Weighed,
    t_information,
    t_weights,
    weigh,
)

_REWEIGHTS: Final = 4
_ROUNDS: Final = 8
"""Rounds of weighing rows and seeking variances: each hangs on the other."""
_STEPS: Final = 4
"""Steps of a round: the next one begins where it ends, with other weights."""
_JUDGED: Final = 3
"""Rounds in which rows in doubt are judged anew: that hangs on the weights of the others."""
_MOVED: Final = 0.03
"""Logarithm of a variance scale by which none may move in the last round: 1.5 % of a deviation."""
_UNSETTLED: Final = 0.1
"""Logarithm from which it is said that they had not settled: 5 % of a deviation."""
_FURTHEST: Final = 4.0
"""Prior deviations within which a variance scale is sought."""
_MIXED: Final = (Z_10_90**2 - 1) / 4
"""How the 10–90 % range of a normal widens when the logarithm of its variance is itself uncertain
by s: as if the variance were exp(_MIXED s^2) times as large.  To second order,
``E[F(z exp(-u))]`` with ``u ~ N(0, s^2/4)`` is kept at F(z) by a shift ``(z^2 - 1) s^2/8`` of u."""
_AT: Final = np.array([-2.5, -1.25, 0.0, 1.25, 2.5])
"""Deviations about the likeliest variance at which its mean and spread are summed."""
_AT_SQUARE: Final = float(np.exp(-(_AT**2) / 2) @ _AT**2 / np.exp(-(_AT**2) / 2).sum())
"""What that sum makes of the variance of a normal, 1."""
_STEP: Final = 0.4
"""Prior deviations over which the curvature is taken."""
_FLAT, _LEVEL = 1e-6, 0.02
"""Share of the misfit, and its slope, below which a search ends: 0.02 is 0.01 of a logarithm of
likelihood by a factor of e."""
_ROUNDING: Final = 1 + 1e-9
_SCALES: Final = [0, 1, -1]
"""Where the scales of inputs, jobs and cuts stand among those sought: the last two may be one."""
_SCALED: Final = [0, 1, 3]
"""Where these three stand among the slopes of the misfit: effects as told have no scale."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Effects:
    """The posterior of the effects that later cuts may share.

    Attributes
    ----------
    mean : Floats
    precision : sparse matrix
        Inverse covariance, the jobs' effects summed out.
    scales : tuple of float
        Factors found on the prior variances: of the inputs, of the jobs, of the scatter.
    weights : Floats
        Weight of each row, 1 for a usual one.
    sheets : tuple of JudgedSheet
        Sheets that may hold one slip.
    is_settled : bool
        Whether weights and scales had stopped moving.
    """

    mean: Floats
    precision: Any
    scales: tuple[float, float, float]
    weights: Floats
    sheets: tuple[JudgedSheet, ...] = ()
    is_settled: bool = True


def effective_scatter(df: float) -> float:
    """Return the normal deviation with the 10–90 % range of Student's t, over its scale."""
    return float(stdtrit(df, 0.9)) / Z_10_90


def fit_robust(
    response: Floats,
    design: Design,
    *,
    scatter_variance: float,
    df: float,
    scale_sigma_log: float,
    slips: Slips = NO_SLIPS,
    agreed: NDArray[np.bool_] | None = None,
    is_scatter_one: bool = False,
    hands: Ints | None = None,
    units: Floats | None = None,
) -> Effects:
    """Fit crossed effects with Student's t scatter and variances learned about their priors.

    Given weights the fit is linear and exact; the weights ``(n + 1)/(n + r^2/s^2)`` are those of
    Student's t as a mixture of normals (expectation-maximisation), the three variance scales the
    maximum of the marginal likelihood times a lognormal prior.  The covariance uses the expected
    information of Student's t, ``(n + 1)/(n + 3)`` of what the weights alone would claim.

    Parameters
    ----------
    response : Floats
        In units of the tables' standard deviation.
    design : Design
    scatter_variance : float
        Prior variance from cut to cut, as that of the normal with the same 10–90 % range.
    df : float
        Degrees of freedom; infinity for normal scatter.
    scale_sigma_log : float
        Prior standard deviation of the logarithm of each variance scale; 0 keeps the priors.
    slips : Slips
        How often a row is no cut at all.
    agreed : NDArray of bool or None
        Rows that are no accident: they keep their whole weight however far off.
    is_scatter_one : bool
        Whether jobs and cuts share one variance scale.  Where a job has one row of a kind, rows
        alike drive that of the cuts to nothing; a single row far off is then the job's, which is
        normal and moves what all rows share.
    hands : Ints or None
        Number of the sheet that each row was written in; None where each job is its own.
    units : Floats or None
        The tables' standard deviation of each row, of the logarithm; None for one of all.

    Notes
    -----
    Weights find the end that is nearest to believing every row.  A row that is far off and has
    little company may as well be a slip: such rows are judged by
    :func:`kerfwright.learning.slips.weigh` and leave a range that holds both.

    References
    ----------
    K. L. Lange, R. J. A. Little, J. M. G. Taylor, "Robust statistical modeling using the t
    distribution", J. Amer. Statist. Assoc. 84 (1989) 881-896 (from memory): weights and
    information.
    D. A. Harville, "Maximum likelihood approaches to variance component estimation", J. Amer.
    Statist. Assoc. 72 (1977) 320-338 (from memory): mixed model equations.
    """
    design, place = design.in_sparse_order()
    law = RowLaw(
        squared_scale=scatter_variance / (1.0 if np.isinf(df) else effective_scatter(df) ** 2),
        df=df,
        slips=slips,
    )
    rows = _Rows.of(response, design, law, hands=hands, units=units)
    if agreed is not None:
        rows.usual &= ~agreed
    # With nothing learned the ranges must be those of the tables, so that is where it starts.
    centre = -_MIXED * scale_sigma_log**2
    centres = np.full(2 if is_scatter_one else 3, centre)
    log_scales = centres
    prior = _ScalePrior(centre=centre, sigma_log=scale_sigma_log, groups=design.groups())

    def unpack(logs: Floats) -> tuple[Floats, float]:
        inputs, jobs, scatter = np.exp(logs[_SCALES])
        return design.scaled(inputs, jobs), law.squared_scale * scatter

    moved = math.inf
    for number in range(_ROUNDS):
        # A row in doubt counts for the variances as the tables' own judge it: one that is likely
        # only if they are wider shall not widen them.
        if number < _JUDGED:
            rows.judge(*unpack(centres))
        rows.reweigh(*unpack(log_scales))
        before = log_scales
        if scale_sigma_log > 0:
            log_scales = prior.best(rows.plain(), unpack, log_scales)
        moved = float(np.max(np.abs(log_scales - before)))
        if number + 1 >= _JUDGED and moved < _MOVED:
            break
    if scale_sigma_log > 0:
        log_scales = log_scales + prior.widening(rows.plain(), unpack, log_scales)
    variance, scatter = unpack(log_scales)
    rows.judge(variance, scatter)
    equations = rows.equations()
    is_job = design.is_job
    mean = equations.mean(variance, scatter)[place[~is_job[place]]]
    precision = equations.kept(variance, scatter / rows.information, is_job=is_job, place=place)
    inputs, jobs, scattered = (float(v) for v in np.exp(log_scales[_SCALES]))
    return Effects(
        mean=mean,
        precision=precision,
        scales=(inputs, jobs, scattered),
        weights=rows.counted(),
        is_settled=moved < _UNSETTLED,
        sheets=rows.sheets.found(np.ones(len(response)) if units is None else units),
    )


@dataclass(slots=True, kw_only=True)
class _Rows:
    """Rows and how much each counts: by weights, those in doubt one by one or by sheets."""

    crossed: Crossed
    response: Floats
    law: RowLaw
    doubted: Ints
    jobs: Ints
    sheets: SheetRows
    weights: Floats
    usual: NDArray[np.bool_]
    picked: Floats
    """Effects of the rows in doubt, of ones."""
    weighed: Weighed | None = None

    @classmethod
    def of(
        cls,
        response: Floats,
        design: Design,
        law: RowLaw,
        *,
        hands: Ints | None = None,
        units: Floats | None = None,
    ) -> _Rows:
        doubted, jobs = np.zeros(0, dtype=np.int64), jobs_of(design)
        sheets: tuple[Sheet, ...] = ()
        if law.slips.sheet_share > 0 and hands is not None:
            each = np.ones(len(response)) if units is None else units
            sheets = alike_sheets(response, design, hands=hands, units=each, jobs=jobs)
        if law.slips.share > 0 and len(response):
            doubted = doubted_rows(response, design, hands=hands)
        if sheets:
            together = np.concatenate([one.rows for one in sheets])
            doubted = doubted[~np.isin(doubted, together)]
        usual = np.ones(len(response), dtype=bool)
        usual[doubted] = False
        crossed = Crossed.of(design)
        return cls(
            crossed=crossed,
            picked=crossed.matrix[doubted].toarray(),
            response=response,
            law=law,
            doubted=doubted,
            jobs=jobs[doubted],
            sheets=SheetRows(sheets=sheets),
            weights=np.ones(len(response)),
            usual=usual,
        )

    @property
    def information(self) -> float:
        """Expected information of a row over what its weight alone would claim."""
        return t_information(self.law.df)

    def counted(self) -> Floats:
        """Return the weight of each row, times its chance to be no slip of a sheet."""
        return np.asarray(self.weights * self.sheets.honest(len(self.response)))

    def plain(self) -> Normal:
        """Return the equations with weights alone, as the search of the variances takes them."""
        honest = self.sheets.honest(len(self.response))
        lost = float((1 - honest).sum())
        if self.weighed is not None:
            lost += float((1 - self.weighed.honest).sum())
        return replace(
            self.crossed.weighed(self.response, self.counted()),
            rows=len(self.response) - lost,
        )

    def equations(self) -> Normal:
        """Return the equations, rows in doubt as they were judged."""
        found = self._without_doubted()
        if self.weighed is None:
            return found
        sites = Sites(picked=self.picked, precision=self.weighed.precision, pull=self.weighed.pull)
        return replace(found, sites=sites)

    def _without_doubted(self) -> Normal:
        """Return the equations without rows that are judged one by one, sheets as judged."""
        weights = self._weights_of_usual()
        if not self.sheets.sheets:
            return self.crossed.weighed(self.response, weights)
        return self.sheets.equations(self.crossed, self.response, weights)

    def _weights_of_usual(self) -> Floats:
        weights = self.weights.copy()
        weights[self.doubted] = 0.0
        return weights

    def judge(self, variance: Floats, scatter: float) -> None:
        """Judge the sheets and rows in doubt against all the others."""
        wide = scatter / self.information
        if self.sheets.sheets:
            self.sheets.judge(
                self.crossed,
                self.response,
                self._weights_of_usual(),
                variance=variance,
                scatter=(scatter, wide),
                slips=self.law.slips,
            )
        if not len(self.doubted):
            return
        others = self._without_doubted()
        picked = self.picked
        covariance = picked @ others.solve(variance, wide, picked.T)
        self.weighed = weigh(
            self.response[self.doubted],
            mean=picked @ others.mean(variance, scatter),
            covariance=(covariance + covariance.T) / 2,
            law=replace(self.law, squared_scale=scatter),
            jobs=self.jobs,
        )
        self.weights[self.doubted] = self.weighed.weight

    def reweigh(self, variance: Floats, scatter: float) -> None:
        """Weigh every row by its distance from what the others say.

        Rows of a doubted sheet by that from its own level: a slip of all leaves them alike.
        """
        df = self.law.df
        if np.isinf(df):
            return
        for _ in range(_REWEIGHTS):
            mean = self.equations().mean(variance, scatter)
            off = self.sheets.centred(self.response - self.crossed.matrix @ mean, self.weights)
            weights = t_weights(off**2 / scatter, df)
            self.weights[self.usual] = weights[self.usual]


@dataclass(frozen=True, slots=True, kw_only=True)
class _ScalePrior:
    """Lognormal prior of the variance scales, and which effects share one."""

    centre: float
    sigma_log: float
    groups: NDArray[np.bool_]

    def best(self, equations: Normal, unpack: Any, start: Floats) -> Floats:
        """Return logarithms likelier than those of the start, the likeliest within a few steps.

        By gradients (L-BFGS-B): a search without them ended far from the likeliest on widely
        scattered rows, by a factor of four in the variance of jobs.
        """
        # A plan asks what was learned, it does not learn: it need not wait for this import.
        from scipy.optimize import minimize

        def penalised(logs: Floats) -> tuple[float, Floats]:
            off = (logs - self.centre) / self.sigma_log
            variance, scatter = unpack(logs)
            found, by_group = equations.misfit_and_slopes(variance, scatter, self.groups)
            slopes = 2 * off / self.sigma_log
            np.add.at(slopes, _SCALES, by_group[_SCALED])
            return found + float(off @ off), slopes

        edge = self._edge
        found = minimize(
            penalised,
            np.clip(start, -edge, edge),
            jac=True,
            method="L-BFGS-B",
            bounds=[(-edge, edge)] * len(start),
            options={"maxiter": _STEPS, "ftol": _FLAT, "gtol": _LEVEL},
        )
        return np.asarray(found.x)

    def widening(self, equations: Normal, unpack: Any, best: Floats) -> Floats:
        """Return what the uncertainty of the likeliest logarithms adds to them."""

        def penalised(logs: Floats) -> float:
            return self._penalised(equations, unpack, logs)

        edge, step, axes = self._edge, self._step, np.eye(len(best))
        # Curvature of -2 log p is 2/s^2, and the prior's alone is the least it can be.
        ends = np.array(
            [[penalised(best + sign * step * axis) for axis in axes] for sign in (-1, 1)]
        )
        middle = penalised(best)
        curvature = (ends.sum(axis=0) - 2 * middle) / step**2
        sigmas = np.sqrt(2 / np.maximum(curvature, 2 / self.sigma_log**2))
        # With few rows a variance may be far above its likeliest value but not far below it.
        along = sigmas[:, None, None] * axes[:, None, :] * _AT[:, None]
        heights = np.array(
            [
                [penalised(best + step) if step.any() else middle for step in steps]
                for steps in along
            ]
        )
        # Beyond the edge nothing is: what would be likeliest there must not drown the rest.
        heights[np.abs(best[:, None] + sigmas[:, None] * _AT) > edge * _ROUNDING] = np.inf
        parts = np.exp((heights.min(axis=1, keepdims=True) - heights) / 2)
        parts /= parts.sum(axis=1, keepdims=True)
        shift = parts @ _AT * sigmas
        squares = (parts @ _AT**2) * sigmas**2 - shift**2
        widened: Floats = shift + _MIXED * squares / _AT_SQUARE
        return widened

    def _penalised(self, equations: Normal, unpack: Any, logs: Floats) -> float:
        penalty = float(np.sum(((logs - self.centre) / self.sigma_log) ** 2))
        return equations.misfit(*unpack(logs)) + penalty

    @property
    def _edge(self) -> float:
        # Values that somebody copied from row to row would drive the scatter to nothing.
        return _FURTHEST * self.sigma_log

    @property
    def _step(self) -> float:
        return _STEP * self.sigma_log
