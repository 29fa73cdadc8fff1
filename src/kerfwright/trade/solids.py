"""What a solid gives beside its contours: its height, walls that lean, points for the proof."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kerfwright.geometry.segments import Floats
from kerfwright.trade.walls import GivenWall


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SolidSpots:
    """Points of a solid's surface at one height, read from the solid and not from a contour.

    Attributes
    ----------
    contour_id : str or None
        Wall in whose faces they lie; None for faces that belong to none.
    height_mm : float
        Above the underside.
    points : (n, 2) float
        mm.
    normals : (n, 3) float
        Unit vectors out of the metal.
    """

    contour_id: str | None
    height_mm: float
    points: Floats
    normals: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """A solid that a wire is to make.

    Attributes
    ----------
    height_mm : float
        Along the wire.
    volume_mm3 : float
    walls : mapping of str to GivenWall
        For each contour whose wall leans.
    bend_um : mapping of str to float
        For each contour, by how much its faces are not straight along the wire.
    slack_um : mapping of str to float
        For each contour, by how much its lines may leave the solid: its bend, and what arcs in
        place of free curves leave.
    spots : tuple of SolidSpots
    """

    height_mm: float
    volume_mm3: float
    walls: Mapping[str, GivenWall]
    bend_um: Mapping[str, float]
    slack_um: Mapping[str, float]
    spots: tuple[SolidSpots, ...]
