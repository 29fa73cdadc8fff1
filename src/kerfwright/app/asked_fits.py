"""Fits asked of the wrong member: ``40 H7`` of an outline, ``12 g6`` of an opening."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from kerfwright.app.papers.inspection import circle_of
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import tolerances_asked
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.trade.fits import Fit, FitTable, Member, looks_like_fit, read_fit
from kerfwright.trade.part import Part, PartContour, Role

_SAME_SIZE_MM: Final = 0.01
"""A written size this near a drawn one is that size: it is rounded to a hundredth at worst."""
_CUT: Final = {Role.OPENING: Member.HOLE, Role.OUTLINE: Member.SHAFT}
"""The inside of an opening is a hole's size, the outside of an outline a shaft's."""


def questioned_fits(request: JobRequest, part: Part, *, table: FitTable) -> tuple[Finding, ...]:
    """Question fits whose letter is that of the other member; nothing is changed.

    Parameters
    ----------
    request : JobRequest
        With texts that can be read.
    part : Part
    table : FitTable

    References
    ----------
    Capital letters for holes, small ones for shafts: ISO 286-1 (from memory).
    """
    found: dict[str, list[str]] = {}
    for one, text, is_alone in tolerances_asked(request, part):
        if not looks_like_fit(text):
            continue
        fit = read_fit(text, table=table)
        sizes = tuple(_outer_sizes_mm(one))
        is_its = any(abs(size - fit.nominal_mm) <= _SAME_SIZE_MM for size in sizes)
        # A fit of the job speaks of the size that it names; one of a contour, of that contour.
        if one.role in _CUT and _CUT[one.role] is not fit.member and (is_its or is_alone):
            found.setdefault(text, []).append(one.id)
    return tuple(_question(read_fit(t, table=table), ids, table) for t, ids in found.items())


def _outer_sizes_mm(one: PartContour) -> Iterator[float]:
    round_one = circle_of(one.contour)
    if round_one is not None:
        yield round_one[1]
        return
    x0, y0, x1, y1 = one.contour.bounds_mm
    yield x1 - x0
    yield y1 - y0


def _question(fit: Fit, ids: list[str], table: FitTable) -> Finding:
    is_hole = fit.member is Member.HOLE
    wanted, cut = ("holes", "an outline") if is_hole else ("shafts", "an opening")
    low, high = fit.limits_mm
    name = ids[0] if len(ids) == 1 else f"{ids[0]} and {len(ids) - 1} more"
    return Finding(
        code="fit-of-the-other-member",
        severity=Severity.WARNING,
        message=f"{name}: {fit.said} is a fit for {wanted}, and this is {cut}. Taken as written, "
        f"its size is {low:.4f} to {high:.4f} mm.",
        where=Place(contour_id=ids[0]),
        remedy=f"Ask which is meant.{_other(fit, table)} Nothing was changed.",
        data={"nominal_mm": fit.nominal_mm, "count": len(ids)},
    )


def _other(fit: Fit, table: FitTable) -> str:
    """Return what the same letter and grade would be on the other member."""
    try:
        other = read_fit(f"{fit.nominal_mm:g} {fit.symbol.swapcase()}", table=table)
    except KerfwrightError:
        return ""
    low, high = other.limits_mm
    what = "outside" if fit.member is Member.HOLE else "inside"
    return f" For the {what} it would be {other.said}, {low:.4f} to {high:.4f} mm."
