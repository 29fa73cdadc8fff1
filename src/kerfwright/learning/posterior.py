"""What has been learned: effects by input, and what they say of the passes of a cut."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.ranges import Z_10_90, Range
from kerfwright.foundation.sources import Shares
from kerfwright.learning.causes import Causes
from kerfwright.learning.crossed import Factorised, factorised
from kerfwright.learning.records import (
    CROSSED,
    Input,
    LearningRules,
    Measure,
    MeasuredCut,
    Told,
    combination_of,
    levels,
    nozzle_level,
    told_beyond,
)
from kerfwright.learning.sheets import JudgedSheet
from kerfwright.learning.sizes import SizeBook, SizeGroup, sizes_known
from kerfwright.process.borne_feeds import Borne, BorneFeeds
from kerfwright.process.experience import (
    FewJobs,
    Learned,
    Loadings,
    NozzlesLearned,
    Shipped,
    SizesTurn,
)
from kerfwright.process.nozzles import NOZZLES
from kerfwright.process.sheet_records import SheetRecord
from kerfwright.trade.machine import Machine
from kerfwright.trade.material import Material, Wire

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CROSSED_WORDS: Final = tuple(kind.value for kind in CROSSED)
_JOB_WORD: Final = Input.JOB.value
_CUT_WORD: Final = Input.CUT.value
_Wanted = tuple[tuple[tuple[str, ...], ...], tuple[tuple[Told, ...], ...]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """The distribution of one measure over several passes of one cut, in the tables' sigmas.

    Attributes
    ----------
    mean : Floats
        One value a pass.
    shared : Floats
        Covariance between the passes of what inputs bring, jobs and cuts left out.
    job, cut : float
        Variance from job to job and from cut to cut.
    shares : tuple of Shares
        By pass; covariances are counted half to each input, so a share may be a little below 0.
    """

    mean: Floats
    shared: Floats
    job: float
    cut: float
    shares: tuple[Shares, ...]

    def variance(self, index: int) -> float:
        """Return the whole variance of a single cut of a pass."""
        return float(self.shared[index, index]) + self.job + self.cut

    def known(self, index: int, *, before: float) -> float:
        """Return the share of what a pass's cuts have in common that is known, 0 to 1.

        ``1 - v/v0`` of the variance v that inputs still bring and v0 that they brought.  Jobs and
        cuts that scatter more than the tables have it leave it as it is.

        Parameters
        ----------
        index : int
            Of the pass.
        before : float
            Variance that inputs bring before any cut, in the tables' sigmas squared.
        """
        return min(max(1 - float(self.shared[index, index]) / before, 0.0), 1.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Fitted:
    """The effects on one measure.

    Attributes
    ----------
    names : tuple of str
        Levels seen, such as ``"material tool-steel-d2"``.
    mean : Floats
    precision : sparse matrix
    variance : mapping of Input to float
        Prior variance of a level not seen yet, as scaled by what was learned.
    records : int
    burst : float
        Of counts: variance beyond Poisson and beyond that of the rate, over the mean.
    """

    names: tuple[str, ...]
    mean: Floats
    precision: Any
    variance: Mapping[Input, float]
    records: int
    burst: float = 0.0
    sheets: tuple[JudgedSheet, ...] = ()
    is_settled: bool = True

    @cached_property
    def _index(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(self.names)}

    @cached_property
    def _factor(self) -> Factorised:
        return factorised(self.precision)

    @cached_property
    def _columns(self) -> dict[str, Floats]:
        return {}

    @cached_property
    def _asked(self) -> dict[_Wanted, Outlook]:
        return {}

    def effect(self, name: str) -> float:
        """Return the likeliest effect of a level; 0 for one not seen yet."""
        return float(self.mean[self._index[name]]) if name in self._index else 0.0

    def outlook(
        self, wanted: Sequence[tuple[str, ...]], *, told: Sequence[tuple[Told, ...]] = ()
    ) -> Outlook:
        """Return the distribution for passes given by their levels, in the order of CROSSED.

        Each row may have effects beside them whose spread is ``told``.

        A plan and its alternatives ask for the same passes again and again: answers are kept.
        """
        key = (tuple(wanted), tuple(told) or ((),) * len(wanted))
        if key not in self._asked:
            self._asked[key] = self._outlook(*key)
        return self._asked[key]

    def _outlook(
        self, wanted: tuple[tuple[str, ...], ...], told: tuple[tuple[Told, ...], ...]
    ) -> Outlook:
        prior = {
            n: self.variance[kind] for row in wanted for kind, n in zip(CROSSED, row, strict=True)
        }
        prior |= {one.level: one.variance for row in told for one in row}
        place = {name: i for i, name in enumerate(prior)}
        seen = [name for name in prior if name in self._index]
        mean = np.zeros(len(prior))
        covariance = np.diag(list(prior.values()))
        if seen:
            there = np.array([self._index[name] for name in seen])
            here = np.array([place[name] for name in seen])
            block = self._covariances(seen, there)
            mean[here] = self.mean[there]
            covariance[np.ix_(here, here)] = (block + block.T) / 2
        picks = np.zeros((len(wanted), len(prior)))
        for row, (names, more) in enumerate(zip(wanted, told, strict=True)):
            picks[row, [place[name] for name in names]] = 1
            for one in more:
                picks[row, place[one.level]] = one.step
        shared = picks @ covariance @ picks.T
        job, cut = self.variance[Input.JOB], self.variance[Input.CUT]
        shares = tuple(
            self._shares(names, more, covariance @ picks[row], place, job=job, cut=cut)
            for row, (names, more) in enumerate(zip(wanted, told, strict=True))
        )
        return Outlook(mean=picks @ mean, shared=shared, job=job, cut=cut, shares=shares)

    def _covariances(self, seen: Sequence[str], there: Ints) -> Floats:
        """Return the covariance of some effects, by their names and numbers.

        Another height asks for the same levels but one: what was solved for is kept.
        """
        new = [name for name in seen if name not in self._columns]
        if new:
            unit = np.zeros((len(self.names), len(new)))
            unit[[self._index[name] for name in new], np.arange(len(new))] = 1
            solved = self._factor.solve(unit)
            self._columns.update(zip(new, solved.T, strict=True))
        return np.array([self._columns[name][there] for name in seen])

    @staticmethod
    def _shares(
        names: tuple[str, ...],
        told: tuple[Told, ...],
        covariances: Floats,
        place: dict[str, int],
        *,
        job: float,
        cut: float,
    ) -> Shares:
        each = covariances.tolist()
        parts = {kind: each[place[name]] for kind, name in zip(_CROSSED_WORDS, names, strict=True)}
        for one in told:
            parts[one.what] = parts.get(one.what, 0.0) + one.step * each[place[one.level]]
        parts |= {_JOB_WORD: job, _CUT_WORD: cut}
        whole = math.fsum(parts.values())
        return tuple((who, part / whole) for who, part in parts.items() if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetInQuestion:
    """A sheet that may hold one slip, and what it is about.

    Attributes
    ----------
    record : SheetRecord
    combinations : tuple of str
        Levels of machine, material, wire and pass that its rows are of.
    """

    record: SheetRecord
    combinations: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Posterior:
    """All that a shop has learned; frozen, named by the hash of its content.

    Attributes
    ----------
    sha256 : str
        Empty until a store has written it.
    tables_sha256 : str
        Hash of the tables that it moves; on other tables its factors would be wrong.
    rules : LearningRules
    measures : mapping of Measure to Fitted
    counts : mapping of str to int
        Measured cuts by combination of machine, material, wire and pass.
    sizes : mapping of str to int
        Those of them with a measured size.
    previous : str
        Hash of the posterior before this one; empty for the first.
    basis_sha256 : str
        Hash of the batches and rules it rests on, as the store names them.
    few_jobs : mapping of str to int
        Jobs by level, of levels that too few had for one of them not to decide.
    borne : mapping of str to tuple of Borne
        Feeds of rough cuts with counted breaks, by :func:`borne_key`.
    size_groups : tuple of SizeGroup
        All measured sizes, summed up by what they stand for.
    turns : mapping of str to SizesTurn
        Combinations whose sizes came nearer nominal all at once.
    sheets : tuple of SheetInQuestion
        Sheets that may hold one slip.
    """

    sha256: str
    tables_sha256: str
    rules: LearningRules
    measures: Mapping[Measure, Fitted]
    counts: Mapping[str, int]
    sizes: Mapping[str, int]
    previous: str = ""
    basis_sha256: str = ""
    few_jobs: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    borne: Mapping[str, tuple[Borne, ...]] = field(default_factory=lambda: MappingProxyType({}))
    size_groups: tuple[SizeGroup, ...] = ()
    turns: Mapping[str, SizesTurn] = field(default_factory=lambda: MappingProxyType({}))
    sheets: tuple[SheetInQuestion, ...] = ()

    @cached_property
    def _size_books(self) -> dict[str, SizeBook]:
        return {}

    def _size_book(self, names: tuple[str, ...]) -> SizeBook:
        """Return the sizes that a machine hears of."""
        machine = names[CROSSED.index(Input.MACHINE)]
        if machine not in self._size_books:
            self._size_books[machine] = SizeBook.of(self.size_groups, names)
        return self._size_books[machine]

    def learned(
        self,
        passes: Sequence[Shipped],
        *,
        machine: Machine,
        material: Material,
        wire: Wire,
        height_mm: float,
    ) -> tuple[Learned, ...]:
        """Return what is known of each pass of a cut.

        Parameters
        ----------
        passes : sequence of Shipped
        machine : Machine
        material : Material
        wire : Wire
        height_mm : float
        """
        names = [
            levels(
                machine=machine,
                material=material,
                wire=wire,
                height_mm=height_mm,
                pass_number=one.number,
                rules=self.rules,
            )
            for one in passes
        ]
        told = [told_beyond(one.feed_beyond, unit_log=one.feed_sigma_log) for one in passes]
        looks = {
            measure: fitted.outlook(names, told=told if measure is Measure.FEED else ())
            for measure, fitted in self.measures.items()
        }
        sigma = np.array([one.feed_sigma_log for one in passes])
        causes = Causes.of(looks[Measure.FEED].shared * np.outer(sigma, sigma))
        return tuple(
            self._of_pass(
                index,
                one,
                looks,
                causes.loadings(index),
                names=row,
                told=told[index],
                nozzles=self._nozzles(index, passes, names, told, causes),
            )
            for index, (one, row) in enumerate(zip(passes, names, strict=True))
        )

    def _nozzles(
        self,
        index: int,
        passes: Sequence[Shipped],
        names: Sequence[tuple[str, ...]],
        beside: Sequence[tuple[Told, ...]],
        causes: Causes,
    ) -> tuple[NozzlesLearned, ...]:
        """Return what is known of nozzles that do not close on a pass, beside all passes."""
        one = passes[index]
        unsure = {state: sigma for state, sigma in one.nozzles if sigma}
        if not unsure:
            return ()
        states = [
            Told(NOZZLES, nozzle_level(state), variance=(sigma / one.feed_sigma_log) ** 2)
            for state, sigma in unsure.items()
        ]
        rows = [*names, *[names[index]] * len(states)]
        told = [*beside, *((*beside[index], state) for state in states)]
        look = self.measures[Measure.FEED].outlook(rows, told=told)
        # An effect of the nozzles is what a row under them has more than that under closed ones.
        apart, count = np.eye(len(rows)), len(passes)
        apart[count:, index] = -1
        units = [p.feed_sigma_log for p in passes] + [one.feed_sigma_log] * len(states)
        apart *= np.array(units)[:, None]
        moved = np.exp((apart @ look.mean)[count:]).tolist()
        loadings = causes.beside(apart @ look.shared @ apart.T, tuple(unsure))
        return tuple(
            NozzlesLearned(state=state, factor=factor, loadings=parts)
            for state, factor, parts in zip(unsure, moved, loadings, strict=True)
        )

    def _of_pass(
        self,
        index: int,
        one: Shipped,
        looks: Mapping[Measure, Outlook],
        loadings: Loadings,
        *,
        names: tuple[str, ...],
        told: tuple[Told, ...],
        nozzles: tuple[NozzlesLearned, ...],
    ) -> Learned:
        rules, together = self.rules, names[-1]
        feed, ra, size, wire, breaks = (looks[m] for m in Measure)
        size_unit_um = rules.size_share_of_tolerance * one.tolerance_um

        def ratio(look: Outlook, sigma_log: float) -> tuple[float, float]:
            deviation = sigma_log * math.sqrt(look.variance(index))
            return math.exp(sigma_log * float(look.mean[index])), deviation

        feed_factor, _ = ratio(feed, one.feed_sigma_log)
        ra_factor, ra_sigma = ratio(ra, rules.ra_unit_log(one.fine_spark_sigma_log))
        wire_factor, wire_sigma = ratio(wire, rules.wire_sigma_log)
        break_factor, break_sigma = ratio(breaks, rules.breaks_sigma_log)
        sizes = sizes_known(
            self._size_book(names),
            names,
            unit_um=size_unit_um,
            tolerance_um=one.tolerance_um,
            variance=self.measures[Measure.SIZE].variance,
            rules=rules,
        )
        if sizes is not None:
            sizes = replace(sizes, of=combination_of(together), turn=self.turns.get(together))
        likeliest_um = size_unit_um * float(size.mean[index])
        return Learned(
            experience=self.sha256,
            records=self.counts.get(together, 0),
            feed_factor=feed_factor,
            feed_loadings=loadings,
            feed_job_log=one.feed_sigma_log * math.sqrt(feed.job),
            feed_scatter_log=one.feed_sigma_log * math.sqrt(feed.cut),
            feed_shares=feed.shares[index],
            feed_known=feed.known(
                index,
                before=math.fsum(rules.shares[Measure.FEED][kind] for kind in CROSSED)
                + math.fsum(one.step**2 * one.variance for one in told),
            ),
            ra_factor=ra_factor,
            ra_sigma_log=ra_sigma,
            ra_shares=ra.shares[index],
            size_bias_um=sizes.within_um(likeliest_um) if sizes is not None else likeliest_um,
            size_sigma_um=size_unit_um * math.sqrt(size.variance(index)),
            is_size_proven=self.sizes.get(together, 0) >= rules.fewest_sizes,
            wire_factor=wire_factor,
            wire_sigma_log=wire_sigma,
            breaks_per_h=Range.lognormal(rules.breaks_per_h * break_factor, sigma_log=break_sigma),
            breaks_burst=self.measures[Measure.BREAKS].burst,
            sizes=sizes,
            nozzles=nozzles,
            sheets=tuple(one.record for one in self.sheets if together in one.combinations),
            few=self._few(names, told, sigma_log=one.feed_sigma_log),
            borne=BorneFeeds(
                steps=self.borne.get(borne_key(names), ()),
                settled_jobs=math.ceil(rules.settled_jobs),
                usual_breaks_per_h=rules.breaks_per_h,
                usual_sigma_log=rules.breaks_sigma_log,
            )
            if one.number == 1
            else None,
        )

    def is_in_question(self, cut: MeasuredCut, names: tuple[str, ...]) -> bool:
        """Return whether the size of a cut with such levels counts for nothing."""
        return (names, cut.job, cut.size_error_um) in self._questioned

    @cached_property
    def _questioned(self) -> frozenset[tuple[tuple[str, ...], str, float | None]]:
        """Levels, job and size of each size that counts for nothing."""
        return frozenset(
            (one.names, r.job, r.size_um) for one in self.size_groups for r in one.questioned
        )

    def _few(
        self, names: tuple[str, ...], told: tuple[Told, ...], *, sigma_log: float
    ) -> FewJobs | None:
        """Return what few jobs did to a feed, where it is more than one cut in five is off.

        What rests on them is the sum of the effects of levels that only they had; it is held
        against the spread that those levels, the job and the cut had before.
        """
        fitted, shares = self.measures[Measure.FEED], self.rules.shares[Measure.FEED]
        standing = [(n, 1.0, shares[k]) for k, n in zip(CROSSED, names, strict=True)]
        standing += [(one.level, one.step, one.variance) for one in told]
        few = [one for one in standing if one[0] in self.few_jobs]
        moved = math.fsum(step * fitted.effect(name) for name, step, _ in few)
        before = math.fsum(step**2 * variance for _, step, variance in few)
        before += shares[Input.JOB] + shares[Input.CUT]
        if abs(moved) <= Z_10_90 * math.sqrt(before):
            return None
        most = max(few, key=lambda one: abs(one[1] * fitted.effect(one[0])))[0]
        jobs = self.few_jobs[most]
        return FewJobs(
            jobs=jobs,
            more=math.ceil(self.rules.settled_jobs) - jobs,
            factor=math.exp(sigma_log * moved),
        )


def borne_key(names: Sequence[str]) -> str:
    """Name a combination and its band of heights, from the levels of a cut."""
    level = dict(zip(CROSSED, names, strict=True))
    return f"{level[Input.COMBINATION]} / {level[Input.HEIGHT]}"
