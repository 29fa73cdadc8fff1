"""Openings of one shape are found, each by the first of the drawing that has it."""

from __future__ import annotations

import numpy as np
import pytest
from tests.conftest import PartMaker, box

from kerfwright.geometry.contour import Contour, MovedContours
from kerfwright.planning.alike import found_alike
from kerfwright.trade.part import Role

HOOK = Contour.from_rows([(0, 0), (6, 0), (6, 5, 0.3), (4, 6), (0, 5)])
OPENING, OUTLINE = Role.OPENING, Role.OUTLINE


def at(x: float, y: float, shape: Contour = HOOK) -> Contour:
    return shape.transformed(shift_mm=(x, y))


def test_copies_are_the_first_at_their_places(make_part: PartMaker) -> None:
    # Thirds are rounded elsewhere at each place.
    third = 100 / 3
    part = make_part(
        [(OPENING, at(k * third, -k * third), "P1") for k in range(4)]
        + [(OUTLINE, box(-10, -150, 200, 60), None)]
    )
    found = found_alike(part.contours)
    assert list(found) == ["H2", "H3", "H4"]
    for k, one in enumerate(found.values(), start=1):
        assert one.first is part.contours[0]
        assert one.by_mm == pytest.approx((k * third, -k * third), abs=1e-12)
        moved = one.first.contour.moved(one.by_mm)
        assert moved.vertices == pytest.approx(part.contours[k].contour.vertices, abs=1e-12)


@pytest.mark.parametrize(
    "other",
    [
        HOOK.transformed(mirror_x=True),
        HOOK.transformed(turn_rad=np.pi / 2),
        HOOK.transformed(scale=1.000001),
        Contour.from_rows([(0, 0), (6, 0), (6, 5, 0.300001), (4, 6), (0, 5)]),
        Contour(np.roll(HOOK.vertices, 1, axis=0)),
    ],
    ids=["mirrored", "turned", "larger", "rounder", "begun elsewhere"],
)
def test_what_is_not_a_copy_is_like_none(make_part: PartMaker, other: Contour) -> None:
    part = make_part([(OPENING, HOOK, None), (OPENING, at(30, 0, other), None)])
    assert found_alike(part.contours) == {}


def test_outlines_and_openings_with_something_inside_are_like_none(make_part: PartMaker) -> None:
    part = make_part(
        [
            (OUTLINE, HOOK, None),
            (OUTLINE, at(20, 0), None),
            (OPENING, at(40, 0), None),
            (OPENING, at(60, 0), None),
            (OUTLINE, box(61, 1, 63, 3), "H2"),
            (OPENING, at(80, 0), None),
        ]
    )
    assert list(found_alike(part.contours)) == ["H3"]
    assert found_alike(part.contours)["H3"].first.id == "H1"


def test_two_shapes_of_as_many_segments_are_told_apart(make_part: PartMaker) -> None:
    slim = Contour.from_rows([(0, 0), (6, 0), (6, 2, 0.3), (4, 3), (0, 2)])
    shapes = [HOOK, slim, HOOK, slim]
    part = make_part([(OPENING, at(20 * k, 0, s), None) for k, s in enumerate(shapes)])
    found = found_alike(part.contours)
    assert {name: one.first.id for name, one in found.items()} == {"H3": "H1", "H4": "H2"}


def test_a_moved_contour_keeps_what_a_place_does_not_change() -> None:
    moved, anew = HOOK.moved((123.4, -56.7)), at(123.4, -56.7)
    assert moved.length_mm == HOOK.length_mm
    assert moved.area_mm2 == HOOK.area_mm2
    assert np.array_equal(moved.stations_mm, HOOK.stations_mm)
    assert np.array_equal(moved.vertices, anew.vertices)
    assert moved.bounds_mm == pytest.approx(anew.bounds_mm, abs=1e-12)
    for name in ("start", "end", "centre", "radius", "length", "start_tangent", "end_tangent"):
        ours, theirs = (getattr(c.segments, name) for c in (moved, anew))
        assert ours == pytest.approx(theirs, abs=1e-12), name
    assert not moved.vertices.flags.writeable
    several = MovedContours([HOOK, HOOK], (123.4, -56.7))
    assert len(several) == 2
    assert all(np.array_equal(one.vertices, anew.vertices) for one in several)
    assert several[1] is several[1:][0]
