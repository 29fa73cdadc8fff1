"""Canonical wire moves: true arcs in millimetres, each with its reason.

Moves are kept as arrays so that a program of 300 000 moves stays quick; iterate a
:class:`Moves` for records.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum, StrEnum

import numpy as np
from numpy.typing import NDArray

from kerfwright.foundation.errors import InputError

_NO_SWEEP_RAD = 1e-12
_NO_CHORD_MM = 1e-9
"""An arc whose ends lie nearer, by both, is a full circle: far below a program's last digit."""

Floats = NDArray[np.float64]
Codes = NDArray[np.int8]


class Turn(IntEnum):
    """Shape of a move."""

    CLOCKWISE = -1
    LINE = 0
    COUNTER_CLOCKWISE = 1


class Purpose(IntEnum):
    """Why a move is there."""

    LEAD_IN = 0
    """From the start point to the wall."""
    APPROACH = 1
    """Tangential run onto the wall."""
    WALL = 2
    """Along the wanted wall at the pass's offset."""
    CORNER = 3
    """Rolling or running past an outside corner."""
    OVERLAP = 4
    """Past the point where the pass began."""
    LEAD_OUT = 5
    """Away from the wall."""
    CUT_OFF = 6
    """Through a tab."""
    RETURN = 7
    """Through kerf that is already open."""
    INSIDE = 8
    """Along loops, and between them, that take the whole inside of an opening away."""


