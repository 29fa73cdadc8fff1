"""Relations that hold for any tapered or ruled wall and the wire along it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, reject, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.crossing import self_crossings
from kerfwright.geometry.leaning import wire_loop
from kerfwright.geometry.matching import match_contours
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.tapered import tapered_wall

SETTINGS = settings(max_examples=tries(15), deadline=None, derandomize=True)
HEIGHT = 12.0
WIRE = 0.1
CHORD = 5e-4


@st.composite
def rings(draw: st.DrawFn) -> Contour:
    """Draw a ring of lines and arcs about the origin."""
    count = draw(st.integers(3, 8))
    radii = draw(st.lists(st.floats(4.0, 8.0), min_size=count, max_size=count))
    bulges = draw(
        st.lists(st.one_of(st.just(0.0), st.floats(0.1, 0.4)), min_size=count, max_size=count)
    )
    angle = 2 * math.pi * np.arange(count) / count
    ring = Contour(np.column_stack([radii * np.cos(angle), radii * np.sin(angle), bulges]))
    assume(not self_crossings(ring))
    return ring


def _loop(contour: Contour, rise: float, reference: float = 0.0):
    try:
        wall = tapered_wall(
            contour, rise=rise, reference_mm=reference, lower_mm=0.0, upper_mm=HEIGHT
        )
        return wall, wire_loop(wall, distance_mm=WIRE, chord_mm=CHORD)
    except InputError as error:
        if error.code not in {"taper-radius-vanishes", "taper-edge-curved", "wire-blocked"}:
            raise
        reject()


@SETTINGS
@given(rings())
def test_without_taper_the_wire_takes_the_same_way_at_every_height(ring):
    _, loop = _loop(ring, 0.0)
    upright = wire_loop(
        RuledWall.upright(ring, lower_mm=0.0, upper_mm=HEIGHT), distance_mm=WIRE, chord_mm=CHORD
    )
    assert loop.lower == pytest.approx(upright.lower, abs=1e-9)
    assert loop.upper == pytest.approx(loop.lower, abs=1e-9)


@SETTINGS
@given(rings(), st.floats(0.005, 0.08))
def test_where_the_wall_moves_out_the_wire_keeps_its_distance_from_the_contour_everywhere(
    ring, rise
):
    # From a base that is the smallest section every height is an exact offset of the base.
    _, loop = _loop(ring, rise)
    index = NearestIndex(ring.segments)
    for z in (0.0, 5.0, HEIGHT):
        want = WIRE / math.cos(math.atan(rise)) + rise * z
        near, _ = index.query(loop.at(z))
        # Nothing nearer but what a wire that leans otherwise needs less of: second order.
        assert near.min() >= want - WIRE * rise**2 - 1e-4
        assert np.median(near) == pytest.approx(want, abs=1e-7)


@SETTINGS
@given(rings(), st.floats(-0.05, 0.05), st.floats(-3.0, 3.0), st.floats(-20.0, 20.0))
def test_turning_and_shifting_the_contour_turns_and_shifts_the_path(ring, rise, turn, shift):
    _, loop = _loop(ring, rise)
    _, moved = _loop(ring.transformed(turn_rad=turn, shift_mm=(shift, 1.0)), rise)
    cos, sin = math.cos(turn), math.sin(turn)
    matrix = np.array([[cos, sin], [-sin, cos]])
    assume(len(moved) == len(loop))
    assert moved.lower == pytest.approx(loop.lower @ matrix + [shift, 1.0], abs=1e-5)
    assert moved.upper == pytest.approx(loop.upper @ matrix + [shift, 1.0], abs=1e-5)


@SETTINGS
@given(rings(), st.floats(0.005, 0.05))
def test_the_piece_stood_on_its_head_is_cut_by_the_same_lines(ring, rise):
    # Rising from the bottom is falling from the top: lower and upper change places.
    _, loop = _loop(ring, rise)
    _, turned = _loop(ring, -rise, reference=HEIGHT)
    assume(len(turned) == len(loop))
    assert turned.upper == pytest.approx(loop.lower, abs=1e-7)
    assert turned.lower == pytest.approx(loop.upper, abs=1e-7)


@SETTINGS
@given(rings(), st.floats(0.7, 1.4), st.floats(-0.1, 0.1))
def test_a_contour_matched_with_its_scaled_self_pairs_corner_with_corner(ring, scale, shift):
    larger = ring.transformed(scale=scale, shift_mm=(shift, -shift))
    done = match_contours(ring, larger, lower_mm=0.0, upper_mm=HEIGHT)
    assume(done.how.value == "corners")
    assert len(done.wall) == len(ring)
    assert done.wall.upper.start == pytest.approx(
        done.wall.lower.start * scale + [shift, -shift], abs=1e-9
    )
