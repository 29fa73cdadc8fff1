"""The cutting moves of a time line as segments, each with its cut, pass and kerf."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kerfwright.geometry.segments import TWO_PI, Floats, Indices, Segments
from kerfwright.nc.timeline import Timeline

NO_CUT = -1
"""Header of a cutting move that stands under none."""
_SAME_MM = 1e-9
"""Ends nearer than this are equal: a millionth of the finest programmable step."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Track:
    """The wire centre while it cuts; arcs above half a turn are two segments.

    Attributes
    ----------
    segments : Segments
    move : (n,) int
        Move of the time line.
    line : (n,) int
        Line of the text.
    header : (n,) int
        Position in the time line's headers, or :data:`NO_CUT`.
    pass_number : (n,) int
        0 under no header.
    radius_mm : (n,) float
        Kerf radius of the pass; of an unknown pass the smallest there is.
    offset_mm : (n,) float
        Offset stated by the header; nan under none.
    run : (n,) int
        Number of the unbroken run of cutting moves.
    move_seconds : (moves,) float
        Duration of every move of the time line.
    clock_s : (moves + 1,) float
        Time at the start of every move, and at the end.
    centre_error_mm : (moves,) float
        Of an arc, by how much the radii at its two ends differ; else 0.
    """

    segments: Segments
    move: Indices
    line: Indices
    header: Indices
    pass_number: Indices
    radius_mm: Floats
    offset_mm: Floats
    run: Indices
    move_seconds: Floats
    clock_s: Floats
    centre_error_mm: Floats

    def __len__(self) -> int:
        return len(self.move)

    def rows_of(self, header: int) -> Indices:
        """Return the rows that stand under a header, ascending."""
        order, begin = self._by_header
        # The rows of NO_CUT come first.
        if header + 2 >= len(begin):
            return order[:0]
        return order[begin[header + 1] : begin[header + 2]]

    @cached_property
    def _by_header(self) -> tuple[Indices, Indices]:
        """Rows sorted by header and where each header's begin: many cuts, one pass over them."""
        order = np.argsort(self.header, kind="stable")
        most = int(self.header.max(initial=NO_CUT))
        begin = np.searchsorted(self.header[order], np.arange(NO_CUT, most + 2))
        return order, begin


def move_sweeps(timeline: Timeline) -> Floats:
    """Return the signed sweep of every move, (n,) rad; 0 for lines, a full turn for equal ends."""
    first = timeline.start_mm - timeline.centre_mm
    last = timeline.end_mm - timeline.centre_mm
    angle = np.arctan2(
        first[:, 0] * last[:, 1] - first[:, 1] * last[:, 0], (first * last).sum(axis=1)
    )
    turn = timeline.turn.astype(np.float64)
    sweep = np.mod(angle * turn, TWO_PI)
    chord = np.hypot(*(timeline.end_mm - timeline.start_mm).T)
    sweep = np.where(chord < _SAME_MM, TWO_PI, sweep)
    result: Floats = sweep * turn
    return result


def build_track(
    timeline: Timeline, kerf_radius_mm: Mapping[int, float], *, idle_mm_per_min: float
) -> Track:
    """Gather the cutting moves of a time line.

    Parameters
    ----------
    timeline : Timeline
    kerf_radius_mm : mapping of int to float
        By pass.
    idle_mm_per_min : float
        Speed of rapid moves, for the clock only.
    """
    sweep = move_sweeps(timeline)
    chord = timeline.end_mm - timeline.start_mm
    straight = np.hypot(chord[:, 0], chord[:, 1])
    is_arc = timeline.turn != 0
    first = np.hypot(*(timeline.start_mm - timeline.centre_mm).T)
    last = np.hypot(*(timeline.end_mm - timeline.centre_mm).T)
    length = np.where(is_arc, (first + last) / 2 * np.abs(sweep), straight)
    speed = np.where(timeline.is_rapid != 0, idle_mm_per_min, timeline.feed_mm_per_min)
    seconds = np.where(speed > 0, length / np.where(speed > 0, speed, 1.0) * 60.0, 0.0)
    cutting = np.flatnonzero((timeline.is_rapid == 0) & (length > _SAME_MM))
    move, begin, end, bulge = _halved(timeline, cutting, sweep)
    header = np.full(len(timeline), NO_CUT, dtype=np.intp)
    number = np.zeros(len(timeline), dtype=np.intp)
    offset = np.full(len(timeline), np.nan)
    for k, cut in enumerate(timeline.headers):
        header[cut.first_move : cut.end_move] = k
        number[cut.first_move : cut.end_move] = cut.pass_number
        offset[cut.first_move : cut.end_move] = cut.offset_mm
    smallest = min(kerf_radius_mm.values())
    radius = np.array(
        [kerf_radius_mm.get(int(n), smallest) for n in range(int(number.max(initial=0)) + 1)]
    )
    jump = np.ones(len(move), dtype=bool)
    if len(move):
        jump[1:] = (np.hypot(*(begin[1:] - end[:-1]).T) > _SAME_MM) | (
            np.diff(_interruptions(timeline)[move]) > 0
        )
    return Track(
        segments=Segments.from_ends(begin, end, bulge),
        move=move,
        line=timeline.line[move].astype(np.intp),
        header=header[move],
        pass_number=number[move],
        radius_mm=radius[number[move]],
        offset_mm=offset[move],
        run=np.cumsum(jump) - 1,
        move_seconds=seconds,
        clock_s=np.concatenate([[0.0], np.cumsum(seconds)]),
        centre_error_mm=np.where(is_arc, np.abs(first - last), 0.0),
    )


def _interruptions(timeline: Timeline) -> Indices:
    """Count, before each move, the rapids up to it: a rapid breaks a run."""
    return np.cumsum(timeline.is_rapid != 0)


def _halved(
    timeline: Timeline, cutting: Indices, sweep: Floats
) -> tuple[Indices, Floats, Floats, Floats]:
    """Return move, start, end and bulge of the cutting moves, arcs above half a turn split."""
    start, end = timeline.start_mm[cutting], timeline.end_mm[cutting]
    turn = sweep[cutting]
    wide = np.abs(turn) > np.pi
    count = np.where(wide, 2, 1)
    which = np.repeat(np.arange(len(cutting)), count)
    second = np.zeros(len(which), dtype=bool)
    second[1:] = which[1:] == which[:-1]
    spoke = start - timeline.centre_mm[cutting]
    cos, sin = np.cos(turn / 2), np.sin(turn / 2)
    middle = timeline.centre_mm[cutting] + np.column_stack(
        [spoke[:, 0] * cos - spoke[:, 1] * sin, spoke[:, 0] * sin + spoke[:, 1] * cos]
    )
    begin = np.where(second[:, None], middle[which], start[which])
    finish = np.where((wide[which] & ~second)[:, None], middle[which], end[which])
    bulge = np.tan(np.where(wide, turn / 2, turn)[which] / 4)
    return cutting[which], begin, finish, bulge
