"""Rows of one sheet that are far off alike: one slip of the sheet, or how the shop is.

Who mistypes a unit does so in the whole sheet.  Such a slip is one cause with one chance, however
many rows and jobs it is in; so rows of one sheet do not vouch for each other (decision 0029).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.learning.crossed import Design, Floats, Ints

_ALIKE_FROM: Final = 2.0
"""Deviations from the tables from which rows of a sheet are looked at together: nearer ones are
cuts by all odds, 30 to 1 at two."""
_NEARER: Final = 1.5
"""Deviations from which rows go along with those."""
_WINDOW: Final = 2.0
"""Deviations about their middle within which rows share a factor: what passes, jobs and cuts of
one machine differ by."""
_AGREE: Final = 2.0
"""Rows of another sheet agree within this factor of deviations."""
_BACKING: Final = ((6.0, 2), (np.inf, 3))
"""How far off, and how many jobs of two sheets or more are believed."""
ASKED_FROM: Final = 0.2
"""Chance of a slip from which a sheet is asked about."""
_MOST_CLUSTERS: Final = 3
"""Slips of different kinds that are looked for in one sheet, to either side."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """Rows of one sheet that are off alike.

    Attributes
    ----------
    rows : Ints
    steps : Floats
        How many of its own deviations each row moves by one deviation of a usual row of them: the
        same factor is more deviations of a pass that is known better.
    """

    rows: Ints
    steps: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedSheet:
    """Rows of one sheet that are off alike, as judged.

    Attributes
    ----------
    rows : Ints
    factor : float
        Measured over what all else says.
    chance : float
        That one slip explains it.
    """

    rows: Ints
    factor: float
    chance: float


def sheet_numbers(hands: Sequence[str]) -> Ints:
    """Return the number of the hand that wrote each row, by name."""
    return np.unique(np.asarray(hands), return_inverse=True)[1].astype(np.int64)


def alike_sheets(
    response: Floats, design: Design, *, hands: Ints, units: Floats, jobs: Ints
) -> tuple[Sheet, ...]:
    """Return the rows of each sheet that are off by one factor, and that nothing else backs.

    They are half of a level of some input or more: rows that good ones of the same level outvote
    move little anyway.  Where jobs of another sheet agree with them there they are believed.
    Where they are less than half of the jobs of their sheet each level stands for itself: to take
    the far ones of many levels together would be to pick them for being far.

    Parameters
    ----------
    response : Floats
        In the tables' standard deviations.
    design : Design
    hands : Ints
        Number of the sheet of each row.
    units : Floats
        The tables' standard deviation of each row, of the logarithm.
    jobs : Ints
        Number of the job of each row.
    """
    written = np.unique(np.column_stack([hands, jobs]), axis=0)[:, 0]
    if len(written) == len(np.unique(written)):
        return ()
    found = []
    for side in (1.0, -1.0):
        off = response * side
        levels = _Levels.of(off, design, jobs=jobs, hands=hands)
        for hand in np.unique(hands[off > _ALIKE_FROM]).tolist():
            own = np.flatnonzero((off > _NEARER) & (hands == hand))
            every = len(np.unique(jobs[hands == hand]))
            for cluster in _clusters(own, off, units, jobs):
                kept, largest = levels.unbacked(cluster, off, jobs=jobs, hands=hands)
                found += [
                    Sheet(rows=rows, steps=units[rows].mean() / units[rows])
                    for rows in _apart(kept, largest, jobs, every)
                ]
    # An order that is theirs: no order of the records plays a part.
    return tuple(sorted(found, key=lambda one: sorted(response[one.rows].tolist())))


def _clusters(rows: Ints, off: Floats, units: Floats, jobs: Ints) -> Iterator[Ints]:
    """Yield rows of several jobs that share a factor, those about the middle first.

    The middle is that of those far off; nearer ones go along, as they would vouch for the others.
    """
    for _ in range(_MOST_CLUSTERS):
        is_far = off[rows] > _ALIKE_FROM
        if not is_far.any():
            return
        middle = float(np.median((off * units)[rows[is_far]]))
        near = np.abs(off[rows] - middle / units[rows]) <= _WINDOW
        if len(np.unique(jobs[rows[near]])) > 1:
            yield rows[near]
        elif not near.any():
            return
        rows = rows[~near]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Levels:
    """Who is far off at each level of an input, to one side.

    Attributes
    ----------
    columns : Ints
        Level of each input of each row; the last level of all, which nobody is far at, for none.
    far_jobs : Ints
        Jobs far off at a level; 0 where they are less than half of those that it has.
    far_hands : Ints
        Sheets of the far rows.
    rows : Ints
    ends : Ints
        Far rows by level, and where those of each end.
    """

    columns: Ints
    far_jobs: Ints
    far_hands: Ints
    rows: Ints
    ends: Ints

    @classmethod
    def of(cls, off: Floats, design: Design, *, jobs: Ints, hands: Ints) -> _Levels:
        count = len(design.variance)
        shared = (design.columns >= 0) & ~design.is_job[design.columns]
        columns = np.where(shared, design.columns, count)
        far = np.flatnonzero(off > _NEARER)
        far_jobs = _numbers_at(columns[far], jobs[far], count)
        far_jobs[2 * far_jobs < _numbers_at(columns, jobs, count)] = 0
        far_jobs[count] = 0
        at = columns[far].ravel()
        order = np.argsort(at, kind="stable")
        return cls(
            columns=columns,
            far_jobs=far_jobs,
            far_hands=_numbers_at(columns[far], hands[far], count),
            rows=np.repeat(far, columns.shape[1])[order],
            ends=np.searchsorted(at[order], np.arange(count + 1), side="right"),
        )

    def far_at(self, level: int) -> Ints:
        """Return the far rows at a level."""
        return self.rows[self.ends[level - 1] if level else 0 : self.ends[level]]

    def unbacked(self, rows: Ints, off: Floats, *, jobs: Ints, hands: Ints) -> tuple[Ints, Ints]:
        """Return the rows that no other sheet agrees with, and their largest level.

        Of levels of which half the jobs or more are far off to the same side.
        """
        at = self.columns[rows]
        far_jobs = self.far_jobs[at]
        largest = np.take_along_axis(at, far_jobs.argmax(axis=1)[:, None], axis=1)[:, 0]
        is_backed = np.zeros(len(rows), dtype=bool)
        asked = (far_jobs > 0) & (self.far_hands[at] > 1)
        for level in np.unique(at[asked]).tolist():
            far = self.far_at(level)
            ours = np.flatnonzero(((at == level) & asked).any(axis=1) & ~is_backed)
            for k in ours.tolist():
                own = off[rows[k]]
                alike = far[(off[far] <= _AGREE * own) & (off[far] * _AGREE >= own)]
                need = next(least for end, least in _BACKING if own <= end)
                is_backed[k] = (
                    len(set(hands[alike].tolist())) > 1 and len(set(jobs[alike].tolist())) >= need
                )
        kept = (far_jobs > 0).any(axis=1) & ~is_backed
        return rows[kept], largest[kept]


def _numbers_at(columns: Ints, numbers: Ints, count: int) -> Ints:
    """Return how many different numbers the rows of each level have."""
    pairs = np.column_stack([columns.ravel(), np.repeat(numbers, columns.shape[1])])
    span = int(numbers.max(initial=0)) + 2
    found = np.unique(pairs[:, 0] * span + pairs[:, 1] + 1) // span
    return np.bincount(found, minlength=count + 1)


def _apart(rows: Ints, levels: Ints, jobs: Ints, every: int) -> Iterator[Ints]:
    """Yield rows that are told together: all, or those of each level, where they are few."""
    groups = [rows]
    if 2 * len(np.unique(jobs[rows])) < every:
        groups = [rows[levels == level] for level in np.unique(levels)]
    for group in groups:
        if len(np.unique(jobs[group])) > 1:
            yield group
