"""Where a person put the start hole, the lead-in or the tab of a contour."""

from __future__ import annotations

from dataclasses import dataclass, replace
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
    """Where the lead-in meets the wall."""
    TAB = "tab"
    """The middle of the tab on the wall."""


TAB_WIDTH: Final = "tab width"
"""What a person may choose besides places."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """The places that a person chose for one contour; None leaves the choice to the planner.

    Of lead-in and tab the one that is left open stands beside the other; where both are placed,
    each stays where it was put.

    Attributes
    ----------
    start_mm, lead_in_mm, tab_mm : (float, float) or None
    tab_width_mm : float or None

    Raises
    ------
    InputError
        ``tab-width`` if the tab is to be no wider than nothing.
    """

    start_mm: Spot | None = None
    lead_in_mm: Spot | None = None
    tab_mm: Spot | None = None
    tab_width_mm: float | None = None

    def __post_init__(self) -> None:
        if self.tab_width_mm is not None and not self.tab_width_mm > 0:
            raise InputError(
                f"a tab {self.tab_width_mm:g} mm wide holds nothing",
                code="tab-width",
                remedy="Give a width above 0, or leave it to the planner.",
            )

    @property
    def is_apart(self) -> bool:
        """Whether the tab may stand elsewhere than beside the lead-in."""
        return self.lead_in_mm is not None and self.tab_mm is not None

    @property
    def placed(self) -> tuple[str, ...]:
        """What a person chose, in words."""
        found: list[str] = [what.value for what in Placeable if self.at(what) is not None]
        return (*found, TAB_WIDTH) if self.tab_width_mm is not None else tuple(found)

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
        """Return the placement with one place changed; what else a person placed stays."""
        match what:
            case Placeable.START:
                return replace(self, start_mm=spot)
            case Placeable.LEAD_IN:
                return replace(self, lead_in_mm=spot)
            case Placeable.TAB:
                return replace(self, tab_mm=spot)


NOWHERE_PLACED: Final = Placement()
"""Everything is the planner's choice."""
