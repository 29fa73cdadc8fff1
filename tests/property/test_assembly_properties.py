"""What must hold for any drawing: order, sense, place and unit of its pieces do not matter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.soak import tries

from kerfwright.geometry.assembly import assemble
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.curves import Curve
from kerfwright.geometry.fitting import fit_arcs
from kerfwright.geometry.segments import Segments

Piece = tuple[np.ndarray, bool]


def star(count: int, radii: list[float], bulges: list[float]) -> Contour:
    """Return a star-shaped contour, which cannot cross itself with bulges this small."""
    angle = np.linspace(0, 2 * math.pi, count, endpoint=False)
    radius = np.resize(radii, count)
    points = radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return Contour(np.column_stack([points, np.resize(bulges, count)]))


def loose(contour: Contour, order: list[int], flips: list[bool]) -> list[Piece]:
    s = contour.segments
    pieces = []
    for i in order:
        p, q, bulge = s.start[i], s.end[i], s.bulge[i]
        if flips[i % len(flips)]:
            p, q, bulge = q, p, -bulge
        pieces.append((np.array([[*p, bulge], [*q, 0.0]]), False))
    return pieces


shapes = st.builds(
    star,
    st.integers(3, 24),
    st.lists(st.floats(5, 60), min_size=1, max_size=7),
    st.lists(st.floats(-0.05, 0.05), min_size=1, max_size=5),
)


@settings(max_examples=tries(60), deadline=None)
@given(shape=shapes, data=st.data())
def test_any_order_and_sense_of_the_pieces_gives_the_same_loop(
    shape: Contour, data: st.DataObject
) -> None:
    order = data.draw(st.permutations(range(len(shape))))
    flips = data.draw(st.lists(st.booleans(), min_size=1, max_size=len(shape)))
    result = assemble(loose(shape, order, flips))
    assert not result.open_chains
    assert not result.repairs
    (loop,) = result.loops
    assert abs(loop.contour.area_mm2) == pytest.approx(abs(shape.area_mm2), rel=1e-9)
    assert loop.contour.length_mm == pytest.approx(shape.length_mm, rel=1e-9)


@settings(max_examples=tries(60), deadline=None)
@given(shape=shapes, data=st.data())
def test_pieces_drawn_again_change_nothing(shape: Contour, data: st.DataObject) -> None:
    order = list(range(len(shape)))
    again = data.draw(st.lists(st.sampled_from(order), max_size=len(order), unique=True))
    flips = data.draw(st.lists(st.booleans(), min_size=1, max_size=len(order)))
    result = assemble(loose(shape, order, [False]) + loose(shape, again, flips))
    (loop,) = result.loops
    assert abs(loop.contour.area_mm2) == pytest.approx(abs(shape.area_mm2), rel=1e-9)
    assert len(result.repairs) == len(again)


@settings(max_examples=tries(60), deadline=None)
@given(shape=shapes, data=st.data())
def test_small_gaps_close_within_half_their_size_of_the_drawing(
    shape: Contour, data: st.DataObject
) -> None:
    shift = st.floats(-0.0015, 0.0015)
    pieces = loose(shape, list(range(len(shape))), [False])
    moved = []
    for rows, closed in pieces:
        noise = np.array([[data.draw(shift), data.draw(shift), 0.0] for _ in rows])
        moved.append((rows + noise, closed))
    result = assemble(moved)
    (loop,) = result.loops
    assert abs(abs(loop.contour.area_mm2) - abs(shape.area_mm2)) <= 0.008 * shape.length_mm
    # Lines may meet where they cross; that moves an end by the gap at most.
    assert all(repair.shift_um <= repair.size_mm * 1000 + 1e-6 for repair in result.repairs)


@settings(max_examples=tries(40), deadline=None)
@given(
    points=st.lists(
        st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=4, max_size=9, unique=True
    ),
    turn=st.floats(0, 6.28),
)
def test_any_cubic_spline_is_fitted_within_the_tolerance(
    points: list[tuple[float, float]], turn: float
) -> None:
    count = len(points)
    knots = np.concatenate([np.zeros(3), np.linspace(0, 1, count - 2), np.ones(3)])
    cos, sin = math.cos(turn), math.sin(turn)
    control = np.array(points) @ np.array([[cos, sin], [-sin, cos]])
    curve = Curve.from_bspline(control, knots=knots, degree=3)
    (fit,) = fit_arcs([curve])
    rows = fit.vertices
    pieces = Segments.from_ends(rows[:-1, :2], rows[1:, :2], rows[:-1, 2])
    exact = curve.points_at(np.linspace(0, 1, 400))
    index = np.repeat(np.arange(len(pieces)), len(exact))
    distance = pieces.distances(index, np.tile(exact, (len(pieces), 1)))
    assert distance.reshape(len(pieces), -1).min(axis=0).max() <= 0.0005 * (1 + 1e-6)
    np.testing.assert_allclose(rows[[0, -1], :2], control[[0, -1]], atol=1e-9)
