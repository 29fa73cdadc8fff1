"""Bores with keyways, slots, rectangles and regular polygons about the origin."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Floats

_MOST_SIDES: Final = 1000
_MEETS_MM: Final = 1e-9
"""Between two rounds no shorter flat is left."""


def bore(diameter_mm: float, *, key_width_mm: float = 0.0, across_mm: float = 0.0) -> Contour:
    """Return a bore, with a keyway upwards where a width is given.

    Parameters
    ----------
    diameter_mm : float
    key_width_mm : float
        Width of the keyway, mm; 0 for none.
    across_mm : float
        From the bottom of the keyway to the wall opposite, mm: bore + depth in the hub.

    Raises
    ------
    InputError
        Code ``profile-size``.
    """
    _expect_above_0(bore=diameter_mm)
    if not key_width_mm:
        return Contour.circle((0.0, 0.0), radius_mm=diameter_mm / 2)
    _expect_above_0(**{"width of the keyway": key_width_mm})
    radius_mm, half_mm = diameter_mm / 2, key_width_mm / 2
    top_mm = across_mm - radius_mm
    if half_mm >= radius_mm:
        _refuse(f"a keyway of {key_width_mm:g} mm is wider than a bore of {diameter_mm:g} mm")
    mouth_mm = math.sqrt(radius_mm**2 - half_mm**2)
    if top_mm <= mouth_mm:
        least = radius_mm + mouth_mm
        _refuse(
            f"the bottom of the keyway lies {across_mm:g} mm from the wall opposite; its mouth "
            f"alone is {least:.4f} mm away"
        )
    # From the right edge of the mouth down and round to the left: two arcs, each below half a turn.
    half_sweep = math.pi - math.asin(half_mm / radius_mm)
    bulge = -math.tan(half_sweep / 4)
    return Contour.from_rows(
        [
            (half_mm, mouth_mm, bulge),
            (0.0, -radius_mm, bulge),
            (-half_mm, mouth_mm),
            (-half_mm, top_mm),
            (half_mm, top_mm),
        ]
    ).reversed()


def rectangle(width_mm: float, height_mm: float, *, corner_mm: float = 0.0) -> Contour:
    """Return a rectangle with round corners.

    Raises
    ------
    InputError
        Code ``profile-size``: a size not above 0, or a radius above half the smaller side.
    """
    _expect_above_0(width=width_mm, height=height_mm)
    x, y = width_mm / 2, height_mm / 2
    return _rounded(np.array([(-x, -y), (x, -y), (x, y), (-x, y)]), corner_mm)


def slot(length_mm: float, width_mm: float) -> Contour:
    """Return a slot with round ends, along X, by its whole length.

    Raises
    ------
    InputError
        Code ``profile-size``: a size not above 0, or a slot not longer than wide.
    """
    _expect_above_0(length=length_mm, width=width_mm)
    if length_mm <= width_mm:
        _refuse(f"a slot of {length_mm:g} mm is not longer than its width of {width_mm:g} mm")
    return rectangle(length_mm, width_mm, corner_mm=width_mm / 2)


def polygon(sides: int, across_flats_mm: float, *, corner_mm: float = 0.0) -> Contour:
    """Return a regular polygon by the diameter of its inscribed circle; its lowest side is level.

    With an even number of sides that diameter is the size across flats.

    Raises
    ------
    InputError
        Code ``profile-size``: fewer than 3 sides, a size not above 0, or a radius that leaves no
        flats.
    """
    if not 3 <= sides <= _MOST_SIDES:
        _refuse(f"a polygon has 3 to {_MOST_SIDES} sides here, not {sides}")
    _expect_above_0(**{"size across flats": across_flats_mm})
    radius_mm = across_flats_mm / 2 / math.cos(math.pi / sides)
    angle = -math.pi / 2 + math.pi / sides * (2 * np.arange(sides) + 1)
    return _rounded(radius_mm * np.column_stack([np.cos(angle), np.sin(angle)]), corner_mm)


def _rounded(corners: Floats, radius_mm: float) -> Contour:
    """Return a convex counter-clockwise polygon with its corners round."""
    if radius_mm < 0:
        _refuse(f"a radius of {radius_mm:g} mm is below 0")
    if radius_mm == 0:
        return Contour.from_rows(corners.tolist())
    to_next = np.roll(corners, -1, axis=0) - corners
    length = np.hypot(*to_next.T)
    ahead = to_next / length[:, None]
    behind = np.roll(ahead, 1, axis=0)
    turn = np.arctan2(
        behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0], (behind * ahead).sum(axis=1)
    )
    back = radius_mm * np.tan(turn / 2)
    left = length - back - np.roll(back, -1)
    if left.min() < -_MEETS_MM:
        _refuse(
            f"corners with a radius of {radius_mm:g} mm do not fit on a side of "
            f"{length.min():.4g} mm"
        )
    rows = np.empty((2 * len(corners), 3))
    rows[0::2, :2] = corners - behind * back[:, None]
    rows[0::2, 2] = np.tan(turn / 4)
    rows[1::2, :2] = corners + ahead * back[:, None]
    rows[1::2, 2] = 0.0
    # Where two rounds meet no flat is left between them.
    keep = np.ones(len(rows), dtype=bool)
    keep[1::2] = left > _MEETS_MM
    return Contour(rows[keep])


def _expect_above_0(**sizes_mm: float) -> None:
    for name, size_mm in sizes_mm.items():
        if not size_mm > 0:
            _refuse(f"the {name} is above 0, not {size_mm:g} mm")


def _refuse(message: str) -> None:
    raise InputError(f"{message}.", code="profile-size")
