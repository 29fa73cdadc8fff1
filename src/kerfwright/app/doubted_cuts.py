"""What to ask about cuts that were just recorded: one question a row, whatever of it is odd."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from typing import Final

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import NOWHERE, Finding, Place, Severity
from kerfwright.foundation.units import UnitSystem, length_text, minutes_text
from kerfwright.learning.far import FarValue
from kerfwright.learning.moved import Moved
from kerfwright.learning.posterior import Posterior
from kerfwright.learning.records import LearningRules, Measure, MeasuredCut
from kerfwright.process.experience import TYPED, jobs_words, more_words, moved_words
from kerfwright.process.sheet_records import sheet_findings
from kerfwright.process.technology import Flushing

_WRITTEN = {
    Measure.FEED: ("feed", "mm/min"),
    Measure.RA: ("finish", "µm Ra"),
    Measure.SIZE: ("size error", "µm"),
    Measure.WIRE: ("wire used", "kg"),
    Measure.BREAKS: ("breaks", "breaks"),
}
_BY_TIME = frozenset({Measure.WIRE, Measure.BREAKS})
"""What is weighed by the time of the row: with a wrong time it is off too."""
_WHOLE_FROM = 100
"""Three digits are enough for a remark."""
_ALONE = " It is one job alone: no other of the pass at this height is known."
_SHORT_NAME = 12
"""Digits of a batch's hash by which it is taken back."""


def doubts(
    far: Sequence[FarValue],
    moved: Sequence[Moved],
    *,
    batch: str,
    rules: LearningRules,
    after: Posterior | None = None,
) -> list[Finding]:
    """Return a finding for each row with values far off, and for each feed that few jobs moved.

    Where a single such row is what moved the feed of its pass, its finding says so too.  Rows of a
    sheet that are off alike are one question.

    Parameters
    ----------
    far : sequence of FarValue
    moved : sequence of Moved
    batch : str
        Name of the batch as it is kept.
    rules : LearningRules
    after : Posterior or None
        What is known with them.
    """
    sheets = [one.record for one in after.sheets] if after is not None else []
    told = {(one.measure, place) for one in sheets for place in one.places if one.batch == batch}
    far = [one for one in far if not _is_told(one, told)]
    rows: dict[int, list[FarValue]] = {}
    for one in far:
        rows.setdefault(id(one.cut), []).append(one)
    rests = {_pass_of_moved(row): row for row in moved if row.few is not None}
    only = {_pass_of_moved(row): row.known_jobs for row in moved}
    by_pass = {_pass_of_moved(row): row for row in moved}
    alike = Counter(_pass_of_cut(one.cut) for one in far if one.measure is Measure.FEED)
    found = []
    for values in rows.values():
        passed = _pass_of_cut(values[0].cut)
        alone = rests.pop(passed, None) if alike[passed] == 1 and _has_feed(values) else None
        finding = _far_finding(values, alone, batch=batch[:_SHORT_NAME], rules=rules)
        if alone is None and _has_feed(values) and only.get(passed) == 1:
            # Hardly believed, it did not move far; that nothing speaks for it is said all the same.
            finding = replace(finding, message=finding.message + _ALONE)
        breaks = _breaks_of(values, by_pass.get(passed))
        found.append(replace(finding, message=finding.message + breaks))
    found = sheet_findings(sheets) + found + [_rests(row) for row in rests.values()]
    return found if after is None else found + _unsettled(after)


_DAY_MIN: Final = 24 * 60.0
_DAYS_MIN: Final = 2 * _DAY_MIN
"""A pass that sparks for longer is said in days or weeks, as nobody reads them off hours."""


def _unsettled(after: Posterior) -> list[Finding]:
    """Say whose variances were still moving when the search for them ended."""
    names = [_WRITTEN[m][0] for m, fitted in after.measures.items() if not fitted.is_settled]
    if not names:
        return []
    return [
        Finding(
            code="variances-unsettled",
            severity=Severity.WARNING,
            message=f"How far jobs and cuts scatter was still moving when the search for it ended "
            f"({', '.join(names)}): these cuts scatter far more than the tables expect. Their "
            "ranges may be off by a tenth or more.",
            remedy="Look through the cuts for columns in other units, and at the shares in "
            "learning.toml; the likely values are less touched.",
            data={"measures": ", ".join(names)},
        )
    ]


