"""From measured cuts to a posterior."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from threadpoolctl import threadpool_limits

from kerfwright.foundation.errors import RangeError
from kerfwright.learning.fitting import fit_measure
from kerfwright.learning.posterior import (
    Fitted,
    Outlook,
    Posterior,
    SheetInQuestion,
    borne_key,
)
from kerfwright.learning.records import (
    LearningRules,
    Measure,
    MeasuredCut,
    Told,
    levels,
    nozzle_level,
    told_beyond,
)
from kerfwright.learning.sheets import ASKED_FROM, sheet_numbers
from kerfwright.learning.sizes import Answers, MeasuredSize, answers, size_groups
from kerfwright.learning.tables_hash import tables_sha256
from kerfwright.learning.turns import turns
from kerfwright.process.borne_feeds import Borne, borne_steps
from kerfwright.process.consumption import wire_kg
from kerfwright.process.experience import SizeRecord
from kerfwright.process.nozzles import NOZZLES
from kerfwright.process.sheet_records import SheetRecord
from kerfwright.process.tabled import TabledPass, tabled_pass
from kerfwright.process.technology import Flushing, Technology
from kerfwright.trade.catalogue import Catalogue


def learn(
    cuts: Sequence[MeasuredCut],
    *,
    technology: Technology,
    catalogue: Catalogue,
    rules: LearningRules,
    previous: str = "",
    basis_sha256: str = "",
) -> Posterior:
    """Update the tables with measured cuts.

    Feed, roughness and wire are learned as ratios to the tables on a logarithmic scale, the size
    error in tolerances of its pass between the guides of its set-up, breaks as a rate; each by
    machine, family, material, wire, height band, pass and their combination, see
    :func:`kerfwright.learning.solve.fit_robust`, the feed of rough cuts by nozzles that do not
    close too.
    With no cuts the posterior is the tables.

    Parameters
    ----------
    cuts : sequence of MeasuredCut
        All cuts the shop has; the order does not matter.
    technology : Technology
        The tables; experience in it is left out, as the cuts behind it are given again.
    catalogue : Catalogue
        The materials and wires that the tables' figures rest on.
    rules : LearningRules
    previous : str
        Hash of the posterior that this one follows.
    basis_sha256 : str
        Hash of what the cuts and rules are, as the store names them.

    Raises
    ------
    RangeError
        If a cut has a pass that the tables have not.
    """
    tables = _Tables(replace(technology, experience=None))
    expected = [tables.expected(cut) for cut in cuts]
    names = _all_names(cuts, rules)
    sizes = _sizes(cuts, expected, names, rules)
    said = answers(sizes, rules)
    # Threads that wait for each other over matrices of some hundred rows spin: 26 s for 2.
    with threadpool_limits(limits=1, user_api="blas"):
        fitted = {
            measure: _fit(measure, cuts, expected, names, rules=rules, sizes=said)
            for measure in Measure
        }
    return Posterior(
        sha256="",
        tables_sha256=tables_sha256(technology, catalogue),
        rules=rules,
        measures=MappingProxyType(fitted),
        counts=_counted(row[-2] for row in names),
        sizes=_counted(
            row[-2]
            for cut, said, row in zip(cuts, expected, names, strict=True)
            if _is_proof(cut, said, rules)
        ),
        previous=previous,
        basis_sha256=basis_sha256,
        few_jobs=_few_jobs(names, expected, rules),
        borne=_borne(cuts, expected, names),
        sheets=_sheets(fitted, cuts, names),
        size_groups=size_groups(sizes, said, rules),
        turns=turns(sizes, said),
    )


def sizes_in_question(
    cuts: Sequence[MeasuredCut], *, technology: Technology, rules: LearningRules
) -> tuple[MeasuredCut, ...]:
    """Return the cuts whose size error counts for nothing until somebody answers for it."""
    tables = _Tables(replace(technology, experience=None))
    expected = [tables.expected(cut) for cut in cuts]
    sizes = _sizes(cuts, expected, _all_names(cuts, rules), rules)
    measured = [cut for cut in cuts if cut.size_now_um is not None]
    asked = answers(sizes, rules).in_question
    return tuple(cut for cut, is_asked in zip(measured, asked, strict=True) if is_asked)


def sizes_beyond(cuts: Sequence[MeasuredCut], *, technology: Technology) -> tuple[MeasuredCut, ...]:
    """Return the cuts whose size error counts or is asked about and is beyond their pass.

    Parameters
    ----------
    cuts : sequence of MeasuredCut
    technology : Technology
        By whose tables, experience left out, a pass holds what it does.
    """
    tables = _Tables(replace(technology, experience=None))
    return tuple(
        cut
        for cut in cuts
        if cut.size_now_um is not None and abs(cut.size_now_um) > tables.expected(cut).held_um
    )


def _sizes(
    cuts: Sequence[MeasuredCut],
    expected: Sequence[_Expected],
    names: Sequence[tuple[str, ...]],
    rules: LearningRules,
) -> list[MeasuredSize]:
    """Return the measured sizes, in the order of the cuts that have one."""
    return [
        MeasuredSize(
            value=value,
            names=row[:-1],
            record=SizeRecord(
                job=cut.job,
                pass_number=cut.pass_number,
                size_um=cut.size_error_um,
                place=cut.place,
                recorded=cut.recorded,
                batch=cut.batch,
                is_beyond=abs(now_um) > said.held_um,
                set_um=cut.offset_set_um,
            ),
            close_um=now_um / cut.guides_factor,
            hand=cut.hand,
            is_confirmed=cut.is_size_confirmed,
        )
        for cut, said, row in zip(cuts, expected, names, strict=True)
        if cut.size_error_um is not None
        and (now_um := cut.size_now_um) is not None
        and (value := _size(cut, said, rules)) is not None
    ]


def _sheets(
    fitted: Mapping[Measure, Fitted],
    cuts: Sequence[MeasuredCut],
    names: Sequence[tuple[str, ...]],
) -> tuple[SheetInQuestion, ...]:
    """Return the sheets that are asked about, in an order that is theirs."""
    found = []
    for measure, one in fitted.items():
        for sheet in one.sheets:
            if sheet.chance < ASKED_FROM:
                continue
            kept = _kept(measure, cuts)
            rows = [kept[i] for i in sheet.rows.tolist()]
            record = SheetRecord(
                batch=cuts[rows[0]].batch,
                measure=measure.value,
                places=tuple(sorted(cuts[i].place for i in rows)),
                jobs=tuple(sorted({cuts[i].job for i in rows})),
                factor=sheet.factor,
                chance=sheet.chance,
            )
            together = tuple(sorted({names[i][-2] for i in rows}))
            found.append(SheetInQuestion(record=record, combinations=together))
    return tuple(
        sorted(found, key=lambda one: (one.record.batch, one.record.measure, one.record.places))
    )


def _borne(
    cuts: Sequence[MeasuredCut],
    expected: Sequence[_Expected],
    names: Sequence[tuple[str, ...]],
) -> Mapping[str, tuple[Borne, ...]]:
    """Return the feeds of rough cuts with closed nozzles whose breaks somebody counted."""
    found: dict[str, list[tuple[float, str, float, int]]] = {}
    for cut, said, row in zip(cuts, expected, names, strict=True):
        if cut.breaks is None or not said.passed.is_rough or cut.flushing is not Flushing.SEALED:
            continue
        factor = cut.feed_mm_per_min / said.feed_mm_per_min
        found.setdefault(borne_key(row[:-1]), []).append(
            (factor, cut.job, cut.minutes / 60, cut.breaks)
        )
    return MappingProxyType({key: borne_steps(of) for key, of in sorted(found.items())})


def _few_jobs(
    names: Sequence[tuple[str, ...]], expected: Sequence[_Expected], rules: LearningRules
) -> Mapping[str, int]:
    """Return how many jobs had each level, where they are too few for one not to decide."""
    jobs: dict[str, set[str]] = {}
    beside = (tuple(one.level for one in said.told if one.what != NOZZLES) for said in expected)
    for (*crossed, job), more in set(zip(names, beside, strict=True)):
        for level in (*crossed, *more):
            jobs.setdefault(level, set()).add(job)
    few = {level: len(of) for level, of in jobs.items() if len(of) < rules.settled_jobs}
    return MappingProxyType(dict(sorted(few.items())))


def _is_proof(cut: MeasuredCut, said: _Expected, rules: LearningRules) -> bool:
    """Return whether a cut's size counts towards a narrower promise.

    A wild one proves nothing, and one before its offset was set not that it was set right.
    """
    off = _size(cut, said, rules)
    return off is not None and abs(off) < rules.far_deviations and not cut.offset_set_um


def _counted(names: Iterable[str]) -> Mapping[str, int]:
    return MappingProxyType(dict(sorted(Counter(names).items())))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Expected:
    """What the tables say of one measured cut, what is held as with its guides."""

    passed: TabledPass
    held_um: float
    feed_mm_per_min: float
    wire_kg: float
    told: tuple[Told, ...] = ()


class _Tables:
    """What the tables say, computed once for each machine, material, wire, height and pass."""

    def __init__(self, technology: Technology) -> None:
        self._technology = technology
        self._made: dict[tuple[int, int, int, float, int], TabledPass] = {}

    def expected(self, cut: MeasuredCut) -> _Expected:
        """Return the tables' figures for a cut."""
        technology = self._technology
        if cut.pass_number > len(technology.passes):
            raise RangeError(
                f"pass {cut.pass_number} was measured, the tables have 1 to "
                f"{len(technology.passes)}",
                code="pass-count-out-of-range",
                where=cut.place,
            )
        # The records are held by the caller meanwhile, so that an id means one of them.
        scene = (id(cut.machine), id(cut.material), id(cut.wire), cut.height_mm)
        key = (*scene, cut.pass_number)
        if key not in self._made:
            self._made[key] = tabled_pass(
                cut.pass_number,
                material=cut.material,
                height_mm=cut.height_mm,
                wire=cut.wire,
                machine=cut.machine,
                technology=technology,
            )
        passed = self._made[key]
        # The tables' skims know no flushing; the rough pass is as slow as its nozzles let it be.
        law = technology.rough
        washed = law.flushing[cut.flushing] if passed.is_rough else 1.0
        unsure = law.flushing_sigma_log.get(cut.flushing, 0.0) if passed.is_rough else 0.0
        unit = passed.feed_unsure.routine_log
        beyond = told_beyond(passed.feed_unsure.beyond, unit_log=unit)
        nozzles = (
            (Told(NOZZLES, nozzle_level(cut.flushing), variance=(unsure / unit) ** 2),)
            if unsure
            else ()
        )
        # A program that slows at corners is slow there on any machine: that is no rate to learn.
        return _Expected(
            passed=passed,
            held_um=passed.tolerance_um * cut.guides_factor,
            feed_mm_per_min=passed.feed_mm_per_min * washed * cut.feed_share,
            wire_kg=wire_kg(cut.minutes, wire=cut.wire),
            told=(*beyond, *nozzles),
        )


