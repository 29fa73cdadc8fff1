"""Closed forms of the trailing wire against a pursuit curve integrated in the plane."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.process.corner_error import (
    arc_error_um,
    circle_error_um,
    corner_error_um,
    largest_corner_error_um,
)
from kerfwright.process.feed_advice import FeedLimit, feed_advice

LEAD = 10.0


class Path:
    """A line along x, an arc to the left, and a line; lengths in lags."""

    def __init__(self, *, radius: float, turn: float) -> None:
        self.radius, self.turn = radius, turn
        self.arc = radius * turn

    def point(self, s: np.ndarray) -> np.ndarray:
        s = np.asarray(s, dtype=float)
        on = np.clip(s - LEAD, 0.0, self.arc)
        angle = on / self.radius if self.radius else np.where(s > LEAD, self.turn, 0.0)
        x = np.minimum(s, LEAD) + self.radius * np.sin(angle)
        y = self.radius * (1 - np.cos(angle))
        over = np.maximum(s - LEAD - self.arc, 0.0)
        return np.array([x + over * math.cos(self.turn), y + over * math.sin(self.turn)])

    def distance(self, points: np.ndarray) -> np.ndarray:
        """From the path, by dense samples about the corner."""
        step = 2e-3
        places = self.point(np.arange(LEAD - 4, LEAD + self.arc + 12, step))
        gaps = np.array([np.hypot(*(places - p[:, None])).min() for p in points.T])
        return np.sqrt(np.maximum(0.0, gaps**2 - step**2))


def trail(path: Path, *, lag: float = 1.0, run: float = 12.0) -> tuple[np.ndarray, np.ndarray]:
    """Integrate the wire that follows at a constant distance: it moves only towards the guides."""

    def pull(s, place):
        small = 1e-6
        guide = path.point(s)
        travel = (path.point(s + small) - guide) / small
        wire = (guide - place) / np.hypot(*(guide - place))
        return wire * (wire @ travel)

    s, places = [0.0], [np.array([-lag, 0.0])]
    stops = [LEAD, LEAD + path.arc, LEAD + path.arc + run]
    for stop in stops:
        if stop <= s[-1]:
            continue
        # Begin a hair beyond the corner, so that the travel is that of the next element.
        at = s[-1] + 1e-9 + (stop - s[-1] - 1e-9) * np.linspace(0, 1, 241) ** 2
        at[-1] = stop
        found = solve_ivp(pull, (at[0], at[-1]), places[-1], t_eval=at, rtol=1e-9, atol=1e-11)
        s.extend(found.t)
        places.extend(found.y.T)
    return np.array(s), np.array(places).T


@pytest.mark.parametrize("turn_deg", [10, 45, 90, 120, 160])
def test_a_sharp_corner_leaves_a_tractrix(turn_deg):
    turn = math.radians(turn_deg)
    path = Path(radius=0.0, turn=turn)
    s, places = trail(path)
    after = s > LEAD
    corner = path.point(np.array(LEAD))
    normal = np.array([-math.sin(turn), math.cos(turn)])
    lateral = np.abs(normal @ (places[:, after] - corner[:, None]))
    exact = corner_error_um(turn, lag_um=1.0, run_um=s[after] - LEAD)
    assert lateral == pytest.approx(exact, abs=1e-5)
    largest = float(largest_corner_error_um(turn, lag_um=1.0))
    assert lateral.max() == pytest.approx(largest, abs=2e-3)
    # Square to the nearer wall the wire is off by less: the figure is on the safe side.
    assert path.distance(places[:, s > LEAD - 2]).max() < largest
    # Gone after about four lags, counted from where the wire stands square to the wall.
    assert corner_error_um(min(turn, math.pi / 2), lag_um=1.0, run_um=4.0) < 0.04


@pytest.mark.parametrize("radius", [1.5, 2.0, 5.0, 50.0])
def test_on_a_circle_the_wire_settles_inside(radius):
    path = Path(radius=radius, turn=1.9 * math.pi)
    s, places = trail(path)
    settled = (s > LEAD + 0.8 * path.arc) & (s < LEAD + path.arc)
    inside = radius - np.hypot(*(places[:, settled] - np.array([[LEAD], [radius]])))
    assert inside == pytest.approx(float(circle_error_um(radius, lag_um=1.0)), rel=2e-2)


@pytest.mark.parametrize("turn_deg", [5, 30, 90, 150])
@pytest.mark.parametrize("radius", [0.2, 0.9, 1.1, 3.0, 20.0])
def test_a_rounded_corner_errs_by_no_more_than_its_bound(radius, turn_deg):
    path = Path(radius=radius, turn=math.radians(turn_deg))
    s, places = trail(path)
    places = places[:, s > LEAD - 2]
    bound = float(arc_error_um(radius, sweep_rad=path.turn, lag_um=1.0))
    assert path.distance(places).max() <= bound + 2e-4


@pytest.mark.parametrize("turn_deg", [20, 60, 90, 140])
@pytest.mark.parametrize("lag_um", [15.0, 40.0, 60.0])
def test_a_wire_that_follows_the_advice_stays_within_the_allowance(turn_deg, lag_um):
    """Integrate with a lag that changes along the path as the advised feeds change it."""
    turn, allowed = math.radians(turn_deg), 12.5
    limit = FeedLimit(
        pass_number=1,
        lag_um=lag_um,
        allowed_um=allowed,
        feed_exponent=1.0,
        rules=load_wire_physics().feeds,
    )
    advice = feed_advice(
        length_mm=np.array([10.0, 10.0]),
        turn_rad=np.array([turn, 0.0]),
        radius_mm=np.zeros(2),
        sweep_rad=np.zeros(2),
        limit=limit,
    )
    factor, after = advice.corner_factor[0], advice.after_mm[0] * 1000
    assert after < 1e4
    # Before the corner the wire lies on the wall; there the lag has come down to delta f.
    step = 0.02
    guide = 0.0
    slow, worst = lag_um * factor, 0.0
    angle, lag = turn, slow
    while guide < after + 6 * lag_um:
        guide += step
        # From the end of the zone the lag grows, as fast as the guides move at most.
        lag = slow if guide <= after else min(lag_um, lag + step)
        angle -= math.sin(angle) / lag * step
        worst = max(worst, lag * math.sin(angle))
    if advice.corner_factor[0] > limit.rules.least_factor:
        assert worst <= allowed * 1.001
    if factor == 1:
        assert lag_um * math.sin(min(turn, math.pi / 2)) <= allowed