def _is_told(one: FarValue, told: AbstractSet[tuple[str, str]]) -> bool:
    """Return whether the question about a sheet is that about this value too."""
    by = Measure.FEED if one.measure in _BY_TIME else one.measure
    place = one.cut.place
    return (by.value, place) in told or (one.measure.value, place) in told


_PassOf = tuple[str, str, str, int, float, Flushing]


def _pass_of_cut(cut: MeasuredCut) -> _PassOf:
    wire = f"{cut.wire.diameter_mm:g} mm {cut.wire.name}"
    # Skims know no nozzles.
    nozzles = cut.flushing if cut.pass_number == 1 else Flushing.SEALED
    return cut.machine.name, cut.material.name, wire, cut.pass_number, cut.height_mm, nozzles


def _pass_of_moved(row: Moved) -> _PassOf:
    return row.machine, row.material, row.wire, row.pass_number, row.height_mm, row.nozzles


def _has_feed(values: Sequence[FarValue]) -> bool:
    return any(one.measure is Measure.FEED for one in values)


def _far_finding(
    values: Sequence[FarValue], alone: Moved | None, *, batch: str, rules: LearningRules
) -> Finding:
    first, *others = values
    cut = first.cut
    # Every batch typed by hand begins with its cut 1: job and batch tell it from others.
    is_typed = cut.place.startswith(TYPED)
    place = f"job {cut.job}, typed, batch {batch}" if is_typed else cut.place or f"job {cut.job}"
    line = "" if is_typed else cut.place.rpartition(" ")[2]
    message = (
        f"{place}, pass {cut.pass_number}: {_value(first)} is {_compared(first)}. It is kept; "
        f"{_believed(first)}.{_weeks(first)}"
    )
    if first.is_in_question:
        message += _in_question(rules)
    by_time = [one for one in others if first.measure is Measure.FEED and one.measure in _BY_TIME]
    if by_time:
        # One slip of the clock, one question.
        told = " and ".join(f"{_value(one)} is {_compared(one)}" for one in by_time)
        message += f" Weighed by its time, {told}."
    for one in others:
        if one not in by_time:
            message += f" Also {_value(one)} is {_compared(one)}; {_believed(one)}."
            message += _in_question(rules) if one.is_in_question else ""
    data = _data(first)
    if others:
        data["also"] = ", ".join(one.measure.value for one in others)
    remedy = (
        "Check the row against what was written at the machine. If it is wrong, take its "
        f'batch back (record --withdraw {batch} --reason "mistyped"), correct the row and record '
        "the batch again."
    )
    if any(one.is_in_question for one in values):
        remedy += (
            f" If the size is right: record --confirm {cut.job}:{cut.pass_number}. If its cause is "
            f"gone since, such as an offset set: record --mended {cut.job}:{cut.pass_number}, with "
            "a --reason."
        )
    if alone is not None and alone.few is not None:
        few = alone.few
        message += (
            f" {jobs_words(few).capitalize()} moved the feed expected of the pass to "
            f"{moved_words(few)}: further than four cuts in five are off."
        )
        remedy += f" {more_words(few)} settle it."
        data |= {"jobs": few.jobs, "factor": few.factor, "more": few.more}
    return Finding(
        code="cut-far-off",
        severity=Severity.WARNING,
        message=message,
        where=Place(line=int(line) if line.isdecimal() else None, pass_number=cut.pass_number)
        if line.isdecimal() or is_typed
        else NOWHERE,
        remedy=remedy,
        data=data,
    )


def _breaks_of(values: Sequence[FarValue], row: Moved | None) -> str:
    """Name the breaks counted in a row that is in doubt: they are learned all the same."""
    count = values[0].cut.breaks
    # Breaks that are far off themselves are told with the other values.
    if count is None or row is None or any(one.measure is Measure.BREAKS for one in values):
        return ""
    was, now = (_PER_100_H * sight.breaks_per_h.likely for sight in (row.before, row.after))
    if f"{was:.2g}" == f"{now:.2g}":
        return ""
    return (
        f" Its count of {counted(count, 'break')} is learned beside, by the time written: breaks "
        f"in {_PER_100_H} h of usual cuts were expected at {was:.2g} and are at {now:.2g}. Look it "
        "up too."
    )


