"""Whatever the shape of an opening: nothing is left inside, by shapely (GEOS)."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.property.test_offset_properties import contours
from tests.soak import tries

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nested_loops import Pitch, nested_loops
from kerfwright.geometry.regions import flattened

SETTINGS = settings(max_examples=tries(25), deadline=None, derandomize=True)
CHORD_MM = 1e-5

shares = st.tuples(st.floats(0.1, 0.4), st.floats(0.01, 0.2)).filter(lambda s: s[1] < 0.45 * s[0])


@SETTINGS
@given(contours(), st.floats(0.08, 0.4), shares)
def test_discs_along_the_loops_leave_nothing_of_any_inside(
    drawn: Contour, radius_mm: float, overlap: tuple[float, float]
) -> None:
    path = drawn.reversed() if drawn.area_mm2 > 0 else drawn
    pitch = Pitch.of_kerf(radius_mm, overlap_share=overlap[0], least_share=overlap[1])
    loops = nested_loops(path, pitch=pitch)
    rings = [flattened(one.contour, chord_error_mm=CHORD_MM) for one in loops.every()]
    # The least overlap holds too: a disc smaller by it leaves nothing.
    smaller = pitch.close_mm + 2 * CHORD_MM
    kerf = shapely.union_all([shapely.LinearRing(r).buffer(smaller, quad_segs=64) for r in rings])
    inside = shapely.Polygon(rings[0])
    assert inside.difference(kerf).area <= 1e-6 * max(inside.area, 1.0)
    # Loops lie inside the outermost, none nearer to another than the close pitch.
    for one in loops.every():
        for inner in one.inner:
            gap = shapely.distance(
                shapely.LinearRing(flattened(one.contour, chord_error_mm=CHORD_MM)),
                shapely.LinearRing(flattened(inner.contour, chord_error_mm=CHORD_MM)),
            )
            assert gap == pytest.approx(inner.step_mm, abs=5e-5)


@SETTINGS
@given(contours(), st.floats(0, 6.28), st.booleans())
def test_turning_and_mirroring_change_no_loop(drawn: Contour, turn: float, mirrored: bool) -> None:
    pitch = Pitch.of_kerf(0.2, overlap_share=0.25, least_share=0.05)
    path = drawn.reversed() if drawn.area_mm2 > 0 else drawn
    moved = path.transformed(turn_rad=turn, mirror_x=mirrored, shift_mm=(3.0, -5.0))
    other = moved if moved.area_mm2 < 0 else moved.reversed()
    here, there = nested_loops(path, pitch=pitch), nested_loops(other, pitch=pitch)
    # A shape at the very limit may go either way: then by one loop and its length.
    assert abs(here.count - there.count) <= 2
    if here.count == there.count:
        assert there.length_mm == pytest.approx(here.length_mm, rel=1e-3)
    assert np.sign(here.contour.area_mm2) == np.sign(there.contour.area_mm2)
