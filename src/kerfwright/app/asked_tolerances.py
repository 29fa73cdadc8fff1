"""Tolerances that cannot be meant as written: ``±2 in`` of a part that is 2 in wide."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.app.records import JobRequest
from kerfwright.app.requirements import tolerances_asked
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import (
    MM_PER_INCH,
    UM_PER_MICROINCH,
    UM_PER_MM,
    both,
    tidy,
)
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.trade.fits import FitTable, looks_like_fit, tolerance_of_wall
from kerfwright.trade.part import Part, PartContour

_VALUE: Final = re.compile(r"(?:±|\+\s*/?\s*-)?\s*(\d+(?:[.,]\d+)?|[.,]\d+)\s*[a-zµ\"']+\.?")
"""One number and its unit, which may be another than was meant."""
_UNITS: Final = {
    "mm": UM_PER_MM,
    "thou": MM_PER_INCH,
    "µm": 1.0,
    "µin": UM_PER_MICROINCH,
}
"""Units that a slip of the pen or of the program that wrote the drawing swaps, µm."""


def questioned_tolerances(
    request: JobRequest, part: Part, *, table: FitTable
) -> tuple[Finding, ...]:
    """Question tolerances beyond what is being cut, or beyond any general one; nothing is changed.

    A wall that may be off by as much as its contour is wide may be missing altogether.  The other
    limit is the widest general tolerance for the largest size of the part.

    Parameters
    ----------
    request : JobRequest
        With texts that can be read.
    part : Part
    table : FitTable

    References
    ----------
    DIN ISO 2768-1, table 1, class v, very coarse: the values are read in a reprint of it.
    """
    widest_um = table.general_um(max((_sizes_mm(c)[1] for c in part.to_cut), default=0.0))
    found: dict[str, list[PartContour]] = {}
    for one, text, _ in tolerances_asked(request, part):
        if looks_like_fit(text):
            continue
        half_um = tolerance_of_wall(text, table=table).half_um
        if half_um >= _sizes_mm(one)[0] * UM_PER_MM or half_um > widest_um:
            found.setdefault(text, []).append(one)
    return tuple(
        _question(text, contours, widest_um=widest_um, table=table)
        for text, contours in found.items()
    )


def _sizes_mm(one: PartContour) -> tuple[float, float]:
    """Return the smaller and the larger size of a contour along the axes of the drawing."""
    x0, y0, x1, y1 = one.contour.bounds_mm
    return min(x1 - x0, y1 - y0), max(x1 - x0, y1 - y0)


def _question(
    text: str, contours: list[PartContour], *, widest_um: float, table: FitTable
) -> Finding:
    half_um = tolerance_of_wall(text, table=table).half_um
    smallest = min(contours, key=lambda c: _sizes_mm(c)[0])
    small_um = _sizes_mm(smallest)[0] * UM_PER_MM
    first = contours[0].id
    name = first if len(contours) == 1 else f"{first} and {len(contours) - 1} more"
    beside = (
        f"{smallest.id} is {both(small_um)} wide in all"
        if half_um >= small_um
        else f"even a very coarse part of this size is held to ±{zone_held(widest_um)}"
    )
    return Finding(
        code="tolerance-beyond-the-part",
        severity=Severity.WARNING,
        message=f"{name}: “{text.strip()}” is ±{zone_asked(half_um)} as written, and {beside}.",
        where=Place(contour_id=first),
        remedy=f"Ask which is meant.{_others(text, half_um, min(small_um, widest_um))} "
        "Nothing was changed.",
        data={"half_um": half_um, "smallest_um": small_um, "count": len(contours)},
    )


def _others(text: str, half_um: float, most_um: float) -> str:
    """Return what the same number would be in the units that it is mistaken for."""
    found = _VALUE.fullmatch(tidy(text))
    if found is None:
        return ""
    value = float(found[1].replace(",", "."))
    readings = [
        f"±{found[1]} {unit} ({both(value * um)})"
        for unit, um in _UNITS.items()
        if value * um < min(half_um, most_um)
    ]
    return f" In another unit it would be {', or '.join(readings)}." if readings else ""
