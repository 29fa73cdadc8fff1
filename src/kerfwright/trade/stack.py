"""Sheets cut together as a stack."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerfwright.foundation.errors import InputError

MOST_SHEETS: Final = 500
"""More than this in one stack is a slip of the pen; a hundred is usual at most."""


def loads_for(quantity: int, pieces: int) -> int:
    """Return how many stacks a quantity takes.

    >>> loads_for(41, 8)
    6
    """
    return -(-quantity // pieces)


class Holding(StrEnum):
    """What keeps the sheets of a stack together."""

    CLAMPED = "clamped"
    """Between the clamps of the set-up."""
    BOLTED = "bolted"
    """Screws through holes outside the parts."""
    WELDED = "welded"
    """A bead along the edges."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Sheets laid on each other and cut at once.

    Attributes
    ----------
    pieces : int
        Sheets that become parts.
    sheet_mm : float
        Thickness of one.
    joint_mm : float
        What burr and waviness leave between two sheets.
    covers : int
        Sheets above and below that are scrap.
    holding : Holding
    is_chosen : bool
        Whether the number of pieces is that of the lowest price for the quantity, and not asked.

    Raises
    ------
    InputError
        Code ``stack-value``.

    Examples
    --------
    >>> Stack(pieces=8, sheet_mm=2.0, joint_mm=0.02, covers=2).height_mm
    20.18
    """

    pieces: int
    sheet_mm: float
    joint_mm: float
    covers: int = 0
    holding: Holding = Holding.CLAMPED
    is_chosen: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.pieces <= MOST_SHEETS or not 0 <= self.covers <= MOST_SHEETS:
            raise InputError(
                f"a stack has 1 to {MOST_SHEETS} pieces and up to {MOST_SHEETS} covers, got "
                f"{self.pieces} and {self.covers}",
                code="stack-value",
                remedy="Give the number of sheets that become parts.",
            )
        if not self.sheet_mm > 0 or not self.joint_mm >= 0:
            raise InputError(
                f"a sheet must be thicker than 0 and a joint not below, got {self.sheet_mm:g} mm "
                f"and {self.joint_mm:g} mm",
                code="stack-value",
            )

    @property
    def sheets(self) -> int:
        """All sheets, scrap included."""
        return self.pieces + self.covers

    @property
    def height_mm(self) -> float:
        """Height of the whole stack, mm."""
        # Twelve decimals drop the rounding noise of the sum, nothing else.
        return round(self.sheets * self.sheet_mm + (self.sheets - 1) * self.joint_mm, 12)

    @property
    def air_share(self) -> float:
        """Part of the height that is joints, not metal.

        >>> round(Stack(pieces=500, sheet_mm=0.05, joint_mm=0.02, covers=2).air_share, 3)
        0.285
        """
        return (self.sheets - 1) * self.joint_mm / self.height_mm

    @property
    def covers_above(self) -> int:
        """Scrap sheets on top; an odd one lies there, where the drill and the burr begin."""
        return (self.covers + 1) // 2

    def measured(self, most: int) -> tuple[int, ...]:
        """Return which pieces are measured where no more than ``most`` are, from 1 on top.

        The first, the last and others evenly between: barrel and lag of the wire go by height, so
        that a run of neighbours would tell less.

        >>> Stack(pieces=40, sheet_mm=0.8, joint_mm=0.02, covers=2).measured(5)
        (1, 11, 20, 30, 40)
        >>> Stack(pieces=3, sheet_mm=2.0, joint_mm=0.02).measured(5)
        (1, 2, 3)
        """
        count = min(self.pieces, most)
        if count == 1:
            return ((self.pieces + 1) // 2,)
        step = (self.pieces - 1) / (count - 1)
        return tuple(round(1 + k * step) for k in range(count))

    def middle_mm(self, piece: int) -> float:
        """Return the height of the middle of a piece above the underside, pieces from 1 on top."""
        below = self.sheets - self.covers_above - piece
        return below * (self.sheet_mm + self.joint_mm) + self.sheet_mm / 2
