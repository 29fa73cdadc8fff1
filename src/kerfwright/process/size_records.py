"""What plans and reasons say of the sizes that a shop has measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sources import Reason, Source
from kerfwright.foundation.zones import zone_held
from kerfwright.process.experience import Learned, SizeRecord, SizesKnown
from kerfwright.process.held import two_digits_up
from kerfwright.process.offset_advice import (
    OffsetAdvice,
    advice_of,
    offset_data,
    offset_findings,
    set_already,
)
from kerfwright.process.pass_spread import held_spread, size_reason, size_sigma_um

if TYPE_CHECKING:
    from kerfwright.process.technology import Pass
from kerfwright.process.undercut import is_undercut

LENT: Final = "sizes lent by another pass, material, wire or machine: none was measured here"
"""The cause of a size error that rests on cuts of other combinations alone."""

_MOVED: Final = 0.05
"""Part of what the tables hold by which sizes move it before that is said to rest on them."""
_SHORT: Final = 12
"""Digits of a batch's name by which it is taken back."""


def promised_um(known: Learned, *, tables_um: float, best_um: float) -> tuple[float, float]:
    """Return the half zone that a pass may be promised to hold, and the least that it may be.

    A promise is not bettered on one lucky measurement, and counts every size that was measured.

    Parameters
    ----------
    known : Learned
    tables_um : float
        By the tables.
    best_um : float
        What the machine can.
    """
    sizes = known.sizes
    if sizes is None:
        # Experience from before every size counted.
        least_um = best_um if known.is_size_proven else max(best_um, tables_um)
        return max(abs(known.size_bias_um) + 2 * known.size_sigma_um, least_um), least_um
    least_um = sizes.least_um_held(best_um=best_um, is_proven=known.is_size_proven)
    return max(sizes.held_um, least_um), least_um


def promised_sigma_um(known: Learned, *, tables_um: float, best_um: float) -> float:
    """Return the standard deviation of the size, no less than what the promise allows for.

    Parameters
    ----------
    known : Learned
    tables_um, best_um : float
        As for :func:`promised_um`.
    """
    held_um, _ = promised_um(known, tables_um=tables_um, best_um=best_um)
    return max(known.size_sigma_um, size_sigma_um(held_um - abs(known.size_bias_um)))


def size_reasons(
    known: Learned, *, tables_um: float, best_um: float, source: Source
) -> tuple[Reason, Reason]:
    """Return why a pass holds what it does, and why its wall is expected where it is.

    Parameters
    ----------
    known : Learned
    tables_um, best_um : float
        As for :func:`promised_um`.
    source : Source
    """
    tolerance_um, least_um = promised_um(known, tables_um=tables_um, best_um=best_um)
    bias_um, sizes = known.size_bias_um, known.sizes
    sigma_um = promised_sigma_um(known, tables_um=tables_um, best_um=best_um)
    if sizes is None:
        held = Reason(
            quantity="tolerance_um",
            value=tolerance_um,
            formula="max(least, |size error| + 2 standard deviations)",
            inputs=(
                ("tables_um", tables_um),
                ("size_error_um", bias_um),
                ("size_sigma_um", sigma_um),
                ("least_um", least_um),
            ),
            source=source,
        )
        return held, size_reason(bias_um=bias_um, sigma_um=sigma_um, source=source)
    measured = _measured(sizes)
    really = held_spread(
        tolerance_um, really_um=sizes.held_um, best_um=best_um, sigma_log=sizes.held_sigma_log
    )
    held = Reason(
        quantity="tolerance_um",
        value=tolerance_um,
        formula="max(least, 2 root mean squares of all sizes that count and those of the tables, "
        "at most the widest of them to both sides and the tables). Range: of what it really holds; "
        "a promise is not bettered before enough sizes say so",
        inputs=(
            ("tables_um", tables_um),
            ("by_sizes_um", sizes.held_um),
            ("least_um", least_um),
            *measured,
        ),
        source=source,
        **really,
    )
    plain = size_reason(bias_um=bias_um, sigma_um=sigma_um, source=source)
    is_lent = not sizes.count and sizes.lent_jobs > 0
    wall = replace(
        plain,
        shares=((LENT, 1.0),) if is_lent else plain.shares,
        formula="normal: the likeliest wall by all cuts, drawn to nominal, sizes far off and alone "
        "counting little and those in question not, no further than the farthest measured here; "
        "the deviation no less than what is held allows for",
        inputs=(("expected_um", bias_um), ("standard_deviation_um", sigma_um), *measured),
    )
    return held, wall


def _measured(sizes: SizesKnown) -> tuple[tuple[str, float], ...]:
    """Return what was measured, as between guides close to the work."""
    if not sizes.count:
        lent = (("lent_by_jobs", float(sizes.lent_jobs)),) if sizes.lent_jobs else ()
        return (("measured_sizes", 0.0), *lent, ("sizes_in_question", float(sizes.doubted)))
    return (
        ("measured_sizes", float(sizes.count)),
        ("jobs", float(sizes.jobs)),
        ("measured_mean_um", sizes.mean_um),
        ("measured_least_um", sizes.least_um),
        ("measured_most_um", sizes.most_um),
        ("sizes_in_question", float(sizes.doubted)),
    )


