"""The second cut of a wall that is made in two, as a record of the plan."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.trade.walls import SplitWall


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondCut:
    """What a cut that comes second finds.

    Attributes
    ----------
    wall : SplitWall
    first_pass : int
        Pass with which it begins: the first skim where no more is left than a skim takes.
    left_um : float
        Most that the first cut leaves before the second's part of the wall.
    skims_take_um : float
        What the skims take together.
    kerf_um : float
        Width of the kerf of the pass with which it begins.
    why : str
        Order and passes, in plain words.
    """

    wall: SplitWall
    first_pass: int
    left_um: float
    skims_take_um: float
    kerf_um: float
    why: str
