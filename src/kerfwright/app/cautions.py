"""What a change brings that the job as asked has not, in words fit to send to the customer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.process.misses import MISSED

_BEYOND_HEIGHT: Final = "height-beyond-data"
"""A note on a job that is so high as asked, a warning of an offer that makes it so."""
_WORDS: Final = {
    _BEYOND_HEIGHT: "That is beyond the height that our figures are known for: a test cut first.",
    "hole-too-deep": "Its start holes are deeper than is routine: a trial first.",
    "slug-too-heavy": "Pieces that come free are then so heavy that they have to be held.",
    "stack-beyond-known": "More sheets than are known to be cut as one: a trial first.",
    "wire-thin-for-height": "The wire is far too thin for the height to be routine: a test piece "
    "first.",
}


def cautions(instead: Iterable[Finding], *, asked: Iterable[Finding]) -> str:
    """Return sentences on warnings of a changed job that it has not as asked, each after a blank.

    By code, as another wire is judged.  Demands that would often be missed are told with their
    odds elsewhere.

    Parameters
    ----------
    instead : iterable of Finding
        Of the plan with something changed.
    asked : iterable of Finding
        Of the plan as asked.
    """
    known = {finding.code for finding in asked}
    return "".join(dict.fromkeys(_sentences(instead, known)))


def _sentences(findings: Iterable[Finding], known: set[str]) -> Iterator[str]:
    said = known | set(MISSED)
    for one in findings:
        if one.code in said:
            continue
        if one.severity is Severity.WARNING or one.code == _BEYOND_HEIGHT:
            said.add(one.code)
            yield f" {_WORDS.get(one.code) or _plain(one)}"


def _plain(finding: Finding) -> str:
    """Return the first sentence of a warning that has no words of its own for a customer."""
    first, *_ = finding.message.split(". ")
    return f"A warning comes with it: {first.rstrip('.')}."
