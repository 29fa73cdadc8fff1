"""Fitted arcs against curves that ezdxf evaluates itself (ezdxf.math, MIT licence)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from ezdxf.math import BSpline, ConstructionEllipse, fit_points_to_cad_cv

from kerfwright.geometry.curves import Curve
from kerfwright.geometry.fitting import fit_arcs
from kerfwright.geometry.segments import Segments

TOLERANCE_MM = 0.0005


def random_closed(count: int, seed: int) -> list[tuple[float, float]]:
    chance = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * math.pi, count, endpoint=False)
    radius = 20 + chance.uniform(-3, 3, count)
    points = [(r * math.cos(a), r * math.sin(a)) for r, a in zip(radius, angle, strict=True)]
    return [*points, points[0]]


def blade() -> list[tuple[float, float]]:
    # Thickness of the NACA four-digit sections, 12 % (NACA Report 460, 1933; from memory).
    x = (1 - np.cos(np.linspace(0, math.pi, 60))) / 2
    y = 0.6 * (0.2969 * np.sqrt(x) - 0.126 * x - 0.3516 * x**2 + 0.2843 * x**3 - 0.1036 * x**4)
    upper = [(50 * a, 50 * b) for a, b in zip(x[::-1], y[::-1], strict=True)]
    lower = [(50 * a, -50 * b) for a, b in zip(x[1:], y[1:], strict=True)]
    return upper + lower


SPLINES = {
    "ellipse": lambda: BSpline.from_ellipse(
        ConstructionEllipse((0, 0), major_axis=(20, 0, 0), ratio=0.4)
    ),
    "flat ellipse": lambda: BSpline.from_ellipse(
        ConstructionEllipse((0, 0), major_axis=(50, 0, 0), ratio=0.02)
    ),
    "closed": lambda: fit_points_to_cad_cv(random_closed(20, 3)),
    "blade": lambda: fit_points_to_cad_cv(blade()),
    "rational": lambda: BSpline(
        [(0, 0), (5, 9), (11, -3), (17, 8), (24, 0)], order=4, weights=[1, 3, 0.4, 2, 1]
    ),
    "quintic": lambda: BSpline(
        [(0, 0), (4, 9), (9, -4), (14, 12), (18, 0), (25, 3), (30, 0)], order=6
    ),
}
MOST = {"ellipse": 68, "flat ellipse": 66, "closed": 170, "blade": 50}
"""Counts of our trials (64, 62, 158, 46) with a little room."""


def curve_of(spline: BSpline) -> Curve:
    return Curve.from_bspline(
        np.array([(p.x, p.y) for p in spline.control_points]),
        knots=np.array(spline.knots()),
        degree=spline.degree,
        weights=np.array(spline.weights()) if spline.is_rational else None,
    )


def nearest(pieces: Segments, points: np.ndarray) -> np.ndarray:
    best = np.full(len(points), np.inf)
    for i in range(len(pieces)):
        best = np.minimum(best, pieces.distances(np.full(len(points), i), points))
    return best


@pytest.mark.parametrize("name", SPLINES)
def test_arcs_stay_within_the_tolerance_of_the_spline_both_ways(name: str) -> None:
    spline = SPLINES[name]()
    (fit,) = fit_arcs([curve_of(spline)])
    rows = fit.vertices
    pieces = Segments.from_ends(rows[:-1, :2], rows[1:, :2], rows[:-1, 2])
    parameter = np.linspace(0, spline.max_t, 6001)
    exact = np.array([(p.x, p.y) for p in spline.points(parameter)])
    deviation = nearest(pieces, exact)
    assert deviation.max() <= TOLERANCE_MM
    # The greedy walk uses what it may: an unused tolerance would be unneeded arcs.
    assert deviation.max() > 0.5 * TOLERANCE_MM
    share = np.tile(np.linspace(0, 1, 8), len(pieces))
    back = pieces.points_at(np.repeat(np.arange(len(pieces)), 8), share)
    chords = Segments.from_ends(exact[:-1], exact[1:], np.zeros(len(exact) - 1))
    # Chords between samples lie up to their own sagitta inside the curve.
    sag = float((np.hypot(*np.diff(exact, axis=0).T) ** 2).max()) / 8
    assert nearest(chords, back).max() <= TOLERANCE_MM + sag
    assert len(pieces) <= MOST.get(name, 10_000)


def test_points_of_a_rational_curve_agree_to_the_last_digits() -> None:
    spline = SPLINES["rational"]()
    parameter = np.linspace(0, spline.max_t, 501)
    exact = np.array([(p.x, p.y) for p in spline.points(parameter)])
    np.testing.assert_allclose(curve_of(spline).points_at(parameter), exact, atol=1e-11)


def test_an_ellipse_arc_agrees_with_ezdxf() -> None:
    ellipse = ConstructionEllipse(
        (3, 4), major_axis=(8, 3, 0), ratio=0.35, start_param=0.7, end_param=5.9
    )
    minor = ellipse.minor_axis
    (fit,) = fit_arcs(
        [
            Curve.from_ellipse_arc(
                (3, 4), major=(8, 3), minor=(minor.x, minor.y), start_rad=0.7, sweep_rad=5.2
            )
        ]
    )
    rows = fit.vertices
    pieces = Segments.from_ends(rows[:-1, :2], rows[1:, :2], rows[:-1, 2])
    exact = np.array([(p.x, p.y) for p in ellipse.vertices(np.linspace(0.7, 5.9, 4001))])
    assert nearest(pieces, exact).max() <= TOLERANCE_MM
    np.testing.assert_allclose(rows[0, :2], exact[0], atol=1e-12)
    np.testing.assert_allclose(rows[-1, :2], exact[-1], atol=1e-12)
