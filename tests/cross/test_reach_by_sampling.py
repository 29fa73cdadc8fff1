"""What the wire cannot reach, against its definition: no centre within the radius of the point."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from nasty_profiles import flattened, named_profiles, random_profile
from tests.soak import SOAK

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import offset_contour, unreachable

CASES = 1000 if SOAK else 60
SAMPLES = 600
UNDECIDED_MM = 2e-6
CHORD_ERROR_MM = 1e-6


def _inside(contour: Contour, points: np.ndarray) -> np.ndarray:
    polygon = shapely.Polygon(flattened(contour, CHORD_ERROR_MM))
    return shapely.contains_xy(polygon, points[:, 0], points[:, 1])


def _distance(contours: list[Contour], points: np.ndarray, reach: float) -> np.ndarray:
    nearest = np.full(len(points), np.inf)
    for contour in contours:
        s = contour.segments
        tree = shapely.STRtree(shapely.box(*s.boxes(reach)))
        row, index = tree.query(shapely.points(points))
        np.minimum.at(nearest, row, s.distances(index, points[row]))
    return nearest


def _disagreements(contour: Contour, distance: float, seed: int) -> int:
    """Count sampled points near the wall that are misjudged."""
    rng = np.random.default_rng(seed)
    offset = offset_contour(contour, distance_mm=distance)
    regions = unreachable(contour, offset)
    s = contour.segments
    # A third of the points near vertices, where corners are missed.
    index = rng.integers(0, len(s), SAMPLES)
    fraction = np.where(rng.random(SAMPLES) < 0.3, rng.random(SAMPLES) * 0.05, rng.random(SAMPLES))
    on_wall = s.points_at(index, fraction)
    points = on_wall + rng.uniform(-1, 1, (SAMPLES, 2)) * abs(distance) * 0.7
    to_wall = _distance([contour], points, abs(distance))
    wire_side = _inside(contour, points) == (distance * contour.area_mm2 > 0)
    near = wire_side & (to_wall < abs(distance) - UNDECIDED_MM) & (to_wall > UNDECIDED_MM)
    points = points[near]
    beyond = _distance([x.contour for x in offset.loops], points, 2 * abs(distance)) - abs(distance)
    named = np.zeros(len(points), dtype=bool)
    for region in regions:
        named |= _inside(region, points)
    return int(((named != (beyond > 0)) & (np.abs(beyond) > UNDECIDED_MM)).sum())


@pytest.mark.parametrize(
    ("contour", "distance"),
    [
        pytest.param(contour, distance, id=f"{name} at {distance}")
        for name, (contour, distances) in named_profiles().items()
        for distance in distances
        # Within nanometres of closing, the answer hangs on the tolerance.
        if "e-0" not in name
    ],
)
def test_points_near_a_nasty_wall_are_in_a_region_exactly_if_out_of_reach(contour, distance):
    assert _disagreements(contour, distance, 1) == 0


@pytest.mark.parametrize("batch", range(CASES // 20))
def test_points_near_a_random_wall_are_in_a_region_exactly_if_out_of_reach(batch: int):
    wrong = []
    for seed in range(20 * batch, 20 * batch + 20):
        contour, distance = random_profile(seed)
        if shapely.Polygon(flattened(contour, 1e-4)).is_valid:
            count = _disagreements(contour, distance, seed)
            if count:
                wrong.append(f"seed {seed} at {distance}: {count} points")
    assert not wrong
