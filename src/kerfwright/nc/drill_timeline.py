"""What the reader makes of a program of small holes: where the end of the tube goes, line by line.

This record belongs to the reading side only; the writer does not know it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class DrillWord(StrEnum):
    """A word that is not a move."""

    TUBE = "tube"
    GUIDE = "guide"
    TOUCH = "touch"
    CONDITION = "condition"
    SPARK_ON = "spark-on"
    SPARK_OFF = "spark-off"
    DRESS = "dress"
    STOP = "stop"
    OPTIONAL_STOP = "optional-stop"
    END = "end"


@dataclass(frozen=True, slots=True)
class DrillMove:
    """One move from where the one before ended.

    Attributes
    ----------
    line : int
    is_rapid : bool
    x_mm, y_mm, z_mm : float
        End of the tube after it, by the count of the control.
    angles_deg : tuple of float
        One for each axis of turning, after it; none before each was said.
    feed_mm_per_min : float
        0 for a rapid.
    """

    line: int
    is_rapid: bool
    x_mm: float
    y_mm: float
    z_mm: float
    angles_deg: tuple[float, ...]
    feed_mm_per_min: float


@dataclass(frozen=True, slots=True)
class DrillEvent:
    """A word of the machine.

    Attributes
    ----------
    line : int
    word : DrillWord
    value : float
        Its number: tube, condition, or a height or gap in mm; 0 where it has none.
    """

    line: int
    word: DrillWord
    value: float


@dataclass(frozen=True, slots=True)
class HoleHeader:
    """A comment that says which hole follows."""

    line: int
    hole_id: str
    tube: int


Step = DrillMove | DrillEvent | HoleHeader
