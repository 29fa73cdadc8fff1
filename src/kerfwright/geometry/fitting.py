"""Arcs in place of free curves: splines and ellipses within a stated distance, G1 where they are.

A curve is a chain of rational polynomials, which splines and ellipse arcs both are exactly.
It is cut at its kinks; each smooth run is walked greedily, each step taking the longest span
that one biarc (two arcs that meet with a common tangent) follows within the tolerance.  The
joint of a biarc may lie anywhere on a circle through the span's ends; taking the point where
the curve itself crosses that circle needs an eighth fewer arcs than equal tangent lengths.  All
runs of a drawing advance in lock step, so that many short splines cost one pass of array
arithmetic per step and not one each.

References
----------
Bolton, K. M. (1975). Biarc curves. Computer-Aided Design 7(2), 89-92 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES, TINY, Tolerances
from kerfwright.geometry.curves import Curve, Runs, angle_between, cut_at_kinks
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments

_LEAST_ERROR_SHARE = 1e-6
"""Smallest error, as a share of the aim, to predict from: a straight run has 0."""

_AIM = 0.98
"""Share of the tolerance aimed at: 32 samples see the peak of an error to about 1 %."""
_SAMPLES = 32
_CHECK_SAMPLES = 128
_LEAST_CHORD = 0.66
"""Chord over length of the longest span tried: about half a turn of a circle."""
_LEAST_STEP = 1e-9
"""Share of a run below which a span is taken as it is; its deviation is reported."""
_TRIALS = 14
_STRAIGHT_RAD = 1e-6
"""Half turns below this have no usable circle of joints; the chord stands in for it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Arcs in place of a curve.

    Attributes
    ----------
    vertices : (n, 3) float
        Open chain of x, y, bulge in mm; the last bulge is 0.
    deviation_mm : float
        Largest distance found between curve and arcs.
    """

    vertices: Floats
    deviation_mm: float


@dataclass(slots=True, kw_only=True, eq=False)
class _Biarcs:
    """One biarc for each span: rows of span ends, run, joint parameter, points, bulges."""

    low: Floats
    high: Floats
    run: Indices
    joint_at: Floats
    points: Floats
    """(n, 3, 2): start, joint, end, mm."""
    bulges: Floats
    """(n, 2)."""
    error_mm: Floats

    def keep(self, which: Flags | Indices) -> _Biarcs:
        return _Biarcs(**{name: getattr(self, name)[which] for name in self.__slots__})

    @classmethod
    def joined(cls, parts: Sequence[_Biarcs]) -> _Biarcs:
        return cls(
            **{name: np.concatenate([getattr(p, name) for p in parts]) for name in cls.__slots__}
        )


def _biarcs(runs: Runs, low: Floats, high: Floats, run: Indices, *, samples: int) -> _Biarcs:
    """Fit a biarc with its joint on the curve to each span and measure its distance."""
    count = len(low)
    start, ahead = runs.frames_at(low, run)
    end, behind = runs.frames_at(high, run)
    share = (np.arange(samples) + 0.5) / samples
    at = low[:, None] + (high - low)[:, None] * share
    curve = runs.points_at(at.ravel(), np.repeat(run, samples)).reshape(count, samples, 2)
    half_turn = angle_between(ahead, behind) / 2

    def off(joint: Floats) -> Floats:
        wide = joint.ndim == 3
        p, q, turn = (
            (start[:, None], end[:, None], half_turn[:, None]) if wide else (start, end, half_turn)
        )
        return angle_between(joint - p, q - joint) - turn

    joint_at = _joints(runs, run, at, off(curve), off)
    joint = _on_joint_circle(runs.points_at(joint_at, run), start, end, half_turn)
    bulges = np.stack(
        [
            np.tan(angle_between(ahead, joint - start) / 2),
            -np.tan(angle_between(-behind, joint - end) / 2),
        ],
        axis=1,
    )
    whole = np.concatenate([start[:, None], curve, end[:, None]], axis=1)
    length = np.hypot(*np.moveaxis(np.diff(whole, axis=1), 2, 0)).sum(axis=1)
    chord = np.hypot(*(end - start).T)
    usable = (chord >= _LEAST_CHORD * length) & (np.abs(bulges) < 1.5).all(axis=1)
    arcs = Segments.from_ends(
        np.stack([start, joint], axis=1).reshape(-1, 2),
        np.stack([joint, end], axis=1).reshape(-1, 2),
        np.where(usable[:, None], bulges, 0.0).ravel(),
    )
    which = 2 * np.arange(count)[:, None] + (at > joint_at[:, None])
    error = arcs.distances(which.ravel(), curve.reshape(-1, 2)).reshape(count, samples).max(axis=1)
    return _Biarcs(
        low=low,
        high=high,
        run=run,
        joint_at=joint_at,
        points=np.stack([start, joint, end], axis=1),
        bulges=np.where(usable[:, None], bulges, 0.0),
        error_mm=np.where(usable, error, np.inf),
    )


def _on_joint_circle(joint: Floats, start: Floats, end: Floats, half_turn: Floats) -> Floats:
    """Move joints radially onto the circle on which two arcs meet with one tangent."""
    chord = end - start
    straight = np.abs(half_turn) < _STRAIGHT_RAD
    safe = np.where(straight, 1.0, half_turn)
    # The arc of joints from start to end sweeps twice the half turn.
    normal = np.stack([-chord[:, 1], chord[:, 0]], axis=1)
    centre = (start + end) / 2 + normal / (2 * np.tan(safe))[:, None]
    radius = np.hypot(*chord.T) / (2 * np.abs(np.sin(safe)))
    spoke = joint - centre
    length = np.maximum(np.hypot(*spoke.T), TINY)
    on_circle = joint + spoke * ((radius - length) / length)[:, None]
    squared = np.maximum((chord * chord).sum(axis=1), TINY)
    on_line = start + chord * (((joint - start) * chord).sum(axis=1) / squared)[:, None]
    return np.asarray(np.where(straight[:, None], on_line, on_circle), dtype=np.float64)


def _joints(
    runs: Runs, run: Indices, at: Floats, value: Floats, off: Callable[[Floats], Floats]
) -> Floats:
    """Return where the curve crosses the circle of joints: bracket, then regula falsi."""
    change = value[:, :-1] * value[:, 1:] <= 0
    row = np.arange(len(at))
    # A true arc has no single crossing: every point of it is a joint, the middle serves.
    column = np.where(change.any(axis=1), change.argmax(axis=1), at.shape[1] // 2 - 1)
    low, high = at[row, column], at[row, column + 1]
    at_low, at_high = value[row, column], value[row, column + 1]
    guess = (low + high) / 2
    for _ in range(3):
        step = at_high - at_low
        flat = np.abs(step) < TINY
        guess = np.where(flat, guess, low - at_low * (high - low) / np.where(flat, 1.0, step))
        guess = np.clip(guess, low, high)
        here = off(runs.points_at(guess, run))
        same = here * at_low > 0
        # Illinois: the end that stays loses half its weight, or one side would creep.
        at_high = np.where(same, at_high / 2, here)
        high = np.where(same, high, guess)
        at_low = np.where(same, here, at_low / 2)
        low = np.where(same, guess, low)
    return np.asarray(guess, dtype=np.float64)


def _walk(runs: Runs, tolerance_mm: float) -> _Biarcs:
    """Cover every run by the longest biarcs, all runs in lock step."""
    count = len(runs.first)
    run = np.arange(count)
    aim = _AIM * tolerance_mm
    place = np.asarray(2.0 * run, dtype=np.float64)
    step = np.full(count, 0.125)
    good, bad = np.zeros(count), np.full(count, np.inf)
    tries = np.zeros(count, dtype=np.intp)
    done: list[_Biarcs] = []
    best: _Biarcs | None = None
    while len(run):
        left = 2.0 * run + 1.0 - place
        step = np.minimum(step, left)
        trial = _biarcs(
            runs,
            place,
            np.where(step >= left, 2.0 * run + 1.0, place + step),
            run,
            samples=_SAMPLES,
        )
        fits = trial.error_mm <= aim
        if best is None:
            best = trial
        else:
            for name in _Biarcs.__slots__:
                getattr(best, name)[fits] = getattr(trial, name)[fits]
        tries += 1
        good = np.where(fits, np.maximum(good, step), good)
        bad = np.where(fits, bad, np.minimum(bad, step))
        at_end = fits & (step >= left)
        tight = fits & (trial.error_mm > 0.85 * aim)
        narrow = (good > 0) & (bad - good < 0.02 * bad)
        spent = (tries >= _TRIALS) & (good > 0)
        tiny = ~fits & (step < _LEAST_STEP)
        commit = at_end | tight | narrow | spent | tiny
        if tiny.any():
            for name in _Biarcs.__slots__:
                getattr(best, name)[tiny] = getattr(trial, name)[tiny]
            good = np.where(tiny, step, good)
        if commit.any():
            done.append(best.keep(commit))
        place = np.where(commit, best.high, place)
        over = commit & (place >= 2.0 * run + 1.0 - _LEAST_STEP)
        step = _next_step(trial.error_mm, step, good, bad, commit, aim)
        tries = np.where(commit, 0, tries)
        good, bad = np.where(commit, 0.0, good), np.where(commit, np.inf, bad)
        stay = ~over
        run, place, step = run[stay], place[stay], step[stay]
        good, bad, tries = good[stay], bad[stay], tries[stay]
        best = best.keep(stay)
    return _Biarcs.joined(done)


def _next_step(
    error: Floats, step: Floats, good: Floats, bad: Floats, commit: Flags, aim: float
) -> Floats:
    """Predict the next step: a biarc's error grows with the cube of its span."""
    longer = step * np.minimum(
        2.5, np.cbrt(0.94 * aim / np.maximum(error, _LEAST_ERROR_SHARE * aim))
    )
    longer = np.where(np.isfinite(bad), np.minimum(longer, (step + bad) / 2), longer)
    shorter = step * np.maximum(
        0.3, np.cbrt(0.92 * aim / np.maximum(error, _LEAST_ERROR_SHARE * aim))
    )
    shorter = np.where(good > 0, np.maximum(shorter, (good + bad) / 2), shorter)
    after = np.where(error <= aim, longer, shorter)
    middle = (good + np.where(np.isfinite(bad), bad, good)) / 2
    after = np.where(np.isfinite(bad) & (after >= bad), middle, after)
    return np.asarray(np.where(commit, np.maximum(good, _LEAST_STEP), after), dtype=np.float64)


