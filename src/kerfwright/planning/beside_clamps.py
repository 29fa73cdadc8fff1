"""How near ways of the wire come to clamps."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely

from kerfwright.geometry.segments import Flags, Floats
from kerfwright.planning.feasibility import chords
from kerfwright.trade.clamps import Clamps


@lru_cache(maxsize=8)
def solid_of(clamps: Clamps) -> shapely.Geometry:
    """Return what clamps cover, arcs as chords."""
    return shapely.union_all([shapely.make_valid(shapely.Polygon(chords(z))) for z in clamps.zones])


def beside_clamps_mm(clamps: Clamps | None, lines: Sequence[Floats]) -> Floats:
    """Return how far each way of the wire centre is from the nearest clamp, (m,) mm.

    Parameters
    ----------
    clamps : Clamps or None
        Infinite without any.
    lines : sequence of (n, 2) float
        Corners of each way; one point is a place.
    """
    if clamps is None:
        return np.full(len(lines), np.inf)
    ways = [shapely.LineString(line) if len(line) > 1 else shapely.Point(line[0]) for line in lines]
    found: Floats = np.asarray(shapely.distance(np.array(ways), solid_of(clamps)))
    return found


def clear_ways(clamps: Clamps | None, begin: Floats, end: Floats, *, beside_mm: float) -> Flags:
    """Return which straight ways of the wire centre bring no nozzle to a clamp, (m,).

    Parameters
    ----------
    clamps : Clamps or None
    begin, end : (m, 2) float
    beside_mm : float
        How far from the way the wire may go: on its arcs on and off the wall.
    """
    if clamps is None:
        return np.ones(len(begin), dtype=bool)
    ways = shapely.linestrings(np.stack([begin, end], axis=1))
    clear: Flags = shapely.distance(ways, solid_of(clamps)) >= clamps.reach_mm + beside_mm
    return clear
