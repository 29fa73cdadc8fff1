"""Stations of a wall that have a place opposite them on the path of the wire centre."""

from __future__ import annotations

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import nearest_station

_SAME_MM = 1e-6
"""Two places nearer than an offset's own error (1e-6 mm) are one."""
_BESIDE_MM = 0.01
"""How far before an inside corner of the path a station is set."""


def opposite(
    wall: Contour, loop: Contour, *, station_mm: float, offset_mm: float
) -> tuple[float, bool]:
    """Return the loop's arc length nearest to the offset of a wall's station.

    Parameters
    ----------
    wall, loop : Contour
        A wall and the path of the wire centre along it, on its right.
    station_mm : float
        Arc length on the wall.
    offset_mm : float

    Returns
    -------
    station : float
        Arc length on the loop, mm.
    is_opposite : bool
        False beside an inside corner that the wire cuts off: no point of the loop is square to
        the wall there.
    """
    index, fraction = wall.locate(np.array([station_mm]))
    tangent = wall.segments.tangents_at(index, fraction)[0]
    point = wall.segments.points_at(index, fraction)[0]
    aside = point + offset_mm * np.array([tangent[1], -tangent[0]])
    station, distance = nearest_station(loop, (float(aside[0]), float(aside[1])))
    return station, distance <= _SAME_MM


def settled(
    wall: Contour, loop: Contour, *, station_mm: float, offset_mm: float, sense: int
) -> float:
    """Return the station itself, or the nearest before (−1) or after (+1) it with an opposite.

    Parameters are those of :func:`opposite`; the result is an arc length on the wall, mm.
    """
    on_loop, is_opposite = opposite(wall, loop, station_mm=station_mm, offset_mm=offset_mm)
    if is_opposite:
        return station_mm
    beside = loop.points_at(np.array([on_loop + sense * _BESIDE_MM]))[0]
    station, _ = nearest_station(wall, (float(beside[0]), float(beside[1])))
    return station
