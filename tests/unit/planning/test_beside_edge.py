"""Stretches of a path beside an edge: none of it missed, few of them, none too short."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.geometry.contour import Contour
from kerfwright.planning.beside_edge import Stretch, smoothed, stretches_beside


def circle(radius: float) -> Contour:
    bulge = math.tan(math.pi / 8)
    return Contour.from_rows(
        [(radius, 0, bulge), (0, radius, bulge), (-radius, 0, bulge), (0, -radius, bulge)]
    )


def covered(found: tuple[Stretch, ...], total_mm: float, at: np.ndarray) -> np.ndarray:
    inside = np.zeros(len(at), dtype=bool)
    for s in found:
        inside |= (at - s.begin_mm) % total_mm <= s.length_mm
    return inside


def test_a_stretch_is_as_long_as_the_chord_of_a_circle_beside_a_straight_edge_says() -> None:
    path = circle(20.0)
    # The edge is the line x = 21: within 3 mm of it x > 18, by hand an arc of 2 acos(18/20) R.
    (one,) = stretches_beside(
        path, clearance_mm=lambda p: 21 - p[:, 0], reach_mm=3.0, shortest_mm=3.0
    )
    by_hand = 2 * math.acos(18 / 20) * 20
    assert by_hand <= one.length_mm <= by_hand + 0.4
    # It runs over the start of the path, which is the nearest place.
    assert one.end_mm > path.length_mm > one.begin_mm


def test_far_from_the_edge_there_is_none_and_all_round_there_is_one() -> None:
    path = circle(5.0)
    for away, expected in ((3.2, 0.0), (2.8, path.length_mm)):
        found = stretches_beside(
            path,
            clearance_mm=lambda p, away=away: np.full(len(p), away),
            reach_mm=3.0,
            shortest_mm=3.0,
        )
        assert sum(s.length_mm for s in found) == pytest.approx(expected)


def test_short_stretches_are_made_long_and_short_gaps_closed() -> None:
    def made(*ends: tuple[float, float]) -> list[tuple[float, float]]:
        found = smoothed(
            [Stretch(begin_mm=a, end_mm=b) for a, b in ends], total_mm=100, shortest_mm=3
        )
        return [(s.begin_mm, s.end_mm) for s in found]

    assert made((50, 51)) == [(49, 52)]
    assert made((10, 20), (22, 30)) == [(10, 30)]
    assert made((10, 20), (24, 30)) == [(10, 20), (24, 30)]
    # Over the start of the path, too.
    assert made((0, 5), (90, 99)) == [(90, 105)]
    assert made((0, 0.5)) == [(98.75, 101.75)]
    assert made((1, 99)) == [(0, 100)]


@given(
    st.floats(5, 40),
    st.floats(-1, 1),
    st.floats(0, 2 * math.pi),
    st.floats(0.5, 6),
)
def test_no_place_within_the_reach_is_left_out(
    radius: float, offset: float, turn: float, reach: float
) -> None:
    path = circle(radius)
    normal = np.array([math.cos(turn), math.sin(turn)])

    def clearance(points: np.ndarray) -> np.ndarray:
        waves = 0.5 * np.sin(points @ np.array([-normal[1], normal[0]]))
        # The gradient is at most one: 0.8 along the normal, 0.5 across.
        return 0.8 * (radius * (1 + offset) - points @ normal) + waves

    found = stretches_beside(path, clearance_mm=clearance, reach_mm=reach, shortest_mm=3.0)
    at = np.linspace(0, path.length_mm, 4001)[:-1]
    near = clearance(path.points_at(at)) < reach
    assert covered(found, path.length_mm, at)[near].all()
    assert all(s.length_mm >= min(3.0, path.length_mm) - 1e-9 for s in found)
