"""Why nothing can be asked instead of a refused job; loads nothing that plans or prices."""

from __future__ import annotations

from collections.abc import Iterable

from kerfwright.foundation.findings import Finding, Severity

_MOST_REMEDIES = 3
"""Remedies that the sentence on a job without an offer repeats."""


def why_none(findings: Iterable[Finding], *, is_tried: bool = True) -> str:
    """Say that nothing can be asked instead of a refused job, and what would help.

    Parameters
    ----------
    findings : iterable of Finding
        All of the job.
    is_tried : bool
        Whether other demands were tried; they are not where path, program or proof are refused.

    Returns
    -------
    str
        Empty where nothing is refused.
    """
    refused = [f for f in findings if f.severity is Severity.REFUSAL]
    return why_none_by((f.remedy for f in refused), is_tried=is_tried) if refused else ""


def why_none_by(remedies: Iterable[str], *, is_tried: bool) -> str:
    """Say as :func:`why_none` that nothing can be asked instead, by the remedies of refusals.

    Parameters
    ----------
    remedies : iterable of str
        Of all refusals, empty where one has none.
    is_tried : bool
    """
    why = (
        "no other tolerance, finish, recast, wire, number of passes, height or place of a start "
        "lifts all that is refused."
        if is_tried
        else "what is refused is the program itself, which no demand is known to mend."
    )
    known = list(dict.fromkeys(filter(None, remedies)))
    said = " ".join(_sentence(text) for text in known[:_MOST_REMEDIES])
    more = " The others are in the findings." if len(known) > _MOST_REMEDIES else ""
    helps = f" What the findings say would help: {said}{more}" if said else ""
    return f"Nothing is offered instead: {why}{helps}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
