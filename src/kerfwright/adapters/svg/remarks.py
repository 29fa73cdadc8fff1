"""Which findings the sheet lists, under which number, and where their marks stand."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

from kerfwright.adapters.svg.views import Mark
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.planning.plan import Plan
from kerfwright.proof.records import Proof

_MOST_MARKS = 30
"""More marks than this hide the part; then each kind of finding is marked where it is first."""
_MOST_LINES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """One numbered line of the list: a finding, and how many more there are of its kind.

    Attributes
    ----------
    number : int
    finding : Finding
    more : int
    """

    number: int
    finding: Finding
    more: int

    @property
    def is_refusal(self) -> bool:
        """Whether something will not be cut as asked."""
        return self.finding.severity is Severity.REFUSAL

    def lines(self, width: int) -> list[str]:
        """Return the text in lines of at most so many characters."""
        text = f"{self.finding.message.rstrip('.')}. {self.finding.remedy}".strip()
        wrapped = textwrap.wrap(text, width) or [self.finding.code]
        if len(wrapped) > _MOST_LINES:
            wrapped = [*wrapped[: _MOST_LINES - 1], f"{wrapped[_MOST_LINES - 1][: width - 2]} …"]
        return [*wrapped, f"And {self.more} more like it."] if self.more else wrapped


def remarks(plan: Plan, proof: Proof | None) -> tuple[list[Remark], list[Mark]]:
    """Return the list, refusals first, and the marks.

    Findings of one code share a number; where there are few, each has its mark.
    """
    every = plan.findings + (proof.findings if proof else ())
    once = list({(f.code, f.message, str(f.where)): f for f in every}.values())
    groups: dict[tuple[Severity, str], list[Finding]] = {}
    for severity in (Severity.REFUSAL, Severity.WARNING):
        for one in once:
            if one.severity is severity:
                groups.setdefault((severity, one.code), []).append(one)
    listed = [
        Remark(number=n, finding=group[0], more=len(group) - 1)
        for n, group in enumerate(groups.values(), start=1)
    ]
    are_few = sum(len(g) for g in groups.values()) <= _MOST_MARKS
    marks: list[Mark] = []
    for remark, group in zip(listed, groups.values(), strict=True):
        for one in group if are_few else group[:1]:
            place = _place(plan, one)
            if place:
                marks.append(
                    Mark(
                        number=remark.number,
                        is_refusal=remark.is_refusal,
                        x_mm=place[0],
                        y_mm=place[1],
                    )
                )
    return listed, marks


def _place(plan: Plan, finding: Finding) -> tuple[float, float] | None:
    """Return where a finding is: its own point, its contour's start, or its contour's middle."""
    where = finding.where
    if where.x_mm is not None and where.y_mm is not None:
        return where.x_mm, where.y_mm
    for contour in plan.contours:
        if contour.target.id == where.contour_id:
            return contour.start.x_mm, contour.start.y_mm
    for target in plan.part.contours:
        if target.id == where.contour_id:
            x0, y0, x1, y1 = target.contour.bounds_mm
            return (x0 + x1) / 2, (y0 + y1) / 2
    return None