class CutKind(StrEnum):
    """What a cut does."""

    ROUGH = "rough"
    CUT_OFF = "cut-off"
    SKIM = "skim"


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One straight or circular move of the wire centre; lengths in mm."""

    end_mm: tuple[float, float]
    centre_mm: tuple[float, float] | None
    turn: Turn
    purpose: Purpose
    feed_mm_per_min: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moves:
    """A run of moves from one point.

    Attributes
    ----------
    start_mm : (2,) float
    end_mm : (n, 2) float
        End point of each move.
    centre_mm : (n, 2) float
        Arc centre of each move, ignored for lines.
    turn : (n,) int8
        :class:`Turn` of each move.
    purpose : (n,) int8
        :class:`Purpose` of each move.
    feed_mm_per_min : (n,) float
        Of a leaning wire half way between the two planes.
    second_start_mm : (2,) float or None
        Where a leaning wire passes the second plane at the start; None for an upright wire.
    second_end_mm : (n, 2) float or None
        The same at the end of each move.  A leaning wire makes lines only: both points run
        evenly, each along its own line.
    """

    start_mm: Floats
    end_mm: Floats
    centre_mm: Floats
    turn: Codes
    purpose: Codes
    feed_mm_per_min: Floats
    second_start_mm: Floats | None = None
    second_end_mm: Floats | None = None

    def __post_init__(self) -> None:
        self._check_second()
        n = len(self.turn)
        shapes = (self.end_mm.shape, self.centre_mm.shape, self.purpose.shape)
        if shapes != ((n, 2), (n, 2), (n,)) or self.feed_mm_per_min.shape != (n,):
            raise InputError(f"moves of unequal shapes: {shapes}", code="moves-shape")

    def _check_second(self) -> None:
        if (self.second_start_mm is None) != (self.second_end_mm is None):
            raise InputError(
                "a leaning wire has both a start and ends in the second plane", code="moves-shape"
            )
        if self.second_end_mm is None:
            return
        if self.second_end_mm.shape != self.end_mm.shape:
            raise InputError(
                f"moves of unequal shapes: {self.second_end_mm.shape} in the second plane, "
                f"{self.end_mm.shape} in the first",
                code="moves-shape",
            )
        if self.turn.any():
            raise InputError(
                "a leaning wire makes straight moves only; an arc is among them",
                code="moves-lean-arc",
            )

    @property
    def leans(self) -> bool:
        """Whether the wire may lean in these moves."""
        return self.second_end_mm is not None

    def __len__(self) -> int:
        return len(self.turn)

    def __iter__(self) -> Iterator[Move]:
        for i in range(len(self)):
            turn = Turn(int(self.turn[i]))
            yield Move(
                end_mm=(float(self.end_mm[i, 0]), float(self.end_mm[i, 1])),
                centre_mm=None
                if turn is Turn.LINE
                else (float(self.centre_mm[i, 0]), float(self.centre_mm[i, 1])),
                turn=turn,
                purpose=Purpose(int(self.purpose[i])),
                feed_mm_per_min=float(self.feed_mm_per_min[i]),
            )

    def moved(self, by_mm: tuple[float, float]) -> Moves:
        """Return the same moves at another place."""
        second_start, second_end = self.second_start_mm, self.second_end_mm
        return replace(
            self,
            start_mm=self.start_mm + by_mm,
            end_mm=self.end_mm + by_mm,
            # Of lines it is ignored, and stays as it is.
            centre_mm=np.where(
                (self.turn != Turn.LINE)[:, None], self.centre_mm + by_mm, self.centre_mm
            ),
            second_start_mm=None if second_start is None else second_start + by_mm,
            second_end_mm=None if second_end is None else second_end + by_mm,
        )

    def lengths_mm(self) -> Floats:
        """Return the length of each move, (n,) mm.

        Of a leaning wire it is that half way up; where the wire swings about its own middle, half
        of what one end goes round the other.
        """
        return lengths_of_runs_mm((self,))


def lengths_of_runs_mm(runs: Sequence[Moves]) -> Floats:
    """Return the length of each move of several runs, one after the other, (n,) mm.

    As :meth:`Moves.lengths_mm`; run by run it costs more than all together.
    """
    if not sum(map(len, runs)):
        return np.zeros(0)
    end = np.concatenate([run.end_mm for run in runs])
    begin = _begins([run.start_mm for run in runs], [run.end_mm for run in runs])
    length = lengths_mm(
        begin,
        end,
        centre_mm=np.concatenate([run.centre_mm for run in runs]),
        turn=np.concatenate([run.turn for run in runs]),
    )
    if not any(run.leans for run in runs):
        return length
    leaning = np.repeat([run.leans for run in runs], [len(run) for run in runs])
    starts = [run.second_start_mm for run in runs if run.second_start_mm is not None]
    ends = [run.second_end_mm for run in runs if run.second_end_mm is not None]
    chord = (end - begin)[leaning]
    other = np.concatenate(ends) - _begins(starts, ends)
    middle, swing = (chord + other) / 2, (other - chord) / 2
    length[leaning] = np.maximum(np.hypot(*middle.T), np.hypot(*swing.T))
    return length


def _begins(starts: Sequence[Floats], ends: Sequence[Floats]) -> Floats:
    """Return where each move of several runs begins, (n, 2) mm."""
    begin: Floats = np.concatenate(
        [
            np.vstack([start[None, :], end])[: len(end)]
            for start, end in zip(starts, ends, strict=True)
        ]
    )
    return begin


def lengths_mm(begin_mm: Floats, end_mm: Floats, *, centre_mm: Floats, turn: Codes) -> Floats:
    """Return the length of each of many moves, (n,) mm.

    Parameters
    ----------
    begin_mm, end_mm, centre_mm : (n, 2) float
    turn : (n,) int8
    """
    chord = end_mm - begin_mm
    straight = np.hypot(chord[:, 0], chord[:, 1])
    arc = np.flatnonzero(turn != Turn.LINE.value)
    if not len(arc):
        return np.asarray(straight, dtype=np.float64)
    centre = centre_mm[arc]
    a, b = begin_mm[arc] - centre, end_mm[arc] - centre
    angle = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    sweep = np.mod(angle * turn[arc], 2 * np.pi)
    # Equal ends mean a full circle.
    full = (sweep < _NO_SWEEP_RAD) & (straight[arc] < _NO_CHORD_MM)
    found: Floats = straight
    found[arc] = np.hypot(a[:, 0], a[:, 1]) * np.where(full, 2 * np.pi, sweep)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A programmed stop at which a person must act.

    Attributes
    ----------
    instruction : str
        What the attendant does, in a few plain words.
    """

    instruction: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How the heads get, with no wire threaded, to the start of a cut where clamps stand about.

    Attributes
    ----------
    via_mm : tuple of (float, float)
        Points on the way, in order; the start is not among them.
    stop_before, stop_after : Stop or None
        Attended moments before they set out and, before the wire is threaded, when they are there.
    """

    via_mm: tuple[tuple[float, float], ...] = ()
    stop_before: Stop | None = None
    stop_after: Stop | None = None


STRAIGHT = Way()
"""Straight from where the cut before ended."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cut:
    """One run of the wire along one contour with one condition.

    Attributes
    ----------
    contour_id : str
    pass_number : int
        1 for the rough pass; a cut-off carries the number of the pass whose condition it uses.
    kind : CutKind
    offset_mm : float
        Distance from the wire centre to the wanted wall.
    condition : int
        Number of the power condition, by default the pass number.
    threads : bool
        Whether the wire is threaded at ``moves.start_mm`` before the cut.  If not, the wire is
        already there from the cut before.
    cuts_wire : bool
        Whether the wire is cut after the last move.
    stop_before, stop_after : Stop or None
        Attended moments; the one before comes after threading.
    moves : Moves
        Path of the wire centre.
    nominal : Moves or None
        The same cut written on the wall itself for a controller that applies the offset;
        None where that form is not available.
    offset_on_left : bool
        In the controller-offset form, whether the wire runs left of the programmed wall.
    way : Way
        Of the heads to the start of a cut that threads.
    stops_within : tuple of (int, Stop)
        Attended moments on the way, each before the move of that number, ascending.
    """

    contour_id: str
    pass_number: int
    kind: CutKind
    offset_mm: float
    condition: int
    threads: bool
    cuts_wire: bool
    stop_before: Stop | None
    stop_after: Stop | None
    moves: Moves
    nominal: Moves | None
    offset_on_left: bool
    way: Way = STRAIGHT
    stops_within: tuple[tuple[int, Stop], ...] = ()

    @property
    def stops(self) -> tuple[Stop, ...]:
        """Attended moments of the cut and of the way to it, in order."""
        before = self.way.stop_before, self.way.stop_after, self.stop_before
        every = *before, *(stop for _, stop in self.stops_within), self.stop_after
        return tuple(one for one in every if one is not None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WirePath:
    """All cuts of a program, in order.

    Attributes
    ----------
    cuts : tuple of Cut
    planes_mm : (float, float) or None
        Heights above the underside of the work of the first and the second plane of leaning
        moves; None where the wire is upright throughout.
    """

    cuts: tuple[Cut, ...]
    planes_mm: tuple[float, float] | None = None

    def ways_mm(self) -> tuple[float, ...]:
        """Return how far the heads go to the start of each cut, mm; 0 to the first."""
        found = []
        last: Floats | None = None
        for cut in self.cuts:
            if last is None:
                found.append(0.0)
            else:
                points = np.array([last, *cut.way.via_mm, cut.moves.start_mm])
                found.append(float(np.hypot(*np.diff(points, axis=0).T).sum()))
            last = cut.moves.end_mm[-1] if len(cut.moves) else cut.moves.start_mm
        return tuple(found)