def _names(cut: MeasuredCut, rules: LearningRules) -> tuple[str, ...]:
    crossed = levels(
        machine=cut.machine,
        material=cut.material,
        wire=cut.wire,
        height_mm=cut.height_mm,
        pass_number=cut.pass_number,
        rules=rules,
    )
    return (*crossed, f"job {cut.job}")


def _all_names(cuts: Sequence[MeasuredCut], rules: LearningRules) -> list[tuple[str, ...]]:
    """Return the names of all cuts: those that stand alike, of one job, have them once."""
    made: dict[tuple[object, ...], tuple[str, ...]] = {}
    found = []
    for cut in cuts:
        scene = (id(cut.machine), id(cut.material), id(cut.wire), cut.height_mm)
        key = (*scene, cut.pass_number, cut.job)
        if key not in made:
            made[key] = _names(cut, rules)
        found.append(made[key])
    return found


_Reader = Callable[[MeasuredCut, _Expected, LearningRules], float | None]


def _feed(cut: MeasuredCut, said: _Expected, _rules: LearningRules) -> float:
    return (
        math.log(cut.feed_mm_per_min / said.feed_mm_per_min) / said.passed.feed_unsure.routine_log
    )


def _ra(cut: MeasuredCut, said: _Expected, rules: LearningRules) -> float | None:
    if cut.ra_um is None:
        return None
    return math.log(cut.ra_um / said.passed.ra_um) / rules.ra_unit_log(
        said.passed.fine_spark_sigma_log
    )