def _refine(runs: Runs, spans: _Biarcs, tolerance_mm: float) -> _Biarcs:
    """Measure every span densely and halve those that a wiggle between samples spoils."""
    done: list[_Biarcs] = []
    low, high, run = spans.low, spans.high, spans.run
    for _ in range(40):
        pieces = np.searchsorted(runs.starts, high) - np.searchsorted(runs.starts, low)
        samples = max(_CHECK_SAMPLES, 8 * int(pieces.max()))
        checked = _biarcs(runs, low, high, run, samples=samples)
        fits = (checked.error_mm <= tolerance_mm) | (high - low < _LEAST_STEP)
        done.append(checked.keep(fits))
        low, high, run = low[~fits], high[~fits], run[~fits]
        if not len(low):
            break
        middle = (low + high) / 2
        low, high = np.concatenate([low, middle]), np.concatenate([middle, high])
        run = np.concatenate([run, run])
    else:
        done.append(_biarcs(runs, low, high, run, samples=_CHECK_SAMPLES))
    joined = _Biarcs.joined(done)
    return joined.keep(np.argsort(joined.low, kind="stable"))


def fit_arcs(
    curves: Sequence[Curve], *, tolerances: Tolerances = DEFAULT_TOLERANCES
) -> tuple[Fit, ...]:
    """Replace curves by lines and arcs within ``tolerances.fit_mm``.

    Parameters
    ----------
    curves : sequence of Curve
    tolerances : Tolerances
        ``fit_mm`` bounds the distance, ``flat_sagitta_mm`` tells an arc from a line,
        ``merge_mm`` joins arcs of one circle.

    Returns
    -------
    tuple of Fit
        One open chain for each curve, in order; corners of the curve stay corners.
    """
    if not curves:
        return ()
    spans = [cut_at_kinks(curve) for curve in curves]
    owner = np.repeat(np.arange(len(curves)), [len(s) for s in spans])
    runs = Runs.from_curves(
        [curves[i] for i in owner.tolist()], [piece for s in spans for piece in s]
    )
    arcs = _refine(runs, _walk(runs, tolerances.fit_mm), tolerances.fit_mm)
    whose = owner[arcs.run]
    bounds = np.searchsorted(whose, np.arange(len(curves) + 1))
    fits = []
    for begin, end in pairwise(bounds.tolist()):
        part = arcs.keep(np.arange(begin, end))
        rows = np.empty((2 * (end - begin) + 1, 3))
        rows[0:-1:2, :2], rows[1::2, :2] = part.points[:, 0], part.points[:, 1]
        rows[-1, :2] = part.points[-1, 2]
        rows[0:-1:2, 2], rows[1::2, 2] = part.bulges[:, 0], part.bulges[:, 1]
        rows[-1, 2] = 0.0
        fits.append(
            Fit(
                vertices=merge_rows(_flattened(rows, tolerances), tolerances=tolerances),
                deviation_mm=float(part.error_mm.max()),
            )
        )
    return tuple(fits)


