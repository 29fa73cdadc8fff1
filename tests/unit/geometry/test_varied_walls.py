"""Walls whose slope differs from side to side, where the answer is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.leaning_jobs import rounded, square

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.ruled import RuledWall, most_warped
from kerfwright.geometry.tapered import CornerForm, tapered_wall
from kerfwright.geometry.varied import SideSlope, corner_arcs, varied_wall

QUARTER = math.tan(math.pi / 8)


def wall_of(
    contour: Contour, slopes: list[float | tuple[float, float]], *, constant: bool = False
) -> RuledWall:
    """Return the wall from 0 to 10 mm, the contour at 0."""
    both = [s if isinstance(s, tuple) else (s, s) for s in slopes]
    return varied_wall(
        contour,
        slopes=[SideSlope(begin=a, end=b) for a, b in both],
        constant_arcs=corner_arcs(contour) if constant else frozenset(),
        reference_mm=0.0,
        lower_mm=0.0,
        upper_mm=10.0,
    )


def test_a_box_with_four_slopes_has_the_box_of_its_four_planes_at_every_height():
    # By hand: side k moves out by slope x height: x from -0.4 h, 20 + 0.2 h; y from -0.1 h, 12.
    box = Contour.from_rows([(0, 0), (20, 0), (20, 12), (0, 12)])
    wall = wall_of(box, [0.1, 0.2, 0.0, 0.4])
    for z in (0.0, 2.5, 10.0):
        corners = wall.points(np.arange(4), np.zeros(4), z)
        x0, x1, y0, y1 = -0.4 * z, 20 + 0.2 * z, -0.1 * z, 12.0
        assert corners == pytest.approx(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
    assert most_warped(wall).value == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("corners", list(CornerForm))
def test_one_slope_all_round_is_the_wall_of_one_taper(corners: CornerForm):
    contour = rounded(0, 0, 24, 16, 2)
    wall = wall_of(contour, [0.05] * 8, constant=corners is CornerForm.CONSTANT)
    usual = tapered_wall(
        contour, rise=0.05, reference_mm=0.0, lower_mm=0.0, upper_mm=10.0, corners=corners
    )
    for z in (0.0, 5.0, 10.0):
        one, other = (w.section(z, chord_mm=1e-4) for w in (wall, usual))
        assert np.abs(np.sort(one, axis=0) - np.sort(other, axis=0)).max() < 1e-9


def test_the_rounding_between_two_slopes_keeps_its_radius_and_touches_both_planes():
    contour = rounded(0, 0, 24, 16, 2)
    # Sides 1, 3, 5, 7 are lines; the rounding between 1 and 3 is 2.
    wall = wall_of(contour, [0.1, 9.0, 0.02, 9.0, 0.0, 9.0, 0.0, 9.0])
    arc = 1
    assert wall.upper.radius[arc] == pytest.approx(2.0)
    # Centre by hand: 2 mm inside of both planes, which have moved out by 1.0 and 0.2.
    assert wall.upper.centre[arc] == pytest.approx([22 + 0.2, 2 - 1.0])
    for share in (0.0, 0.3, 1.0):
        which = np.array([arc])
        low, up = wall.normals(which, np.array([share]))
        assert low == pytest.approx(up)
    for k, share in ((0, 1.0), (2, 0.0)):
        beside = wall.normals(np.array([k]), np.array([share]))[0]
        own = wall.normals(np.array([arc]), np.array([1.0 - share]))[0]
        assert own == pytest.approx(beside, abs=1e-9)


def test_a_slope_that_changes_along_a_side_makes_a_hyperbolic_paraboloid():
    box = Contour.from_rows([(0, 0), (20, 0), (20, 12), (0, 12)])
    wall = wall_of(box, [(0.1, 0.0), 0.0, 0.0, 0.0])
    for share in (0.0, 0.25, 1.0):
        x, y = wall.points(np.array([0]), np.array([share]), 10.0)[0]
        assert (x, y) == pytest.approx((20 * share, -(1 - share)))
    # Normals at both ends of the ruling half way: (0, -1, -0.05) below, of the line 1 in 20 above.
    below = np.array([0.0, -1.0, -0.05])
    above = np.cross([20.0, 1.0, 0.0], [0.0, -0.5, 10.0])
    turn = math.acos(float(below @ above / np.linalg.norm(below) / np.linalg.norm(above)))
    warp = wall.warp_rad(np.array([0]), np.array([0.5]))[0]
    assert warp == pytest.approx(turn, rel=1e-6)


def test_what_no_straight_wire_makes_is_refused_with_the_place():
    split = Contour.from_rows([(0, 0), (10, 0), (20, 0), (20, 12), (0, 12)])
    with pytest.raises(InputError, match=r"part by 0\.1000 mm for every mm up") as caught:
        wall_of(split, [0.1, 0.0, 0.0, 0.0, 0.0])
    assert (caught.value.code, caught.value.where) == ("taper-step", "X10.0000 Y0.0000 mm")
    # The same with the slope taken back over the second half is a wall.
    wall_of(split, [0.1, (0.1, 0.0), 0.0, 0.0, 0.0])
    half_round = Contour.from_rows([(0, 0), (20, 0, 0.8), (20, 12), (0, 12)])
    with pytest.raises(InputError) as caught:
        wall_of(half_round, [0.1, 0.1, 0.0, 0.0])
    assert caught.value.code == "taper-edge-curved"
    with pytest.raises(InputError) as caught:
        wall_of(square(4), [-0.3, 0.0, -0.3, 0.0])
    assert caught.value.code == "taper-radius-vanishes"
    with pytest.raises(InputError) as caught:
        wall_of(rounded(0, 0, 24, 16, 0.5), [-0.1] * 8)
    assert caught.value.code == "taper-radius-vanishes"
    notch = Contour.from_rows(
        [(0, 0), (20, 0), (20, 12), (11, 12), (11, 4), (9, 4), (9, 12), (0, 12)]
    )
    with pytest.raises(InputError) as caught:
        wall_of(notch, [0.0, 0.0, 0.0, 0.15, 0.0, 0.15, 0.0, 0.0])
    assert caught.value.code in {"rulings-cross", "taper-radius-vanishes"}