def size_findings(known: Sequence[tuple[int, Learned]]) -> list[Finding]:
    """Return what a plan or quote says of passes whose size is in question or rests on few records.

    Parameters
    ----------
    known : sequence of (int, Learned)
        Number of each pass and what is known of it, the last the one that finishes.

    Returns
    -------
    list of Finding
        ``size-in-question``, ``size-rests-on-few-jobs`` and those of
        :func:`kerfwright.process.offset_advice.offset_findings`.
    """
    sizes = [(number, one, one.sizes) for number, one in known if one.sizes is not None]
    asked = [(number, s) for number, _, s in sizes if s.doubted]
    few = [
        (number, s)
        for number, one, s in sizes
        if (s.count or number == known[-1][0]) and _rests_on_few(one, s)
    ]
    one_wide = [(n, s) for n, _, s in sizes if (n, s) not in few and _is_widened_by_one(s)]
    found = [_asked_finding(asked)] if asked else []
    found += [_few_finding(few)] if few else []
    found += [_one_finding(one_wide)] if one_wide else []
    return [*found, *offset_findings(known)]


def records_words(records: Sequence[SizeRecord]) -> str:
    """Name records for the end of a sentence, each once."""
    return "; ".join(dict.fromkeys(one.words for one in records))


def mended_words(records: Sequence[SizeRecord]) -> str:
    """Return what to do where the cause of sizes is gone; empty where none is beyond its pass.

    Examples
    --------
    >>> mended_words([SizeRecord(job="J1", pass_number=3, size_um=49, is_beyond=True)])
    ' If its cause is gone since, such as an offset set: record --mended J1:3, with a --reason.'
    """
    named = list(dict.fromkeys(f"{r.job}:{r.pass_number}" for r in records if r.is_beyond))
    if not named:
        return ""
    ways = " and ".join(f"record --mended {one}" for one in named)
    return (
        f" If {'its' if len(named) == 1 else 'their'} cause is gone since, such as an offset set: "
        f"{ways}, with a --reason."
    )


def rests_words(passes: Sequence[Pass], *, asked_um: float) -> str:
    """Return on which measured sizes it rests that no pass holds what is asked.

    Parameters
    ----------
    passes : sequence of Pass
    asked_um : float
        Half the zone, µm.

    Returns
    -------
    str
        A sentence with a space before it; empty where measured sizes took nothing away.
    """
    found = _resting(passes, asked_um)
    if found is None:
        return ""
    best, sizes = found
    itself = " by itself" if is_undercut(best) else ""
    tables_um = zone_held(best.guides_factor * sizes.tables_um)
    return (
        f" That is by measured sizes, the widest of them {records_words(sizes.worst)}; by the "
        f"tables pass {best.number}{itself} holds ±{tables_um}."
    )


def rests_remedy(passes: Sequence[Pass], *, asked_um: float) -> str:
    """Return what to do about the sizes of :func:`rests_words`; empty where that is."""
    found = _resting(passes, asked_um)
    if found is None:
        return ""
    look = " Or look those sizes up: a mistyped batch is taken back (record --withdraw)."
    offset = _offset_of(found[0])
    # All of them are off alike: to mend the widest alone would leave the others.
    return look + (set_already(offset) if offset else mended_words(found[1].worst))


def rests_data(passes: Sequence[Pass], *, asked_um: float) -> dict[str, float | str]:
    """Return what a finding keeps beside :func:`rests_remedy`: of an offset, where one is off."""
    found = _resting(passes, asked_um)
    offset = _offset_of(found[0]) if found is not None else None
    return offset_data(offset) if offset else {}


def _offset_of(one: Pass) -> OffsetAdvice | None:
    return advice_of(one.number, one.learned) if one.learned is not None else None


def _resting(passes: Sequence[Pass], asked_um: float) -> tuple[Pass, SizesKnown] | None:
    """Return a pass that measured sizes let hold less than its tables say.

    The first that would hold what is asked by its tables, or else the best there is.
    """
    best = min(passes, key=lambda one: one.tolerance_um)
    found: tuple[Pass, SizesKnown] | None = None
    for one in passes:
        sizes = one.learned.sizes if one.learned is not None else None
        if sizes is None or not sizes.worst:
            continue
        # What far guides take, and what they let earlier passes undercut, is no matter of sizes.
        tables_um = one.guides_factor * sizes.tables_um
        if one.tolerance_um / one.undercut_factor > tables_um * (1 + _MOVED):
            if tables_um <= asked_um:
                return one, sizes
            if one is best:
                found = one, sizes
    return found


