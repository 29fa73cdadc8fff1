from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import (
    clearance,
    contains_points,
    flattened,
    is_inside,
    largest_inscribed_circle,
    nearest_station,
)

ROWS = Contour.from_rows
SQUARE = ROWS([(0, 0), (10, 0), (10, 10), (0, 10)])
CRESCENT = ROWS([(-2, 0, 1), (2, 0, -0.5)])
KEYHOLE = ROWS([(-1, 0), (1, 0), (1, 5, 3.0), (-1, 5)])


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize(
    ("contour", "point", "inside"),
    [
        (SQUARE, (5, 5), True),
        (SQUARE, (-1, 0), False),
        (SQUARE, (-1, 10), False),
        (Contour.circle((0, 0), radius_mm=1), (0, 0), True),
        (Contour.circle((0, 0), radius_mm=1), (0.7071, 0.7071), True),
        (Contour.circle((0, 0), radius_mm=1), (0.7072, 0.7072), False),
        (Contour.circle((0, 0), radius_mm=1), (-2, 0), False),
        (CRESCENT, (0, -1.5), True),
        (CRESCENT, (0, -0.5), False),
        (KEYHOLE, (0, 5), True),
        (KEYHOLE, (1.2, 6), True),
        (KEYHOLE, (1.2, 4), False),
        (KEYHOLE, (-3, 5), False),
    ],
)
def test_points_are_told_inside_from_outside(contour, point, inside, turned):
    if turned:
        contour = contour.reversed()
    assert contains_points(contour, np.array([point]))[0] == inside


def test_points_level_with_vertices_are_judged_right():
    diamond = ROWS([(0, -1), (1, 0), (0, 1), (-1, 0)])
    points = np.array([[-2, 0], [0, 0], [2, 0], [-0.5, 1], [-0.5, -1]])
    assert contains_points(diamond, points).tolist() == [False, True, False, False, False]


def test_many_points_in_many_segments_agree_with_a_few_at_a_time():
    angle = np.linspace(0, 2 * math.pi, 5001)[:-1]
    radius = 5 + 0.5 * np.cos(40 * angle)
    flower = Contour(
        np.column_stack([radius * np.cos(angle), radius * np.sin(angle), 0.05 * np.sin(7 * angle)])
    )
    points = np.random.default_rng(3).uniform(-6, 6, (1500, 2))
    few = np.concatenate([contains_points(flower, chunk) for chunk in np.array_split(points, 10)])
    assert contains_points(flower, points).tolist() == few.tolist()
    assert 0.3 < few.mean() < 0.9


def test_a_contour_lies_inside_another_or_does_not():
    hole = Contour.circle((3, 3), radius_mm=1)
    assert is_inside(hole, SQUARE)
    assert is_inside(hole.reversed(), SQUARE)
    assert not is_inside(SQUARE, hole)
    assert not is_inside(Contour.circle((20, 3), radius_mm=1), SQUARE)
    # Its box is inside the box of the crescent, in the bay.
    assert not is_inside(Contour.circle((0, -0.4), radius_mm=0.1), CRESCENT)


def test_a_contour_that_touches_the_other_from_inside_is_inside():
    assert is_inside(ROWS([(0, 2), (3, 2), (3, 5), (0, 5)]), SQUARE)
    assert not is_inside(ROWS([(10, 2), (10.0, 5), (9.99, 5)]), ROWS([(10, 0), (20, 0), (20, 9)]))


