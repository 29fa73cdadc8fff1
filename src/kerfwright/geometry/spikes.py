"""Spikes: places where a drawn line doubles back on itself, too short to mean anything."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.contour import Contour

_DOUBLED_RAD = math.pi - 0.1
"""A turn this sharp between pieces of micrometres is a slip of the pen, not a corner."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spike:
    """A tip that was taken off.

    Attributes
    ----------
    x_mm, y_mm : float
        The tip.
    length_mm : float
        Of the shorter side.
    """

    x_mm: float
    y_mm: float
    length_mm: float


def without_spikes(contour: Contour, *, reach_mm: float) -> tuple[Contour, tuple[Spike, ...]]:
    """Take off the tips of a closed contour whose shorter side is no longer than `reach_mm`.

    The two sides become one segment, the longer one's; the wall moves by no more than the
    spike's own width and length.

    Parameters
    ----------
    contour : Contour
        Closed.
    reach_mm : float

    Returns
    -------
    contour : Contour
        The same object where nothing was taken off.
    spikes : tuple of Spike
    """
    taken: list[Spike] = []
    while len(contour) > 3:
        s = contour.segments
        before = np.roll(s.end_tangent, 1, axis=0)
        cross = before[:, 0] * s.start_tangent[:, 1] - before[:, 1] * s.start_tangent[:, 0]
        turn = np.abs(np.arctan2(cross, (before * s.start_tangent).sum(axis=1)))
        shorter = np.minimum(np.roll(s.length, 1), s.length)
        tips = np.flatnonzero((turn > _DOUBLED_RAD) & (shorter <= reach_mm))
        if not len(tips):
            break
        tip = int(tips[0])
        rows = contour.vertices.copy()
        before_tip = (tip - 1) % len(contour)
        if s.length[tip] > s.length[before_tip]:
            rows[before_tip, 2] = rows[tip, 2]
        taken.append(Spike(x_mm=rows[tip, 0], y_mm=rows[tip, 1], length_mm=float(shorter[tip])))
        contour = Contour(np.delete(rows, tip, axis=0), is_closed=True)
    return contour, tuple(taken)
