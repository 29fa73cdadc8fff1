"""Arcs in place of curves: counts, tangents and degenerate curves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, Tolerances
from kerfwright.geometry.curves import Curve
from kerfwright.geometry.fitting import Fit, fit_arcs, merge_rows
from kerfwright.geometry.segments import Segments

BEZIER = np.array([0.0, 0, 0, 0, 1, 1, 1, 1])


def segments(fit: Fit) -> Segments:
    rows = fit.vertices
    return Segments.from_ends(rows[:-1, :2], rows[1:, :2], rows[:-1, 2])


def distance(fit: Fit, points: np.ndarray) -> float:
    pieces = segments(fit)
    nearest = np.full(len(points), np.inf)
    for i in range(len(pieces)):
        nearest = np.minimum(nearest, pieces.distances(np.full(len(points), i), points))
    return float(nearest.max())


def kinks(fit: Fit) -> np.ndarray:
    pieces = segments(fit)
    u, v = pieces.end_tangent[:-1], pieces.start_tangent[1:]
    return np.abs(np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1)))


def bezier(*points: tuple[float, float]) -> Curve:
    return Curve.from_bspline(np.array(points, dtype=float), knots=BEZIER, degree=3)


def ellipse(a: float, b: float) -> Curve:
    return Curve.from_ellipse_arc(
        (3.0, -7.0), major=(a, 0.0), minor=(0.0, b), start_rad=0.3, sweep_rad=2 * math.pi
    )


@pytest.mark.parametrize(("a", "b", "most"), [(20.0, 8.0, 66), (50.0, 1.0, 66), (5.0, 4.9, 30)])
def test_an_ellipse_becomes_few_arcs_within_the_tolerance(a: float, b: float, most: int) -> None:
    # The counts are those of our own trials (64 and 62), with room for the start angle.
    (fit,) = fit_arcs([ellipse(a, b)])
    t = np.linspace(0, 2 * math.pi, 20001)
    exact = np.column_stack([3.0 + a * np.cos(t), -7.0 + b * np.sin(t)])
    assert distance(fit, exact) <= DEFAULT_TOLERANCES.fit_mm
    assert fit.deviation_mm <= DEFAULT_TOLERANCES.fit_mm
    assert len(fit.vertices) - 1 <= most


def test_arcs_meet_with_one_tangent() -> None:
    (fit,) = fit_arcs([ellipse(20.0, 8.0)])
    assert kinks(fit).max() < 1e-9


def test_a_tenfold_tolerance_needs_less_than_half_the_arcs() -> None:
    # A biarc's error grows with the cube of its span: 10^(1/3) = 2.15.
    (fine,) = fit_arcs([ellipse(20.0, 8.0)])
    (coarse,) = fit_arcs([ellipse(20.0, 8.0)], tolerances=Tolerances(fit_mm=0.005))
    ratio = (len(fine.vertices) - 1) / (len(coarse.vertices) - 1)
    assert 1.8 < ratio < 2.6


def test_a_straight_spline_becomes_one_line() -> None:
    (fit,) = fit_arcs([bezier((0, 0), (1, 1), (2, 2), (5, 5))])
    np.testing.assert_allclose(fit.vertices, [[0, 0, 0], [5, 5, 0]], atol=1e-12)


def test_a_rational_circle_becomes_arcs_of_exactly_that_circle() -> None:
    (fit,) = fit_arcs([ellipse(12.5, 12.5)])
    pieces = segments(fit)
    np.testing.assert_allclose(pieces.radius, 12.5, atol=1e-9)
    np.testing.assert_allclose(pieces.centre, np.tile([3.0, -7.0], (len(pieces), 1)), atol=1e-9)
    assert abs(pieces.sweep.sum() - 2 * math.pi) < 1e-9
    assert len(pieces) <= 4


def test_a_spline_of_degree_one_keeps_its_corners() -> None:
    curve = Curve.from_bspline(
        np.array([[0.0, 0], [10, 0], [10, 5], [0, 5]]),
        knots=np.array([0.0, 0, 1, 2, 3, 3]),
        degree=1,
    )
    (fit,) = fit_arcs([curve])
    np.testing.assert_allclose(fit.vertices[:, :2], [[0, 0], [10, 0], [10, 5], [0, 5]], atol=1e-12)
    assert not fit.vertices[:, 2].any()


def test_a_knot_of_full_multiplicity_stays_a_corner() -> None:
    curve = Curve.from_bspline(
        np.array([[0.0, 0], [2, 4], [5, 4], [6, 0], [7, 4], [10, 4], [12, 0]]),
        knots=np.array([0.0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 2]),
        degree=3,
    )
    (fit,) = fit_arcs([curve])
    corner = np.flatnonzero(np.hypot(*(fit.vertices[:, :2] - [6, 0]).T) < 1e-9)
    assert len(corner) == 1
    turn = kinks(fit)
    assert turn[corner[0] - 1] > 1.0
    assert np.delete(turn, corner[0] - 1).max() < 1e-6


def test_doubled_control_points_at_the_ends_do_no_harm() -> None:
    curve = bezier((0, 0), (0, 0), (4, 3), (4, 3))
    (fit,) = fit_arcs([curve])
    assert len(fit.vertices) == 2
    np.testing.assert_allclose(fit.vertices[-1], [4, 3, 0], atol=1e-12)


def test_a_cusp_inside_a_span_is_followed_within_the_tolerance() -> None:
    curve = bezier((0, 0), (10, 10), (0, 10), (10, 0))
    (fit,) = fit_arcs([curve])
    assert fit.deviation_mm <= DEFAULT_TOLERANCES.fit_mm
    points = curve.points_at(np.linspace(0, 1, 9001))
    assert distance(fit, points) <= DEFAULT_TOLERANCES.fit_mm


def test_a_curve_of_a_few_micrometres_stays_whole() -> None:
    (fit,) = fit_arcs([bezier((0, 0), (0.001, 0.002), (0.003, 0.002), (0.004, 0))])
    np.testing.assert_allclose(fit.vertices[0, :2], [0, 0], atol=1e-15)
    np.testing.assert_allclose(fit.vertices[-1, :2], [0.004, 0], atol=1e-15)
    assert len(fit.vertices) <= 4


def test_many_curves_together_give_what_each_gives_alone() -> None:
    curves = [ellipse(20, 8), bezier((0, 0), (3, 5), (6, -5), (9, 0)), ellipse(7, 2)]
    together = fit_arcs(curves)
    for fit, curve in zip(together, curves, strict=True):
        (alone,) = fit_arcs([curve])
        assert len(fit.vertices) == len(alone.vertices)
        np.testing.assert_allclose(fit.vertices, alone.vertices, atol=1e-7)


def test_wiggles_between_the_samples_of_a_span_are_found() -> None:
    count = 400
    x = np.linspace(0, 40, count)
    y = 0.002 * np.where(np.arange(count) % 2, 1.0, -1.0)
    knots = np.concatenate([np.zeros(3), np.linspace(0, 1, count - 2), np.ones(3)])
    curve = Curve.from_bspline(np.column_stack([x, y]), knots=knots, degree=3)
    (fit,) = fit_arcs([curve])
    points = curve.points_at(np.linspace(0, 1, 20001))
    assert distance(fit, points) <= DEFAULT_TOLERANCES.fit_mm


@pytest.mark.parametrize(
    ("points", "knots", "weights", "code"),
    [
        ([[0, 0], [1, 1]], BEZIER, None, "spline-counts"),
        ([[0, 0], [1, 1], [2, 0], [3, np.nan]], BEZIER, None, "spline-not-finite"),
        ([[0, 0], [1, 1], [2, 0], [3, 1]], BEZIER[::-1], None, "spline-knots"),
        ([[0, 0], [1, 1], [2, 0], [3, 1]], BEZIER * 0, None, "spline-knots"),
        ([[0, 0], [1, 1], [2, 0], [3, 1]], BEZIER, [1, 1, -1, 1], "spline-weights"),
        ([[0, 0], [1, 1], [2, 0], [3, 1]], BEZIER, [1, 1], "spline-counts"),
    ],
)
def test_numbers_that_make_no_spline_are_refused(
    points: list[list[float]], knots: np.ndarray, weights: list[float] | None, code: str
) -> None:
    with pytest.raises(InputError) as error:
        Curve.from_bspline(
            np.array(points, dtype=float),
            knots=knots,
            degree=3,
            weights=None if weights is None else np.array(weights, dtype=float),
        )
    assert error.value.code == code


def test_neighbours_on_one_line_or_circle_become_one() -> None:
    quarter = math.tan(math.pi / 8)
    rows = np.array(
        [[0.0, 0, 0], [1, 0, 0], [2, 0, quarter], [3, 1, quarter], [2, 2, 0], [0, 2, 0]]
    )
    merged = merge_rows(rows)
    np.testing.assert_allclose(merged, [[0, 0, 0], [2, 0, 1], [2, 2, 0], [0, 2, 0]], atol=1e-12)


def test_no_curves_give_no_fits() -> None:
    assert fit_arcs([]) == ()
