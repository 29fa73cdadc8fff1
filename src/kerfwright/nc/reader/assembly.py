"""Join the moves that were read into one time line, offsets applied."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.errors import ProgramError
from kerfwright.nc.reader.compensation import Chain, VanishedError, compensate
from kerfwright.nc.reader.motion import Resolved
from kerfwright.nc.timeline import CutHeader, Happening, Lean, Timeline

Integers = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class RawHeader:
    """A header with its place among the programmed moves."""

    contour_id: str
    pass_number: int
    offset_mm: float
    line: int
    first_move: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetRun:
    """Programmed moves along which an offset is on; `side` is +1 for G41, −1 for G42."""

    first_move: int
    end_move: int
    offset_mm: float
    side: int

    def until(self, end_move: int) -> OffsetRun:
        """Return the run with its end."""
        return replace(self, end_move=end_move)


def assemble(
    *,
    pieces: Sequence[Resolved],
    lines: Sequence[Integers],
    runs: Sequence[OffsetRun],
    headers: Sequence[RawHeader],
    happenings: Sequence[Happening],
    offsets_mm: Mapping[int, float],
    planes_mm: tuple[float, float] | None = None,
) -> Timeline:
    """Return the time line.

    Raises
    ------
    ProgramError
        If an offset uses up a move, comes on along an arc or a line not longer than the offset,
        or goes off along an arc.
    """
    move = _join(pieces)
    line = np.concatenate(lines) if lines else np.zeros(0, dtype=np.int64)
    path = _with_offsets(move, line, runs)
    source = path.source
    leans = (move.start_lean != move.end_lean).any(axis=1)
    real = (path.turn != 0) | (path.start != path.end).any(axis=1) | leans[source]
    path_end, source = path.end[real], source[real]

    def index(programmed: int) -> int:
        return int(np.searchsorted(source, programmed, side="left"))

    first = [index(h.first_move) for h in headers]
    ends = [*first[1:], len(source)][: len(first)]
    return Timeline(
        start_mm=path.start[real],
        end_mm=path_end,
        centre_mm=path.centre[real],
        turn=path.turn[real],
        is_rapid=move.is_rapid[source],
        feed_mm_per_min=move.feed[source],
        line=line[source],
        headers=tuple(
            CutHeader(
                contour_id=h.contour_id,
                pass_number=h.pass_number,
                offset_mm=h.offset_mm,
                line=h.line,
                first_move=begin,
                end_move=end,
            )
            for h, begin, end in zip(headers, first, ends, strict=True)
        ),
        happenings=tuple(replace(h, before_move=index(h.before_move)) for h in happenings),
        offsets_mm=offsets_mm,
        lean=None
        if planes_mm is None
        else Lean(
            start_mm=move.start_lean[source],
            end_mm=move.end_lean[source],
            program_mm=planes_mm[0],
            second_mm=planes_mm[1],
        ),
    )


def _with_offsets(move: Resolved, line: Integers, runs: Sequence[OffsetRun]) -> Chain:
    """Return the path of the wire centre; moves of no length are still in it."""
    moved = (move.turn != 0) | (move.start != move.end).any(axis=1)
    parts: list[Chain] = []
    at = 0
    last: NDArray[np.float64] | None = None
    for run in runs:
        parts.append(_plain(move, np.arange(at, run.first_move), last))
        last = parts[-1].end[-1] if len(parts[-1].turn) else last
        parts.append(_offset(move, run, moved, line, last))
        last = parts[-1].end[-1] if len(parts[-1].turn) else last
        at = run.end_move
        if at < len(line) and move.turn[at] != 0:
            _refuse("offset-exit-arc", "the offset goes off along an arc", int(line[at]))
    parts.append(_plain(move, np.arange(at, len(line)), last))
    return _concatenate(parts)


def _join(pieces: Sequence[Resolved]) -> Resolved:
    if not pieces:
        none = np.zeros((0, 2))
        codes = np.zeros(0, dtype=np.int8)
        return Resolved(
            start=none,
            end=none,
            start_lean=none,
            end_lean=none,
            centre=none,
            turn=codes,
            is_rapid=codes,
            feed=np.zeros(0),
        )
    return Resolved(
        start=np.concatenate([p.start for p in pieces]),
        end=np.concatenate([p.end for p in pieces]),
        start_lean=np.concatenate([p.start_lean for p in pieces]),
        end_lean=np.concatenate([p.end_lean for p in pieces]),
        centre=np.concatenate([p.centre for p in pieces]),
        turn=np.concatenate([p.turn for p in pieces]),
        is_rapid=np.concatenate([p.is_rapid for p in pieces]),
        feed=np.concatenate([p.feed for p in pieces]),
    )


def _plain(move: Resolved, which: Integers, last: NDArray[np.float64] | None) -> Chain:
    """Return moves without offset, the first from where the wire really is."""
    start = move.start[which]
    if last is not None and len(which):
        start[0] = last
    return Chain(
        start=start,
        end=move.end[which],
        centre=move.centre[which],
        turn=move.turn[which],
        source=which,
    )


def _offset(
    move: Resolved,
    run: OffsetRun,
    moved: NDArray[np.bool_],
    line: Integers,
    last: NDArray[np.float64] | None,
) -> Chain:
    which = np.arange(run.first_move, run.end_move)
    chain = _plain(move, which[moved[which]], last)
    if not len(chain.turn):
        return chain
    at = int(line[chain.source[0]])
    if chain.turn[0] != 0:
        _refuse("offset-entry-arc", "the offset comes on along an arc, it needs a line", at)
    length = float(np.hypot(*(chain.end[0] - chain.start[0])))
    if length <= run.offset_mm:
        _refuse(
            "offset-entry-short",
            f"the offset of {run.offset_mm:.6f} mm comes on along a line of {length:.6f} mm,"
            " which must be longer",
            at,
        )
    try:
        return compensate(chain, offset_mm=run.offset_mm, side=run.side)
    except VanishedError as error:
        _refuse(
            "offset-too-large",
            f"the offset of {run.offset_mm:.6f} mm leaves nothing of this move",
            int(line[chain.source[error.element]]),
        )
        raise


def _refuse(code: str, message: str, line: int) -> None:
    raise ProgramError(message, code=code, line=line, column=1)


def _concatenate(parts: Sequence[Chain]) -> Chain:
    return Chain(
        start=np.concatenate([p.start for p in parts]),
        end=np.concatenate([p.end for p in parts]),
        centre=np.concatenate([p.centre for p in parts]),
        turn=np.concatenate([p.turn for p in parts]),
        source=np.concatenate([p.source for p in parts]),
    )
