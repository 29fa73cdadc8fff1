"""What measured sizes say a pass holds: every size counts whole, or is a question that is asked.

A size far beyond what its pass holds is in question until a person confirms it or sizes of other
jobs agree with it (decision 0025).  In question it counts for nothing and is named wherever it
would have counted.  What is held comes from the squares of all others.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.kept import Kept
from kerfwright.learning.records import CROSSED, Input, LearningRules
from kerfwright.process.experience import SizeRecord, SizesKnown

Floats = NDArray[np.float64]
_MACHINE, _PASS = CROSSED.index(Input.MACHINE), CROSSED.index(Input.PASS)
_TOGETHER = CROSSED.index(Input.COMBINATION)
_ALIKE = 2.0
"""Sizes to one side agree within this factor of each other: decision 0025."""
_LEAST_ALIKE = 2
_HEARD = 256
"""Passes whose weights are kept."""
_NAMED = 3
"""Records that a finding names; of more, the worst."""
_figures = attrgetter(
    "jobs", "squares", "squares_um2", "doubted", "plus", "minus", "plus_um", "minus_um"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSize:
    """One measured size among all that a shop has.

    Attributes
    ----------
    value, close_um : float
        In the tables' standard deviations, and in µm as between guides close to the work.
    names : tuple of str
        Levels of the row in the order of CROSSED.
    record : SizeRecord
        As it was written.
    hand : str
        What wrote it, see :attr:`kerfwright.learning.records.MeasuredCut.hand`; empty for its job.
    is_confirmed : bool
        Whether a person looked it up and said that it is right.
    """

    value: float
    close_um: float
    names: tuple[str, ...]
    record: SizeRecord
    hand: str = ""
    is_confirmed: bool = False

    @property
    def witness(self) -> str:
        """Name what vouches for it: who looked it up, or the hand that wrote it."""
        own = f"job {self.record.job}"
        return own if self.is_confirmed else self.hand or own

    @property
    def place(self) -> tuple[str, str]:
        """Machine and pass of the row."""
        return self.names[_MACHINE], self.names[_PASS]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeGroup:
    """The measured sizes of cuts that stand alike: one machine, material, wire, height and pass.

    Attributes
    ----------
    names : tuple of str
        Their levels in the order of CROSSED.
    jobs : int
        Of those that count, as all below.
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
        Between guides close to the work, as the figures above.
    worst : tuple of SizeRecord
        The farthest off.
    questioned : tuple of SizeRecord
        Those in question, which do not count.
    doubted : int
        How many these are; in experience from before they were kept, more than are named.
    is_lent : bool
        Whether other machines hear of them.
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
    worst: tuple[SizeRecord, ...] = ()
    questioned: tuple[SizeRecord, ...] = ()
    doubted: int = 0
    is_lent: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What becomes of each measured size.

    Attributes
    ----------
    in_question : NDArray of bool
        Those that do not count.
    far : NDArray of bool
        Those beyond the limit, answered or not.
    whole : NDArray of bool
        Those of machines and passes where jobs agree on a far one: good or bad, no accident.
    """

    in_question: NDArray[np.bool_]
    far: NDArray[np.bool_]
    whole: NDArray[np.bool_]


def answers(sizes: Sequence[MeasuredSize], rules: LearningRules) -> Answers:
    """Return which sizes are in question, which are far off, and where far ones agree.

    Far off is beyond ``gross_size_tolerances`` times what the pass holds: by the tables, or by the
    machine's other jobs of the pass where there are enough, whichever is less.  Nothing within what
    the tables hold is.

    Parameters
    ----------
    sizes : sequence of MeasuredSize
    rules : LearningRules

    References
    ----------
    Decision 0025.  The number of slips among as many jobs: binomial law.
    """
    by_tables = np.full(len(sizes), rules.gross_size_tolerances / rules.size_share_of_tolerance)
    gross = _answered(sizes, by_tables, rules)
    if not rules.size_prior_jobs:
        return gross
    return _answered(sizes, np.minimum(by_tables, _likely(sizes, gross.in_question, rules)), rules)


def _likely(sizes: Sequence[MeasuredSize], out: NDArray[np.bool_], rules: LearningRules) -> Floats:
    """Return how far each size may be by the other jobs of its machine and pass, in deviations."""
    squares: dict[tuple[str, str], dict[str, list[float]]] = {}
    places = [one.place for one in sizes]
    for one, place, is_out in zip(sizes, places, out.tolist(), strict=True):
        if not is_out:
            jobs = squares.setdefault(place, {})
            jobs.setdefault(one.record.job, []).append(one.value**2)
    means = {
        place: {job: math.fsum(of) / len(of) for job, of in jobs.items()}
        for place, jobs in squares.items()
    }
    sums = {place: math.fsum(of.values()) for place, of in means.items()}
    prior, tables = rules.size_prior_jobs, 1 / rules.size_share_of_tolerance
    found = np.full(len(sizes), np.inf)
    for k, (one, place) in enumerate(zip(sizes, places, strict=True)):
        job = one.record.job
        of = means.get(place, {})
        others = len(of) - (job in of)
        if others >= rules.settled_jobs:
            square = max(0.0, sums[place] - of.get(job, 0.0))
            held = 2 * math.sqrt((prior + square) / (prior + others))
            found[k] = max(tables, rules.gross_size_tolerances * held)
    return found


def _answered(sizes: Sequence[MeasuredSize], limits: Floats, rules: LearningRules) -> Answers:
    """Return what becomes of sizes by how far each may be."""
    far = np.array([abs(one.value) for one in sizes]) > limits
    jobs: dict[tuple[str, str], set[str]] = {}
    rows: dict[tuple[str, str], list[MeasuredSize]] = {}
    places = [one.place for one in sizes]
    for one, place in zip(sizes, places, strict=True):
        jobs.setdefault(place, set()).add(one.record.job)
        rows.setdefault(place, []).append(one)
    agreed = far.copy()
    for k in np.flatnonzero(far).tolist():
        one = sizes[k]
        # Sizes to the other side have a ratio below 0.
        alike = [
            other for other in rows[places[k]] if 1 / _ALIKE <= other.value / one.value <= _ALIKE
        ]
        needed = max(_LEAST_ALIKE, _slips(len(jobs[places[k]]), rules) + 1)
        # One sheet is one hand: what slips in one of its rows may slip in all (decision 0029).  By
        # rules from before, a job more was enough.
        is_one_hand = len({other.witness for other in alike}) == 1
        if is_one_hand and not rules.sheet_slip_share:
            needed, is_one_hand = needed + 1, False
        agreed[k] = not is_one_hand and len({other.record.job for other in alike}) >= needed
    confirmed = np.array([one.is_confirmed for one in sizes], dtype=bool)
    lasting = {places[k] for k in np.flatnonzero(agreed).tolist()}
    return Answers(
        in_question=far & ~agreed & ~confirmed,
        far=far,
        whole=np.array([place in lasting for place in places], dtype=bool),
    )


def _slips(jobs: int, rules: LearningRules) -> int:
    """Return the slips that so many jobs have no more than with the chance of the rules."""
    share, chance, k = rules.slip_share, 0.0, 0
    while True:
        chance += math.comb(jobs, k) * share**k * (1 - share) ** (jobs - k)
        if chance >= rules.size_accident_chance or k >= jobs:
            return k
        k += 1


def size_groups(
    sizes: Sequence[MeasuredSize], said: Answers, rules: LearningRules
) -> tuple[SizeGroup, ...]:
    """Sum measured sizes up by what they stand for.

    Parameters
    ----------
    sizes : sequence of MeasuredSize
    said : Answers
        What becomes of each of them.
    rules : LearningRules

    Returns
    -------
    tuple of SizeGroup
        In the order of their names: no order of rows plays a part.  None by rules from before
        sizes counted so.
    """
    if not rules.size_prior_jobs:
        return ()
    rows: dict[tuple[str, ...], list[int]] = {}
    for k, one in enumerate(sizes):
        rows.setdefault(one.names, []).append(k)
    found = []
    for names, of in sorted(rows.items()):
        ordered = sorted(of, key=lambda k: (sizes[k].record.job, sizes[k].value))
        counted = [sizes[k] for k in ordered if not said.in_question[k]]
        asked = [sizes[k].record for k in ordered if said.in_question[k]]
        jobs_to_lend = math.inf if said.far[of].any() else rules.settled_jobs
        found.append(_group(names, counted, asked, jobs_to_lend=jobs_to_lend))
    return tuple(found)


def _group(
    names: tuple[str, ...],
    rows: Sequence[MeasuredSize],
    asked: Sequence[SizeRecord],
    *,
    jobs_to_lend: float,
) -> SizeGroup:
    records = [one.record for one in rows]
    sizes_um, values = [one.close_um for one in rows], [one.value for one in rows]
    jobs = [one.job for one in records]
    count = len(set(jobs))
    worst = sorted(records, key=lambda r: (-abs(r.now_um), r.job, r.now_um))
    return SizeGroup(
        names=names,
        jobs=count,
        squares=_squares(jobs, values),
        squares_um2=_squares(jobs, sizes_um),
        plus=max([0.0, *values]),
        minus=max([0.0, -min(values, default=0.0)]),
        plus_um=max([0.0, *sizes_um]),
        minus_um=max([0.0, -min(sizes_um, default=0.0)]),
        count=len(rows),
        sum_um=math.fsum(sizes_um),
        least_um=min(sizes_um, default=0.0),
        most_um=max(sizes_um, default=0.0),
        worst=tuple(worst[:_NAMED]),
        questioned=tuple(asked),
        doubted=len(asked),
        is_lent=count >= jobs_to_lend,
    )


def _squares(jobs: Sequence[str], values: Sequence[float]) -> float:
    """Return the sum over jobs of the mean square: ten sizes of one job are not ten jobs."""
    by_job: dict[str, list[float]] = {}
    for job, value in zip(jobs, values, strict=True):
        by_job.setdefault(job, []).append(value**2)
    return math.fsum(math.fsum(of) / len(of) for of in by_job.values())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SizeBook:
    """All groups that a machine hears of, in columns: a plan asks each pass against every one.

    Attributes
    ----------
    groups : tuple of SizeGroup
    levels : tuple of mapping of str to int
        Number of each level, by the inputs of CROSSED.
    codes : NDArray of int64
        Those of the groups, one row each.
    jobs, squares, squares_um2 : NDArray of float64
    widest, widest_um : NDArray of float64
        Largest to either side, two columns.
    doubted : NDArray of float64
    """

    groups: tuple[SizeGroup, ...]
    levels: tuple[Mapping[str, int], ...]
    codes: NDArray[np.int64]
    jobs: Floats
    squares: Floats
    squares_um2: Floats
    widest: Floats
    widest_um: Floats
    doubted: Floats
    kept: Kept = field(default_factory=lambda: Kept(most=_HEARD))

    @classmethod
    def of(cls, known: Sequence[SizeGroup], names: Sequence[str]) -> SizeBook:
        """Write down what the machine of a pass hears of: its own, and what others lend."""
        groups = [one for one in known if one.is_lent or one.names[_MACHINE] == names[_MACHINE]]
        levels = tuple(
            {name: k for k, name in enumerate(dict.fromkeys(one.names[i] for one in groups))}
            for i in range(len(CROSSED))
        )
        rows = np.array([_figures(one) for one in groups], dtype=np.float64).reshape(-1, 8)
        codes = [[level[name] for level, name in zip(levels, g.names, strict=True)] for g in groups]
        return cls(
            groups=tuple(groups),
            levels=levels,
            codes=np.array(codes, dtype=np.int64).reshape(len(groups), len(CROSSED)),
            jobs=rows[:, 0].copy(),
            squares=rows[:, 1].copy(),
            squares_um2=rows[:, 2].copy(),
            doubted=rows[:, 3].copy(),
            widest=rows[:, 4:6].copy(),
            widest_um=rows[:, 6:].copy(),
        )

    def same(self, names: Sequence[str]) -> NDArray[np.bool_]:
        """Return which levels each group has in common with a pass, one row a group."""
        asked = [level.get(name, -1) for level, name in zip(self.levels, names, strict=True)]
        return np.asarray(self.codes == np.array(asked, dtype=np.int64))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Heard:
    """What of a book counts for a pass, whatever its height within the band.

    Attributes
    ----------
    weights : Floats, of a job of each group
    some : NDArray of bool
        Which of them count at all.
    own, asked : list of SizeGroup
        Those of just this, and those of the machine and pass that are in question.
    """

    weights: Floats
    some: NDArray[np.bool_]
    own: list[SizeGroup]
    asked: list[SizeGroup]


def _heard(
    book: SizeBook,
    names: tuple[str, ...],
    *,
    variance: Mapping[Input, float],
    rules: LearningRules,
) -> _Heard:
    same = book.same(names)
    own = same[:, _TOGETHER]
    fade = max(0.0, 1 - float(book.jobs[own].sum()) / rules.fewest_sizes)
    parts = np.array([variance[kind] for kind in CROSSED])
    # The square of the share of the inputs' variance that cuts have in common.
    common = (same @ parts / parts.sum()) ** 2
    weights = np.where(own, 1.0, fade * common)
    asked = (book.doubted > 0) & same[:, _MACHINE] & same[:, _PASS]
    return _Heard(
        weights=weights,
        some=weights > 0,
        own=[book.groups[k] for k in own.nonzero()[0].tolist()],
        asked=[book.groups[k] for k in asked.nonzero()[0].tolist()],
    )


def sizes_known(
    book: SizeBook,
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
    pass has sizes of its own; another machine lends what several jobs had, none of them far off.
    Sizes in question are not among them.  Every part rises with the distance of every size from
    nominal.

    Parameters
    ----------
    book : SizeBook
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
    heard = book.kept.once(
        lambda: _heard(book, names, variance=variance, rules=rules), variance, rules, key=names
    )
    weights, there, asked = heard.weights, heard.own, heard.asked
    # What a fine skim was off is as many micrometres for a coarse pass, not as many tolerances;
    # what a coarse pass was off is as many tolerances for a fine one, not as many micrometres.
    squares = np.minimum(book.squares, book.squares_um2 / unit_um**2)
    told = float(weights @ squares), float(weights @ book.squares)
    prior = rules.size_prior_jobs
    jobs = prior + float(weights @ book.jobs)
    root_um = unit_um * math.sqrt((prior + told[0]) / jobs)
    widest = np.minimum(book.widest, book.widest_um / unit_um)
    plus, minus = widest[heard.some].max(axis=0, initial=0.0).tolist()
    count = sum(one.count for one in there)
    # The farthest size of the pass itself left out, with its job: does it alone widen what is held?
    far_square = max((max(one.plus, one.minus) ** 2 for one in there), default=0.0)
    square = max(0.0, told[0] - far_square)
    without = (prior + square) / max(prior, jobs - 1)
    return SizesKnown(
        held_um=min(2 * root_um, unit_um * (plus + minus) + max(tolerance_um, 2 * unit_um)),
        # That of a standard deviation from so many squares.
        mean_factor=math.sqrt(told[0] / told[1]) if told[1] else 1.0,
        held_sigma_log=1 / math.sqrt(2 * jobs),
        held_without_worst_um=2 * unit_um * math.sqrt(without) if there else 0.0,
        tables_um=tolerance_um,
        count=count,
        jobs=sum(one.jobs for one in there),
        lent_jobs=0 if there else int(book.jobs[heard.some].max(initial=0)),
        questioned=tuple(r for one in asked for r in one.questioned),
        doubted=sum(one.doubted for one in asked),
        worst=_worst(book, weights, unit_um=unit_um),
        settled_jobs=math.ceil(rules.settled_jobs),
        mean_um=math.fsum(one.sum_um for one in there) / count if count else 0.0,
        least_um=min((one.least_um for one in there if one.count), default=0.0),
        most_um=max((one.most_um for one in there if one.count), default=0.0),
    )


def _worst(book: SizeBook, weights: Floats, *, unit_um: float) -> tuple[SizeRecord, ...]:
    """Return the records that widen what is held most, the worst first."""
    far_um = book.widest_um.max(axis=1, initial=0.0)
    pulls = np.where(far_um > unit_um, weights * far_um**2, 0.0)
    first = np.argsort(-pulls, kind="stable")[:_NAMED]
    wide = [
        (-float(weights[k]) * record.now_um**2, record.job, record)
        for k in first.tolist()
        if pulls[k] > 0
        for record in book.groups[k].worst
        if abs(record.now_um) > unit_um
    ]
    return tuple(record for *_, record in sorted(wide, key=lambda r: r[:2])[:_NAMED])
