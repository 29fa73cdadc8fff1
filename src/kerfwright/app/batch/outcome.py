"""From the result of a job, or from the fault that ended it, to a row of the table."""

from __future__ import annotations

from collections import Counter
from typing import Any, Final

from kerfwright.app.batch.records import Outcome, State
from kerfwright.app.papers.common import left_out_ids
from kerfwright.app.plan_job import is_refused_whole
from kerfwright.app.records import JobResult
from kerfwright.costing.records import Estimate, Price, TimeKind
from kerfwright.costing.stacked import loads_of
from kerfwright.foundation.errors import DrawingError, KerfwrightError
from kerfwright.foundation.findings import Finding, Severity

_DECIMALS: Final = 3
"""Of minutes, millimetres and kilograms: the same table whatever machine rounds a last bit."""
_MOST_WORDS: Final = 200
"""Of a finding, as an example in the summary."""


def outcome_of(result: JobResult) -> Outcome:
    """Return the row of a job that was planned.

    A job of which nothing may be cut as asked has no price, even where one was computed.
    """
    left_out = left_out_ids(result)
    estimate = None if is_refused_whole(result) else result.estimate
    refusals = [f for f in result.findings if f.severity is Severity.REFUSAL]
    if estimate is None:
        state = State.REFUSED
    else:
        state = State.IN_PART if refusals or left_out else State.PRICED
    plan, wanted = result.plan, result.requirement
    wire = plan.choice.wire
    return Outcome(
        state=state,
        **_reason(refusals),
        contours=len(result.part.to_cut),
        left_out=len(left_out),
        **_counted(result.findings),
        material=wanted.material.name,
        machine=wanted.machine.name,
        height_mm=_rounded(wanted.height_mm),
        wire=wire.name,
        wire_mm=wire.diameter_mm,
        passes=max((len(c.passes) for c in plan.contours), default=None),
        proved=None if result.proof is None else result.proof.passed,
        **({} if estimate is None else _money(result, estimate)),
    )


def outcome_of_fault(fault: KerfwrightError) -> Outcome:
    """Return the row of a drawing that could not be answered at all.

    A drawing that was read and found wanting is refused; else what was asked is not usable.
    """
    is_drawing = isinstance(fault, DrawingError)
    place = f" ({fault.where})" if fault.where else ""
    said = f"{fault.message}{place}"
    return Outcome(
        state=State.REFUSED if is_drawing else State.WRONG_ROW,
        reason=said,
        code=fault.code,
        remedy=fault.remedy,
        refusals=int(is_drawing),
        codes={fault.code: 1} if is_drawing else {},
        said={fault.code: said[:_MOST_WORDS]} if is_drawing else {},
        first_refusal=said if is_drawing else "",
    )


def _reason(refusals: list[Finding]) -> dict[str, Any]:
    if not refusals:
        return {}
    first = refusals[0]
    return {"reason": _worded(first), "code": first.code, "remedy": first.remedy}


def _worded(finding: Finding) -> str:
    place = str(finding.where)
    return f"{finding.message} ({place})" if place else finding.message


def _counted(findings: tuple[Finding, ...]) -> dict[str, Any]:
    by_severity = Counter(f.severity for f in findings)
    weighty = [f for f in findings if f.severity is not Severity.NOTE]
    first = {
        severity: next((_worded(f) for f in findings if f.severity is severity), "")
        for severity in (Severity.REFUSAL, Severity.WARNING)
    }
    return {
        "refusals": by_severity[Severity.REFUSAL],
        "warnings": by_severity[Severity.WARNING],
        "notes": by_severity[Severity.NOTE],
        "codes": dict(Counter(f.code for f in weighty)),
        # Backwards, so that the first of a code stands.
        "said": {f.code: _worded(f)[:_MOST_WORDS] for f in reversed(weighty)},
        "first_refusal": first[Severity.REFUSAL],
        "first_warning": first[Severity.WARNING],
    }


def _money(result: JobResult, estimate: Estimate) -> dict[str, Any]:
    price = estimate.prices[0]
    loads = loads_of(result.plan, price.quantity)
    attended_min = sum(
        line.minutes.likely * (loads if line.per_piece else 1)
        for line in estimate.times
        if line.kind is TimeKind.MACHINE_ATTENDED
    )
    wire_kg = sum(
        used.amount.likely * (loads if used.per_piece else 1)
        for used in estimate.consumption
        if used.item == "wire"
    )
    return {
        "currency": estimate.currency,
        "quantity": price.quantity,
        "price_low": str(price.low),
        "price": str(price.likely),
        "price_high": str(price.high),
        "price_each": str(price.each),
        "prices": "; ".join(_price_said(p) for p in estimate.prices),
        "machine_min_low": _rounded(60 * price.hours.low),
        "machine_min": _rounded(60 * price.hours.likely),
        "machine_min_high": _rounded(60 * price.hours.high),
        "attended_min": _rounded(attended_min),
        "wire_kg": _rounded(wire_kg),
        "rough_mm": _rounded(sum(t.wall_mm for t in estimate.times if t.pass_number == 1)),
    }


def _price_said(price: Price) -> str:
    """Say what a piece costs at a quantity, and how many are cut at once where they are."""
    at_once = f" ({price.at_once} at once)" if price.at_once > 1 else ""
    return f"{price.quantity}: {price.each}{at_once}"


def _rounded(value: float) -> float:
    return round(value, _DECIMALS)
