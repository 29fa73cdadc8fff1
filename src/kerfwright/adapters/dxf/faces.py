"""Two faces of the work in one drawing: contours at two elevations."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from kerfwright.foundation.errors import DrawingError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.trade.part import Face

if TYPE_CHECKING:
    from kerfwright.adapters.dxf.shapes import Drawn

_MOST_TOLD = 6


def take_face(
    drawn: list[Drawn], face: Face, *, scale: float, same_mm: float, name: str
) -> list[Finding]:
    """Keep what lies at the elevation of a face, where the geometry lies at two.

    Parameters
    ----------
    drawn : list of Drawn
        Flat entities; those of the other face are taken out of the list.
    face : Face
    scale : float
        Millimetres per unit of the drawing.
    same_mm : float
        Elevations that differ by less are one.
    name : str
        Of the drawing, for messages.

    Returns
    -------
    list of Finding
        A note with the elevation; none where all lies at one.

    Raises
    ------
    DrawingError
        ``elevations-unclear`` if the geometry lies at more than two elevations.
    """
    levels = _levels([d.low * scale for d in drawn], same_mm)
    if len(levels) < 2:
        return []
    if len(levels) > 2:
        told = ", ".join(f"{z:.4g} mm" for z in levels[:_MOST_TOLD])
        more = ", …" if len(levels) > _MOST_TOLD else ""
        raise DrawingError(
            f"the geometry lies at {len(levels)} elevations, Z {told}{more}; a bottom and a top "
            "are two",
            code="elevations-unclear",
            where=name,
            remedy="Leave the contours of the two faces, or give the top as a drawing of its own.",
        )
    here = levels[0] if face is Face.BOTTOM else levels[1]
    drawn[:] = [d for d in drawn if abs(d.low * scale - here) <= same_mm]
    return [
        Finding(
            code="read-at-elevation",
            severity=Severity.NOTE,
            message=f"Of elevations Z {levels[0]:.4g} mm and Z {levels[1]:.4g} mm, that at Z "
            f"{here:.4g} mm is read as the {face.value}.",
            data={"elevation_mm": here, "apart_mm": levels[1] - levels[0]},
        )
    ]


def _levels(heights_mm: Sequence[float], same_mm: float) -> list[float]:
    """Return the elevations that occur, ascending, near ones as one."""
    found: list[float] = []
    for z in sorted(heights_mm):
        if not found or z - found[-1] > same_mm:
            found.append(z)
    return found
