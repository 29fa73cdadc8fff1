"""Tolerances that speak of a size, held to the size that is drawn: ``H7``, ``.5000/.5007``."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.app.contour_sizes import is_of_size, nearest_size_mm, reaches
from kerfwright.app.papers.inspection import circle_of
from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import contour_texts
from kerfwright.foundation.errors import InputError, KerfwrightError
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.trade.asked_sizes import AskedLimits, read_asked_limits
from kerfwright.trade.fits import FIT_FORMS, FitTable, bare_size, is_symbol, read_fit
from kerfwright.trade.part import LengthUnit, Part, PartContour


def with_drawn_sizes(request: JobRequest, part: Part, *, table: FitTable) -> JobRequest:
    """Return a request whose demands on contours name the size that they are of.

    ``H7`` of a circle becomes ``12.7 H7``; a fit or limits without a unit are in the drawing's, or
    in the other one where only that is the size of the contour.

    Parameters
    ----------
    request : JobRequest
    part : Part
    table : FitTable

    Raises
    ------
    InputError
        Code ``size-not-drawn``: the contour has no such size; ``fit-size-missing``: a symbol
        alone on a contour that is no circle.
    """
    by_id = {c.id.upper(): c for c in part.contours}
    texts = contour_texts(request.contours)
    changed = False
    for name, own in texts.items():
        said, contour = own.get("tolerance"), by_id.get(name)
        if said is None or contour is None:
            continue
        own["tolerance"] = sized(said, contour, part.drawing_unit, table)
        changed |= own["tolerance"] != said
    if not changed:
        return request
    lines = {
        name: ", ".join(f"{what}={value}" for what, value in own.items())
        for name, own in texts.items()
    }
    return replace(request, contours=lines)


def sized(said: str, one: PartContour, unit: LengthUnit, table: FitTable) -> str:
    """Return a tolerance of a contour with the size that it is of, where it speaks of one.

    Parameters
    ----------
    said : str
    one : PartContour
    unit : LengthUnit
        Of the drawing.
    table : FitTable

    Raises
    ------
    InputError
        As :func:`with_drawn_sizes`.
    """
    if is_symbol(said):
        return _of_circle(said, one)
    if bare_size(said) is not None and unit is LengthUnit.INCH:
        return _in_drawn_unit(said, one, table)
    other = LengthUnit.MILLIMETRE if unit is LengthUnit.INCH else LengthUnit.INCH
    first = limits = read_asked_limits(said, bare_unit=unit.value)
    if limits is None or first is None:
        return said
    if not limits.has_unit and not _is_drawn(limits, one):
        limits = read_asked_limits(said, bare_unit=other.value) or limits
    drawn_mm = nearest_size_mm(one.contour, limits.nominal_mm)
    if not _is_drawn(limits, one):
        drawn_mm = nearest_size_mm(one.contour, first.nominal_mm)
        raise InputError(
            f"{one.id}: “{said}” gives the limits of a size, and the nearest size drawn there is "
            f"{drawn_mm:.4f} mm ({drawn_mm / MM_PER_INCH:.5f} in).",
            code="size-not-drawn",
            remedy="Ask them of the contour that has that size; or ask of this one what each wall "
            "may be off by, as ±0.005 mm.",
        )
    if limits.has_nominal and limits.has_unit:
        return said
    return limits.words if limits.has_nominal else limits.about(round(drawn_mm, 6)).words


def _is_drawn(limits: AskedLimits, one: PartContour) -> bool:
    away_mm = nearest_size_mm(one.contour, limits.nominal_mm) - limits.nominal_mm
    return reaches(away_mm, lower_um=limits.lower_um, upper_um=limits.upper_um)


def _of_circle(said: str, one: PartContour) -> str:
    circle = circle_of(one.contour)
    if circle is None:
        raise InputError(
            f"{one.id}: fit {said!r} lacks its nominal size, and {one.id} is no circle, so it has "
            "more sizes than one.",
            code="fit-size-missing",
            remedy=f"Write it as {FIT_FORMS}.",
        )
    return f"{round(circle[1], 6):g} {said.strip()}"


def _in_drawn_unit(said: str, one: PartContour, table: FitTable) -> str:
    """Return a fit without a unit in inches, where they are drawn, or where mm are not."""
    digits = bare_size(said) or ""
    in_inches = f"{digits} in {said.strip().removeprefix('Ø')[len(digits) :].strip()}"
    try:
        inch = read_fit(in_inches, table=table)
    except KerfwrightError:
        # Beyond the table of fits: nobody asks a fit of 25 in.
        return said
    try:
        metric = read_fit(said, table=table)
    except KerfwrightError:
        return in_inches
    if is_of_size(nearest_size_mm(one.contour, inch.nominal_mm), inch):
        return in_inches
    is_metric = is_of_size(nearest_size_mm(one.contour, metric.nominal_mm), metric)
    return said if is_metric else in_inches
