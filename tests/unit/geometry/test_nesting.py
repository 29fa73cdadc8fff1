"""Containment of contours."""

from __future__ import annotations

import math

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nesting import nest
from kerfwright.geometry.regions import contains_points


def box(x: float, y: float, side: float) -> Contour:
    return Contour.from_rows([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])


def test_depth_and_parent_follow_containment() -> None:
    contours = [
        Contour.circle((50, 50), radius_mm=3),
        box(0, 0, 100),
        box(40, 40, 20),
        box(200, 0, 10),
        Contour.circle((10, 10), radius_mm=3),
    ]
    result = nest(contours)
    assert result.depth == (2, 0, 1, 0, 1)
    assert result.parent == (2, None, 1, None, 1)


def test_a_point_between_a_chord_and_its_arc_is_inside_only_where_the_arc_bulges_out() -> None:
    out = Contour.from_rows([(0, 0), (10, 0, 0.8), (10, 10), (0, 10)])
    bent_in = Contour.from_rows([(0, 0), (10, 0, -0.8), (10, 10), (0, 10)])
    points = np.array([[12.0, 5.0], [8.0, 5.0], [1.0, 5.0], [-1.0, 5.0], [30.0, 5.0]])
    assert contains_points(out, points).tolist() == [True, True, True, False, False]
    assert contains_points(bent_in, points).tolist() == [False, False, True, False, False]


def test_an_arc_of_more_than_half_a_turn_encloses_exactly() -> None:
    keyhole = Contour.from_rows([(1, 0, math.tan(5.5 / 4)), (1.2, 1.0)])
    segments = keyhole.segments
    centre, radius = segments.centre[0], segments.radius[0]
    angle = np.linspace(0, 2 * math.pi, 720, endpoint=False)
    ring = centre + 0.5 * radius * np.column_stack([np.cos(angle), np.sin(angle)])
    # Within half the radius the chord of 5.5 rad (0.92 of the radius away) is never crossed.
    assert contains_points(keyhole, ring).all()
    assert not contains_points(keyhole, centre + 1.01 * (ring - centre) / 0.5).any()


def test_a_circle_answers_as_its_radius_does() -> None:
    circle = Contour.circle((3, 4), radius_mm=5)
    points = np.random.default_rng(1).uniform(-5, 12, (4000, 2))
    inside = np.hypot(points[:, 0] - 3, points[:, 1] - 4) < 5
    assert (contains_points(circle, points) == inside).all()


def test_sense_and_start_do_not_matter() -> None:
    shape = Contour.from_rows([(0, 0, 0.3), (10, 0, -0.4), (10, 10, 0.9), (0, 10)])
    points = np.random.default_rng(2).uniform(-3, 15, (2000, 2))
    wanted = contains_points(shape, points)
    assert (contains_points(shape.reversed(), points) == wanted).all()
    rolled = Contour(np.roll(shape.vertices, 2, axis=0))
    assert (contains_points(rolled, points) == wanted).all()


def test_no_contours_nest_nowhere() -> None:
    assert nest([]).depth == ()
