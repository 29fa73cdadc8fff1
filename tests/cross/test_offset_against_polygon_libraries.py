"""Offsets against GEOS (through shapely) and Clipper (through pyclipper), which know no arcs.

Both get polygons of a chord error far below the bounds asked for.  GEOS simplifies its input by
about a hundredth of the distance, Clipper rounds to its integers: the bounds allow for that.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from nasty_profiles import flattened, named_profiles, random_profile
from tests.soak import SOAK

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import Offset, offset_contour

pyclipper = pytest.importorskip("pyclipper")

CHORD_ERROR_MM = 2e-5
UNITS_PER_MM = 1e7
EXACT_MM = 1e-6
MEAN_SHIFT_MM = 1.5e-4
"""Area difference over perimeter that still counts as the same path."""
THINNEST_MM = 3e-4
"""Width of an island below which the libraries need not agree that it is there."""
RANDOM_CASES = 2000 if SOAK else 60
BATCH = 20


def _geos(contour: Contour, distance: float) -> Any:
    steps = math.ceil((math.pi / 2) / (2 * math.acos(1 - CHORD_ERROR_MM / abs(distance))))
    sense = math.copysign(1.0, contour.area_mm2)
    polygon = shapely.Polygon(flattened(contour, CHORD_ERROR_MM))
    return polygon.buffer(-distance * sense, quad_segs=steps)


def _clipper_area(contour: Contour, distance: float) -> float:
    points = np.round(flattened(contour, CHORD_ERROR_MM) * UNITS_PER_MM).astype(np.int64)
    sense = math.copysign(1.0, contour.area_mm2)
    tool = pyclipper.PyclipperOffset(2.0, CHORD_ERROR_MM * UNITS_PER_MM)
    tool.AddPath(points.tolist(), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    loops = tool.Execute(-distance * sense * UNITS_PER_MM)
    return abs(sum(pyclipper.Area(loop) for loop in loops)) / UNITS_PER_MM**2


def _distances(contour: Contour, points: np.ndarray, reach: float) -> np.ndarray:
    """Exact distances of points to a contour, found by brute force in the near boxes."""
    segments = contour.segments
    tree = shapely.STRtree(shapely.box(*segments.boxes(reach)))
    row, index = tree.query(shapely.points(points))
    nearest = np.full(len(points), np.inf)
    np.minimum.at(nearest, row, segments.distances(index, points[row]))
    return nearest


def _largest_error(contour: Contour, offset: Offset) -> float:
    distance = abs(offset.distance_mm)
    worst = 0.0
    for loop in offset.loops:
        segments = loop.contour.segments
        fraction = np.array([0.0, 0.02, 0.25, 0.5, 0.75, 0.98])
        index = np.repeat(np.arange(len(segments)), len(fraction))
        points = segments.points_at(index, np.tile(fraction, len(segments)))
        worst = max(
            worst, float(np.abs(_distances(contour, points, 2 * distance) - distance).max())
        )
    return worst


def _thick(loops: list[tuple[float, float]]) -> int:
    return sum(area > THINNEST_MM * length / 2 for area, length in loops)


def _complaint(contour: Contour, distance: float) -> str:
    """Return what is wrong with our offset, or nothing."""
    ours = offset_contour(contour, distance_mm=distance)
    theirs = [part for part in shapely.get_parts(_geos(contour, distance)) if not part.is_empty]
    their_loops = [
        (shapely.Polygon(ring).area, ring.length)
        for part in theirs
        for ring in (part.exterior, *part.interiors)
    ]
    our_loops = [(abs(x.contour.area_mm2), x.contour.length_mm) for x in ours.loops]
    perimeter = sum(part.length for part in theirs) or 1.0
    area = sum(part.area for part in theirs)
    our_area = abs(sum(loop.contour.area_mm2 for loop in ours.loops))
    said = []
    # Islands thinner than the other library's own error may be there or not.
    if _thick(our_loops) > len(their_loops) or _thick(their_loops) > len(our_loops):
        said.append(f"{len(our_loops)} loops, not {len(their_loops)}")
    if abs(our_area - area) > MEAN_SHIFT_MM * perimeter:
        said.append(f"GEOS area {area:.6f}, ours {our_area:.6f}")
    clipper = _clipper_area(contour, distance)
    if abs(our_area - clipper) > MEAN_SHIFT_MM * perimeter:
        said.append(f"Clipper area {clipper:.6f}, ours {our_area:.6f}")
    error = _largest_error(contour, ours)
    if error > EXACT_MM:
        said.append(f"error {error * 1e3:.6f} µm")
    return ", ".join(said)


NAMED = [
    pytest.param(contour, distance, id=f"{name} at {distance}")
    for name, (contour, distances) in named_profiles().items()
    for distance in distances
]


@pytest.mark.parametrize(("contour", "distance"), NAMED)
def test_a_nasty_profile_gives_the_loops_of_both_libraries(contour: Contour, distance: float):
    assert _complaint(contour, distance) == ""


@pytest.mark.parametrize(("contour", "distance"), NAMED)
def test_start_and_direction_make_no_difference(contour: Contour, distance: float):
    plain = offset_contour(contour, distance_mm=distance)
    count = len(contour)
    for shift in {1, count // 3, count - 1}:
        turned = Contour(np.roll(contour.vertices, shift, axis=0))
        for other in (
            offset_contour(turned, distance_mm=distance),
            offset_contour(turned.reversed(), distance_mm=-distance),
        ):
            assert len(other.loops) == len(plain.loops)
            for one, two in zip(plain.loops, other.loops, strict=True):
                limit = EXACT_MM * one.contour.length_mm
                assert abs(two.contour.area_mm2) == pytest.approx(
                    abs(one.contour.area_mm2), abs=limit
                )


@pytest.mark.parametrize("batch", range(RANDOM_CASES // BATCH))
def test_random_profiles_give_the_loops_of_both_libraries(batch: int):
    wrong, tried = [], 0
    for seed in range(batch * BATCH, (batch + 1) * BATCH):
        contour, distance = random_profile(seed)
        if not shapely.Polygon(flattened(contour, 1e-4)).is_valid:
            continue
        tried += 1
        complaint = _complaint(contour, distance)
        if complaint:
            wrong.append(f"seed {seed} at {distance}: {complaint}")
    assert not wrong
    assert tried >= BATCH // 2
