"""Inside corners rounded for the asking."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import offset_contour, unreachable
from kerfwright.planning.feasibility import corner_depths_mm, inside_radii
from kerfwright.planning.inside_corners import with_rounded_corners
from kerfwright.trade.part import PartContour, Role


def opening(make_part: PartMaker, contour: Contour) -> PartContour:
    return make_part([(Role.OPENING, contour, None)]).contours[0]


def test_a_sharp_corner_keeps_its_square_less_the_quarter_disc(make_part: PartMaker) -> None:
    window = opening(make_part, box(0, 0, 30, 20))
    rounded = with_rounded_corners(window, radius_mm=0.5)
    assert rounded is not None
    # Four corners of r^2 (1 - pi/4) each: plane geometry.
    left = abs(window.contour.area_mm2) - abs(rounded.contour.area_mm2)
    assert left == pytest.approx((4 - math.pi) * 0.25, abs=1e-9)
    assert inside_radii(rounded.contour) == pytest.approx([0.5] * 4)
    assert (rounded.id, rounded.role) == (window.id, window.role)


def test_outside_corners_and_larger_radii_stay(make_part: PartMaker) -> None:
    outline = make_part([(Role.OUTLINE, box(0, 0, 30, 20), None)]).contours[0]
    same = with_rounded_corners(outline, radius_mm=0.5)
    assert same is not None
    np.testing.assert_allclose(
        np.sort(same.contour.vertices, axis=0), np.sort(outline.contour.vertices, axis=0), atol=1e-9
    )
    circle = opening(make_part, Contour.circle((0, 0), radius_mm=5))
    unchanged = with_rounded_corners(circle, radius_mm=0.5)
    assert unchanged is not None
    assert abs(unchanged.contour.area_mm2) == pytest.approx(25 * math.pi)


def test_a_slot_narrower_than_the_disc_cannot_be_rounded(make_part: PartMaker) -> None:
    assert with_rounded_corners(opening(make_part, box(0, 0, 20, 0.8)), radius_mm=0.5) is None


def test_a_sharp_corner_keeps_stock_from_the_disc_to_its_tip() -> None:
    square = box(0, 0, 30, 20)
    corners = unreachable(square, offset_contour(square, distance_mm=0.5))
    slot = box(100, 0, 103, 0.2)
    depths = corner_depths_mm([*corners, slot], radius_mm=0.5)
    # From the centre of the disc to the tip is the diagonal of its square; a slot that no disc
    # bounds is as deep as it is wide: plane geometry.
    assert depths == pytest.approx([*[0.5 * (math.sqrt(2) - 1)] * 4, 0.2], abs=1e-12)
    assert not len(corner_depths_mm([], radius_mm=0.5))