@pytest.mark.parametrize(
    ("outer", "holes", "radius"),
    [
        (SQUARE, [], 5.0),
        (Contour.circle((3, 4), radius_mm=2.5), [], 2.5),
        # Inscribed circle of the 3-4-5 triangle: (a + b - c) / 2.
        (ROWS([(0, 0), (4, 0), (0, 3)]), [], 1.0),
        # Between eccentric circles: half the widest gap, (10 + 3 - 4) / 2.
        (Contour.circle((0, 0), radius_mm=10), [Contour.circle((3, 0), radius_mm=4)], 4.5),
        # L of arm 4: a circle through the inner corner, r = 4 √2 / (1 + √2).
        (
            ROWS([(0, 0), (10, 0), (10, 4), (4, 4), (4, 10), (0, 10)]),
            [],
            4 * math.sqrt(2) / (1 + math.sqrt(2)),
        ),
        (ROWS([(0, 0), (20, 0, 1), (20, 2), (0, 2, 1)]), [], 1.0),
    ],
    ids=["square", "circle", "triangle", "eccentric ring", "L", "slot"],
)
@pytest.mark.parametrize("turned", [False, True])
def test_the_largest_circle_has_its_radius_in_closed_form(outer, holes, radius, turned):
    if turned:
        outer, holes = outer.reversed(), [hole.reversed() for hole in holes]
    x, y, found = largest_inscribed_circle(outer, holes)
    assert found == pytest.approx(radius, abs=2e-6)
    assert clearance((x, y), [outer, *holes]) == pytest.approx(found, abs=1e-12)
    assert contains_points(outer, np.array([[x, y]]))[0]


def test_the_nearest_station_is_a_foot_an_end_or_on_an_arc():
    assert nearest_station(SQUARE, (4.0, 1.0)) == (4.0, 1.0)
    assert nearest_station(SQUARE, (13.0, -4.0)) == (10.0, 5.0)
    slot = ROWS([(0, 0, 0), (20, 0, 1), (20, 2, 0), (0, 2, 1)])
    station, distance = nearest_station(slot, (25.0, 1.0))
    assert station == pytest.approx(20 + math.pi / 2)
    assert distance == pytest.approx(4.0)
    assert slot.points_at(np.array([station]))[0] == pytest.approx([21, 1])


def test_clearance_is_to_the_nearest_of_all_and_infinite_without_any():
    assert clearance((5, 5), [SQUARE, Contour.circle((5, 5), radius_mm=2)]) == pytest.approx(2.0)
    assert clearance((5, 5), []) == math.inf


@pytest.mark.parametrize("error", [1e-2, 1e-4, 1e-6])
def test_flattening_keeps_its_chord_error(error: float):
    points = flattened(KEYHOLE, chord_error_mm=error)
    middles = (points + np.roll(points, -1, axis=0)) / 2
    worst = max(nearest_station(KEYHOLE, (x, y))[1] for x, y in middles)
    assert 0.2 * error < worst <= error * (1 + 1e-6)


def test_an_open_chain_has_no_inside():
    chain = ROWS([(0, 0), (1, 0), (1, 1)], is_closed=False)
    with pytest.raises(InputError) as refusal:
        contains_points(chain, np.zeros((1, 2)))
    assert refusal.value.code == "region-open"
    with pytest.raises(InputError) as refusal:
        largest_inscribed_circle(chain)
    assert refusal.value.code == "region-open"


def test_no_circle_is_sought_in_a_contour_that_crosses_itself():
    with pytest.raises(InputError) as refusal:
        largest_inscribed_circle(ROWS([(0, 0), (2, 2), (2, 0), (0, 2)]))
    assert refusal.value.code == "region-invalid"


@pytest.mark.parametrize("contour", [SQUARE, CRESCENT, KEYHOLE])
def test_the_nearest_place_is_that_of_a_search_through_all_segments(contour: Contour) -> None:
    segments, every = contour.segments, np.arange(len(contour))
    for x, y in np.random.default_rng(5).uniform(-12, 22, (300, 2)).tolist():
        station, distance = nearest_station(contour, (x, y))
        all_of_them = segments.distances(every, np.array([[x, y]]))
        assert distance == all_of_them.min()
        (foot,) = contour.points_at(np.array([station]))
        assert math.dist(foot, (x, y)) == pytest.approx(distance, abs=1e-9)
