"""Least distances in space of a leaning wire from points, against plain search and sampling."""

from __future__ import annotations

import numpy as np
import pytest

from kerfwright.geometry.segments import Floats
from kerfwright.proof.lean_axis import AxisMoves, distances


def searched(axis: AxisMoves, point: Floats, height_mm: float) -> float:
    """Return the least distance over all moves, by thirds from each of many places."""
    best = np.inf
    for first, last, m0, m1 in zip(
        axis.first, axis.last, axis.lean_first, axis.lean_last, strict=True
    ):

        def away(t: Floats, first=first, last=last, m0=m0, m1=m1) -> Floats:
            m = m0 + (m1 - m0) * t[:, None]
            w = point - (first + (last - first) * t[:, None] + m * height_mm)
            along = (w * m).sum(axis=1)
            return np.sqrt((w * w).sum(axis=1) - along**2 / (1 + (m * m).sum(axis=1)))

        t = np.linspace(0.0, 1.0, 2001)
        k = int(np.argmin(away(t)))
        low, high = t[max(k - 1, 0)], t[min(k + 1, len(t) - 1)]
        for _ in range(60):
            a, b = low + (high - low) / 3, high - (high - low) / 3
            low, high = (low, b) if away(np.array([a]))[0] <= away(np.array([b]))[0] else (a, high)
        best = min(best, float(away(np.array([(low + high) / 2]))[0]))
    return best


@pytest.mark.parametrize("lean", [0.02, 0.2, 0.55])
def test_moves_that_turn_the_wire_are_measured_to_a_nanometre(lean: float) -> None:
    random = np.random.default_rng(11)
    corners = np.cumsum(random.normal(scale=0.3, size=(13, 2)), axis=0)
    leans = random.uniform(-lean, lean, size=(13, 2))
    axis = AxisMoves(
        first=corners[:-1],
        last=corners[1:],
        lean_first=leans[:-1],
        lean_last=leans[1:],
        move=np.arange(12),
    )
    for height in (0.0, 3.0, 20.0):
        begin, end = axis.at(height)
        at = random.uniform(size=(12, 1))
        points = begin + (end - begin) * at + random.normal(scale=0.2, size=(12, 2))
        found = distances(axis, points, height, within_mm=50.0)
        wanted = [searched(axis, point, height) for point in points]
        assert found == pytest.approx(wanted, abs=1e-6)


def test_what_lies_further_than_wanted_is_told_as_the_limit() -> None:
    axis = AxisMoves(
        first=np.array([[0.0, 0.0]]),
        last=np.array([[10.0, 0.0]]),
        lean_first=np.array([[0.0, 0.1]]),
        lean_last=np.array([[0.0, 0.1]]),
        move=np.arange(1),
    )
    far, near = distances(axis, np.array([[5.0, 3.0], [5.0, 0.1]]), 0.0, within_mm=0.2)
    assert far == 0.2
    assert near == pytest.approx(0.1 / np.hypot(1, 0.1), abs=1e-12)
