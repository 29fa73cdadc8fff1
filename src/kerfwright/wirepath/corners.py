"""Outside corners that the wire runs past instead of rolling round."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Purpose
from kerfwright.wirepath.runs import Run

_CLEAR_MM = 1e-6


def extend_corners(run: Run, *, most_deg: float, clearance_mm: Callable[[Floats], Floats]) -> Run:
    """Return the run with each rolled corner replaced by the two tangents that meet outside.

    A corner stays rolled where it turns by more than `most_deg`, or where the detour would come
    nearer to any wall than the roll does.

    Parameters
    ----------
    run : Run
    most_deg : float
        Largest turn that is extended; the tip lies offset / cos(turn / 2) from the corner.
    clearance_mm : callable
        Distance of points (m, 2) to the nearest finished wall.
    """
    begin = np.vstack([run.start[None, :], run.end[:-1]])
    a, b = begin - run.centre, run.end - run.centre
    turn = np.abs(np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)))
    which = np.flatnonzero((run.purpose == Purpose.CORNER) & (turn <= np.radians(most_deg)))
    if not len(which):
        return run
    middle = a[which] + b[which]
    middle /= np.hypot(middle[:, 0], middle[:, 1])[:, None]
    offset = np.hypot(a[which, 0], a[which, 1])
    tip = run.centre[which] + middle * (offset / np.cos(turn[which] / 2))[:, None]
    steps = np.linspace(0.0, 1.0, 9)[None, :, None]
    there = begin[which, None, :] + (tip - begin[which])[:, None, :] * steps
    back = tip[:, None, :] + (run.end[which] - tip)[:, None, :] * steps
    points = np.concatenate([there, back], axis=1)
    nearest = clearance_mm(points.reshape(-1, 2)).reshape(len(which), -1).min(axis=1)
    keep = nearest >= offset - _CLEAR_MM
    which, tip = which[keep], tip[keep]
    turns, centre = run.turn.copy(), run.centre.copy()
    turns[which], centre[which] = 0, 0.0
    return replace(
        run,
        end=np.insert(run.end, which, tip, axis=0),
        centre=np.insert(centre, which, 0.0, axis=0),
        turn=np.insert(turns, which, 0),
        purpose=np.insert(run.purpose, which, np.int8(Purpose.CORNER)),
        source=np.insert(run.source, which, run.source[which]),
    )
