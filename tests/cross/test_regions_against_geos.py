"""Inside, circles and crossings against GEOS on finely flattened polygons."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from nasty_profiles import random_profile

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import CrossingKind, self_crossings
from kerfwright.geometry.regions import (
    clearance,
    contains_points,
    flattened,
    largest_inscribed_circle,
)

CHORD_ERROR_MM = 1e-6


def _polygon(contour: Contour, error: float = CHORD_ERROR_MM) -> shapely.Polygon:
    return shapely.Polygon(flattened(contour, chord_error_mm=error))


@pytest.mark.parametrize("seed", range(42))
def test_points_are_inside_where_geos_says_so(seed: int):
    contour, _ = random_profile(seed)
    rng = np.random.default_rng(seed)
    x0, y0, x1, y1 = contour.bounds_mm
    anywhere = rng.uniform((x0, y0), (x1, y1), (300, 2))
    # Level with vertices: rays through vertices are where the naive test fails.
    chosen = contour.vertices[rng.integers(0, len(contour), 200), 1]
    level = np.column_stack([rng.uniform(x0 - 1, x1, 200), chosen])
    points = np.vstack([anywhere, level])
    theirs = shapely.contains_xy(_polygon(contour), points[:, 0], points[:, 1])
    for row in np.flatnonzero(contains_points(contour, points) != theirs):
        assert clearance((points[row, 0], points[row, 1]), [contour]) < 2 * CHORD_ERROR_MM


@pytest.mark.parametrize("seed", range(14))
def test_the_largest_circle_is_no_smaller_than_that_of_geos(seed: int):
    contour, _ = random_profile(seed)
    polygon = _polygon(contour, 1e-5)
    if not polygon.is_valid:
        pytest.skip("the noise of this seed makes the profile cross itself")
    x, y, radius = largest_inscribed_circle(contour)
    theirs = shapely.maximum_inscribed_circle(polygon, tolerance=1e-4).length
    # The circle found is promised within 1e-3 mm of the largest, theirs within 1e-4 mm.
    assert theirs - 1e-3 <= radius <= theirs + 2e-4
    assert polygon.contains(shapely.Point(x, y))


@pytest.mark.parametrize("seed", range(60))
def test_a_random_ring_crosses_itself_exactly_if_geos_finds_it_invalid(seed: int):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(4, 12))
    angle = np.sort(rng.uniform(0, 2 * math.pi, count))
    radius = rng.uniform(1, 5, count)
    bulge = np.where(rng.random(count) < 0.5, 0.0, rng.uniform(-1.5, 1.5, count))
    contour = Contour(np.column_stack([radius * np.cos(angle), radius * np.sin(angle), bulge]))
    found = [c for c in self_crossings(contour) if c.kind is CrossingKind.CROSSING]
    assert bool(found) != _polygon(contour).is_valid
    # Where GEOS nodes the line, both must have as many places.
    points = flattened(contour, chord_error_mm=CHORD_ERROR_MM)
    ring = shapely.LinearRing(points)
    noded = shapely.get_parts(shapely.unary_union(ring))
    ends = np.array([shapely.get_coordinates(p)[[0, -1]] for p in noded]).reshape(-1, 2)
    crossings = {(round(x, 4), round(y, 4)) for x, y in ends}
    ours = {(round(c.x_mm, 4), round(c.y_mm, 4)) for c in found}
    if found:
        first = tuple(np.round(points[0], 4))
        assert abs(len(crossings - {first}) - len(ours)) <= 1
        for c in found:
            assert np.hypot(*(ends - [c.x_mm, c.y_mm]).T).min() < 1e-2
