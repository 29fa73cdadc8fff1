"""Ruled walls and the leaning wire along them, where the answer is known in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.clearance import WallSections
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.leaning import planar_error_mm, warp_depth_mm, wire_loop
from kerfwright.geometry.matching import Matching, match_contours
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.offset import offset_contour
from kerfwright.geometry.ruled import (
    RuledWall,
    crossing,
    fans,
    inside_radius,
    most_warped,
    steepest,
)
from kerfwright.geometry.tapered import CornerForm, corners_of, tapered_wall

HEIGHT = 20.0
WIRE = 0.15
CHORD = 5e-4
SQUARE = Contour.from_rows([(0, 0), (10, 0), (10, 10), (0, 10)])
ROUNDED = Contour.from_rows(
    [(1, 0), (9, 0, math.tan(math.pi / 8)), (10, 1), (10, 9, math.tan(math.pi / 8)), (9, 10),
     (1, 10, math.tan(math.pi / 8)), (0, 9), (0, 1, math.tan(math.pi / 8))]
)  # fmt: skip


def tapered(contour, rise, *, reference=0.0, **options):
    return tapered_wall(
        contour, rise=rise, reference_mm=reference, lower_mm=0.0, upper_mm=HEIGHT, **options
    )


@pytest.mark.parametrize("rise", [-0.2, -0.01, 0.01, 0.2])
@pytest.mark.parametrize("is_hole", [False, True])
def test_round_a_cone_the_wire_stands_off_by_its_radius_over_the_cosine(rise, is_hole):
    circle = Contour.circle((3.0, -2.0), radius_mm=12.0)
    wall = tapered(circle.reversed() if is_hole else circle, rise)
    loop = wire_loop(wall, distance_mm=WIRE, chord_mm=CHORD)
    out = -1.0 if is_hole else 1.0
    for z in (0.0, 7.0, HEIGHT, 2 * HEIGHT):
        radius = 12.0 + out * (rise * z + WIRE / math.cos(math.atan(rise)))
        distance = np.hypot(*(loop.at(z) - [3.0, -2.0]).T)
        assert distance == pytest.approx(radius, abs=1e-10)
    assert loop.lean_rad == pytest.approx(math.atan(abs(rise)), abs=1e-12)


def test_along_an_upright_wall_the_wire_takes_the_exact_offset_of_two_axes():
    for contour in (SQUARE, ROUNDED, SQUARE.reversed(), ROUNDED.reversed()):
        wall = RuledWall.upright(contour, lower_mm=0.0, upper_mm=HEIGHT)
        loop = wire_loop(wall, distance_mm=WIRE, chord_mm=CHORD)
        assert loop.upper == pytest.approx(loop.lower, abs=1e-12)
        flat = offset_contour(contour, distance_mm=-WIRE).loops[0].contour
        near, _ = NearestIndex(flat.segments).query(loop.lower)
        assert near.max() <= 1e-9


def test_chords_keep_to_the_limit_at_both_faces_and_at_the_guides_with_no_more_points_than_needed():
    circle = Contour.circle((0.0, 0.0), radius_mm=8.0)
    guides = (-40.0, 70.0)
    loop = wire_loop(tapered(circle, 0.1), distance_mm=WIRE, chord_mm=CHORD, heights_mm=guides)
    errors = {}
    for z in (0.0, HEIGHT, *guides):
        points = loop.at(z)
        middle = (points + np.roll(points, -1, axis=0)) / 2
        radius = np.hypot(*points.T)
        errors[z] = float((radius - np.hypot(*middle.T)).max())
    assert max(errors.values()) <= CHORD
    # One part less in each half turn, and the upper guide would miss the limit.
    parts = len(loop) // 2 - 1
    most = 8.0 + 7.0 + WIRE / math.cos(math.atan(0.1))
    assert most * (1 - math.cos(math.pi / (2 * parts))) > CHORD * 0.98


@pytest.mark.parametrize("rise", [-0.2, -0.05, 0.05, 0.2])
def test_between_plane_walls_an_inside_corner_is_one_line_met_exactly(rise):
    wall = tapered(SQUARE.reversed(), rise, corners=CornerForm.CONSTANT)
    loop = wire_loop(wall, distance_mm=WIRE, chord_mm=CHORD)
    off = WIRE / math.cos(math.atan(rise))
    assert len(loop) == 4
    for z in (0.0, 11.0, HEIGHT):
        low, high = off + rise * z, 10 - off - rise * z
        want = {(low, low), (low, high), (high, high), (high, low)}
        got = {(round(float(x), 9), round(float(y), 9)) for x, y in loop.at(z)}
        assert got == {(round(x, 9), round(y, 9)) for x, y in want}


def test_a_sharp_edge_that_leans_is_gone_round_at_the_wire_radius_in_space():
    # The wall moves into the part upwards: its corners stay sharp, their edges lean by sqrt 2.
    wall = tapered(SQUARE, -0.1)
    loop = wire_loop(wall, distance_mm=WIRE, chord_mm=CHORD)
    rolled = np.flatnonzero(loop.source == -1 - 0)
    edge_foot, edge_way = np.array([10.0, 0.0, 0.0]), np.array([-0.1, 0.1, 1.0])
    foot = np.column_stack([loop.lower, np.zeros(len(loop))])[rolled]
    way = np.column_stack([(loop.upper - loop.lower) / HEIGHT, np.ones(len(loop))])[rolled]
    assert len(rolled) > 5
    assert way == pytest.approx(np.tile(edge_way, (len(rolled), 1)), abs=1e-12)
    gap = np.linalg.norm(np.cross(foot - edge_foot, edge_way), axis=1) / np.linalg.norm(edge_way)
    assert gap == pytest.approx(WIRE, abs=1e-12)


def test_a_conical_corner_grows_and_a_constant_one_keeps_its_radius():
    grown = tapered(ROUNDED, 0.05)
    kept = tapered(ROUNDED, 0.05, corners=CornerForm.CONSTANT)
    mixed = tapered(ROUNDED, 0.05, other_corners=frozenset({1}))
    for wall, radii in ((grown, {2.0}), (kept, {1.0}), (mixed, {1.0, 2.0})):
        arcs = wall.upper.radius[wall.upper.is_arc]
        assert {round(float(r), 9) for r in arcs} == radii
    # Over a right angle the corner of constant radius leans by tan a * sqrt 2.
    assert math.tan(steepest(kept).value) == pytest.approx(0.05 * math.sqrt(2), abs=1e-12)
    assert math.tan(steepest(grown).value) == pytest.approx(0.05, abs=1e-12)
    assert [c.number for c in corners_of(ROUNDED)] == [1, 2, 3, 4]


def test_the_least_inside_radius_is_told_at_each_height():
    wall = tapered(ROUNDED.reversed(), 0.03)
    for z, radius in ((0.0, 1.0), (10.0, 0.7), (20.0, 0.4)):
        assert inside_radius(wall, z).value == pytest.approx(radius, abs=1e-9)
    assert inside_radius(tapered(SQUARE.reversed(), -0.03), 0.0).value == 0.0
    assert inside_radius(tapered(SQUARE, 0.03), 10.0) is None


def test_a_radius_that_is_used_up_on_the_way_is_refused_with_its_place():
    with pytest.raises(InputError, match=r"radius of 1\.0000 mm") as caught:
        tapered(ROUNDED.reversed(), 0.06)
    assert caught.value.code == "taper-radius-vanishes"
    assert "X" in caught.value.where
    with pytest.raises(InputError) as caught:
        tapered(SQUARE.reversed(), 0.3)
    assert caught.value.code == "taper-closes-up"


def test_a_reference_inside_the_height_keeps_sharp_corners_sharp():
    wall = tapered(SQUARE, 0.05, reference=10.0)
    assert len(wall) == 4
    assert min(map(tuple, wall.lower.start.round(9).tolist())) == (0.5, 0.5)
    assert min(map(tuple, wall.upper.start.round(9).tolist())) == (-0.5, -0.5)


def test_two_squares_one_turned_make_a_twisted_prism_whose_sections_shrink_as_known():
    # Between squares turned by t the section half way is a square scaled by cos(t / 2).
    turn = 0.4
    turned = SQUARE.transformed(shift_mm=(-5.0, -5.0)).transformed(turn_rad=turn)
    centred = SQUARE.transformed(shift_mm=(-5.0, -5.0))
    done = match_contours(centred, turned, lower_mm=0.0, upper_mm=HEIGHT)
    assert (done.how, len(done.wall)) == (Matching.CORNERS, 4)
    middle = done.wall.section(HEIGHT / 2, chord_mm=1e-4)
    assert np.hypot(*middle.T).max() == pytest.approx(
        math.hypot(5, 5) * math.cos(turn / 2), abs=1e-9
    )
    # A warped wall: tan of the normal's tilt at both ends, each against the other.
    assert most_warped(done.wall).value > math.radians(5)
    assert crossing(done.wall) is None


def test_half_a_turn_between_two_squares_crosses_and_the_place_is_told():
    done = match_contours(
        SQUARE, SQUARE, lower_mm=0.0, upper_mm=HEIGHT, how=Matching.GIVEN,
        pairs=[(0.0, 20.0), (10.0, 30.0), (20.0, 0.0), (30.0, 10.0)],
    )  # fmt: skip
    place = crossing(done.wall)
    assert place is not None
    assert (place.x_mm, place.y_mm) != (0.0, 0.0)


def test_square_to_round_is_matched_by_length_from_the_start_of_least_lean():
    circle = Contour.circle((5.0, 5.0), radius_mm=5.0)
    done = match_contours(SQUARE, circle, lower_mm=0.0, upper_mm=HEIGHT)
    assert done.how is Matching.LENGTH
    assert "0 above" in done.reason
    # The corner of the square belongs to the point of the circle on its diagonal.
    best = math.hypot(5, 5) - 5
    assert math.tan(steepest(done.wall).value) * HEIGHT == pytest.approx(best, abs=0.01)
    assert crossing(done.wall) is None


def test_unequal_counts_leave_the_corners_over_to_points_between():
    eight = Contour.from_rows([(1, 0), (9, 0), (10, 1), (10, 9), (9, 10), (1, 10), (0, 9), (0, 1)])
    done = match_contours(SQUARE, eight, lower_mm=0.0, upper_mm=HEIGHT)
    assert done.how is Matching.CORNERS
    assert len(done.pairs) == 4
    assert len(done.wall) == 8
    assert crossing(done.wall) is None


@pytest.mark.parametrize(
    ("pairs", "how", "code"),
    [
        ([(0.0, 0.0), (10.0, 30.0), (20.0, 20.0)], None, "match-pairs"),
        ([], Matching.GIVEN, "match-pairs"),
        ([(1.0, 0.0), (1.0, 5.0)], None, "match-pairs"),
    ],
)
def test_pairs_out_of_order_are_refused(pairs, how, code):
    with pytest.raises(InputError) as caught:
        match_contours(SQUARE, SQUARE, lower_mm=0.0, upper_mm=1.0, how=how, pairs=pairs)
    assert caught.value.code == code


def test_a_contour_without_corners_cannot_be_matched_by_corners():
    circle = Contour.circle((5.0, 5.0), radius_mm=5.0)
    with pytest.raises(InputError) as caught:
        match_contours(SQUARE, circle, lower_mm=0.0, upper_mm=1.0, how=Matching.CORNERS)
    assert caught.value.code == "match-corners"


def test_the_wire_leaves_on_a_warped_wall_what_the_turn_of_the_normal_says():
    turned = SQUARE.transformed(shift_mm=(-5.0, -5.0)).transformed(turn_rad=0.15)
    wall = match_contours(
        SQUARE.transformed(shift_mm=(-5.0, -5.0)), turned, lower_mm=0.0, upper_mm=HEIGHT
    ).wall
    loop = wire_loop(wall, distance_mm=WIRE, chord_mm=1e-5)
    near = WallSections(wall, chord_mm=1e-6).clearance(loop.lower, loop.upper, within_mm=1.0)
    too_near = WIRE - near.min()
    most = warp_depth_mm(most_warped(wall).value, distance_mm=WIRE)
    assert 0.3 * most < too_near <= 1.05 * most


def test_a_fan_is_told_with_its_swing():
    wall = tapered(SQUARE, 0.2)
    found = fans(wall, widest_rad=math.radians(10))
    assert len(found) == 4
    # Between two rulings of one cone 90 degrees apart: cos s = (1 + 0) / (1 + tan² a).
    swing = math.acos(1 / (1 + 0.04))
    assert found[0].value == pytest.approx(swing, abs=1e-9)
    assert not fans(wall, widest_rad=math.radians(30))


def test_a_slot_too_narrow_for_the_wire_is_refused():
    slot = Contour.from_rows([(0, 0), (10, 0), (10, 0.28), (0, 0.28)]).reversed()
    wall = RuledWall.upright(slot, lower_mm=0.0, upper_mm=HEIGHT)
    with pytest.raises(InputError) as caught:
        wire_loop(wall, distance_mm=WIRE, chord_mm=CHORD)
    assert caught.value.code == "wire-finds-no-way"


def test_a_neck_too_narrow_is_refused_where_it_is():
    bone = Contour.from_rows(
        [(0, 0), (4, 0), (4, 2), (8, 2), (8, 0), (12, 0), (12, 5), (8, 5), (8, 2.2), (4, 2.2),
         (4, 5), (0, 5)]
    ).reversed()  # fmt: skip
    wall = RuledWall.upright(bone, lower_mm=0.0, upper_mm=HEIGHT)
    with pytest.raises(InputError) as caught:
        wire_loop(wall, distance_mm=WIRE, chord_mm=CHORD)
    assert caught.value.code == "wire-blocked"


def test_the_offset_in_the_plane_cuts_too_deep_by_the_versine_of_the_angle():
    angle = math.radians(20)
    wall = tapered(Contour.circle((0, 0), radius_mm=8.0), math.tan(angle))
    right = wire_loop(wall, distance_mm=WIRE, chord_mm=CHORD)
    radius = float(np.hypot(*right.lower[0]))
    # Set off in the plane by the wire's own radius only, it is too near by the difference.
    in_plane = 8.0 + WIRE
    too_near = (radius - in_plane) * math.cos(angle)
    assert planar_error_mm(angle, distance_mm=WIRE) == pytest.approx(too_near, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"upper_mm": 0.0}, "ruled-heights"),
        ({"upper": ROUNDED.segments}, "ruled-counts"),
        ({"upper": Contour.from_rows([(0, 0), (9, 0), (9, 1), (0, 2), (0, 1)], is_closed=False)
          .segments}, "ruled-open"),
    ],
)  # fmt: skip
def test_chains_that_make_no_wall_are_refused(change, code):
    good = {"lower": SQUARE.segments, "upper": SQUARE.segments, "lower_mm": 0.0, "upper_mm": 1.0}
    with pytest.raises(InputError) as caught:
        RuledWall(**(good | change))
    assert caught.value.code == code


@pytest.mark.parametrize("count", [300, 2000])
def test_a_valley_drawn_in_chords_is_followed_chord_by_chord(count: int) -> None:
    """Both ends of each chord of a valley are blocked by its neighbours; its middle is free."""
    t = np.linspace(0.0, 2 * math.pi, count, endpoint=False)
    radius = 40.0 + 1.5 * np.cos(12 * t)
    chords = Contour.from_rows(list(zip(radius * np.cos(t), radius * np.sin(t), strict=True)))
    rise = math.tan(math.radians(2.0))
    loop = wire_loop(tapered(chords, -rise, reference=HEIGHT), distance_mm=0.219, chord_mm=0.004)
    path = shapely.LinearRing(loop.upper)
    middles = chords.segments.points_at(np.arange(count), np.full(count, 0.5))
    away = shapely.distance(path, shapely.points(middles))
    # Where the wall leans by 2° the wire stands off by its distance over the cosine.
    assert away == pytest.approx(0.219 / math.cos(math.radians(2.0)), abs=0.0005)
