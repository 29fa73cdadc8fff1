"""Quantities that are cut in stacks of another number than the first: their prices, told apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from kerfwright.app.records import JobResult
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.trade.requirement import Requirement


def with_other_stacks(
    result: JobResult, others: Sequence[JobResult], *, quantities: tuple[int, ...]
) -> JobResult:
    """Return a job with the prices of the quantities that are cut otherwise among its own.

    Plan, path, program and papers stay those of the first quantity.

    Parameters
    ----------
    result : JobResult
        Of the first quantity, and those that are stacked as it is.
    others : sequence of JobResult
        Planned and priced for the other quantities, those of one number in a stack together.
    quantities : tuple of int
        All that are asked, in their order.
    """
    if not others:
        return result
    wanted = replace(result.requirement, quantities=quantities)
    told = tuple(f for one in others for f in _told(one, result))
    joined = replace(
        result,
        requirement=wanted,
        plan=replace(
            result.plan, requirement=replace(result.plan.requirement, quantities=quantities)
        ),
        others=tuple(others),
        findings=(*result.findings, *told),
    )
    if result.estimate is None:
        return joined
    found = {
        price.quantity: price
        for one in (result, *others)
        if one.estimate is not None
        for price in one.estimate.prices
    }
    prices = tuple(found[quantity] for quantity in quantities if quantity in found)
    return replace(joined, estimate=replace(result.estimate, prices=prices))


def cut_alike(result: JobResult) -> Requirement:
    """Return what a job asks, for those quantities alone that are cut as its plan has it."""
    wanted = result.requirement
    if not result.others or result.estimate is None:
        return wanted
    apart = {quantity for one in result.others for quantity in one.requirement.quantities}
    return replace(wanted, quantities=tuple(q for q in wanted.quantities if q not in apart))


def other_stacks_said(result: JobResult) -> str:
    """Say which quantities a what-if leaves out, being cut in other stacks."""
    apart = sorted(quantity for one in result.others for quantity in one.requirement.quantities)
    many = ", ".join(map(str, apart))
    verb = "is" if len(apart) == 1 else "are"
    return (
        f"{many} {verb} cut in stacks of another number and left out here: price the job for "
        f"{apart[0]} by itself to see what each demand costs there."
    )


def _told(one: JobResult, first: JobResult) -> Iterator[Finding]:
    """Yield what weighs against another number in a stack and not against the first.

    A refusal there refuses that price and not the job, and is told as a warning.
    """
    known = {(f.code, f.where) for f in first.findings}
    stack = one.requirement.stack
    how = "" if stack is None or stack.pieces == 1 else f", {stack.pieces} at once"
    pieces = ", ".join(map(str, one.requirement.quantities))
    for f in one.findings:
        if f.severity is Severity.NOTE or (f.code, f.where) in known:
            continue
        is_refusal = f.severity is Severity.REFUSAL
        refused = "this is refused, and the price is none to offer: " if is_refusal else ""
        yield replace(
            f, severity=Severity.WARNING, message=f"For {pieces}{how}: {refused}{f.message}"
        )