def _flattened(rows: Floats, tolerances: Tolerances) -> Floats:
    chord = np.hypot(*np.diff(rows[:, :2], axis=0).T)
    flat = np.abs(rows[:-1, 2]) * chord / 2 < tolerances.flat_sagitta_mm
    rows[:-1, 2][flat] = 0.0
    return rows


def merge_rows(rows: Floats, *, tolerances: Tolerances = DEFAULT_TOLERANCES) -> Floats:
    """Join neighbours that lie on one line, or on one circle up to half a turn.

    Parameters
    ----------
    rows : (n, 3) float
        Open chain of x, y, bulge, mm.
    """
    while len(rows) > 2:
        sweep = 4 * np.arctan(rows[:-1, 2])
        both = sweep[:-1] + sweep[1:]
        alike = (np.sign(rows[:-2, 2]) == np.sign(rows[1:-1, 2])) & (np.abs(both) <= 3.1416)
        joined = Segments.from_ends(rows[:-2, :2], rows[2:, :2], np.tan(both / 4))
        index = np.flatnonzero(alike)
        parts = Segments.from_ends(rows[:-1, :2], rows[1:, :2], rows[:-1, 2])
        half = np.full(len(index), 0.5)
        inside = np.zeros(len(index))
        for points in (
            rows[index + 1, :2],
            parts.points_at(index, half),
            parts.points_at(index + 1, half),
        ):
            inside = np.maximum(inside, joined.distances(index, points))
        able = index[inside <= tolerances.merge_mm]
        if not len(able):
            break
        # Every second of a row of neighbours, so that one pass joins pairs only.
        chosen = []
        previous = -2
        for i in able.tolist():
            if i > previous + 1:
                chosen.append(i)
                previous = i
        rows = rows.copy()
        rows[chosen, 2] = joined.bulge[chosen]
        rows = np.delete(rows, np.array(chosen) + 1, axis=0)
    return rows
