"""The cut as the program says it, for looking at: every place with its line and its minute.

Path, pieces and deviations are the proof's, read back from the text of the program; only the
clock is the strip's, which also counts threading and stops.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from kerfwright.app.program_path import ProgramPath
from kerfwright.app.records import JobResult
from kerfwright.app.shown_space import ShownSpace, space_of
from kerfwright.app.strip import Strip, points_along
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import mass_text
from kerfwright.geometry.segments import Floats, Indices
from kerfwright.motion.moves import Moves, Purpose
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.deviation_map import DeviationMap
from kerfwright.proof.lean_axis import lean_of
from kerfwright.proof.picture import FreedPiece, ProofPicture, picture_of

_S_PER_MIN = 60.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShownPiece:
    """A piece that comes free.

    Attributes
    ----------
    piece : FreedPiece
    minute : float
        Of the strip.
    is_heavy : bool
        Whether it is above what hands should hold.
    caution : str
        What to mind; empty for a light piece with somebody there.
    """

    piece: FreedPiece
    minute: float
    is_heavy: bool
    caution: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShownCut:
    """What can be looked at of one cut.

    Attributes
    ----------
    path : ProgramPath
    pieces : tuple of ShownPiece
        In order of time.
    deviations : DeviationMap
        Of upright walls; along a leaning one nothing is known in one plane.
    leaning : tuple of str
        Contours whose walls lean, as far as they are among those of the deviations.
    space : ShownSpace or None
        The part and the wire in space; None where no wall leans.
    """

    path: ProgramPath
    pieces: tuple[ShownPiece, ...]
    deviations: DeviationMap
    leaning: tuple[str, ...] = ()
    space: ShownSpace | None = None


def shown_cut(result: JobResult, strip: Strip) -> ShownCut | None:
    """Lay the program of a job along its strip.

    Parameters
    ----------
    result : JobResult
    strip : Strip
        Of that job.

    Returns
    -------
    ShownCut or None
        None where no program was written.

    Raises
    ------
    InputError
        Code ``program-not-of-strip`` where program and strip do not have the same cuts.
    """
    text = result.program or result.withheld_program
    if text is None or result.claim is None:
        return None
    picture = picture_of(text, result.claim)
    end_minute, path = _along_strip(picture, strip)
    leaning = _leaning_ids(result)
    return ShownCut(
        path=path,
        pieces=tuple(
            _piece(
                one,
                minute=float(end_minute[one.move]),
                heavy_kg=result.plan.rules.heavy_slug_kg,
            )
            for one in picture.pieces
        ),
        deviations=_of_upright(picture.deviations, leaning),
        leaning=tuple(name for name in picture.deviations.contour_ids if name in leaning),
        space=space_of(result, path, picture.timeline),
    )


def _leaning_ids(result: JobResult) -> frozenset[str]:
    """Return the contours and parts of contours that the wire does not cut upright alone."""
    if result.lean is None:
        return frozenset()
    split = {name for one in result.lean.splits for name in (one.first_id, one.second_id)}
    return frozenset(result.lean.walls) | split


def _of_upright(found: DeviationMap, leaning: frozenset[str]) -> DeviationMap:
    """Return deviations without those of leaning walls.

    Compared in the plane of X and Y, a wall of 1° would be off by 105 µm over 6 mm: the proof
    judges it at its heights, normal to the wall.
    """
    if not leaning:
        return found
    deviation, is_out = found.deviation_um.copy(), found.is_out_of_reach.copy()
    for n, name in enumerate(found.contour_ids):
        if name in leaning:
            rows = slice(found.first[n], found.first[n + 1])
            deviation[rows], is_out[rows] = np.nan, False
    return replace(
        found,
        deviation_um=deviation,
        is_out_of_reach=is_out,
        worst=tuple(one for one in found.worst if one.contour_id not in leaning),
    )


def _along_strip(picture: ProofPicture, strip: Strip) -> tuple[Floats, ProgramPath]:
    """Return the minute at the end of each move of the program, and its path."""
    timeline = picture.timeline
    stretches = [s for s in strip.stretches if s.end_point > s.first_point]
    cuts = [
        rows for h in timeline.headers if len(rows := _cutting(timeline, h.first_move, h.end_move))
    ]
    if len(cuts) != len(stretches):
        raise InputError(
            f"the program has {len(cuts)} cuts, the strip {len(stretches)}",
            code="program-not-of-strip",
        )
    end_minute = np.full(len(timeline), np.nan)
    points, lines, numbers = [np.zeros((0, 3))], [_NONE], [_NONE]
    leans = [np.zeros((0, 2))]
    lean = lean_of(timeline)
    apart = lean.second_mm - lean.program_mm
    for rows, stretch in zip(cuts, stretches, strict=True):
        durations = picture.move_seconds[rows] / _S_PER_MIN
        durations = durations * (stretch.minutes / durations.sum())
        moves = _moves(timeline, rows)
        found, which = points_along(
            timeline.start_mm[rows],
            moves.end_mm,
            moves.centre_mm,
            moves.turn,
            lengths_mm=moves.lengths_mm(),
            durations_min=durations,
        )
        found = np.vstack([[0.0, *moves.start_mm], found])
        found[:, 0] += stretch.begin_min
        end_minute[rows] = stretch.begin_min + np.cumsum(durations)
        points.append(found)
        lines.append(timeline.line[rows][np.concatenate([[0], which])].astype(np.intp))
        numbers.append(np.full(len(found), stretch.cut, dtype=np.intp))
        # Along an arc the wire stands as it did: the proof refuses one on which it turns.
        leans.append(np.vstack([lean.start_mm[rows[:1]], lean.end_mm[rows[which]]]) / apart)
    path = ProgramPath(
        points=np.concatenate(points),
        line=np.concatenate(lines),
        cut=np.concatenate(numbers),
        lean=np.concatenate(leans),
    )
    return end_minute, path


_NONE = np.zeros(0, dtype=np.intp)


def _cutting(timeline: Timeline, first: int, end: int) -> Indices:
    """Return the moves of a header along which the wire cuts."""
    return first + np.flatnonzero(timeline.is_rapid[first:end] == 0)


def _moves(timeline: Timeline, rows: Indices) -> Moves:
    return Moves(
        start_mm=timeline.start_mm[rows[0]],
        end_mm=timeline.end_mm[rows],
        centre_mm=timeline.centre_mm[rows],
        turn=timeline.turn[rows],
        purpose=np.full(len(rows), Purpose.WALL, dtype=np.int8),
        feed_mm_per_min=timeline.feed_mm_per_min[rows],
    )


def _piece(piece: FreedPiece, *, minute: float, heavy_kg: float) -> ShownPiece:
    mass = piece.event.mass_kg or 0.0
    is_heavy = mass > heavy_kg
    words = []
    if not piece.event.is_attended:
        words.append("Nobody is there: a loose piece can short or jam the wire and hit a guide.")
    if is_heavy:
        words.append(
            f"Above {mass_text(heavy_kg)}: support it before this cut, and lift it with help."
        )
    if words:
        words.append("The machine's manual comes first.")
    return ShownPiece(piece=piece, minute=minute, is_heavy=is_heavy, caution=" ".join(words))
