"""Places found on a grid lie in the region, and are found where there is room."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.nest_samples import ANGLE, LINK
from tests.soak import tries

from kerfwright.nesting.envelopes import envelope
from kerfwright.nesting.raster import Field, filled, stamp_of
from kerfwright.nesting.units import turned

CELL = 0.5


def test_cells_are_filled_as_geos_says_where_their_middle_lies() -> None:
    shape = shapely.Polygon(
        [(1.3, 0.2), (17.7, 3.1), (12.2, 17.9), (6.0, 8.5), (0.4, 12.6)],
        [[(8, 6), (11, 6.5), (10, 10)]],
    )
    cells = filled(shape, origin_mm=(-1.0, -2.0), cell_mm=0.7, shape=(32, 30))
    y, x = np.mgrid[0:32, 0:30]
    middles = shapely.contains_xy(shape, -1.0 + 0.7 * (x + 0.5), -2.0 + 0.7 * (y + 0.5))
    assert (cells == middles).all()


@settings(max_examples=tries(40), deadline=None)
@given(
    angle=st.floats(0, 360),
    corners=st.lists(
        st.tuples(st.floats(0, 90), st.floats(0, 60)), min_size=5, max_size=9, unique=True
    ),
)
def test_a_place_found_lies_in_the_region_with_all_of_the_part(
    angle: float, corners: list[tuple[float, float]]
) -> None:
    region = shapely.convex_hull(shapely.MultiPoint(corners)).difference(
        shapely.box(30, 20, 40, 35)
    )
    if region.area < 1:
        return
    points = envelope(LINK)
    found = Field(region, cell_mm=CELL).best([stamp_of(points, turn_deg=angle, cell_mm=CELL)])
    if found is not None:
        stamp, x, y = found
        body = turned(points, turn_deg=stamp.turn_deg, x_mm=x, y_mm=y)
        assert region.covers(body)


@pytest.mark.parametrize("along_y", [False, True])
def test_a_part_goes_to_the_corner_and_to_a_region_a_cell_wider_than_itself(
    along_y: bool,
) -> None:
    stamp = stamp_of(envelope(ANGLE), turn_deg=0.0, cell_mm=CELL)
    tight = shapely.box(10, 20, 10 + 30 + 4 * CELL, 20 + 22 + 4 * CELL)
    found = Field(tight, cell_mm=CELL).best([stamp], along_y=along_y)
    assert found is not None
    assert found[1:] == pytest.approx((10, 20), abs=4 * CELL)
    assert Field(shapely.box(0, 0, 29.9, 50), cell_mm=CELL).best([stamp]) is None


def test_taken_cells_keep_parts_apart() -> None:
    field = Field(shapely.box(0, 0, 100, 30), cell_mm=CELL)
    points = envelope(LINK)
    stamps = [stamp_of(points, turn_deg=a, cell_mm=CELL) for a in (0.0, 90.0)]
    bodies: list[shapely.Polygon] = []
    while (best := field.best(stamps)) is not None:
        stamp, x, y = best
        bodies.append(turned(points, turn_deg=stamp.turn_deg, x_mm=x, y_mm=y))
        field.take(bodies[-1].buffer(2.0 + 0.01))
    assert len(bodies) == 3
    for k, one in enumerate(bodies):
        assert all(one.distance(other) >= 2.0 for other in bodies[:k])
