"""What the reader makes of a program: where the wire centre goes, line by line.

This record belongs to the reading side only; the writer does not know it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.int8]
Integers = NDArray[np.int64]


class WordEvent(StrEnum):
    """A word that is not a move."""

    THREAD = "thread"
    CUT_WIRE = "cut-wire"
    STOP = "stop"
    OPTIONAL_STOP = "optional-stop"
    CONDITION = "condition"
    END = "end"


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """A word event between two moves.

    Attributes
    ----------
    kind : WordEvent
    line : int
        Line of the text, from 1.
    before_move : int
        Index of the move that follows; equals the number of moves at the end.
    number : int or None
        Condition number.
    """

    kind: WordEvent
    line: int
    before_move: int
    number: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CutHeader:
    """A comment ``(CUT <contour id> PASS <n> OFFSET <mm>)``.

    Attributes
    ----------
    contour_id : str
    pass_number : int
    offset_mm : float
    line : int
    first_move, end_move : int
        Half-open range of the moves it heads.
    """

    contour_id: str
    pass_number: int
    offset_mm: float
    line: int
    first_move: int
    end_move: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lean:
    """How the wire leans at the ends of each move.

    Attributes
    ----------
    start_mm, end_mm : (n, 2) float
        Where it passes the second plane, counted from where it passes the first.
    program_mm, second_mm : float
        Heights of the two planes above the underside of the work.
    """

    start_mm: Floats
    end_mm: Floats
    program_mm: float
    second_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Timeline:
    """The wire centre in mm, after any controller offset was applied.

    Attributes
    ----------
    start_mm, end_mm : (n, 2) float
    centre_mm : (n, 2) float
        Arc centres; 0 for lines.
    turn : (n,) int8
        −1 clockwise, 0 line, +1 counter-clockwise.
    is_rapid : (n,) int8
        1 for G00.
    feed_mm_per_min : (n,) float
        0 for rapids.
    line : (n,) int64
        Line of the text that made the move.
    headers : tuple of CutHeader
    happenings : tuple of Happening
    offsets_mm : mapping of int to float
        The D table as set in the program.
    lean : Lean or None
        None where the program sets no planes: the wire is upright.
    """

    start_mm: Floats
    end_mm: Floats
    centre_mm: Floats
    turn: Codes
    is_rapid: Codes
    feed_mm_per_min: Floats
    line: Integers
    headers: tuple[CutHeader, ...]
    happenings: tuple[Happening, ...]
    offsets_mm: Mapping[int, float]
    lean: Lean | None = None

    def __len__(self) -> int:
        return len(self.turn)
