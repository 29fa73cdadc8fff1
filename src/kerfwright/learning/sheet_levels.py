"""What rows of doubted sheets say of their level: that of cuts, or of one slip of the sheet."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from scipy import sparse

from kerfwright.learning.crossed import Crossed, Floats, Ints, Normal, Sums
from kerfwright.learning.sheets import JudgedSheet, Sheet
from kerfwright.learning.slips import Ends, Slips, Weighed, mixed

_LEAST_SLIP: Final = 2.0
"""Deviations from what all else says below which nothing is taken for a slip: a unit or a digit is
more, and the far rows of a shop that scatters widely are off because they are the far ones."""
_NEVER: Final = 1e6
"""Logarithm of odds of what is not."""
_SURE: Final = 1e-4
"""Chance below which a way is left out."""
_MOST_TOGETHER: Final = 6
"""Sheets that are told apart together: every way to do so is one more."""


@dataclass(slots=True, kw_only=True, eq=False)
class SheetRows:
    """Rows of doubted sheets: all of their differences count, of their level what is likely.

    Rows ``y = f + c d + e`` with one shift d of the sheet, 0 or a slip, say of f what lies between
    them whatever d is.  Of the one sum ``F = a'f/c'a``, ``a = W c``, they say ``z = a'y/c'a``, with
    the variance ``v = s^2/c'a``, or that and the slip's.

    Attributes
    ----------
    sheets : tuple of Sheet
    chances : Floats
        Of each to be no slip.
    off : Floats
        How far each level is from what all else says, in deviations of a usual row of the sheet.
    judged : Ints
        Those that may be either.
    weighed : Weighed or None
        What these say of their levels; None before they were judged.
    """

    sheets: tuple[Sheet, ...]
    chances: Floats = field(default_factory=lambda: np.zeros(0))
    off: Floats = field(default_factory=lambda: np.zeros(0))
    judged: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    weighed: Weighed | None = None

    def sums(
        self, which: Ints, crossed: Crossed, response: Floats, weights: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Return what F of some sheets is made of, z, and c'a."""
        picked = [self.sheets[k] for k in which.tolist()]
        leads = [weights[one.rows] * one.steps for one in picked]
        parts = np.array([lead @ one.steps for lead, one in zip(leads, picked, strict=True)])
        ends = np.cumsum([0, *(len(one.rows) for one in picked)])
        made = sparse.csr_array(
            (np.concatenate(leads), np.concatenate([one.rows for one in picked]), ends),
            shape=(len(picked), len(response)),
        )
        shares = 1 / parts
        effects = (made @ crossed.matrix).toarray() * shares[:, None]
        return effects, np.asarray(made @ response) * shares, parts

    def equations(self, crossed: Crossed, response: Floats, weights: Floats) -> Normal:
        """Return the equations of all rows, with what was judged of the levels of the sheets.

        What lies between rows of a sheet counts by the chance of it: the same factor is more
        deviations of one pass than of another, so that one slip would look like knowledge of both.
        """
        found = crossed.weighed(response, weights * self.honest(len(response)))
        if self.weighed is None:
            return found
        made, level, parts = self.sums(self.judged, crossed, response, weights)
        own = Sums(
            made=made,
            precision=self.weighed.precision,
            own_pull=self.weighed.pull,
            taken=parts * self.chances[self.judged],
            taken_at=level,
        )
        return replace(found, sums=own)

    def judge(
        self,
        crossed: Crossed,
        response: Floats,
        weights: Floats,
        *,
        variance: Floats,
        scatter: tuple[float, float],
        slips: Slips,
    ) -> None:
        """Judge each sheet by all that does not rest on its level.

        Those that are no slip by all odds then count as any row, and the others are judged again.

        Parameters
        ----------
        crossed : Crossed
        response, weights : Floats
        variance : Floats
        scatter : (float, float)
            Scatter of a row for means, and for covariances.
        slips : Slips
        """
        self.chances, self.off = np.ones(len(self.sheets)), np.zeros(len(self.sheets))
        self.weighed, which = None, np.arange(len(self.sheets))
        for is_last in (False, True):
            made, level, parts = self.sums(which, crossed, response, weights)
            none = np.zeros((len(which), len(which)))
            others = replace(
                crossed.weighed(response, weights),
                sums=Sums(made=made, precision=none, own_pull=none[0], taken=parts, taken_at=level),
            )
            covariance = made @ others.solve(variance, scatter[1], made.T)
            mean = made @ others.mean(variance, scatter[0])
            self.off[which] = level - mean
            weighed = weigh_sheets(
                level,
                mean=mean,
                covariance=(covariance + covariance.T) / 2,
                own=scatter[1] / parts,
                slips=slips,
            )
            self.chances[which] = weighed.honest
            doubted = weighed.honest < 1 - _SURE
            if not doubted.any():
                return
            if is_last or doubted.all():
                break
            which = which[doubted]
        self.judged, self.weighed = which, weighed

    def found(self, units: Floats) -> tuple[JudgedSheet, ...]:
        """Return what was found of each sheet.

        Parameters
        ----------
        units : Floats
            The tables' standard deviation of each row, of the logarithm.
        """
        judged = zip(self.sheets, self.off.tolist(), self.chances.tolist(), strict=True)
        return tuple(
            JudgedSheet(
                rows=one.rows,
                factor=math.exp(off * float(units[one.rows].mean())),
                chance=1 - honest,
            )
            for one, off, honest in judged
        )

    def honest(self, count: int) -> Floats:
        """Return the chance of each of so many rows to be no slip of its sheet."""
        found = np.ones(count)
        for one, chance in zip(self.sheets, self.chances.tolist(), strict=False):
            found[one.rows] = chance
        return found

    def centred(self, off: Floats, weights: Floats) -> Floats:
        """Return distances of rows, of those of a sheet in doubt from the middle of theirs."""
        found = off.copy()
        for one in (self.sheets[k] for k in self.judged.tolist()):
            lead = weights[one.rows] * one.steps
            found[one.rows] -= one.steps * float(lead @ off[one.rows]) / float(lead @ one.steps)
        return found


