"""What measured sizes say a pass holds: every size counts, and a worse one never for less.

Robust weights take a size far off for an accident and expect the next wall near the others.  That
is the likeliest wall, not a promise: what is held comes from the squares of all sizes measured.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from kerfwright.learning.records import CROSSED, Input, LearningRules
from kerfwright.process.experience import SizesKnown

_MACHINE, _PASS = CROSSED.index(Input.MACHINE), CROSSED.index(Input.PASS)
_TOGETHER = CROSSED.index(Input.COMBINATION)
_Rows = Sequence[tuple[str, ...]]
"""Levels of each row in the order of CROSSED, then its job."""
_Values = Sequence[float | None]
"""Size errors in the tables' standard deviations; None where none was measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeGroup:
    """The measured sizes of cuts that stand alike: one machine, material, wire, height and pass.

    Attributes
    ----------
    names : tuple of str
        Their levels in the order of CROSSED.
    jobs : int
    squares : float
        Sum over the jobs of the mean square of their sizes, in the tables' variance.
    squares_um2 : float
        The same in µm².
    plus, minus : float
        Largest size to either side, in the tables' standard deviations, 0 or more.
    plus_um, minus_um : float
        The same in µm.
    count : int
        How many were measured.
    sum_um, least_um, most_um : float
        As they were written.
    doubted_plus, doubted_minus : int
        Gross ones among them that are not settled; in the squares they count as if at the limit.
    accidents : int
        Those that are taken for accidents; in the squares they count as if at ``far_deviations``.
    """

    names: tuple[str, ...]
    jobs: int
    squares: float
    squares_um2: float
    plus: float
    minus: float
    plus_um: float
    minus_um: float
    count: int
    sum_um: float
    least_um: float
    most_um: float
    doubted_plus: int = 0
    doubted_minus: int = 0
    accidents: int = 0

    @property
    def doubted(self) -> int:
        """Gross sizes to either side that are not settled."""
        return self.doubted_plus + self.doubted_minus

    def seen_by(self, unit_um: float) -> tuple[float, float, float]:
        """Return squares and largest size to either side for a pass of another deviation.

        What a fine skim was off is as many micrometres for a coarse pass, not as many tolerances;
        what a coarse pass was off is as many tolerances for a fine one, not as many micrometres.
        """
        return (
            min(self.squares, self.squares_um2 / unit_um**2),
            min(self.plus, self.plus_um / unit_um),
            min(self.minus, self.minus_um / unit_um),
        )

    def is_of(self, names: Sequence[str]) -> bool:
        """Return whether its cuts were of this machine and pass: a gross size is settled there."""
        return self.names[_MACHINE] == names[_MACHINE] and self.names[_PASS] == names[_PASS]


def is_gross_size(value: float, rules: LearningRules) -> bool:
    """Return whether a size error, in the tables' deviations, is no scatter of a cut."""
    return abs(value) * rules.size_share_of_tolerance > rules.gross_size_tolerances


def unsettled_sizes(values: _Values, names: _Rows, rules: LearningRules) -> NDArray[np.bool_]:
    """Return which sizes are gross and not settled: fewer than some jobs have the like.

    As many jobs as settle a level, of one machine and pass and to the same side, are a fault of
    the offset that lasts.
    """
    gross = [v is not None and is_gross_size(v, rules) for v in values]
    sides = [_side(value, row) for value, row in zip(values, names, strict=True)]
    settled = _of_enough_jobs(gross, sides, names, rules)
    return np.array(
        [is_one and side not in settled for is_one, side in zip(gross, sides, strict=True)],
        dtype=bool,
    )


def agreed_sizes(values: _Values, names: _Rows, rules: LearningRules) -> NDArray[np.bool_]:
    """Return sizes of machines and passes where enough jobs are far off to one side.

    That is no accident: there good sizes and bad ones count whole in what is expected.  Nothing
    is agreed by rules from before sizes counted so.
    """
    if not rules.size_prior_jobs:
        return np.zeros(len(values), dtype=bool)
    far = [v is not None and abs(v) > rules.far_deviations for v in values]
    sides = [_side(value, row) for value, row in zip(values, names, strict=True)]
    agreed = {side[:2] for side in _of_enough_jobs(far, sides, names, rules)}
    return np.array([side[:2] in agreed for side in sides], dtype=bool)


_Side = tuple[str, str, bool]


def _side(value: float | None, row: tuple[str, ...]) -> _Side:
    """Return machine and pass of a row, and whether metal was left."""
    return row[_MACHINE], row[_PASS], (value or 0.0) > 0