_PER_100_H: Final = 100


def _weeks(one: FarValue) -> str:
    """Say what a time of days means, beside the one that was expected of the same length."""
    cut = one.cut
    if one.measure is not Measure.FEED or cut.minutes < _DAYS_MIN or not one.value > 0:
        return ""
    days = cut.minutes / _DAY_MIN
    long = f"{days / 7:.2g} weeks" if days >= 14 else f"{days:.2g} days"
    metric = length_text(cut.length_mm, system=UnitSystem.METRIC, decimals=1)
    length = f"{metric} ({length_text(cut.length_mm, system=UnitSystem.INCH, decimals=2)})"
    expected = minutes_text(cut.minutes * one.value / one.expected)
    return (
        f" The time written, {minutes_text(cut.minutes)}, is {long} of sparking day and night for "
        f"{length} of cut; {expected} was expected of it."
    )


def _value(one: FarValue) -> str:
    if one.measure is Measure.BREAKS:
        return f"the count of {counted(round(one.value), 'break')} in the row"
    name, unit = _WRITTEN[one.measure]
    return f"{name} {_figure(one.value)} {unit}"


def _times(one: FarValue) -> float | None:
    """Return a value over the expected; None where that says nothing."""
    return one.value / one.expected if one.expected and one.measure is not Measure.SIZE else None


def _compared(one: FarValue) -> str:
    unit = _WRITTEN[one.measure][1]
    compared, times = f"{one.expected:.3g} {unit} expected{_of_moves(one)}", _times(one)
    if times is None:
        return f"against {compared}"
    if times > 1:
        return f"{_figure(times)} times the {compared}"
    return f"1/{_figure(1 / times)} of the {compared}"


def _of_moves(one: FarValue) -> str:
    """Say that a feed is the mean over the moves of the job, where that is not the full feed."""
    share = f"{one.cut.feed_share:.3g}"
    if one.measure is not Measure.FEED or share == "1":
        return ""
    return f" as the mean of this job's moves ({share} times the full feed of the pass)"


def _believed(one: FarValue) -> str:
    """Say how much of a value was believed, alone or with the other cuts recorded."""
    unit = _WRITTEN[one.measure][1]
    way = "" if one.counted is None else f", {max(one.counted, 0.0):.0%} of the way to it"
    return f"expected now is {one.now:.3g} {unit}{way}"


def _in_question(rules: LearningRules) -> str:
    """Say what becomes of a size error that is far beyond what its pass holds."""
    return (
        f" A size error beyond {rules.gross_size_tolerances:g} times what its pass holds, by the "
        "tables or by other jobs of the machine, is in question: it counts for nothing, and every "
        "plan of the pass says so, until sizes of other jobs agree with it or it is confirmed."
    )


def _data(one: FarValue) -> dict[str, float | int | str]:
    data: dict[str, float | int | str] = {
        "measure": one.measure.value,
        "value": one.value,
        "expected": one.expected,
        "deviations": one.deviations,
        "expected_now": one.now,
    }
    times = _times(one)
    if times is not None:
        data["times_expected"] = times
    if one.counted is not None:
        data["counted"] = one.counted
    return data


def _rests(row: Moved) -> Finding:
    """Return a finding for a feed that few jobs alone moved far."""
    assert row.few is not None
    return Finding(
        code="few-jobs-moved",
        severity=Severity.WARNING,
        message=f"{jobs_words(row.few).capitalize()} moved the expected feed of "
        f"{row.material}, {row.wire}, {row.height_mm:g} mm high, pass {row.pass_number}, to "
        f"{moved_words(row.few)}: further than four cuts in five are off.",
        where=Place(pass_number=row.pass_number),
        remedy="Check the clock and the rows: minutes or hours, pieces, wire, pass. "
        f"{more_words(row.few)} settle it.",
        data={"jobs": row.few.jobs, "factor": row.few.factor, "more": row.few.more},
    )


def _figure(value: float) -> str:
    """Write a number that may be absurdly large without powers of ten."""
    return f"{value:,.0f}" if abs(value) >= _WHOLE_FROM else f"{value:.3g}"
