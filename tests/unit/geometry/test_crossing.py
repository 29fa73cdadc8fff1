from __future__ import annotations

import math

import pytest

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import CrossingKind, crossings_between, self_crossings

ROWS = Contour.from_rows


def _kinds(contour: Contour) -> list[CrossingKind]:
    return [c.kind for c in self_crossings(contour)]


def test_a_figure_of_eight_crosses_once_where_its_diagonals_meet():
    (crossing,) = self_crossings(ROWS([(0, 0), (2, 2), (2, 0), (0, 2)]))
    assert crossing.kind is CrossingKind.CROSSING
    assert (crossing.x_mm, crossing.y_mm) == pytest.approx((1.0, 1.0))
    assert (crossing.first_segment, crossing.second_segment) == (0, 2)


@pytest.mark.parametrize(
    "contour",
    [
        ROWS([(0, 0), (2, 0), (2, 2), (0, 2)]),
        Contour.circle((0, 0), radius_mm=3),
        ROWS([(0, 0, 0), (20, 0, 1), (20, 2, 0), (0, 2, 1)]),
        ROWS([(0, 0), (5, 0), (5 + 1e-6, 0), (10, 0), (10, 1e-6), (10, 10), (0, 10)]),
        ROWS([(0, 0), (4, 0), (4, 4)], is_closed=False),
    ],
    ids=["square", "circle", "slot", "edges of a nanometre", "open"],
)
def test_neighbours_that_share_a_vertex_do_not_count(contour: Contour):
    assert self_crossings(contour) == ()


def test_a_vertex_on_an_edge_touches_and_one_beyond_it_crosses():
    assert _kinds(ROWS([(0, 0), (4, 0), (4, 4), (2, 0), (0, 4)])) == [CrossingKind.TOUCHING]
    assert _kinds(ROWS([(0, 0), (4, 0), (4, 4), (2, -0.001), (0, 4)])) == [
        CrossingKind.CROSSING,
        CrossingKind.CROSSING,
    ]


def test_two_passages_through_one_vertex_cross_only_if_they_change_sides():
    pinch = ROWS([(0, 0), (2, 1), (4, 0), (4, 4), (2, 1), (0, 4)])
    bow = ROWS([(0, 0), (2, 1), (4, 2), (4, 0), (2, 1), (0, 2)])
    assert _kinds(pinch) == [CrossingKind.TOUCHING]
    assert _kinds(bow) == [CrossingKind.CROSSING]


def test_a_spike_that_runs_back_over_itself_overlaps():
    spike = ROWS([(0, 0), (4, 0), (4, 2), (6, 2), (4, 2), (4, 4), (0, 4)])
    assert CrossingKind.OVERLAPPING in _kinds(spike)


def test_an_arc_that_comes_back_through_its_neighbouring_line_crosses_it():
    # From (0, 0) along X to (4, 0), then 300 degrees about (4, 1): y = 0 is met only at the
    # shared vertex; about a lower centre the circle cuts the line a second time.
    clear = ROWS([(0, 0, 0), (4, 0, math.tan(math.radians(300) / 4)), (3, 3, 0)])
    assert self_crossings(clear) == ()
    cut = ROWS([(0, 0, 0), (4, 0, -2.0), (4, 1, 0), (5, 5, 0), (0, 5, 0)])
    assert CrossingKind.CROSSING in _kinds(cut)


def test_two_circles_cross_twice_touch_once_or_lie_on_each_other():
    unit = Contour.circle((0, 0), radius_mm=1)
    crossed = crossings_between([unit, Contour.circle((1, 0), radius_mm=1)])
    assert [c.kind for c in crossed] == [CrossingKind.CROSSING] * 2
    assert sorted(c.y_mm for c in crossed) == pytest.approx(
        [-math.sqrt(0.75), math.sqrt(0.75)], abs=1e-12
    )
    touched = crossings_between([unit, Contour.circle((2, 0), radius_mm=1)])
    assert [(c.kind, round(c.x_mm, 9)) for c in touched] == [(CrossingKind.TOUCHING, 1.0)]
    same = crossings_between([unit, unit])
    assert {c.kind for c in same} >= {CrossingKind.OVERLAPPING}
    assert crossings_between([unit, Contour.circle((3, 0), radius_mm=1)]) == ()


def test_a_shared_wall_between_two_contours_overlaps():
    left = ROWS([(0, 0), (2, 0), (2, 2), (0, 2)])
    right = ROWS([(2, 1), (4, 1), (4, 3), (2, 3)])
    over = [c for c in crossings_between([left, right]) if c.kind is CrossingKind.OVERLAPPING]
    assert [(c.x_mm, c.y_mm) for c in over] == [(2.0, 1.5)]
    assert (over[0].first_contour, over[0].second_contour) == (0, 1)


def test_one_contour_has_no_crossings_between():
    assert crossings_between([ROWS([(0, 0), (2, 2), (2, 0), (0, 2)])]) == ()