def _of_enough_jobs(
    asked: Sequence[bool], sides: Sequence[_Side], names: _Rows, rules: LearningRules
) -> set[_Side]:
    """Return the sides to which enough jobs have sizes of those asked."""
    rows = zip(asked, sides, names, strict=True)
    jobs = Counter(
        side for side, _ in {(side, row[-1]) for is_asked, side, row in rows if is_asked}
    )
    return {side for side, count in jobs.items() if count >= rules.settled_jobs}


def accidental_sizes(values: _Values, names: _Rows, rules: LearningRules) -> NDArray[np.bool_]:
    """Return sizes that are far off and taken for accidents, the farthest first.

    Of a machine and pass no more jobs than slips are to be expected among as many, those that
    would weigh most; and none to a side where more are far off than that, and as many as settle a
    level.

    References
    ----------
    The number of slips: binomial law.
    """
    accidental = np.zeros(len(values), dtype=bool)
    if not (rules.size_prior_jobs and rules.size_accident_chance and rules.slip_share):
        return accidental
    places: dict[tuple[str, str], dict[int, float]] = {}
    for k, (value, row) in enumerate(zip(values, names, strict=True)):
        if value is not None:
            places.setdefault(_side(value, row)[:2], {})[k] = value
    for rows in places.values():
        of_job = Counter(names[k][-1] for k in rows)
        allowed = _slips(len(of_job), rules)
        # Side and job of each size far off, and what each of those jobs weighs beyond the limit.
        far = {
            k: (value > 0, names[k][-1])
            for k, value in rows.items()
            if abs(value) > rules.far_deviations
        }
        most: dict[tuple[bool, str], float] = {}
        for k, key in far.items():
            beyond = rows[k] ** 2 - rules.far_deviations**2
            most[key] = most.get(key, 0.0) + beyond / of_job[key[1]]
        jobs_to = Counter(is_plus for is_plus, _ in most)
        lasting = {s for s, n in jobs_to.items() if n >= rules.settled_jobs and n > allowed}
        lone = sorted((-off, key) for key, off in most.items() if key[0] not in lasting)
        chosen = {key for _, key in lone[:allowed]}
        for k, key in far.items():
            accidental[k] = key in chosen
    return accidental


def _slips(jobs: int, rules: LearningRules) -> int:
    """Return the slips that so many jobs have no more than with the chance of the rules."""
    share, chance, k = rules.slip_share, 0.0, 0
    while True:
        chance += math.comb(jobs, k) * share**k * (1 - share) ** (jobs - k)
        if chance >= rules.size_accident_chance or k >= jobs:
            return k
        k += 1


def size_groups(
    values: _Values,
    sizes_um: Sequence[float | None],
    names: _Rows,
    rules: LearningRules,
) -> tuple[SizeGroup, ...]:
    """Sum measured sizes up by what they stand for.

    Parameters
    ----------
    values : sequence of float or None
        In the tables' standard deviations.
    sizes_um : sequence of float or None
        As they were written.
    names : sequence of tuple of str
        Levels of each row, then its job.
    rules : LearningRules

    Returns
    -------
    tuple of SizeGroup
        In the order of their names: no order of rows plays a part.  None by rules from before
        sizes counted so.
    """
    if not rules.size_prior_jobs:
        return ()
    doubted = unsettled_sizes(values, names, rules)
    limit = rules.gross_size_tolerances / rules.size_share_of_tolerance
    rows: dict[tuple[str, ...], list[_Row]] = {}
    accidental = accidental_sizes(values, names, rules)
    for k, (value, um, row) in enumerate(zip(values, sizes_um, names, strict=True)):
        if value is not None and um is not None:
            share = limit / abs(value) if doubted[k] else 1.0
            share = rules.far_deviations / abs(value) if accidental[k] else share
            one = _Row(
                row[-1], value * share, um * share, um, bool(doubted[k]), bool(accidental[k])
            )
            rows.setdefault(row[:-1], []).append(one)
    return tuple(_group(key, sorted(of)) for key, of in sorted(rows.items()))


class _Row(NamedTuple):
    """One measured size: as it counts, in the tables' deviations and in µm, and as written."""

    job: str
    value: float
    value_um: float
    written_um: float
    is_doubted: bool
    is_accident: bool


