"""Fits asked of the wrong member, ``40 H7`` of an outline, or of a size that is not drawn."""

from __future__ import annotations

from kerfwright.app.contour_sizes import is_of_size, nearest_size_mm
from kerfwright.app.fits_on_lines import MEMBERS
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import tolerances_asked
from kerfwright.foundation.errors import KerfwrightError
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.trade.fits import Fit, FitTable, Member, looks_like_fit, read_fit
from kerfwright.trade.part import Part, PartContour


def questioned_fits(request: JobRequest, part: Part, *, table: FitTable) -> tuple[Finding, ...]:
    """Question fits that cannot be meant where they are asked; nothing is changed.

    The letter may be that of the other member, or the size one that is not drawn there.

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
    others: dict[str, list[str]] = {}
    missed: dict[tuple[str, float | None], list[PartContour]] = {}
    of_job: dict[str, list[PartContour]] = {}
    for one, text, is_alone in tolerances_asked(request, part):
        if not looks_like_fit(text):
            continue
        fit = read_fit(text, table=table)
        drawn_mm = nearest_size_mm(one.contour, fit.nominal_mm)
        is_its = is_of_size(drawn_mm, fit)
        # A fit of the job speaks of the size that it names; one of a contour, of that contour.
        if one.role in MEMBERS and MEMBERS[one.role] is not fit.member and (is_its or is_alone):
            others.setdefault(text, []).append(one.id)
        if not is_alone:
            of_job.setdefault(text, []).append(one)
        elif not is_its:
            missed.setdefault((text, round(drawn_mm, 4)), []).append(one)
    for text, contours in of_job.items():
        fit = read_fit(text, table=table)
        if not any(is_of_size(nearest_size_mm(c.contour, fit.nominal_mm), fit) for c in contours):
            missed[text, None] = contours
    return (
        *(_question(read_fit(t, table=table), ids, table) for t, ids in others.items()),
        *(_of_another_size(read_fit(t, table=table), c, mm, part) for (t, mm), c in missed.items()),
    )


def _of_another_size(
    fit: Fit, contours: list[PartContour], drawn_mm: float | None, part: Part
) -> Finding:
    """Warn that the size of a fit is not drawn; None for the nearest one of a job's fit."""
    first = contours[0]
    own = drawn_mm is not None
    if drawn_mm is None:
        sizes = {nearest_size_mm(c.contour, fit.nominal_mm): c for c in contours}
        drawn_mm = min(sizes, key=lambda size: abs(size - fit.nominal_mm))
        first = sizes[drawn_mm]
    more = f" and {len(contours) - 1} more" if own and len(contours) > 1 else ""
    whose = f"{first.id}{more}: “{fit.said}”" if own else f"“{fit.said}”, asked of the whole job,"
    at = "" if own else f", at {first.id}"
    return Finding(
        code="fit-of-another-size",
        severity=Severity.WARNING,
        message=f"{whose} is a fit of {_size(fit.nominal_mm)}, and the nearest size that is drawn "
        f"is {_size(drawn_mm)}{at}: the wire follows the drawn line, and no limits are made of "
        "this fit.",
        where=Place(contour_id=first.id) if own else Place(),
        remedy="Ask which is meant: the fit of the drawn size, another contour, or a drawing that "
        "shows the size of the fit. Nothing was changed.",
        data={
            "nominal_mm": fit.nominal_mm,
            "drawn_mm": drawn_mm,
            "count": len(contours),
            "said": fit.said,
            "drawn_fit": f"{round(drawn_mm, 4):g} {fit.symbol}",
            "contours": ",".join(c.id for c in contours) if own else "",
            "of_its_size": ",".join(_of_its_size(fit, part)),
        },
    )


def _of_its_size(fit: Fit, part: Part) -> list[str]:
    """Return the contours that are drawn at the size of a fit, as its member."""
    return [
        c.id
        for c in part.to_cut
        if MEMBERS.get(c.role) is fit.member
        and is_of_size(nearest_size_mm(c.contour, fit.nominal_mm), fit)
    ]


def _size(value_mm: float) -> str:
    return f"{round(value_mm, 4):g} mm ({value_mm / MM_PER_INCH:.4f} in)"


def _question(fit: Fit, ids: list[str], table: FitTable) -> Finding:
    is_hole = fit.member is Member.HOLE
    wanted, cut = ("holes", "an outline") if is_hole else ("shafts", "an opening")
    low, high = fit.limits_mm
    name = ids[0] if len(ids) == 1 else f"{ids[0]} and {len(ids) - 1} more"
    return Finding(
        code="fit-of-the-other-member",
        severity=Severity.WARNING,
        message=f"{name}: “{fit.said}” is a fit for {wanted}, and this is {cut}. Taken as written, "
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
