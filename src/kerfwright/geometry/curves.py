"""Plane curves as chains of rational polynomials: splines and ellipse arcs, exactly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Self

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.segments import Floats, Indices

_BESIDE = 1e-5
"""Share of a span on either side over which a curve that stands still is asked its direction."""
_TURN_SLACK = 1e-9
"""Quarter turns by which a sweep may exceed a whole number of them: rounding of angles."""

_KINK_RAD = 1e-4
"""Tangents that turn more at a break make a corner: 1e-4 rad leaves 0.05 µm after 0.5 mm."""
_KNOT_SHARE = 1e-10
"""Knots nearer than this share of the range are one; DXF writes about 12 digits."""
_STILL_SHARE = 1e-7
"""Speed below this share of the mean: the derivative gives no direction."""
_SIZE_SAMPLES = 32
"""Chords by which the length of a run is estimated."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curve:
    """Plane curve as a chain of rational polynomials.

    Attributes
    ----------
    breaks : (k + 1,) float
        Ascending parameters between which one polynomial holds.
    coefficients : (degree + 1, k, 3) float
        Coefficients of w·x, w·y and w in falling powers of the parameter minus the break
        to its left; x and y in mm.
    """

    breaks: Floats
    coefficients: Floats

    @classmethod
    def from_bspline(
        cls,
        control_points: Floats,
        *,
        knots: Floats,
        degree: int,
        weights: Floats | None = None,
    ) -> Self:
        """Convert a B-spline over its domain, from knot `degree` to knot n.

        Parameters
        ----------
        control_points : (n, 2) float
            Control points, mm.
        knots : (n + degree + 1,) float
            Knots, not falling.
        degree : int
        weights : (n,) float, optional
            Positive weights of a rational spline.

        Raises
        ------
        InputError
            If counts do not match, knots fall, or a value is not finite or not positive.
        """
        from scipy.interpolate import BSpline

        points = np.asarray(control_points, dtype=np.float64).reshape(-1, 2)
        count = len(points)
        weight = np.ones(count) if weights is None else np.asarray(weights, dtype=np.float64)
        knots = np.array(knots, dtype=np.float64)
        _check_spline(points, knots, degree, weight)
        span = knots[count] - knots[degree]
        steps = np.diff(knots)
        knots = np.concatenate(
            [knots[:1], knots[0] + np.cumsum(np.where(steps > _KNOT_SHARE * span, steps, 0.0))]
        )
        homogeneous = np.column_stack([points * weight[:, None], weight])
        inner = np.arange(degree, count)
        inner = inner[knots[inner + 1] > knots[inner]]
        spline = BSpline(knots, homogeneous, degree)
        # Taylor coefficients at the left end of each polynomial.
        coefficients = np.stack(
            [
                spline(knots[inner], nu=order) / math.factorial(order)
                for order in range(degree, -1, -1)
            ]
        )
        return cls(breaks=np.append(knots[inner], knots[count]), coefficients=coefficients)

    @classmethod
    def from_ellipse_arc(
        cls,
        centre_mm: tuple[float, float],
        *,
        major: tuple[float, float],
        minor: tuple[float, float],
        start_rad: float,
        sweep_rad: float,
    ) -> Self:
        """Convert centre + major · cos t + minor · sin t, exactly, as rational quadratics.

        Parameters
        ----------
        centre_mm : (float, float)
        major, minor : (float, float)
            Conjugate half axes, mm; they need not be perpendicular.
        start_rad, sweep_rad : float
            First parameter and signed range of t, rad.
        """
        count = max(1, math.ceil(abs(sweep_rad) / (math.pi / 2) - _TURN_SLACK))
        step = sweep_rad / count
        angle = start_rad + step * np.arange(count)
        frame = np.array([[*major, 0.0], [*minor, 0.0], [*centre_mm, 1.0]])
        middle = math.cos(step / 2)
        first = np.stack([np.cos(angle), np.sin(angle), np.ones(count)], axis=1) @ frame
        last = np.stack([np.cos(angle + step), np.sin(angle + step), np.ones(count)], axis=1)
        last = last @ frame
        # Middle control point of a circle's arc lies at the crossing of its end tangents.
        half = angle + step / 2
        crossing = np.stack([np.cos(half), np.sin(half), np.full(count, middle)], axis=1) @ frame
        return cls(
            breaks=np.arange(count + 1, dtype=np.float64),
            coefficients=np.stack([first - 2 * crossing + last, 2 * (crossing - first), first]),
        )

    def points_at(self, parameter: Floats) -> Floats:
        """Return points of the curve, (m, 2) mm."""
        run = Runs.from_curves([self], [(0, len(self.breaks) - 1)])
        share = (np.asarray(parameter) - self.breaks[0]) / (self.breaks[-1] - self.breaks[0])
        return run.points_at(share, np.zeros(len(share), dtype=np.intp))


