"""Polygons for the engine cover the part, whatever its shape, and have few corners."""

from __future__ import annotations

import math
from importlib.resources import files

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.nest_samples import ANGLE, DISC, LINK, RING
from tests.soak import tries

from kerfwright.adapters.dxf import read_drawing
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import flattened
from kerfwright.nesting.envelopes import MOST_POINTS, envelope, inscribed


def blob(radii: list[float], bulge: float) -> Contour:
    angles = np.linspace(0, 2 * math.pi, len(radii), endpoint=False)
    rows = [(r * math.cos(a), r * math.sin(a), bulge) for r, a in zip(radii, angles, strict=True)]
    return Contour.from_rows(rows)


def fine(contour: Contour) -> shapely.Polygon:
    return shapely.Polygon(flattened(contour, chord_error_mm=1e-5))


@pytest.mark.parametrize(
    "contour", [ANGLE, DISC, LINK, RING], ids=["angle", "disc", "link", "ring"]
)
def test_a_cover_covers_and_an_inscribed_polygon_lies_within(contour: Contour) -> None:
    cover, inner = envelope(contour), inscribed(contour)
    assert inner is not None
    assert shapely.Polygon(cover).covers(fine(contour))
    assert fine(contour).covers(shapely.Polygon(inner))
    assert len(cover) <= MOST_POINTS


@settings(max_examples=tries(60), deadline=None)
@given(
    radii=st.lists(st.floats(5, 30), min_size=5, max_size=40),
    bulge=st.floats(-0.2, 0.35),
    most=st.integers(12, 60),
)
def test_a_cover_covers_any_blob_with_few_corners(
    radii: list[float], bulge: float, most: int
) -> None:
    contour = blob(radii, bulge)
    if not fine(contour).is_valid:
        return
    cover = envelope(contour, most=most)
    assert len(cover) <= most
    assert shapely.Polygon(cover).covers(fine(contour))
    inner = inscribed(contour, most=most)
    if inner is not None:
        assert fine(contour).covers(shapely.Polygon(inner))


def test_the_envelope_of_a_wheel_of_thirty_teeth_is_only_a_little_larger() -> None:
    part = read_drawing(str(files("kerfwright") / "data/samples/escape_wheel.dxf"))
    (rim,) = [c.contour for c in part.contours if c.parent_id is None]
    cover = envelope(rim)
    assert len(cover) <= MOST_POINTS
    assert shapely.Polygon(cover).area < 1.03 * abs(rim.area_mm2)


def test_nothing_is_inscribed_in_a_slit() -> None:
    slit = Contour.from_rows([(0, 0), (10, 0), (10, 0.004), (0, 0.004)])
    assert inscribed(slit) is None
