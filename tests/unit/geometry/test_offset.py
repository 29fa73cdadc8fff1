from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.foundation.errors import InputError, RangeError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import Offset, offset_contour, offset_passes

ROWS = Contour.from_rows
SQUARE = ROWS([(0, 0), (10, 0), (10, 10), (0, 10)])
BELL = ROWS(
    [
        (0, 0),
        (4, 0),
        (4, 1.9),
        (8, 1.9),
        (8, 0),
        (12, 0),
        (12, 4),
        (8, 4),
        (8, 2.1),
        (4, 2.1),
        (4, 4),
        (0, 4),
    ]
)


def _areas(offset: Offset) -> list[float]:
    return [loop.contour.area_mm2 for loop in offset.loops]


@pytest.mark.parametrize("distance", [0.15, -0.15, 4.99, 0.999999])
def test_a_circle_offset_keeps_its_centre(distance: float):
    (loop,) = offset_contour(Contour.circle((3, -7), radius_mm=5), distance_mm=distance).loops
    segments = loop.contour.segments
    assert segments.is_arc.all()
    np.testing.assert_allclose(segments.centre, [[3, -7]] * 2, atol=1e-12)
    np.testing.assert_allclose(segments.radius, 5 - distance, atol=1e-12)


def test_a_circle_vanishes_when_the_distance_reaches_its_radius():
    circle = Contour.circle((0, 0), radius_mm=0.15)
    assert offset_contour(circle, distance_mm=0.15).loops == ()
    assert offset_contour(circle, distance_mm=0.2).loops == ()


def test_a_square_outside_gets_rolled_corners_and_inside_sharp_ones():
    outside = offset_contour(SQUARE, distance_mm=-1)
    assert _areas(outside) == pytest.approx([100 + 40 + math.pi])
    assert outside.loops[0].source.tolist() == [-1, 0, -2, 1, -3, 2, -4, 3]
    inside = offset_contour(SQUARE, distance_mm=1)
    assert _areas(inside) == pytest.approx([64])
    assert sorted(inside.loops[0].source.tolist()) == [0, 1, 2, 3]


def test_a_slot_offset_to_nothing_by_half_its_width():
    slot = ROWS([(0, 0, 0), (20, 0, 1), (20, 2, 0), (0, 2, 1)])
    (loop,) = offset_contour(slot, distance_mm=0.25).loops
    assert loop.contour.area_mm2 == pytest.approx(20 * 1.5 + math.pi * 0.75**2)
    assert offset_contour(slot, distance_mm=1.0).loops == ()


def test_arcs_smaller_than_the_distance_leave_a_sharp_corner():
    radius = 0.05
    corner = math.tan(math.pi / 8)
    square = ROWS(
        [
            (radius, 0, 0),
            (10 - radius, 0, corner),
            (10, radius, 0),
            (10, 10 - radius, corner),
            (10 - radius, 10, 0),
            (radius, 10, corner),
            (0, 10 - radius, 0),
            (0, radius, corner),
        ]
    )
    assert _areas(offset_contour(square, distance_mm=0.15)) == pytest.approx([9.7**2])


def test_a_neck_narrower_than_twice_the_distance_splits_the_inside_in_two():
    split = offset_contour(BELL, distance_mm=0.15)
    assert len(split.loops) == 2
    assert _areas(split) == pytest.approx([3.7 * 3.7] * 2, abs=0.2)
    assert len(offset_contour(BELL, distance_mm=0.05).loops) == 1


@pytest.mark.parametrize("beyond", [0.0, 1e-9, 1e-7, 1e-6, 1e-5, 1e-4])
@pytest.mark.parametrize("side", [1, -1])
def test_a_neck_of_about_twice_the_distance_is_split_or_whole_but_never_wrong(beyond, side):
    distance = 0.1 + side * beyond
    offset = offset_contour(BELL, distance_mm=distance)
    assert len(offset.loops) in (1, 2)
    if beyond >= 1e-5:
        assert len(offset.loops) == (2 if side > 0 else 1)
    assert sum(_areas(offset)) == pytest.approx(2 * (4 - 2 * distance) ** 2, abs=0.1)


def test_a_closing_mouth_leaves_a_loop_inside_travelled_backwards():
    keyhole = ROWS(
        [
            (0, 0),
            (4.9, 0),
            (4.9, 2),
            (4, 2),
            (4, 4),
            (6, 4),
            (6, 2),
            (5.1, 2),
            (5.1, 0),
            (10, 0),
            (10, 8),
            (0, 8),
        ]
    )
    outer, inner = offset_contour(keyhole, distance_mm=-0.2).loops
    assert outer.contour.area_mm2 > 80
    assert inner.contour.area_mm2 == pytest.approx(-1.6 * 1.6, rel=1e-2)


