"""Offsets of related contours are related in the same way."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import self_crossings
from kerfwright.geometry.offset import Offset, offset_contour, unreachable
from kerfwright.geometry.regions import contains_points, nearest_station

SETTINGS = settings(max_examples=tries(60), deadline=None, derandomize=True)
SAME_MM = 1e-6


@st.composite
def contours(draw: st.DrawFn) -> Contour:
    """Draw a ring of lines and arcs about the origin that does not cross itself."""
    count = draw(st.integers(3, 14))
    radii = draw(st.lists(st.floats(1.0, 4.0), min_size=count, max_size=count))
    bulges = draw(
        st.lists(st.one_of(st.just(0.0), st.floats(-0.6, 0.9)), min_size=count, max_size=count)
    )
    angle = 2 * math.pi * np.arange(count) / count
    contour = Contour(
        np.column_stack([radii * np.cos(angle), radii * np.sin(angle), np.array(bulges)])
    )
    if self_crossings(contour):
        contour = Contour(np.column_stack([contour.vertices[:, :2], np.zeros(count)]))
    return contour


# Irregular on purpose: a neck of exactly 2 d may go either way.
distances = (
    st.floats(0.03, 0.7).map(lambda d: d + 0.000123).flatmap(lambda d: st.sampled_from([d, -d]))
)


def _shape(offset: Offset) -> list[tuple[float, float]]:
    """Areas and lengths of the loops that are thicker than the tolerance."""
    loops = [(abs(x.contour.area_mm2), x.contour.length_mm) for x in offset.loops]
    return [(a, length) for a, length in loops if a > 1e-5 * length]


def _same(one: Offset, other: Offset, scale: float = 1.0) -> None:
    there, here = _shape(one), _shape(other)
    assert len(there) == len(here)
    for (area, length), (area_2, length_2) in zip(there, here, strict=True):
        assert area_2 == pytest.approx(area * scale**2, abs=4 * SAME_MM * scale * length * scale)
        assert length_2 == pytest.approx(length * scale, rel=1e-3)


@SETTINGS
@given(contours(), distances)
def test_the_same_contour_travelled_backwards_has_its_offset_on_the_other_hand(contour, distance):
    _same(
        offset_contour(contour, distance_mm=distance),
        offset_contour(contour.reversed(), distance_mm=-distance),
    )


@SETTINGS
@given(contours(), distances, st.integers(1, 13))
def test_the_first_vertex_makes_no_difference(contour, distance, shift):
    turned = Contour(np.roll(contour.vertices, shift, axis=0))
    _same(
        offset_contour(contour, distance_mm=distance), offset_contour(turned, distance_mm=distance)
    )


@SETTINGS
@given(contours(), distances, st.floats(0, 6.28), st.floats(-200, 200), st.floats(-200, 200))
def test_turning_and_shifting_make_no_difference(contour, distance, turn, x, y):
    moved = contour.transformed(turn_rad=turn, shift_mm=(x, y))
    _same(
        offset_contour(contour, distance_mm=distance), offset_contour(moved, distance_mm=distance)
    )


@SETTINGS
@given(contours(), distances)
def test_a_mirror_changes_hands(contour, distance):
    mirrored = contour.transformed(mirror_x=True)
    _same(
        offset_contour(contour, distance_mm=distance),
        offset_contour(mirrored, distance_mm=-distance),
    )


@SETTINGS
@given(contours(), distances, st.sampled_from([25.4, 1 / 25.4, 7.0]))
def test_inches_and_millimetres_give_the_same_shape(contour, distance, scale):
    scaled = contour.transformed(scale=scale)
    _same(
        offset_contour(contour, distance_mm=distance),
        offset_contour(scaled, distance_mm=distance * scale),
        scale,
    )


@SETTINGS
@given(contours(), distances)
def test_every_point_of_an_offset_lies_at_the_distance_and_on_its_side(contour, distance):
    offset = offset_contour(contour, distance_mm=distance)
    for loop in offset.loops:
        points = loop.contour.points_at(np.linspace(0, 0.999, 40) * loop.contour.length_mm)
        for x, y in points:
            _, found = nearest_station(contour, (x, y))
            assert found == pytest.approx(abs(distance), abs=SAME_MM)
        inside = contains_points(contour, points)
        assert (inside == (distance * contour.area_mm2 > 0)).all()


@SETTINGS
@given(contours(), distances)
def test_sources_name_the_segment_that_lies_beside(contour, distance):
    offset = offset_contour(contour, distance_mm=distance)
    for loop in offset.loops:
        segments = loop.contour.segments
        middles = segments.points_at(np.arange(len(segments)), np.full(len(segments), 0.5))
        is_rolled = loop.source < 0
        beside = np.where(is_rolled, -1 - loop.source, loop.source)
        found = contour.segments.distances(beside, middles)
        np.testing.assert_allclose(found, abs(distance), atol=SAME_MM)
        corners = contour.segments.start[beside[is_rolled]]
        np.testing.assert_allclose(
            np.hypot(*(middles[is_rolled] - corners).T), abs(distance), atol=SAME_MM
        )


@SETTINGS
@given(contours(), distances)
def test_no_loop_crosses_itself_and_no_region_leaves_its_side(contour, distance):
    offset = offset_contour(contour, distance_mm=distance)
    for loop in offset.loops:
        kinds = {c.kind.value for c in self_crossings(loop.contour)}
        assert "crossing" not in kinds
    for region in unreachable(contour, offset):
        assert region.area_mm2 > 0
        assert region.area_mm2 < abs(contour.area_mm2) + 1e-9 or distance * contour.area_mm2 < 0


@SETTINGS
@given(contours(), distances, st.floats(0.2, 0.8))
def test_two_offsets_on_one_side_are_nested(contour, distance, share):
    near = offset_contour(contour, distance_mm=distance * share)
    far = offset_contour(contour, distance_mm=distance)
    for loop in far.loops:
        for x, y in loop.contour.points_at(np.linspace(0, 0.99, 9) * loop.contour.length_mm):
            gap = min(nearest_station(n.contour, (x, y))[1] for n in near.loops)
            assert gap >= abs(distance) * (1 - share) - SAME_MM