def _group(names: tuple[str, ...], rows: Sequence[_Row]) -> SizeGroup:
    written = [one.written_um for one in rows]
    return SizeGroup(
        names=names,
        jobs=len({one.job for one in rows}),
        squares=_squares([(one.job, one.value) for one in rows]),
        squares_um2=_squares([(one.job, one.value_um) for one in rows]),
        plus=max(0.0, *(one.value for one in rows)),
        minus=max(0.0, *(-one.value for one in rows)),
        plus_um=max(0.0, *(one.value_um for one in rows)),
        minus_um=max(0.0, *(-one.value_um for one in rows)),
        count=len(rows),
        sum_um=math.fsum(written),
        least_um=min(written),
        most_um=max(written),
        doubted_plus=sum(one.is_doubted and one.written_um > 0 for one in rows),
        doubted_minus=sum(one.is_doubted and one.written_um < 0 for one in rows),
        accidents=sum(one.is_accident for one in rows),
    )


def _squares(rows: Sequence[tuple[str, float]]) -> float:
    """Return the sum over jobs of the mean square: ten sizes of one job are not ten jobs."""
    by_job: dict[str, list[float]] = {}
    for job, value in rows:
        by_job.setdefault(job, []).append(value**2)
    return math.fsum(math.fsum(of) / len(of) for of in by_job.values())


def sizes_known(
    groups: Sequence[SizeGroup],
    names: tuple[str, ...],
    *,
    unit_um: float,
    tolerance_um: float,
    variance: Mapping[Input, float],
    rules: LearningRules,
) -> SizesKnown | None:
    """Return what all measured sizes say of a pass.

    ``held = 2 s sqrt((n0 + sum w y^2)/(n0 + sum w))`` with the sizes y of jobs in the tables'
    deviation s, and no more than the widest sizes to both sides together and what the tables hold.
    The weight w of a job of just this machine, material, wire and pass is 1; that of another is
    the square of the share of the inputs' variance that the two have in common, and fades as the
    pass has sizes of its own.  Every part rises with the distance of every size from nominal.

    Parameters
    ----------
    groups : sequence of SizeGroup
        All that were measured.
    names : tuple of str
        Levels of the pass in the order of CROSSED.
    unit_um : float
        Standard deviation by the tables, µm.
    tolerance_um : float
        Half zone that the pass holds by the tables, µm.
    variance : mapping of Input to float
        How far inputs may be off: only their ratios count.
    rules : LearningRules

    Returns
    -------
    SizesKnown or None
        None by rules from before sizes counted so.

    Notes
    -----
    Two root mean squares about nominal hold 95 % or more of a normal whatever its mean: 95.4 % with
    none, 95.5 % at a mean of half a deviation, 96.6 % at one.
    """
    if not rules.size_prior_jobs:
        return None
    own = [one for one in groups if one.names[_TOGETHER] == names[_TOGETHER]]
    count = sum(one.count for one in own)
    fade = max(0.0, 1 - sum(one.jobs for one in own) / rules.fewest_sizes)
    weights = [
        1.0 if one.names[_TOGETHER] == names[_TOGETHER] else fade * _common(one, names, variance)
        for one in groups
    ]
    heard = [(w, one) for w, one in zip(weights, groups, strict=True) if w > 0]
    seen = [(w, *one.seen_by(unit_um)) for w, one in heard]
    squares = math.fsum(w * squares for w, squares, _, _ in seen)
    jobs = math.fsum(w * one.jobs for w, one in heard)
    prior = rules.size_prior_jobs
    root_um = unit_um * math.sqrt((prior + squares) / (prior + jobs))
    plus = max((plus for _, _, plus, _ in seen), default=0.0)
    minus = max((minus for _, _, _, minus in seen), default=0.0)
    return SizesKnown(
        held_um=min(2 * root_um, unit_um * (plus + minus) + max(tolerance_um, 2 * unit_um)),
        tables_um=tolerance_um,
        count=count,
        jobs=sum(one.jobs for one in own),
        lent_jobs=0 if own else max((one.jobs for _, one in heard), default=0),
        doubted=sum(one.doubted for one in groups if one.is_of(names)),
        accidents=sum(one.accidents for one in own),
        settled_jobs=math.ceil(rules.settled_jobs),
        mean_um=math.fsum(one.sum_um for one in own) / count if count else 0.0,
        least_um=min((one.least_um for one in own), default=0.0),
        most_um=max((one.most_um for one in own), default=0.0),
    )


def _common(one: SizeGroup, names: tuple[str, ...], variance: Mapping[Input, float]) -> float:
    """Return the square of the share of the inputs' variance that cuts have in common."""
    whole = math.fsum(variance[kind] for kind in CROSSED)
    same = math.fsum(
        variance[kind]
        for kind, theirs, ours in zip(CROSSED, one.names, names, strict=True)
        if theirs == ours
    )
    return (same / whole) ** 2