def weigh_sheets(
    level: Floats, *, mean: Floats, covariance: Floats, own: Floats, slips: Slips
) -> Weighed:
    """Weigh levels of sheets as measured, or as off by one slip each.

    A sheet is ``z = F + e`` with ``e ~ N(0, v)`` or, by the share of such sheets, ``N(0, S^2 + v)``
    about the tables, which says nothing of F: a mixture of as many normals as there are ways to
    tell the sheets apart, all summed, and replaced by the normal with the same mean and
    covariance.  Exact for as many as are summed together.  A sheet nearer than a slip is none.

    Parameters
    ----------
    level : Floats
        z of each sheet, in deviations.
    mean, covariance : Floats
        Of F, by all else.
    own : Floats
        v of each.
    slips : Slips
    """
    count = len(level)
    found = Weighed(
        precision=np.zeros((count, count)),
        pull=np.zeros(count),
        honest=np.ones(count),
        weight=np.ones(count),
    )
    odds = np.full(count, math.log(slips.sheet_share) - math.log1p(-slips.sheet_share))
    odds[np.abs(level - mean) < _LEAST_SLIP] = -_NEVER
    for first in range(0, count, _MOST_TOGETHER):
        at = np.arange(first, min(first + _MOST_TOGETHER, count))
        here = np.ix_(at, at)
        ways = np.array(list(itertools.product((0.0, 1.0), repeat=len(at))))
        cut = 1 - ways
        whole = covariance[here] * cut[:, :, None] * cut[:, None, :]
        whole += np.eye(len(at)) * (own[at] + ways * slips.sigma**2)[:, None, :]
        off = level[at] - mean[at] * cut
        logs = ways @ odds[at] - np.linalg.slogdet(whole)[1] / 2
        logs -= (off * np.linalg.solve(whole, off[:, :, None])[:, :, 0]).sum(axis=1) / 2
        one = mixed(
            Ends(log=logs, tau=cut / own[at], nu=cut * level[at] / own[at], honest=cut, weight=cut),
            mean[at],
            covariance[here],
        )
        found.precision[here], found.pull[at] = one.precision, one.pull
        found.honest[at], found.weight[at] = one.honest, one.weight
    return found
