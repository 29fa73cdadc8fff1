"""Polygons that cover a part, or lie within an opening, with few corners."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import flattened
from kerfwright.geometry.segments import Floats

MOST_POINTS: Final = 200
"""Corners that the engine is given for a shape: with 2000 it overran a budget of 2 s by 12 s."""
_FIRST_MM: Final = 0.004
"""Allowance to begin with; each round doubles it."""
_SHARE: Final = 0.9
"""Of the allowance that thinning out may use; the rest is for chords and rounding."""
_CHORD: Final = 0.05
"""Of the allowance that chords of arcs may use."""


def envelope(contour: Contour, *, most: int = MOST_POINTS) -> Floats:
    """Return a polygon of few corners that covers what a contour encloses.

    The chords of the contour are grown by an allowance and thinned out by less than it, so that
    nothing of the contour can come to lie outside; the allowance is doubled until the corners are
    few enough.

    Parameters
    ----------
    contour : Contour
        Closed.
    most : int

    Returns
    -------
    (n, 2) float
        Counter-clockwise, mm, not closed.
    """
    return _few(contour, most=most, sign=1.0)


def inscribed(contour: Contour, *, most: int = MOST_POINTS) -> Floats | None:
    """Return a polygon of few corners within a contour; None where nothing is left of it."""
    found = _few(contour, most=most, sign=-1.0)
    return found if len(found) else None


def _few(contour: Contour, *, most: int, sign: float) -> Floats:
    allowance = _FIRST_MM
    while True:
        shape = shapely.Polygon(flattened(contour, chord_error_mm=_CHORD * allowance))
        grown = shape.buffer(sign * allowance, join_style="mitre", mitre_limit=2.0)
        thin = _largest(grown.simplify(_SHARE * allowance))
        if thin is None:
            return np.empty((0, 2))
        ring = shapely.get_coordinates(shapely.orient_polygons(thin).exterior)[:-1]
        # Thinned rings were seen to come nearer than their tolerance says; then it is made wider.
        true = shape.buffer(sign * _CHORD * allowance)
        is_beyond = thin.covers(true) if sign > 0 else true.covers(thin)
        if len(ring) <= most and is_beyond:
            return np.asarray(ring, dtype=np.float64)
        allowance *= 2


def _largest(shape: shapely.Geometry) -> shapely.Polygon | None:
    polygons = [p for p in shapely.get_parts(shape) if isinstance(p, shapely.Polygon)]
    best = max(polygons, key=lambda p: p.area, default=None)
    return None if best is None or best.is_empty else shapely.Polygon(best.exterior)
