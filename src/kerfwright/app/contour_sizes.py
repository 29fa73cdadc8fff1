"""The sizes of a contour that a fit may speak of: between two of its own walls."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from kerfwright.app.papers.inspection import bores_of, circle_of
from kerfwright.foundation.units import UM_PER_MM
from kerfwright.geometry.contour import Contour
from kerfwright.trade.fits import Fit

_SAME_SIZE_MM: Final = 0.01
"""A written size this near a drawn one is that size: it is rounded to a hundredth at worst."""
_TURNS: Final = 100_000
"""Parts of a half turn in which walls count as parallel: 0.03 mm over a metre."""


_SHORTEST_WALL: Final = 0.1
"""Share of a size that each of its walls is long at least: facets of a curve are none (common
practice, no source)."""


def is_of_size(drawn_mm: float, fit: Fit) -> bool:
    """Tell whether a drawn size is the one that a fit names.

    It may be drawn at the nominal size, at the middle of the zone or anywhere between.

    Parameters
    ----------
    drawn_mm : float
    fit : Fit
    """
    return reaches(drawn_mm - fit.nominal_mm, lower_um=fit.lower_um, upper_um=fit.upper_um)


def reaches(away_mm: float, *, lower_um: float, upper_um: float) -> bool:
    """Tell whether a size this far off the nominal lies between it and the ends of its zone.

    Parameters
    ----------
    away_mm : float
    lower_um, upper_um : float
        Ends of the zone from the nominal.
    """
    low_mm = min(0.0, lower_um / UM_PER_MM) - _SAME_SIZE_MM
    return low_mm <= away_mm <= max(0.0, upper_um / UM_PER_MM) + _SAME_SIZE_MM


def nearest_size_mm(contour: Contour, nominal_mm: float) -> float:
    """Return the size of a contour that is nearest to a nominal one, mm.

    Sizes are the diameter of a circle, of arcs of half a turn or more and of arcs about one
    centre, the width and height over all, and the distance of any two parallel straight walls
    that are a tenth of it long at least.

    Parameters
    ----------
    contour : Contour
    nominal_mm : float
    """
    x0, y0, x1, y1 = contour.bounds_mm
    round_one = circle_of(contour)
    if round_one is not None:
        return round_one[1]
    found = [x1 - x0, y1 - y0, *(diameter_mm for _, diameter_mm in bores_of(contour))]
    found += _about_one_centre_mm(contour)
    found += _between_walls_mm(contour, nominal_mm)
    return min(found, key=lambda size: abs(size - nominal_mm))


def _about_one_centre_mm(contour: Contour) -> list[float]:
    """Return the diameters that several arcs share, as the tips of a gear do."""
    s = contour.segments
    rows = np.column_stack([s.centre[s.is_arc], s.radius[s.is_arc]]).round(4)
    if not len(rows):
        return []
    unique, count = np.unique(rows, axis=0, return_counts=True)
    return [2 * float(radius) for radius in unique[count > 1, 2]]


def _between_walls_mm(contour: Contour, nominal_mm: float) -> list[float]:
    """Return of each direction the distance of two straight walls that is nearest to a size."""
    s = contour.segments
    along = (s.end - s.start)[~s.is_arc]
    long = np.hypot(along[:, 0], along[:, 1])
    is_wall = long >= _SHORTEST_WALL * nominal_mm
    along, start = along[is_wall], s.start[~s.is_arc][is_wall]
    turn = np.arctan2(along[:, 1], along[:, 0]) % np.pi
    step = np.round(turn / np.pi * _TURNS).astype(np.int64) % _TURNS
    found: list[float] = []
    for one in np.unique(step):
        walls = step == one
        if np.count_nonzero(walls) > 1:
            base = one / _TURNS * np.pi
            # The mean, not the step: over 200 mm half a step would be 3 µm.
            angle = base + float(np.mean((turn[walls] - base + np.pi / 2) % np.pi - np.pi / 2))
            across = start[walls] @ np.array([-np.sin(angle), np.cos(angle)])
            found += _nearest_gap(np.unique(across), nominal_mm)
    return found


def _nearest_gap(across: npt.NDArray[np.float64], nominal_mm: float) -> list[float]:
    """Return the distance of two of some ascending places that is nearest to a size, if any."""
    beyond = np.searchsorted(across, across + nominal_mm)
    gaps = np.concatenate(
        [across[np.clip(beyond + k, 0, len(across) - 1)] - across for k in (-1, 0)]
    )
    # Walls in one line lie no size apart.
    gaps = gaps[gaps > _SAME_SIZE_MM]
    return [float(gaps[np.abs(gaps - nominal_mm).argmin()])] if len(gaps) else []
