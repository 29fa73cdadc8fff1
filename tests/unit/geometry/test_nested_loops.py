"""Loops inside loops leave nothing: closed forms, and shapely where there are none."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nested_loops import NestedLoop, Pitch, nested_loops
from kerfwright.geometry.offset import offset_contour
from kerfwright.geometry.regions import flattened

RADIUS_MM = 0.16
PITCH = Pitch.of_kerf(RADIUS_MM, overlap_share=0.25, least_share=0.05)


def opening(*corners: tuple[float, ...]) -> Contour:
    """Return a path with its inside on the right."""
    drawn = Contour.from_rows(corners)
    return drawn if drawn.area_mm2 < 0 else drawn.reversed()


def left_mm2(outermost: Contour, loops: NestedLoop, *, radius_mm: float) -> float:
    """Return what discs along all loops leave of the inside, by shapely (GEOS)."""
    inside = shapely.Polygon(flattened(outermost, chord_error_mm=1e-4))
    kerfs = [
        shapely.LinearRing(flattened(one.contour, chord_error_mm=1e-4)).buffer(
            radius_mm, quad_segs=32
        )
        for one in loops.every()
    ]
    return float(inside.difference(shapely.union_all(kerfs)).area)


@pytest.mark.parametrize("radius_mm", [0.05, 0.16, 0.3, 1.0, 2.37])
def test_a_circle_has_the_loops_that_its_radius_holds(radius_mm: float) -> None:
    # Loops a pitch apart while more is left than the disc on the last one takes.
    radii = [radius_mm]
    while radii[-1] > PITCH.close_mm:
        inner = radii[-1] - PITCH.wide_mm
        radii.append(inner if inner > 0 else radii[-1] - PITCH.close_mm)
    path = Contour.circle((3.0, -2.0), radius_mm=radius_mm).reversed()
    loops = nested_loops(path, pitch=PITCH)
    assert loops.count == len(radii)
    assert loops.length_mm == pytest.approx(2 * math.pi * math.fsum(radii))
    # Rings of kerf that overlap by the share, and a disc in the middle: together the whole.
    assert radii[-1] < RADIUS_MM


def test_what_loops_of_a_circle_take_anew_adds_up_to_its_area() -> None:
    path = Contour.circle((0.0, 0.0), radius_mm=2.0).reversed()
    loops = list(nested_loops(path, pitch=PITCH).every())
    inner_edge = [
        one.inner[0].contour.bounds_mm[2] + RADIUS_MM if one.inner else 0.0 for one in loops
    ]
    outer_edge = [one.contour.bounds_mm[2] + RADIUS_MM for one in loops]
    anew = [math.pi * (a**2 - b**2) for a, b in zip(outer_edge, inner_edge, strict=True)]
    assert math.fsum(anew) == pytest.approx(math.pi * (2.0 + RADIUS_MM) ** 2)
    # By width and length, as the feed counts it: what is taken is the pitch wide.
    taken = loops[0].inner[0].step_mm * (loops[0].contour.length_mm + 2 * math.pi * RADIUS_MM)
    assert anew[0] == pytest.approx(taken, rel=0.1)


def test_loops_of_a_square_are_squares_a_pitch_apart() -> None:
    side = 3.0
    loops = nested_loops(opening((0, 0), (side, 0), (side, side), (0, side)), pitch=PITCH)
    sides = [math.sqrt(abs(one.contour.area_mm2)) for one in loops.every()]
    wanted = side - 2 * PITCH.wide_mm * np.arange(len(sides))
    assert sides == pytest.approx(wanted.tolist())
    assert loops.length_mm == pytest.approx(4 * float(wanted.sum()))


NASTY = {
    "needle": [(0, 0), (8, 0), (8, 1.0)],
    "flat triangle": [(0, 0), (5, 0), (2.5, 1.2)],
    "slot": [(0, 0, 0), (3, 0, 1), (3, 2, 0), (0, 2, 1)],
    "angle": [(0, 0), (4, 0), (4, 1), (1.2, 1), (1.2, 4), (0, 4)],
    "two chambers and a neck": [
        (0, 0), (2, 0), (2, 0.8), (4, 0.8), (4, 0), (6, 0), (6, 2), (4, 2), (4, 1.2), (2, 1.2),
        (2, 2), (0, 2),
    ],
    "three chambers": [
        (0, 0), (2, 0), (2, 0.7), (4, 0.7), (4, 0), (6, 0), (6, 0.6), (8, 0.6), (8, 0), (10, 0),
        (10, 2), (8, 2), (8, 1.1), (6, 1.1), (6, 2), (4, 2), (4, 1.2), (2, 1.2), (2, 2), (0, 2),
    ],
    "star": [
        ((2 if k % 2 else 0.9) * math.cos(k * math.pi / 7),
         (2 if k % 2 else 0.9) * math.sin(k * math.pi / 7))
        for k in range(14)
    ],
    "comb": [
        (0, 0), (5, 0), (5, 3), (4.5, 3), (4.5, 1), (3.5, 1), (3.5, 3), (3.1, 3), (3.1, 1),
        (2, 1), (2, 3), (1.68, 3), (1.68, 1), (0.9, 1), (0.9, 2), (0, 2),
    ],
}  # fmt: skip


@pytest.mark.parametrize("name", NASTY)
@pytest.mark.parametrize("radius_mm", [0.07, 0.16, 0.2])
def test_nothing_is_left_in_necks_spikes_and_combs(name: str, radius_mm: float) -> None:
    path = opening(*NASTY[name])
    pitch = Pitch.of_kerf(radius_mm, overlap_share=0.25, least_share=0.05)
    loops = nested_loops(path, pitch=pitch)
    # The least overlap is kept too: a disc that much smaller leaves nothing either.
    assert left_mm2(path, loops, radius_mm=pitch.close_mm * 1.001) == pytest.approx(0, abs=1e-7)


def test_wide_loops_alone_would_leave_something_in_a_spike() -> None:
    # The check of the check: with every loop at the wide pitch the same shape keeps metal.
    path = opening(*NASTY["needle"])
    loops = nested_loops(path, pitch=PITCH)
    wide = [path]
    while found := offset_contour(wide[-1], distance_mm=-PITCH.wide_mm).loops:
        wide.append(found[0].contour)
    kept = NestedLoop(contour=wide[0], step_mm=0.0, inner=())
    for one in wide[1:]:
        kept = NestedLoop(contour=one, step_mm=PITCH.wide_mm, inner=(kept,))
    assert left_mm2(path, kept, radius_mm=RADIUS_MM) > 1e-3
    assert left_mm2(path, loops, radius_mm=RADIUS_MM) < 1e-7
    assert loops.count > len(wide)


def test_a_shape_that_splits_has_loops_in_each_of_its_chambers() -> None:
    loops = nested_loops(opening(*NASTY["two chambers and a neck"]), pitch=PITCH)
    branches = [one for one in loops.every() if len(one.inner) > 1]
    assert len(branches) == 1
    left, right = sorted(one.contour.bounds_mm[0] for one in branches[0].inner)
    assert left < 2 < 4 < right + 0.5


def test_moved_loops_lie_where_the_moved_shape_has_them() -> None:
    path = opening(*NASTY["angle"])
    by = (11.0, -7.0)
    there = nested_loops(path.transformed(shift_mm=by), pitch=PITCH)
    moved = nested_loops(path, pitch=PITCH).moved(by)
    assert there.count == moved.count
    for one, other in zip(there.every(), moved.every(), strict=True):
        assert np.abs(one.contour.vertices - other.contour.vertices).max() < 1e-9


@pytest.mark.parametrize(
    ("overlap_share", "least_share"), [(0.5, 0.05), (0.25, 0.6), (0.25, 0.0), (-0.1, 0.05)]
)
def test_a_pitch_that_cannot_keep_its_promise_is_refused(
    overlap_share: float, least_share: float
) -> None:
    with pytest.raises(InputError) as caught:
        Pitch.of_kerf(0.2, overlap_share=overlap_share, least_share=least_share)
    assert caught.value.code == "pitch-value"


def test_a_path_with_its_inside_on_the_left_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        nested_loops(Contour.circle((0.0, 0.0), radius_mm=1.0), pitch=PITCH)
    assert caught.value.code == "loop-sense"
