"""What the list of jobs shows of a draft: its price, and what needs attention."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, Final

from kerfwright.app.enquiries import Enquiry, Stage
from kerfwright.app.why_none import why_none_by
from kerfwright.foundation.counts import counted
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.findings import Severity
from kerfwright.workbench.computed import Drafted

_SHORT: Final = {"units-unknown": "unit?", "drawing-damaged": "drawing damaged"}
"""Troubles that the list names in a word; the whole sentence stands at the word and the job."""
_SOON_DAYS: Final = 3
"""A date this near is worth a word on the list."""


def not_offered(draft: Mapping[str, Any], *, by: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return a draft without its prices: a job that may not be cut as asked has none to offer.

    Parameters
    ----------
    draft : mapping
    by : sequence of mapping
        Findings among which the refusals are.
    """
    words = "not offered as asked"
    ledger = [
        {**line, "answer": {"metric": words, "inch": words}, "why": [], "severity": "refusal"}
        if line["name"] == "quantity" and draft["prices"]
        else line
        for line in draft["ledger"]
    ]
    why = [f["message"] for f in by if f["severity"] == Severity.REFUSAL.value]
    return {
        **draft,
        "ledger": ledger,
        "prices": [],
        "not_offered": why[0] if why else "The program did not pass its proof.",
    }


def draft_offered(draft: Mapping[str, Any], verdict: Mapping[str, Any] | None) -> Mapping[str, Any]:
    """Return a draft as the verdict on its program leaves it."""
    if verdict is None or verdict["is_proved"] or draft["not_offered"]:
        return draft
    return not_offered(draft, by=verdict["findings"])


def savings_offered(
    savings: dict[str, Any] | None, drafted: Drafted | None, verdict: Mapping[str, Any] | None
) -> dict[str, Any] | None:
    """Return what each demand costs as the verdict on the program leaves it.

    A program that failed its proof takes the savings with the price, and why nothing is offered
    instead is known without pricing anything: no other demand is known to mend it.
    """
    if verdict is None or verdict["is_proved"] or drafted is None:
        return savings
    # Refused before there was a program, a job may have offers that lift that.
    if drafted.draft["not_offered"] or not drafted.draft["prices"]:
        return savings
    refused = [f for f in verdict["findings"] if f["severity"] == Severity.REFUSAL.value]
    metric, inch = (
        why_none_by((f[name] for f in refused), is_tried=False)
        for name in ("remedy", "remedy_inch")
    )
    first = drafted.draft["prices"][0]
    return nothing_instead(
        metric, inch, currency=drafted.draft["currency"], quantity=first["quantity"]
    )


def nothing_instead(metric: str, inch: str, *, currency: str, quantity: int) -> dict[str, Any]:
    """Return the savings of a refused job for which nothing can be asked instead.

    Parameters
    ----------
    metric, inch : str
        Why there is nothing, in either unit.
    currency : str
        Empty where nothing is priced.
    quantity : int
        The first that is asked.
    """
    return {
        "currency": currency,
        "quantity": quantity,
        "is_refused": True,
        "as_asked": None,
        "alternatives": [],
        "front": [],
        "front_remarks": [{"metric": metric, "inch": inch}],
    }


def outcome_of(enquiry: Enquiry, draft: Mapping[str, Any]) -> dict[str, str]:
    """Return the price of the first quantity and counts of findings, as texts."""
    # Those that say the same of several contours are one, as the job's own page counts them.
    apart = {f.get("alike") or n: f["severity"] for n, f in enumerate(draft["findings"])}
    counts = Counter(apart.values())
    found = {f"{kind}s": str(counts[kind]) for kind in ("refusal", "warning") if counts[kind]}
    if draft["shape_key"]:
        found["shape"] = draft["shape_key"]
    if not draft["contours"]:
        found["empty"] = "nothing closed to cut"
    if draft["not_offered"]:
        found["not_offered"] = draft["not_offered"]
    if not enquiry.missing and draft["prices"]:
        first = draft["prices"][0]
        found |= {
            "each": str(first["each"]),
            "currency": str(draft["currency"]),
            "quantity": str(first["quantity"]),
        }
    return found


_FAR_DAYS: Final = 3 * 365
"""A day further off is likely a slip of the pen.  Common practice, no source."""


def is_late(enquiry: Enquiry, *, today: date) -> bool:
    """Return whether a job that is not done is past the day that it is wanted by."""
    due = enquiry.asked.get("due")
    if not due or enquiry.stage in {Stage.DONE, Stage.DECLINED}:
        return False
    return date.fromisoformat(due) < today


def trouble_of(enquiry: Enquiry, *, fault: KerfwrightError | None) -> str:
    """Return the sentence that says why a job could not be computed; empty where it could."""
    if enquiry.stage in {Stage.DONE, Stage.DECLINED}:
        return ""
    return enquiry.outcome.get("unusable", "") if fault is None else fault.message


def attention_of(
    enquiry: Enquiry,
    *,
    today: date,
    fault: KerfwrightError | None,
    is_stopped: bool = False,
    is_reading: bool = False,
) -> list[str]:
    """Return in a few words each why somebody should look at a job.

    Parameters
    ----------
    enquiry : Enquiry
    today : date
    fault : KerfwrightError or None
        Why it could not be computed.
    is_stopped : bool
        Somebody stopped the computation of what is asked now.
    is_reading : bool
        Its drawing is being read; what a first reading leaves is not there yet.
    """
    if enquiry.stage in {Stage.DONE, Stage.DECLINED}:
        return []
    words = []
    trouble = trouble_of(enquiry, fault=fault)
    if trouble:
        code = enquiry.outcome.get("unusable_code") if fault is None else fault.code
        return [_SHORT.get(code or "", trouble)]
    if is_reading and not enquiry.outcome:
        words.append("being read")
    elif enquiry.missing:
        words.append(f"needs {' and '.join(enquiry.missing)}")
    for name, one in (("refusals", "refused"), ("warnings", "to look at")):
        if enquiry.outcome.get(name):
            words.append(f"{enquiry.outcome[name]} {one}")
    if enquiry.outcome.get("empty"):
        words.append(enquiry.outcome["empty"])
    if enquiry.asked.get("due"):
        days = (date.fromisoformat(enquiry.asked["due"]) - today).days
        if days < 0:
            words.append(f"{counted(-days, 'day')} late")
        elif days <= _SOON_DAYS:
            words.append("due today" if not days else f"due in {counted(days, 'day')}")
        elif days > _FAR_DAYS:
            words.append(f"wanted only in {counted(days // 365, 'year')}: look at the date")
    if is_stopped:
        words.append("stopped: not computed")
    return words
