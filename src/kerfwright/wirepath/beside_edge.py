"""Where the moves of a cut run beside the edge of the stock."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Moves, Turn
from kerfwright.planning.beside_edge import Stretch
from kerfwright.wirepath.runs import Run, joined

_SAME_MM = 1e-6


def zones_beside(
    body: Run,
    loop: Contour,
    stretches: Sequence[Stretch],
    *,
    begin_mm: float,
    before: Run,
    forwards: bool = True,
) -> tuple[tuple[float, float], ...]:
    """Return begin and end along a cut, mm, of the stretches of its loop that it runs through.

    Parameters
    ----------
    body : Run
        Along the loop, corners run past or not.
    loop : Contour
        The loop of the pass.
    stretches : sequence of Stretch
        Of the loop.
    begin_mm : float
        Arc length of the loop at which the body begins.
    before : Run
        From the start to the body.
    forwards : bool
        Whether the body runs along the loop or against it.
    """
    if not stretches:
        return ()
    lead_mm = float(_moves(before).lengths_mm().sum()) if len(before.turn) else 0.0
    moves = _moves(body)
    length = moves.lengths_mm()
    on_loop = _loop_lengths(body, loop, length)
    path = np.concatenate([[0.0], np.cumsum(length)])
    gone = np.concatenate([[0.0], np.cumsum(on_loop)])
    total = loop.length_mm
    zones = []
    for stretch in stretches:
        # Way along the loop, in the direction of the body, from its begin to that of the stretch.
        first = stretch.begin_mm - begin_mm if forwards else begin_mm - stretch.end_mm
        first %= total
        for at in (first - total, first):
            low, high = np.clip([at, at + stretch.length_mm], 0.0, gone[-1])
            if high - low > _SAME_MM:
                a, b = np.interp([low, high], gone, path)
                zones.append((lead_mm + float(a), lead_mm + float(b)))
    return tuple(sorted(zones))


def _moves(run: Run) -> Moves:
    return joined([run], feeds={})


def _loop_lengths(body: Run, loop: Contour, length: Floats) -> Floats:
    """Return how far along the loop each piece goes: half a rolled corner for a side of its tip."""
    arcs = loop.segments.is_arc[body.source]
    past = arcs & (body.turn == Turn.LINE)
    lengths: Floats = np.where(past, loop.segments.length[body.source] / 2, length)
    return lengths