def _check_spline(points: Floats, knots: Floats, degree: int, weight: Floats) -> None:
    count = len(points)
    if degree < 1 or count <= degree or len(knots) != count + degree + 1 or len(weight) != count:
        raise InputError(
            f"a spline of degree {degree} with {count} control points needs "
            f"{count + degree + 1} knots and no or {count} weights, "
            f"got {len(knots)} and {len(weight)}",
            code="spline-counts",
        )
    if not (np.isfinite(points).all() and np.isfinite(knots).all() and np.isfinite(weight).all()):
        raise InputError("a spline holds a value that is not finite", code="spline-not-finite")
    if (np.diff(knots) < 0).any() or not knots[count] > knots[degree]:
        raise InputError("the knots of a spline fall or span nothing", code="spline-knots")
    if not (weight > 0).all():
        raise InputError(
            f"the weights of a spline must be above 0, the least is {weight.min():g}",
            code="spline-weights",
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Smooth runs side by side; run r has the parameters 2 r to 2 r + 1."""

    starts: Floats
    coefficients: Floats
    first: Indices
    last: Indices
    rate: Floats
    size: Floats

    @classmethod
    def from_curves(cls, curves: Sequence[Curve], spans: Sequence[tuple[int, int]]) -> Runs:
        """Take the polynomials of each span of each curve."""
        degree = max(c.coefficients.shape[0] for c in curves)
        starts, pieces, counts, rates = [], [], [], []
        for number, (curve, (low, high)) in enumerate(zip(curves, spans, strict=True)):
            breaks = curve.breaks[low : high + 1]
            rate = breaks[-1] - breaks[0]
            starts.append(2.0 * number + (breaks[:-1] - breaks[0]) / rate)
            piece = curve.coefficients[:, low:high]
            pad = np.zeros((degree - piece.shape[0], *piece.shape[1:]))
            pieces.append(np.concatenate([pad, piece]))
            counts.append(high - low)
            rates.append(rate)
        ends = np.cumsum(np.array(counts, dtype=np.intp))
        runs = cls(
            starts=np.concatenate(starts),
            coefficients=np.concatenate(pieces, axis=1),
            first=np.asarray(ends - counts, dtype=np.intp),
            last=np.asarray(ends - 1, dtype=np.intp),
            rate=np.array(rates),
            size=np.ones(len(counts)),
        )
        every = np.arange(len(counts))
        grid = np.linspace(0.0, 1.0, _SIZE_SAMPLES + 1)
        points = runs.points_at(
            (2.0 * every[:, None] + grid).ravel(), np.repeat(every, len(grid))
        ).reshape(len(counts), -1, 2)
        runs.size[:] = np.hypot(*np.moveaxis(np.diff(points, axis=1), 2, 0)).sum(axis=1)
        return runs

    def _solve(self, at: Floats, run: Indices) -> tuple[Floats, Floats]:
        index = np.searchsorted(self.starts, at, side="right") - 1
        index = np.clip(index, self.first[run], self.last[run])
        local = ((at - self.starts[index]) * self.rate[run])[:, None]
        value = self.coefficients[0][index]
        slope = np.zeros_like(value)
        for row in self.coefficients[1:]:
            slope = slope * local + value
            value = value * local + row[index]
        return value, slope

    def points_at(self, at: Floats, run: Indices) -> Floats:
        """Return points, (m, 2) mm."""
        value, _ = self._solve(at, run)
        return np.asarray(value[:, :2] / value[:, 2:], dtype=np.float64)

    def frames_at(self, at: Floats, run: Indices) -> tuple[Floats, Floats]:
        """Return points and unit tangents."""
        value, slope = self._solve(at, run)
        points = value[:, :2] / value[:, 2:]
        speed = (slope[:, :2] - points * slope[:, 2:]) / value[:, 2:] * self.rate[run][:, None]
        length = np.hypot(speed[:, 0], speed[:, 1])
        still = np.flatnonzero(length <= _STILL_SHARE * self.size[run])
        if len(still):
            # Doubled control points stop the curve there; a short chord gives its direction.
            base = 2.0 * run[still]
            low = np.maximum(at[still] - _BESIDE, base)
            high = np.minimum(at[still] + _BESIDE, base + 1.0)
            chord = self.points_at(high, run[still]) - self.points_at(low, run[still])
            speed[still] = chord
            length[still] = np.hypot(chord[:, 0], chord[:, 1])
        return points, speed / np.maximum(length, TINY)[:, None]


def angle_between(u: Floats, v: Floats) -> Floats:
    """Return the signed angle from u to v, rad."""
    return np.asarray(
        np.arctan2(
            u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0],
            u[..., 0] * v[..., 0] + u[..., 1] * v[..., 1],
        )
    )


def cut_at_kinks(curve: Curve) -> list[tuple[int, int]]:
    """Return the ranges of polynomials that join without a corner."""
    count = len(curve.breaks) - 1
    singles = Runs.from_curves([curve] * count, [(i, i + 1) for i in range(count)])
    every = np.arange(count)
    at = np.asarray(2.0 * every, dtype=np.float64)
    _, begin = singles.frames_at(at, every)
    _, end = singles.frames_at(at + 1.0, every)
    corner = np.abs(angle_between(end[:-1], begin[1:])) > _KINK_RAD
    cuts = [0, *(np.flatnonzero(corner) + 1).tolist(), count]
    return list(pairwise(cuts))
