from __future__ import annotations

import math

import pytest

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.offset import offset_contour, unreachable

ROWS = Contour.from_rows
SQUARE = ROWS([(0, 0), (10, 0), (10, 10), (0, 10)])
CORNER = 1 - math.pi / 4
LEFT_BELL = [(0, 2.1), (0, 4), (-4, 4), (-4, 0), (0, 0), (0, 1.9)]
BELL = ROWS([*LEFT_BELL, *((4 - x, 4 - y) for x, y in LEFT_BELL)])
# A disc of radius 0.15 between two corners 0.2 apart enters the gap by this area.
CAP = 0.15**2 * math.asin(0.1 / 0.15) - 0.1 * math.sqrt(0.15**2 - 0.1**2)


def _missed(contour: Contour, distance: float) -> list[float]:
    regions = unreachable(contour, offset_contour(contour, distance_mm=distance))
    assert all(region.is_closed for region in regions)
    return [region.area_mm2 for region in regions]


@pytest.mark.parametrize("radius", [0.15, 1.0, 4.0])
def test_a_square_opening_misses_a_sliver_in_each_corner(radius: float):
    assert _missed(SQUARE, radius) == pytest.approx([CORNER * radius**2] * 4)
    assert _missed(SQUARE.reversed(), -radius) == pytest.approx([CORNER * radius**2] * 4)


def test_a_corner_region_is_two_pieces_of_wall_and_an_arc_of_the_disc():
    region = unreachable(SQUARE, offset_contour(SQUARE, distance_mm=1.0))[0]
    segments = region.segments
    assert sorted(segments.is_arc.tolist()) == [False, False, True]
    arc = segments.is_arc.argmax()
    assert segments.radius[arc] == pytest.approx(1.0)
    assert {round(abs(c), 9) for c in segments.centre[arc]} <= {1.0, 9.0}


def test_outside_a_square_everything_is_reached():
    assert _missed(SQUARE, -1.0) == []
    assert _missed(Contour.circle((0, 0), radius_mm=2), 0.5) == []


def test_an_inside_fillet_larger_than_the_disc_is_reached_and_a_smaller_one_is_not():
    def filleted(radius: float) -> Contour:
        bulge = math.tan(math.pi / 8)
        return ROWS([(radius, 0), (10, 0), (10, 10), (0, 10), (0, radius, bulge)])

    assert len(_missed(filleted(1.0), 0.5)) == 3
    missed = _missed(filleted(0.2), 0.5)
    assert len(missed) == 4
    # The region between the fillets of radius 0.5 and 0.2.
    assert missed[-1] == pytest.approx(CORNER * (0.5**2 - 0.2**2))


def test_a_neck_too_narrow_is_one_region_between_two_arcs():
    missed = _missed(BELL, 0.15)
    # Four inside corners in each bell; the corners at the neck turn away from the disc.
    assert len(missed) == 9
    assert missed[1:] == pytest.approx([CORNER * 0.15**2] * 8)
    assert missed[0] == pytest.approx(4 * 0.2 - 2 * CAP)


def test_a_slot_in_an_outline_narrower_than_the_disc_is_missed_to_its_mouth():
    slotted = ROWS([(0, 0), (10, 0), (10, 5), (6, 5), (6, 1), (5.8, 1), (5.8, 5), (0, 5)])
    (missed,) = _missed(slotted, -0.15)
    assert missed == pytest.approx(4 * 0.2 - CAP)


def test_what_the_disc_does_not_fit_into_is_missed_whole():
    circle = Contour.circle((0, 0), radius_mm=0.1)
    (region,) = unreachable(circle, offset_contour(circle, distance_mm=0.15))
    assert region.area_mm2 == pytest.approx(math.pi * 0.01)


def test_distance_zero_misses_nothing():
    assert _missed(SQUARE, 0.0) == []
