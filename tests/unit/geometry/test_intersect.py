from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.geometry.intersect import Meeting, Meetings, fractions_of, meet_pairs
from kerfwright.geometry.segments import Segments

QUARTER = math.tan(math.pi / 8)
FIRST, SECOND = np.array([0]), np.array([1])


def _pair(*rows: tuple[float, float, float, float, float]) -> Segments:
    """Segments from rows x0, y0, x1, y1, bulge."""
    array = np.array(rows, dtype=float)
    return Segments.from_ends(array[:, :2], array[:, 2:4], array[:, 4])


def _meet(*rows: tuple[float, float, float, float, float]) -> Meetings:
    segments = _pair(*rows)
    there = meet_pairs(segments, FIRST, SECOND)
    back = meet_pairs(segments, SECOND, FIRST)
    assert len(there) == len(back)
    return there


def test_two_lines_cross_at_their_fractions():
    met = _meet((0, 0, 4, 0, 0), (1, -1, 1, 3, 0))
    assert met.kind.tolist() == [Meeting.CROSSING]
    np.testing.assert_allclose(met.points, [[1, 0]])
    np.testing.assert_allclose([met.first_fraction, met.second_fraction], [[0.25], [0.25]])


def test_lines_that_miss_each_other_do_not_meet():
    assert len(_meet((0, 0, 4, 0, 0), (1, 1, 1, 3, 0))) == 0
    assert len(_meet((0, 0, 4, 0, 0), (0, 1, 4, 1, 0))) == 0


def test_a_line_crosses_a_circle_twice_and_an_arc_of_it_once():
    met = _meet((-3, 0.6, 3, 0.6, 0), (1, 0, -1, 0, 1))
    np.testing.assert_allclose(sorted(met.points[:, 0]), [-0.8, 0.8])
    met = _meet((-3, 0.6, 3, 0.6, 0), (1, 0, 0, 1, QUARTER))
    np.testing.assert_allclose(met.points, [[0.8, 0.6]])


@pytest.mark.parametrize("beyond", [0.0, 1e-9, -1e-9, 5e-8, -5e-8])
def test_a_line_that_touches_a_circle_is_tangent_within_the_tolerance(beyond: float):
    met = _meet((-3, 1 + beyond, 3, 1 + beyond, 0), (1, 0, -1, 0, 1))
    assert set(met.kind.tolist()) == {Meeting.TANGENT}
    np.testing.assert_allclose(met.points[:, 0], 0, atol=math.sqrt(2 * 1e-7))
    assert len(_meet((-3, 1 + 2e-6, 3, 1 + 2e-6, 0), (1, 0, -1, 0, 1))) == 0


def test_two_circles_cross_where_their_radii_say():
    # Radii 3 and 4 about centres 5 apart: a right angle at the crossing.
    met = _meet((3, 0, -3, 0, 1), (9, 0, 1, 0, 1))
    np.testing.assert_allclose(met.points, [[1.8, 2.4]], atol=1e-12)
    assert met.kind.tolist() == [Meeting.CROSSING]


def test_circles_that_touch_inside_and_outside_are_tangent():
    assert set(_meet((1, 0, -1, 0, 1), (3, 0, 1, 0, 1)).kind.tolist()) == {Meeting.TANGENT}
    assert set(_meet((2, 0, -2, 0, 1), (2, 0, 0, 0, 1)).kind.tolist()) == {Meeting.TANGENT}


def test_lines_on_each_other_meet_at_their_ends():
    met = _meet((0, 0, 4, 0, 0), (1, 0, 6, 0, 0))
    assert set(met.kind.tolist()) == {Meeting.COINCIDENT}
    assert {round(x, 9) for x in met.points[:, 0]} == {1.0, 4.0}


def test_arcs_on_one_circle_meet_at_their_ends():
    met = _meet((1, 0, 0, 1, QUARTER), (math.sqrt(0.5), math.sqrt(0.5), -1, 0, 0.6681786379))
    assert set(met.kind.tolist()) == {Meeting.COINCIDENT}
    np.testing.assert_allclose(np.hypot(*met.points.T), 1.0, atol=1e-9)


def test_a_fraction_just_before_an_arc_is_negative_and_just_after_above_one():
    arc = _pair((1, 0, 0, 1, QUARTER))
    points = np.array([[1, -1e-6], [-1e-6, 1], [math.sqrt(0.5), math.sqrt(0.5)]])
    fraction = fractions_of(arc, np.zeros(3, dtype=int), points)
    assert fraction[0] == pytest.approx(-1e-6 / (math.pi / 2))
    assert fraction[1] == pytest.approx(1 + 1e-6 / (math.pi / 2))
    assert fraction[2] == pytest.approx(0.5)


def test_a_shallow_arc_of_a_large_radius_keeps_its_fractions():
    # Sweep 1e-8 rad: angles from cos would be zero here.
    arc = _pair((0, 0, 1, 0, 2.5e-9))
    points = arc.points_at(np.zeros(5, dtype=int), np.linspace(0, 1, 5))
    np.testing.assert_allclose(
        fractions_of(arc, np.zeros(5, dtype=int), points), np.linspace(0, 1, 5), atol=1e-6
    )