def test_a_keyhole_with_a_bulge_over_one_keeps_its_arc():
    rows = [(0, 0, 0), (4.95, 0, 0), (4.95, 2, 0), (4.7, 2.05, -4.5), (5.3, 2.05, 0)]
    rows += [(5.05, 2, 0), (5.05, 0, 0), (10, 0, 0), (10, 8, 0), (0, 8, 0)]
    contour = ROWS(rows)
    offset = offset_contour(contour, distance_mm=0.1)
    (loop,) = offset.loops
    arc = int(np.flatnonzero(loop.source == 3)[0])
    segments = loop.contour.segments
    np.testing.assert_allclose(segments.centre[arc], contour.segments.centre[3], atol=1e-9)
    assert segments.radius[arc] == pytest.approx(contour.segments.radius[3] + 0.1, abs=1e-9)


def test_edges_of_a_nanometre_change_nothing():
    rough = ROWS(
        [(0, 0), (5, 0), (5 + 1e-6, 0), (10, 0), (10, 1e-6), (10, 10), (5, 10), (0, 10), (0, 1e-6)]
    )
    for distance in (0.15, -0.15):
        assert _areas(offset_contour(rough, distance_mm=distance)) == pytest.approx(
            _areas(offset_contour(SQUARE, distance_mm=distance)), abs=1e-4
        )


def test_a_circle_of_short_edges_is_not_swallowed_whole():
    # 20 000 edges of 0.6 nm: each is below the merging distance, all together are 12 nm long.
    angle = np.linspace(0, 2 * math.pi, 20001)[:-1]
    tiny = Contour(np.column_stack([2e-3 * np.cos(angle), 2e-3 * np.sin(angle), 0 * angle]))
    (loop,) = offset_contour(tiny, distance_mm=-0.1).loops
    assert loop.contour.area_mm2 == pytest.approx(math.pi * 0.102**2, rel=1e-4)


def _ring(count: int, radius: float) -> Contour:
    angle = np.linspace(0, 2 * math.pi, count + 1)[:-1]
    return Contour(np.column_stack([radius * np.cos(angle), radius * np.sin(angle), 0 * angle]))


def test_a_ring_of_many_edges_smaller_than_the_wire_vanishes():
    assert offset_contour(_ring(800, 0.1), distance_mm=0.15).loops == ()


def test_a_ring_too_dense_to_work_through_is_refused_with_its_numbers():
    with pytest.raises(RangeError) as refusal:
        offset_contour(_ring(9000, 0.1), distance_mm=0.15)
    assert refusal.value.code == "offset-too-dense"
    assert "9000" in str(refusal.value)


def test_an_inside_corner_is_cut_by_its_two_walls_and_stays_sharp():
    # A ring of chords: every corner turns towards the wire, none needs any other wall.
    ring = _ring(400, 20.0)
    (loop,) = offset_contour(ring, distance_mm=0.15).loops
    half = math.pi / 400
    area = 400 * math.tan(half) * (20.0 * math.cos(half) - 0.15) ** 2
    assert len(loop.contour) == 400
    assert loop.contour.area_mm2 == pytest.approx(area, abs=1e-9)


def test_passes_agree_with_offsets_made_one_by_one():
    distances = (0.2, -0.3, 0.05, 0.0)
    for offset, distance in zip(
        offset_passes(BELL, distances_mm=distances), distances, strict=True
    ):
        alone = offset_contour(BELL, distance_mm=distance)
        assert offset.distance_mm == distance
        assert _areas(offset) == pytest.approx(_areas(alone), abs=1e-12)


def test_distance_zero_gives_the_contour_itself():
    (loop,) = offset_contour(BELL, distance_mm=0.0).loops
    assert loop.contour is BELL
    assert loop.source.tolist() == list(range(12))


def test_loops_come_largest_first_and_sources_are_read_only():
    uneven = ROWS(
        [
            (0, 0),
            (9, 0),
            (9, 0.9),
            (10, 0.9),
            (10, 0),
            (12, 0),
            (12, 2),
            (10, 2),
            (10, 1.1),
            (9, 1.1),
            (9, 9),
            (0, 9),
        ]
    )
    offset = offset_contour(uneven, distance_mm=0.15)
    assert len(offset.loops) == 2
    assert _areas(offset) == sorted(_areas(offset), reverse=True)
    with pytest.raises(ValueError, match="read-only"):
        offset.loops[0].source[0] = 0


@pytest.mark.parametrize(
    ("contour", "distance", "code"),
    [
        (ROWS([(0, 0), (1, 0), (1, 1)], is_closed=False), 0.1, "offset-open"),
        (ROWS([(0, 0), (1, 0)]), 0.1, "offset-no-area"),
        (SQUARE, math.nan, "offset-distance"),
        (SQUARE, math.inf, "offset-distance"),
    ],
)
def test_what_has_no_offset_is_refused_with_a_code(contour, distance, code):
    with pytest.raises(InputError) as refusal:
        offset_contour(contour, distance_mm=distance)
    assert refusal.value.code == code
    assert "X0.0000 Y0.0000" in str(refusal.value)
