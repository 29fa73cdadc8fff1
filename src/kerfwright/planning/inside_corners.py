"""The inside corners of a contour: how tight they are drawn, and the contour with them rounded."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import offset_contour
from kerfwright.trade.part import PartContour

_SHARP_DEG: Final = 1.0
"""Turns below it are joints of a wall that was drawn smooth: common practice, no source."""


def smallest_drawn_mm(contour: Contour) -> float | None:
    """Return the smallest inside radius that is drawn, mm; 0 of a sharp inside corner.

    The wire runs right of the contour, so inside corners turn clockwise.

    Parameters
    ----------
    contour : Contour

    Returns
    -------
    float or None
        None where no inside corner and no inside bend is drawn.

    Examples
    --------
    >>> square = Contour.from_rows([(0, 0), (0, 4), (4, 4), (4, 0)])
    >>> smallest_drawn_mm(square), smallest_drawn_mm(square.reversed())
    (0.0, None)
    """
    s = contour.segments
    every = np.arange(len(s))
    out = s.tangents_at(every, np.ones(len(s)))
    into = np.roll(s.tangents_at(every, np.zeros(len(s))), -1, axis=0)
    crossed = out[:, 0] * into[:, 1] - out[:, 1] * into[:, 0]
    turned = np.arctan2(crossed, (out * into).sum(axis=1))
    if bool((turned < -math.radians(_SHARP_DEG)).any()):
        return 0.0
    radii = s.radius[s.bulge < 0]
    return float(radii.min()) if len(radii) else None


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