def _size(cut: MeasuredCut, said: _Expected, rules: LearningRules) -> float | None:
    if cut.size_now_um is None:
        return None
    return cut.size_now_um / (rules.size_share_of_tolerance * said.held_um)


def _wire(cut: MeasuredCut, said: _Expected, rules: LearningRules) -> float | None:
    if cut.wire_kg is None:
        return None
    return math.log(cut.wire_kg / said.wire_kg) / rules.wire_sigma_log


def _breaks(cut: MeasuredCut, _said: _Expected, _rules: LearningRules) -> float | None:
    return None if cut.breaks is None else float(cut.breaks)


_READERS: dict[Measure, _Reader] = {
    Measure.FEED: _feed,
    Measure.RA: _ra,
    Measure.SIZE: _size,
    Measure.WIRE: _wire,
    Measure.BREAKS: _breaks,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where a measured cut stands against the tables.

    Attributes
    ----------
    names : tuple of str
        Its levels in the order of CROSSED.
    values : mapping of Measure to float
        What was measured, in the tables' standard deviations; a count for breaks.
    units : mapping of Measure to float
        Standard deviation of the tables: of the logarithm, in µm for the size error.
    told : tuple of Told
        What moves its feed besides.
    """

    names: tuple[str, ...]
    values: Mapping[Measure, float]
    units: Mapping[Measure, float]
    told: tuple[Told, ...] = ()

    def outlook(self, measure: Measure, fitted: Fitted) -> Outlook:
        """Return what is expected of a cut that stands so."""
        return fitted.outlook([self.names], told=[self.told if measure is Measure.FEED else ()])

    def shown(self, measure: Measure, cut: MeasuredCut, mean: float) -> tuple[float, float]:
        """Return a measured value as a person writes it, and what a mean in sigmas expects."""
        if measure is Measure.SIZE:
            return self.values[measure] * self.units[measure], mean * self.units[measure]
        written = {
            Measure.FEED: cut.feed_mm_per_min,
            Measure.RA: cut.ra_um,
            Measure.WIRE: cut.wire_kg,
        }[measure]
        assert written is not None
        return written, written * math.exp(self.units[measure] * (mean - self.values[measure]))


def standings(
    cuts: Sequence[MeasuredCut], *, technology: Technology, rules: LearningRules
) -> tuple[Standing, ...]:
    """Return where measured cuts stand against the tables.

    Raises
    ------
    RangeError
        If a cut has a pass that the tables have not.
    """
    tables = _Tables(replace(technology, experience=None))
    found = []
    for cut, row in zip(cuts, _all_names(cuts, rules), strict=True):
        said = tables.expected(cut)
        read = {measure: reader(cut, said, rules) for measure, reader in _READERS.items()}
        units = _units(said, rules)
        values = {measure: value for measure, value in read.items() if value is not None}
        found.append(Standing(names=row[:-1], values=values, units=units, told=said.told))
    return tuple(found)


def _units(said: _Expected, rules: LearningRules) -> dict[Measure, float]:
    """Return the tables' standard deviation of each measure: of the logarithm, of a size in µm."""
    return {measure: unit(said, rules) for measure, unit in _UNITS.items()}


_UNITS: dict[Measure, Callable[[_Expected, LearningRules], float]] = {
    Measure.FEED: lambda said, _: said.passed.feed_unsure.routine_log,
    Measure.RA: lambda said, rules: rules.ra_unit_log(said.passed.fine_spark_sigma_log),
    Measure.SIZE: lambda said, rules: rules.size_share_of_tolerance * said.held_um,
    Measure.WIRE: lambda _, rules: rules.wire_sigma_log,
    Measure.BREAKS: lambda _, rules: rules.breaks_sigma_log,
}


def _kept(measure: Measure, cuts: Sequence[MeasuredCut]) -> list[int]:
    """Return which cuts have a measure, by their numbers."""
    if measure is Measure.FEED:
        return list(range(len(cuts)))
    if measure is Measure.SIZE:
        return [i for i, cut in enumerate(cuts) if cut.size_now_um is not None]
    field = {Measure.RA: "ra_um", Measure.WIRE: "wire_kg", Measure.BREAKS: "breaks"}[measure]
    return [i for i, cut in enumerate(cuts) if getattr(cut, field) is not None]


def _fit(
    measure: Measure,
    cuts: Sequence[MeasuredCut],
    expected: Sequence[_Expected],
    names: Sequence[tuple[str, ...]],
    *,
    rules: LearningRules,
    sizes: Answers,
) -> Fitted:
    read = _READERS[measure]
    values = [read(cut, said, rules) for cut, said in zip(cuts, expected, strict=True)]
    kept = _kept(measure, cuts)
    agreed = None
    if measure is Measure.SIZE:
        kept = [i for i, out in zip(kept, sizes.in_question, strict=True) if not out]
        # Nothing agreed by rules from before sizes counted so.
        agreed = sizes.whole[~sizes.in_question] if rules.size_prior_jobs else None
    response = np.array([value for i in kept if (value := values[i]) is not None])
    if measure is not Measure.BREAKS:
        told = [expected[i].told for i in kept] if measure is Measure.FEED else ()
        # By rules from before sheets were judged each job stands for itself.
        hands = sheet_numbers([cuts[i].hand for i in kept]) if rules.sheet_slip_share else None
        return fit_measure(
            response,
            [names[i] for i in kept],
            measure=measure,
            rules=rules,
            told=told,
            agreed=agreed,
            hands=hands,
            units=np.array([_UNITS[measure](expected[i], rules) for i in kept]),
        )
    exposure = np.array([rules.breaks_per_h * cuts[i].minutes / 60 for i in kept])
    return fit_measure(
        response, [names[i] for i in kept], measure=measure, rules=rules, exposure=exposure
    )
