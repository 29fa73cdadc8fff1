"""What plans and reasons say of the sizes that a shop has measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sources import Reason, Source
from kerfwright.foundation.units import both
from kerfwright.process.experience import Learned, SizesKnown
from kerfwright.process.held import two_digits_up
from kerfwright.process.pass_spread import size_reason, size_sigma_um

LENT: Final = "sizes lent by another pass, material, wire or machine: none was measured here"
"""The cause of a size error that rests on cuts of other combinations alone."""
_MOVED: Final = 0.05
"""Part of what the tables hold by which sizes move it before that is said to rest on them."""


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
    held = Reason(
        quantity="tolerance_um",
        value=tolerance_um,
        formula="max(least, 2 root mean squares of all measured sizes and those of the tables, at "
        "most the widest of them to both sides and the tables)",
        inputs=(
            ("tables_um", tables_um),
            ("by_sizes_um", sizes.held_um),
            ("least_um", least_um),
            *measured,
        ),
        source=source,
    )
    plain = size_reason(bias_um=bias_um, sigma_um=sigma_um, source=source)
    is_lent = not sizes.count and sizes.lent_jobs > 0
    wall = replace(
        plain,
        shares=((LENT, 1.0),) if is_lent else plain.shares,
        formula="normal: the likeliest wall by all cuts, drawn to nominal, sizes far off and alone "
        "counting little and unsettled gross ones not; the deviation no less than what is held "
        "allows for",
        inputs=(("expected_um", bias_um), ("standard_deviation_um", sigma_um), *measured),
    )
    return held, wall


def _measured(sizes: SizesKnown) -> tuple[tuple[str, float], ...]:
    """Return what was measured, as it was written."""
    if not sizes.count:
        return (
            ("measured_sizes", 0.0),
            ("lent_by_jobs", float(sizes.lent_jobs)),
            ("unsettled_gross_sizes", float(sizes.doubted)),
        )
    return (
        ("measured_sizes", float(sizes.count)),
        ("jobs", float(sizes.jobs)),
        ("measured_mean_um", sizes.mean_um),
        ("measured_least_um", sizes.least_um),
        ("measured_most_um", sizes.most_um),
        ("unsettled_gross_sizes", float(sizes.doubted)),
    )


def size_findings(known: Sequence[tuple[int, Learned]]) -> list[Finding]:
    """Return what a plan or quote says of passes whose size rests on doubted or few records.

    Parameters
    ----------
    known : sequence of (int, Learned)
        Number of each pass and what is known of it, the last the one that finishes.

    Returns
    -------
    list of Finding
        ``sizes-taken-for-accidents``, ``size-records-doubted`` and ``size-rests-on-few-jobs``.
    """
    sizes = [(number, one, one.sizes) for number, one in known if one.sizes is not None]
    doubted = [(number, s) for number, _, s in sizes if s.doubted]
    few = [
        (number, s)
        for number, one, s in sizes
        if (s.count or number == known[-1][0]) and _rests_on_few(one, s)
    ]
    found = []
    lone = [(number, s) for number, _, s in sizes if s.accidents and not s.doubted]
    if lone:
        found.append(_accident_finding(lone))
    if doubted:
        found.append(_doubted_finding(doubted))
    if few:
        found.append(_few_finding(few))
    return found


def _rests_on_few(one: Learned, sizes: SizesKnown) -> bool:
    jobs = sizes.jobs or sizes.lent_jobs
    held_um = sizes.tolerance_um(best_um=0.0, is_proven=one.is_size_proven)
    return 0 < jobs < sizes.settled_jobs and (
        abs(held_um - sizes.tables_um) > _MOVED * sizes.tables_um
    )


def _accident_finding(passes: Sequence[tuple[int, SizesKnown]]) -> Finding:
    parts = ", ".join(
        f"{s.accidents} of {counted(s.count, 'size')} of pass {number}, which go from "
        f"{both(s.least_um)} to {both(s.most_um)}"
        for number, s in passes
    )
    return Finding(
        code="sizes-taken-for-accidents",
        severity=Severity.WARNING,
        message=f"Measured so far from what is usual that it is taken for an accident: {parts}. In "
        "what is said to hold that counts for little until more jobs are off to the same side.",
        remedy="Look the part and its offset up before a tolerance is promised; take a mistyped "
        "batch back (record --withdraw).",
        data={
            "passes": ", ".join(f"{number}" for number, _ in passes),
            "sizes": sum(s.accidents for _, s in passes),
        },
    )


def _doubted_finding(passes: Sequence[tuple[int, SizesKnown]]) -> Finding:
    parts = ", ".join(f"{counted(s.doubted, 'size')} of pass {number}" for number, s in passes)
    several = sum(s.doubted for _, s in passes) > 1
    return Finding(
        code="size-records-doubted",
        severity=Severity.WARNING,
        message=f"On this machine {parts} {'were' if several else 'was'} measured so far off that "
        f"a slip of the pen is as likely as a wrong offset. What the "
        f"{'passes are' if len(passes) > 1 else 'pass is'} said to hold counts "
        f"{'them' if several else 'it'} no farther off than a cut can be, and is no better than "
        "the tables say.",
        remedy="Measure the part or look the size up, before a tolerance is promised: take a "
        "mistyped batch back (record --withdraw), set a wrong offset right.",
        data={"passes": ", ".join(f"{number}" for number, _ in passes),
              "sizes": sum(s.doubted for _, s in passes)},
    )  # fmt: skip


def _few_finding(passes: Sequence[tuple[int, SizesKnown]]) -> Finding:
    parts = ", ".join(
        f"±{both(two_digits_up(s.held_um))} by them, ±{both(s.tables_um)} by the tables "
        f"(pass {number})"
        for number, s in passes
    )
    _, least = min(passes, key=lambda pair: pair[1].jobs or pair[1].lent_jobs)
    jobs = least.jobs or least.lent_jobs
    more = least.settled_jobs - jobs
    return Finding(
        code="size-rests-on-few-jobs",
        severity=Severity.WARNING,
        message=f"What is held here rests on the sizes of {counted(jobs, 'job')}: {parts}.",
        remedy="Check the sizes that were recorded, or plan without --shop. "
        f"{'One more job' if more == 1 else f'{more} more jobs'} like "
        f"{'it' if jobs == 1 else 'them'} will settle it.",
        data={"passes": ", ".join(f"{number}" for number, _ in passes), "jobs": jobs},
    )
