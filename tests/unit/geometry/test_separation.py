"""Exact distances between contours, against analytic cases, sampling and GEOS."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import flattened
from kerfwright.geometry.separation import nearness, separation

SQUARE = Contour.from_rows([(0, 0), (10, 0), (10, 10), (0, 10)])
BEAN = Contour.from_rows([(0, 0, 1.0), (6, 0, 0.4), (6, 4, -0.5), (0, 4, 0.7)])


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (Contour.from_rows([(13, 2), (20, 2), (20, 8)]), 3.0),
        (Contour.from_rows([(13, 14), (20, 14), (20, 20)]), 5.0),
        (Contour.circle((15, 5), radius_mm=2.0), 3.0),
        (Contour.circle((13, 14), radius_mm=2.0), 3.0),
        (Contour.circle((5, 5), radius_mm=2.0), 3.0),
        (Contour.from_rows([(5, -3), (8, 5), (5, 13)]), 0.0),
        (Contour.from_rows([(10, 2), (20, 2), (20, 8)]), 0.0),
    ],
    ids=["line-line", "corner-corner", "line-arc", "corner-arc", "inside", "crossing", "touching"],
)
def test_the_distance_from_a_square_is_that_of_plane_geometry(
    other: Contour, expected: float
) -> None:
    assert separation(SQUARE, other)[0] == pytest.approx(expected, abs=1e-12)
    assert separation(other, SQUARE)[0] == pytest.approx(expected, abs=1e-12)


def test_two_discs_are_apart_by_their_centres_less_their_radii() -> None:
    distance, (x, y) = separation(
        Contour.circle((0, 0), radius_mm=3.0), Contour.circle((30, 40), radius_mm=5.0)
    )
    assert distance == pytest.approx(50 - 8, abs=1e-12)
    assert (x, y) == pytest.approx((27.0, 36.0))


def test_a_disc_in_a_hollow_is_nearest_opposite_to_the_hollow_s_centre() -> None:
    ring = Contour.circle((0, 0), radius_mm=20.0)
    assert separation(ring, Contour.circle((3, 4), radius_mm=5.0))[0] == pytest.approx(10.0)


@settings(max_examples=tries(60), deadline=None)
@given(
    turn=st.floats(0, 2 * math.pi),
    way=st.floats(0, 2 * math.pi),
    far=st.floats(12, 30),
    size=st.floats(0.4, 2.5),
)
def test_the_distance_agrees_with_that_of_fine_chords(
    turn: float, way: float, far: float, size: float
) -> None:
    # Chords within 0.1 um; GEOS measures between the chords.
    shift = (far * math.cos(way), far * math.sin(way))
    other = BEAN.transformed(scale=size, turn_rad=turn, shift_mm=shift)
    rings = [shapely.LinearRing(flattened(c, chord_error_mm=1e-4)) for c in (BEAN, other)]
    there = rings[0].distance(rings[1])
    distance, point = separation(BEAN, other)
    assert distance == pytest.approx(there, abs=3e-4)
    if distance:
        assert rings[1].distance(shapely.Point(point)) < 2e-4


@settings(max_examples=tries(25), deadline=None)
@given(turn=st.floats(0, 6), x=st.floats(15, 40), y=st.floats(-30, 30))
def test_turning_mirroring_or_reversing_both_changes_no_distance(
    turn: float, x: float, y: float
) -> None:
    other = BEAN.transformed(shift_mm=(x, y))
    before = separation(BEAN, other)[0]
    pair = [c.transformed(turn_rad=turn, mirror_x=True).reversed() for c in (BEAN, other)]
    assert separation(*pair)[0] == pytest.approx(before, abs=1e-9)
    assert np.isfinite(before)


@pytest.mark.parametrize("crossing", [False, True], ids=["apart", "crossing"])
@settings(max_examples=tries(40), deadline=None)
@given(turn=st.floats(0, 6.28), gap=st.floats(0.05, 3.0))
def test_how_near_a_few_segments_come_is_the_distance_of_the_contours(
    crossing: bool, turn: float, gap: float
) -> None:
    away = 5.0 if crossing else 20.0 + gap
    other = BEAN.transformed(turn_rad=turn, shift_mm=(away * math.cos(turn), away * math.sin(turn)))
    expected = separation(other, SQUARE)[0]
    ends, least = nearness(other.segments, SQUARE.segments, limit_mm=50.0)
    own = min(separation_of_point(SQUARE, p) for p in other.vertices[:, :2])
    assert ends == pytest.approx(own, abs=1e-12)
    # Asked below a limit, the ends alone may settle it.
    assert expected - 1e-12 <= least <= ends
    close = expected + 0.5 * (own - expected)
    ends, least = nearness(other.segments, SQUARE.segments, limit_mm=max(close, 1e-3))
    assert ends >= close
    if own - expected > 1e-3:
        # What crosses comes near enough, whatever the number.
        assert least == pytest.approx(expected, abs=1e-9) or (expected == 0.0 and least < close)


def separation_of_point(contour: Contour, point: np.ndarray) -> float:
    index = np.arange(len(contour))
    return float(contour.segments.distances(index, np.broadcast_to(point, (len(contour), 2))).min())


def test_what_crosses_with_its_ends_far_away_is_at_no_distance() -> None:
    bar = Contour.from_rows([(-30, 5), (30, 5)], is_closed=False)
    ends, least = nearness(bar.segments, SQUARE.segments, limit_mm=1.0)
    assert ends >= 1.0
    assert least == 0.0
