"""The same contour with its inside corners rounded, for asking what a larger radius would save."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.geometry.offset import offset_contour
from kerfwright.trade.part import PartContour


def with_rounded_corners(target: PartContour, *, radius_mm: float) -> PartContour | None:
    """Return the contour with every inside corner of at least a radius.

    It is what a disc of that radius leaves that runs along the wall on the side of the waste:
    offset there and back.  Walls, outside corners and larger inside radii stay where they are.

    Parameters
    ----------
    target : PartContour
    radius_mm : float

    Returns
    -------
    PartContour or None
        None where the disc does not get round in one piece, as in a slot.

    Examples
    --------
    >>> from kerfwright.trade.part import Role
    >>> square = Contour.from_rows([(0, 0), (0, 4), (4, 4), (4, 0)])
    >>> hole = PartContour(id="H1", role=Role.OPENING, contour=square, layer="0", entities=())
    >>> rounded = with_rounded_corners(hole, radius_mm=0.5)
    >>> round(16 - abs(rounded.contour.area_mm2), 6)  # (4 - pi) r^2 stays in the corners
    0.214602
    """
    out = offset_contour(target.contour, distance_mm=-radius_mm)
    if len(out.loops) != 1:
        return None
    back = offset_contour(out.loops[0].contour, distance_mm=radius_mm)
    if len(back.loops) != 1:
        return None
    return replace(target, contour=back.loops[0].contour)