def _rests_on_few(one: Learned, sizes: SizesKnown) -> bool:
    jobs = sizes.jobs or sizes.lent_jobs
    held_um = sizes.tolerance_um(best_um=0.0, is_proven=one.is_size_proven)
    return 0 < jobs < sizes.settled_jobs and (
        abs(held_um - sizes.tables_um) > _MOVED * sizes.tables_um
    )


def _is_widened_by_one(sizes: SizesKnown) -> bool:
    """Return whether a pass is held for wider than by the tables because of one size alone."""
    most_um = sizes.tables_um * (1 + _MOVED)
    return bool(sizes.worst) and 0 < sizes.held_without_worst_um <= most_um < sizes.held_um


def _asked_finding(passes: Sequence[tuple[int, SizesKnown]]) -> Finding:
    records = [record for _, s in passes for record in s.questioned]
    count = sum(s.doubted for _, s in passes)
    they, them = ("they count", "them") if count > 1 else ("it counts", "it")
    named = f": {records_words(records)}" if records else ""
    confirm = " and ".join(
        dict.fromkeys(f"record --confirm {one.job}:{one.pass_number}" for one in records)
    )
    batches = ", ".join(dict.fromkeys(one.batch[:_SHORT] for one in records if one.batch))
    return Finding(
        code="size-in-question",
        severity=Severity.WARNING,
        message=f"On this machine {counted(count, 'measured size')} "
        f"{'are' if count > 1 else 'is'} so far beyond what the pass holds that a slip of the pen "
        f"is as likely as a wrong offset{named}. Until somebody has looked {they} for nothing "
        "here, and the pass is promised no better than by the tables.",
        remedy=f"Measure the part or look {them} up before a tolerance is promised. "
        f"If right: {confirm or 'record the sizes again'}, and set the offset."
        f"{mended_words(records)} If mistyped: take the batch back (record --withdraw"
        f"{f' {batches}' if batches else ''}) and record it corrected.",
        data={
            "passes": ", ".join(f"{number}" for number, _ in passes),
            "sizes": count,
            "records": "; ".join(f"{r.job}:{r.pass_number}:{r.size_um:g}" for r in records),
        },
    )


def answered_finding(
    asked: Finding, answered: Sequence[tuple[str, int, float]], *, is_all: bool
) -> Finding:
    """Return a ``size-in-question`` of an old quote with what was answered since.

    Parameters
    ----------
    asked : Finding
    answered : sequence of (str, int, float)
        Job, pass and size, µm, of what is no more in question.
    is_all : bool
        Whether none is left to answer.
    """
    if not answered:
        return asked
    today = "price --today computes the job with what the shop knows now."
    if is_all:
        return replace(
            asked,
            message=f"{asked.message} It was answered since; this price is with what was known "
            "then.",
            remedy=today,
        )
    named = ", ".join(dict.fromkeys(f"{job}:{number}" for job, number, _ in answered))
    return replace(
        asked,
        message=f"{asked.message} {named} was answered since.",
        remedy=f"{asked.remedy} Nothing is left to do for {named}: {today}",
    )


def _one_finding(passes: Sequence[tuple[int, SizesKnown]]) -> Finding:
    parts = ", ".join(
        f"±{zone_held(two_digits_up(s.held_um))} with it, "
        f"±{zone_held(two_digits_up(max(s.held_without_worst_um, s.tables_um)))} without "
        f"(pass {number})"
        for number, s in passes
    )
    worst = [s.worst[0] for _, s in passes]
    return Finding(
        code="size-rests-on-few-jobs",
        severity=Severity.WARNING,
        message=f"One size alone widens what is held here: {parts}. It is {records_words(worst)}.",
        remedy="Check that size against what was written at the machine. If it is wrong, take its "
        "batch back (record --withdraw) and record it corrected; if it is right, more jobs settle "
        "how often it happens." + mended_words(worst),
        data={"passes": ", ".join(f"{number}" for number, _ in passes), "jobs": 1},
    )


def _few_finding(passes: Sequence[tuple[int, SizesKnown]]) -> Finding:
    parts = ", ".join(
        f"±{zone_held(two_digits_up(s.held_um))} by them, ±{zone_held(s.tables_um)} by the tables "
        f"(pass {number})"
        for number, s in passes
    )
    _, least = min(passes, key=lambda pair: pair[1].jobs or pair[1].lent_jobs)
    jobs = least.jobs or least.lent_jobs
    more = least.settled_jobs - jobs
    worst = [record for _, s in passes for record in s.worst]
    return Finding(
        code="size-rests-on-few-jobs",
        severity=Severity.WARNING,
        message=f"What is held here rests on the sizes of {counted(jobs, 'job')}: {parts}."
        + (f" The widest: {records_words(worst)}." if worst else ""),
        remedy="Check the sizes that were recorded, or plan without --shop. "
        f"{'One more job' if more == 1 else f'{more} more jobs'} like "
        f"{'it' if jobs == 1 else 'them'} will settle it." + mended_words(worst),
        data={"passes": ", ".join(f"{number}" for number, _ in passes), "jobs": jobs},
    )
