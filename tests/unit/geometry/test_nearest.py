"""Nearest line or arc, against a search through all segments and against GEOS."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.box_tree import BoxTree
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex, project, sides
from kerfwright.geometry.segments import Segments

ROUNDING_MM = 1e-12
"""A search through all segments uses the same formula: only the order of doubles may differ."""


def random_segments(seed: int, count: int, *, span: float, size: float) -> Segments:
    """Return separate lines and arcs of every sweep up to 320 degrees."""
    rng = np.random.default_rng(seed)
    start = rng.uniform(-span, span, (count, 2))
    angle = rng.uniform(0, math.tau, count)
    length = size * rng.uniform(0.01, 1.0, count)
    end = start + np.column_stack([np.cos(angle), np.sin(angle)]) * length[:, None]
    bulge = np.where(rng.random(count) < 0.5, 0.0, rng.uniform(-2.0, 2.0, count))
    return Segments.from_ends(start, end, bulge)


def brute_force(segments: Segments, points: np.ndarray) -> np.ndarray:
    n = len(segments)
    every = np.arange(n)
    return np.array([segments.distances(every, np.broadcast_to(p, (n, 2))).min() for p in points])


def wavy(count: int, *, radius: float, depth: float) -> Contour:
    angle = np.linspace(0, math.tau, count, endpoint=False)
    r = radius + depth * np.cos(17 * angle)
    bulge = np.resize([0.0, 0.1, -0.1, 1e-9], count)
    return Contour(np.column_stack([r * np.cos(angle), r * np.sin(angle), bulge]))


NASTY = {
    "one line": Segments.from_ends([[0, 0]], [[1, 0]], [0.0]),
    "one arc beyond half a turn": Segments.from_ends([[0, 0]], [[1, 0]], [3.0]),
    "a point": Segments.from_ends([[2, 3]], [[2, 3]], [0.0]),
    "doubled lines": Segments.from_ends([[0, 0]] * 70, [[1, 0]] * 70, [0.0] * 70),
    "a circle far away": Contour.circle((1e6, -1e6), radius_mm=0.1).segments,
    "tiny and huge": Segments.joined(
        [random_segments(1, 60, span=0.001, size=0.001), random_segments(2, 60, span=900, size=900)]
    ),
    "a wavy ring": wavy(500, radius=10.0, depth=1.0).segments,
}


@pytest.mark.parametrize("segments", NASTY.values(), ids=NASTY.keys())
def test_the_nearest_is_that_of_a_search_through_all_segments(segments: Segments) -> None:
    rng = np.random.default_rng(5)
    points = np.concatenate(
        [
            rng.uniform(-12, 12, (60, 2)),
            segments.start[:40] + rng.normal(0, 0.01, (len(segments.start[:40]), 2)),
            segments.centre[:40],
        ]
    )
    distance, index = NearestIndex(segments).query(points)
    expected = brute_force(segments, points)
    assert np.abs(distance - expected).max() <= ROUNDING_MM * max(1.0, expected.max())
    assert distance == pytest.approx(segments.distances(index, points), abs=0.0)


@settings(max_examples=tries(25), deadline=None)
@given(
    seed=st.integers(0, 10_000),
    count=st.integers(1, 300),
    size=st.sampled_from([0.01, 1.0, 20.0]),
)
def test_random_segments_agree_with_a_search_through_all(
    seed: int, count: int, size: float
) -> None:
    segments = random_segments(seed, count, span=10.0, size=size)
    points = np.random.default_rng(seed + 1).uniform(-12, 12, (40, 2))
    distance, _ = NearestIndex(segments).query(points)
    assert np.abs(distance - brute_force(segments, points)).max() <= ROUNDING_MM * 20


def test_distances_agree_with_geos_on_fine_chords() -> None:
    """Outside check: shapely (GEOS) on 2000 chords an arc; chord error below 1e-6 of the radius."""
    segments = random_segments(11, 80, span=10.0, size=5.0)
    steps = np.linspace(0, 1, 2001)
    lines = [shapely.LineString(segments.points_at(np.full(2001, k), steps)) for k in range(80)]
    points = np.random.default_rng(12).uniform(-12, 12, (200, 2))
    distance, _ = NearestIndex(segments).query(points)
    expected = shapely.distance(shapely.MultiLineString(lines), shapely.points(points))
    assert np.abs(distance - expected).max() < 2e-5


def test_no_segments_are_refused() -> None:
    with pytest.raises(InputError, match="needs segments"):
        NearestIndex(Segments.from_ends(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0)))


@pytest.mark.parametrize("limit", [0.0, 0.05, 1.0])
def test_every_pair_of_near_segments_is_found(limit: float) -> None:
    a = wavy(300, radius=5.0, depth=0.5).segments
    b = random_segments(3, 200, span=6.0, size=1.0)
    i, j = BoxTree.from_segments(a).pairs_within(BoxTree.from_segments(b), limit)
    found = set(zip(i.tolist(), j.tolist(), strict=True))
    assert len(found) == len(i), "a pair came twice"
    steps = np.linspace(0, 1, 40)
    points = b.points_at(np.repeat(np.arange(200), 40), np.tile(steps, 200))
    for k in range(300):
        distance = a.distances(np.full(len(points), k), points).reshape(200, 40).min(axis=1)
        for other in np.flatnonzero(distance <= limit):
            assert (k, int(other)) in found


def test_a_point_inside_a_counter_clockwise_circle_lies_left() -> None:
    circle = Contour.circle((1.0, 2.0), radius_mm=3.0)
    points = np.array([[1.0, 2.0], [3.9, 2.0], [4.1, 2.0], [1.0, 9.0]])
    _, index = NearestIndex(circle.segments).query(points)
    side = sides(circle.segments, index, points, before=np.array([1, 0]), after=np.array([1, 0]))
    assert side.tolist() == [-1.0, -1.0, 1.0, 1.0]


@pytest.mark.parametrize("spike_deg", [1.0, 20.0, 90.0, 170.0])
def test_sides_at_the_tip_of_a_spike_agree_with_shapely(spike_deg: float) -> None:
    half = math.radians(spike_deg) / 2
    rows = [(0.0, 0.0), (10 * math.cos(half), -10 * math.sin(half))]
    rows.append((10 * math.cos(half), 10 * math.sin(half)))
    contour = Contour.from_rows(rows)
    points = np.random.default_rng(7).normal(0, 0.5, (400, 2))
    _, index = NearestIndex(contour.segments).query(points)
    n = np.arange(3)
    side = sides(contour.segments, index, points, before=(n - 1) % 3, after=(n + 1) % 3)
    inside = shapely.contains_xy(shapely.Polygon(rows), points)
    assert ((side < 0) == inside).all()


def test_a_projection_measures_along_the_arc() -> None:
    arc = Segments.from_ends([[1, 0]], [[0, 1]], [math.tan(math.pi / 8)])
    angle = np.array([-0.1, 0.0, 0.5, 1.0, 1.1]) * math.pi / 2
    points = 2.5 * np.column_stack([np.cos(angle), np.sin(angle)])
    fraction = project(arc, np.zeros(5, dtype=np.intp), points)
    assert fraction == pytest.approx([-0.1, 0.0, 0.5, 1.0, 1.1], abs=1e-12)
