"""What of a sheet is left for another job, by its true outline."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import flattened
from kerfwright.nesting.records import Kind, Sheet

_CHORD_MM: Final = 0.02
"""Chords of parts and sheet; a remnant is no fit."""
_THIN_MM: Final = 0.2
"""By how much the outline may be taken in to have few corners."""
_SHARE: Final = 0.9
_QUADRANT: Final = 16
_CORNER: Final = 1.43
"""A disc must grow by the root of two to fill a right-angled corner."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Left:
    """A piece of sheet that is worth keeping.

    Attributes
    ----------
    outline : Contour
        Closed, counter-clockwise, in the sheet's coordinates, mm.
    holes : tuple of Contour
    area_mm2 : float
    """

    outline: Contour
    holes: tuple[Contour, ...]
    area_mm2: float


def remnants_of(
    sheet: Sheet,
    parts: Sequence[Kind],
    *,
    kerf_mm: float,
    least_width_mm: float,
    least_area_mm2: float,
) -> tuple[Left, ...]:
    """Return what is left of a sheet, where it is wide enough to be of use, the largest first.

    The metal less every part and its kerf is opened by a disc of the least width: whatever is
    narrower, as the webs between the parts, falls away.  The outline is then taken in a little so
    that few corners describe it.  Metal under clamps is left too: next time they sit elsewhere.

    Parameters
    ----------
    sheet : Sheet
    parts : sequence of Kind
        Where they lie in the sheet.
    kerf_mm : float
        From an outline to the far side of its rough kerf.
    least_width_mm, least_area_mm2 : float
    """
    metal = _polygon(sheet.outline)
    for hole in sheet.holes:
        metal = metal.difference(_polygon(hole))
    gone = shapely.union_all([_polygon(p.outline).buffer(kerf_mm + _CHORD_MM) for p in parts])
    rest = metal.difference(gone)
    half = least_width_mm / 2
    # A little farther than back: right-angled corners of the sheet are metal too.
    opened = rest.buffer(-half, quad_segs=_QUADRANT).buffer(_CORNER * half, quad_segs=_QUADRANT)
    thin = (
        opened.intersection(rest).buffer(-_THIN_MM, join_style="mitre").simplify(_SHARE * _THIN_MM)
    )
    pieces = [p for p in shapely.get_parts(thin) if isinstance(p, shapely.Polygon)]
    kept = [p for p in pieces if p.area >= least_area_mm2]
    return tuple(_left(p) for p in sorted(kept, key=lambda p: -p.area))


def _left(polygon: shapely.Polygon) -> Left:
    shape = shapely.orient_polygons(polygon)
    rings = [
        Contour.from_rows(list(ring.coords)[:-1]) for ring in (shape.exterior, *shape.interiors)
    ]
    return Left(outline=rings[0], holes=tuple(rings[1:]), area_mm2=float(polygon.area))


def _polygon(contour: Contour) -> shapely.Polygon:
    return shapely.Polygon(flattened(contour, chord_error_mm=_CHORD_MM))
