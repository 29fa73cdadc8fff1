"""Where a person put the start hole, the lead-in or the tab of a contour."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerfwright.foundation.errors import InputError

Spot = tuple[float, float]
"""X and Y in the drawing's coordinates, mm."""


class Placeable(StrEnum):
    """What a person may put somewhere else than the planner would."""

    START = "start"
    """The centre of the start hole; outside the stock, a start from its edge."""
    LEAD_IN = "lead-in"
    """Where the lead-in meets the wall; the tab stands behind it."""
    TAB = "tab"
    """The middle of the tab on the wall; the lead-in meets the wall at its end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """The places that a person chose for one contour; None leaves the choice to the planner.

    Attributes
    ----------
    start_mm, lead_in_mm, tab_mm : (float, float) or None

    Raises
    ------
    InputError
        ``lead-in-and-tab`` if both are given: the tab stands where the lead-in is.
    """

    start_mm: Spot | None = None
    lead_in_mm: Spot | None = None
    tab_mm: Spot | None = None

    def __post_init__(self) -> None:
        if self.lead_in_mm is not None and self.tab_mm is not None:
            raise InputError(
                "lead-in and tab are both placed, but the tab stands right behind the lead-in",
                code="lead-in-and-tab",
                remedy="Place one of them; the other follows.",
            )

    @property
    def placed(self) -> tuple[Placeable, ...]:
        """What a person placed."""
        given = (
            (Placeable.START, self.start_mm),
            (Placeable.LEAD_IN, self.lead_in_mm),
            (Placeable.TAB, self.tab_mm),
        )
        return tuple(what for what, spot in given if spot is not None)

    def at(self, what: Placeable) -> Spot | None:
        """Return the place of one of them."""
        match what:
            case Placeable.START:
                return self.start_mm
            case Placeable.LEAD_IN:
                return self.lead_in_mm
            case Placeable.TAB:
                return self.tab_mm

    def moved(self, what: Placeable, spot: Spot | None) -> Placement:
        """Return the placement with one place changed; lead-in and tab take each other's place."""
        match what:
            case Placeable.START:
                return Placement(start_mm=spot, lead_in_mm=self.lead_in_mm, tab_mm=self.tab_mm)
            case Placeable.LEAD_IN:
                tab = self.tab_mm if spot is None else None
                return Placement(start_mm=self.start_mm, lead_in_mm=spot, tab_mm=tab)
            case Placeable.TAB:
                lead = self.lead_in_mm if spot is None else None
                return Placement(start_mm=self.start_mm, lead_in_mm=lead, tab_mm=spot)


NOWHERE_PLACED: Final = Placement()
"""Everything is the planner's choice."""
