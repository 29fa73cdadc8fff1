"""Round moves to the last digit of a program so that every arc stays an arc.

Only the writer uses this.  All lengths here are in *digits*: whole numbers of the last decimal
place that the control reads.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.motion.moves import Moves

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Codes = NDArray[np.int8]
Indices = NDArray[np.intp]

HALF_TURN = math.pi
QUARTER_TURN = math.pi / 2

_SWEEP_SLACK_RAD = 1e-9
"""A half turn given in doubles must not be split for its last bits."""

_FLAT_DIGITS = 0.1
"""An arc that leaves its chord by less than a tenth of the last digit is written as a line: the
rounding of its ends moves it further than that."""

_GOOD_DIGITS = 0.5
"""A rounded centre is taken at once if the written arc stays within this of the true one and its
two radii agree within twice this; otherwise the neighbours are tried."""

_MISMATCH_DIGITS = 1.5
"""No written arc has radii that differ by more; with the fewest decimals that a machine definition
may ask for, 2 digits are the limit at which readers refuse an arc."""

_SPAN = np.array([(i, j) for i in range(-2, 3) for j in range(-2, 3)], dtype=np.float64)
"""Centres tried about the best one, in digits."""

_SAMPLES = (0.25, 0.5, 0.75)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoundedMoves:
    """Moves whose numbers are whole digits.

    Attributes
    ----------
    start : (2,) int
    end, centre : (m, 2) int
        End points and arc centres; 0 centres for lines and in the radius form.
    radius : (m,) int
        Arc radius in the radius form, else 0.
    turn : (m,) int8
        −1 clockwise, 0 line, +1 counter-clockwise.
    source : (m,) int
        Move that each one came from.
    """

    start: Whole
    end: Whole
    centre: Whole
    radius: Whole
    turn: Codes
    source: Indices


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pieces:
    """True moves in digits, arcs no longer than a half or a quarter turn."""

    begin: Floats
    end: Floats
    centre: Floats
    radius: Floats
    sweep: Floats
    turn: Codes
    source: Indices


def round_moves(moves: Moves, *, digits_per_mm: float, largest_sweep_rad: float) -> RoundedMoves:
    """Round `moves` to whole digits.

    Every end point is rounded by itself, so nothing drifts.  The centre of an arc is derived anew
    from its rounded ends and its true sagitta, then rounded to the digit at which the written arc
    lies nearest the true one.  Arcs above `largest_sweep_rad` are cut into equal parts; moves
    whose rounded ends coincide are dropped, their path stays within a digit of that point.

    Parameters
    ----------
    moves : Moves
    digits_per_mm : float
        Last digits in a millimetre: 10 000 for four decimals of a millimetre.
    largest_sweep_rad : float
        ``HALF_TURN`` for arcs with a centre; ``QUARTER_TURN`` for the radius form, which is
        ill conditioned near the half turn: there a digit of R moves the arc by many digits.
    """
    pieces = _split(moves, digits_per_mm=digits_per_mm, largest_sweep_rad=largest_sweep_rad)
    begin, end = np.rint(pieces.begin), np.rint(pieces.end)
    centre = np.zeros_like(end)
    radius = np.zeros(len(end))
    turn = pieces.turn.copy()
    moved = (begin != end).any(axis=1)
    turn[~moved] = 0
    sagitta = pieces.radius * (1.0 - np.cos(pieces.sweep / 2))
    turn[(turn != 0) & (sagitta < _FLAT_DIGITS)] = 0
    arcs = np.flatnonzero(turn)
    if len(arcs):
        ends = begin[arcs], end[arcs]
        if largest_sweep_rad < HALF_TURN:
            radius[arcs], deviation = _radii(*ends, sagitta[arcs])
        else:
            centre[arcs], deviation = _centres(pieces, arcs, *ends, sagitta[arcs])
        # Down at a digit or two a chord can be nearer than any arc of whole digits.
        turn[arcs[deviation > sagitta[arcs]]] = 0
    centre[turn == 0] = 0.0
    radius[turn == 0] = 0.0
    return RoundedMoves(
        start=np.rint(moves.start_mm * digits_per_mm).astype(np.int64),
        end=end[moved].astype(np.int64),
        centre=centre[moved].astype(np.int64),
        radius=radius[moved].astype(np.int64),
        turn=turn[moved],
        source=pieces.source[moved],
    )


def _split(moves: Moves, *, digits_per_mm: float, largest_sweep_rad: float) -> _Pieces:
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]]) * digits_per_mm
    end = moves.end_mm * digits_per_mm
    centre = moves.centre_mm * digits_per_mm
    is_arc = moves.turn != 0
    first, last = begin - centre, end - centre
    angle = np.arctan2(
        first[:, 0] * last[:, 1] - first[:, 1] * last[:, 0], (first * last).sum(axis=1)
    )
    sweep = np.mod(angle * moves.turn, 2 * math.pi)
    same = np.hypot(*(end - begin).T) < _SWEEP_SLACK_RAD * digits_per_mm
    sweep[same & (sweep < _SWEEP_SLACK_RAD)] = 2 * math.pi
    sweep[~is_arc] = 0.0
    count = np.maximum(1, np.ceil((sweep - _SWEEP_SLACK_RAD) / largest_sweep_rad).astype(np.intp))
    source = np.repeat(np.arange(len(count)), count)
    part = np.arange(len(source)) - np.repeat(np.cumsum(count) - count, count)
    start_angle = np.arctan2(first[:, 1], first[:, 0])
    r_first, r_last = np.hypot(*first.T), np.hypot(*last.T)

    def joint(number: NDArray[np.intp]) -> Floats:
        """Return the points after `number` parts of the arcs."""
        share = number / count[source]
        radius = r_first[source] + (r_last - r_first)[source] * share
        at = start_angle[source] + (moves.turn * sweep)[source] * share
        spoke = np.stack([np.cos(at), np.sin(at)], axis=1) * radius[:, None]
        points: Floats = centre[source] + spoke
        return points

    is_last = part == count[source] - 1
    is_first = part == 0
    return _Pieces(
        begin=np.where(is_first[:, None], begin[source], joint(part)),
        end=np.where(is_last[:, None], end[source], joint(part + 1)),
        centre=centre[source],
        radius=((r_first + r_last) / 2)[source],
        sweep=(sweep / count)[source],
        turn=moves.turn[source],
        source=source,
    )


def _ideal_radius(begin: Floats, end: Floats, sagitta: Floats) -> Floats:
    half = np.hypot(*(end - begin).T) / 2
    radius: Floats = (half * half + sagitta * sagitta) / (2 * sagitta)
    return radius


def _radii(begin: Floats, end: Floats, sagitta: Floats) -> tuple[Floats, Floats]:
    """Return whole radii through rounded ends and how far the arcs then deviate, digits."""
    half = np.hypot(*(end - begin).T) / 2
    radius = np.maximum(np.rint(_ideal_radius(begin, end, sagitta)), np.ceil(half))
    written = radius - np.sqrt(np.maximum(radius * radius - half * half, 0.0))
    return radius, np.abs(written - sagitta)


def _centres(
    pieces: _Pieces, arcs: Indices, begin: Floats, end: Floats, sagitta: Floats
) -> tuple[Floats, Floats]:
    """Return whole centres for rounded ends and how far the arcs then deviate, digits."""
    chord = end - begin
    normal = np.stack([-chord[:, 1], chord[:, 0]], axis=1) / np.hypot(*chord.T)[:, None]
    rise = (_ideal_radius(begin, end, sagitta) - sagitta) * pieces.turn[arcs]
    centre = np.rint((begin + end) / 2 + normal * rise[:, None])
    cost, deviation = _cost(pieces, arcs, begin, end, centre)
    poor = np.flatnonzero(cost > _GOOD_DIGITS)
    if len(poor):
        many = np.repeat(poor, len(_SPAN))
        tried = centre[many] + np.tile(_SPAN, (len(poor), 1))
        costs, deviations = _cost(pieces, arcs[many], begin[many], end[many], tried)
        best = costs.reshape(-1, len(_SPAN)).argmin(axis=1) + np.arange(len(poor)) * len(_SPAN)
        centre[poor], deviation[poor] = tried[best], deviations[best]
    return centre, deviation


def _cost(
    pieces: _Pieces, arcs: Indices, begin: Floats, end: Floats, centre: Floats
) -> tuple[Floats, Floats]:
    """Return a figure to minimise and the largest deviation inside each arc, digits.

    The written arc is taken as a control takes it whose two radii differ: the radius runs evenly
    from the first to the second.
    """
    first, last = begin - centre, end - centre
    r_first, r_last = np.hypot(*first.T), np.hypot(*last.T)
    angle = np.arctan2(
        first[:, 0] * last[:, 1] - first[:, 1] * last[:, 0], (first * last).sum(axis=1)
    )
    turn = pieces.turn[arcs]
    sweep = np.mod(angle * turn, 2 * math.pi) * turn
    start_angle = np.arctan2(first[:, 1], first[:, 0])
    offset = centre - pieces.centre[arcs]
    deviation = np.zeros(len(arcs))
    for share in _SAMPLES:
        at = start_angle + sweep * share
        radius = r_first + (r_last - r_first) * share
        x, y = offset[:, 0] + radius * np.cos(at), offset[:, 1] + radius * np.sin(at)
        np.maximum(deviation, np.abs(np.hypot(x, y) - pieces.radius[arcs]), out=deviation)
    # The wrong way round a tiny arc shows as a sweep far from the true one.
    deviation[np.abs(np.abs(sweep) - pieces.sweep[arcs]) > HALF_TURN] = np.inf
    mismatch = np.abs(r_first - r_last)
    is_arc = (np.minimum(r_first, r_last) > 0) & (mismatch < _MISMATCH_DIGITS)
    deviation[~is_arc] = np.inf
    return np.maximum(deviation, mismatch / 2), deviation
