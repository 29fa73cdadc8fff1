"""What a start hole, a lead-in or a tab is held to at a place of one contour."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from kerfwright.geometry.contour import Contour
from kerfwright.planning.holding import TabSize
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Site, Walls, find_site, hole_sizes_mm
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.trade.part import GivenStart, PartContour, Role
from kerfwright.trade.placement import Placement


class Limit(StrEnum):
    """What a place is held to."""

    WASTE = "in the waste"
    WALL = "hole and its wander to the wall"
    HOLE_SIZE = "start hole"
    CLAMP = "wire to a clamp"
    STOCK_EDGE = "hole to the edge of the stock"
    STRAIGHT_WAY = "straight way to the lead-in"
    SLUG_WHOLE = "slug in one piece until its tab is cut"
    ON_WALL = "on the wall"
    CORNER = "lead-in to the nearest corner"
    BEND = "bend at the lead-in"
    SQUARE = "wire square to the wall"
    TAB_SPAN = "tab on a smooth span"
    TAB_ON_WALL = "tab on the wall"
    TAB_CLEAR = "lead-in to the end of the tab"
    TAB_WIDTH = "tab width as is usual"
    TAB_SHARE = "tab width as is usual on so short a wall"
    TAB_HALF = "tab with its kerfs on half the wall"
    TAB_FORM = "tab beside the lead-in where the control applies the offset"
    TAB_UPRIGHT = "tab beside the lead-in of a leaning wall"
    TAB_STRENGTH = "tab strength"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One limit and how a place stands to it.

    Attributes
    ----------
    limit : Limit
    is_met : bool
    is_needed : bool
        Whether nothing can be cut where it is broken; else it is worth a warning.
    value, least : float or None
        What is there and what has to be, in mm, or as a factor for the strength of a tab.
    """

    limit: Limit
    is_met: bool
    is_needed: bool = True
    value: float | None = None
    least: float | None = None

    @property
    def refuses(self) -> bool:
        """Whether the place cannot be used."""
        return self.is_needed and not self.is_met


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground:
    """All that decides whether something may stand at a place of one contour.

    Attributes
    ----------
    target : PartContour
    walls : Walls
    given : sequence of GivenStart
        Start holes of the drawing that belong to the contour.
    rough_loop : Contour
        Path of the wire centre in the rough pass.
    rough_offset_mm, kerf_radius_mm, tab_span_mm : float
    tab_at : callable
        Sizes the tab at an arc length of the wall; with the width that a person chose, or None.
    goes_if_parted : callable
        Whether a slug that the start parts is cut away whole, as a person placed things.
    leans : bool
        Whether the wall leans.
    has_wall_form : bool
        Whether the program is for a control that applies the offset.
    height_mm, wire_diameter_mm, smallest_hole_mm : float
    drilling : SmallHoleLaw
    rules : PlanningRules
    """

    target: PartContour
    walls: Walls
    given: Sequence[GivenStart]
    rough_loop: Contour
    rough_offset_mm: float
    kerf_radius_mm: float
    tab_span_mm: float
    tab_at: Callable[[float, float | None], TabSize]
    height_mm: float
    wire_diameter_mm: float
    smallest_hole_mm: float
    drilling: SmallHoleLaw
    rules: PlanningRules
    goes_if_parted: Callable[[Placement], bool] = lambda _: False
    leans: bool = False
    has_wall_form: bool = False

    @property
    def is_outermost(self) -> bool:
        """Whether the stock's edge is next to the waste of the contour."""
        return self.target.role is Role.OUTLINE and self.target.parent_id is None

    def planners_site(self, lead_station_mm: float | None = None) -> Site | None:
        """Return what the planner chooses, with the lead-in given or open."""
        return find_site(
            self.target,
            walls=self.walls,
            given=self.given,
            tab_span_mm=self.tab_span_mm,
            rough_offset_mm=self.rough_offset_mm,
            height_mm=self.height_mm,
            wire_diameter_mm=self.wire_diameter_mm,
            smallest_hole_mm=self.smallest_hole_mm,
            drilling=self.drilling,
            rules=self.rules,
            lead_station_mm=lead_station_mm,
        )

    def sizes_mm(self) -> list[float]:
        """Return the start holes that may be drilled here, the usual one first."""
        return hole_sizes_mm(
            self.height_mm,
            wire_diameter_mm=self.wire_diameter_mm,
            smallest_mm=self.smallest_hole_mm,
            rules=self.rules,
        )


_REMEDY = {
    Limit.WASTE: "Put it where material leaves beside this contour.",
    Limit.WALL: "Move it further from the wall.",
    Limit.HOLE_SIZE: "Move it further from the wall for the usual hole.",
    Limit.CLAMP: "Move it, or the clamp, so that nozzle and clearance fit between.",
    Limit.STOCK_EDGE: "Move it further from the edge of the stock.",
    Limit.STRAIGHT_WAY: "Move it to where the lead-in is reached in a straight line.",
    Limit.SLUG_WHOLE: "Move the start hole away from the wall, or nearer to square off the "
    "lead-in; its slot and the cut would part the slug before the stop at its tab.",
    Limit.ON_WALL: "Give a place on the wall of this contour.",
    Limit.CORNER: "Move it along the wall, away from the corner.",
    Limit.BEND: "Move it out of the bend.",
    Limit.SQUARE: "Move it along the wall: the wire cannot stand square to the wall here.",
    Limit.TAB_SPAN: "Move it along the wall, off the corner.",
    Limit.TAB_ON_WALL: "Give a place on the wall of this contour.",
    Limit.TAB_CLEAR: "Move one of them along the wall, or leave the tab beside the lead-in.",
    Limit.TAB_HALF: "Make the tab narrower, or leave its width to the planner.",
    Limit.TAB_WIDTH: "Make the tab wider, or leave its width to the planner.",
    Limit.TAB_SHARE: "Make the tab narrower, or leave its width to the planner.",
    Limit.TAB_FORM: "Place one of them, or have the program of the wire's own path written.",
    Limit.TAB_UPRIGHT: "Place one of them; on a leaning wall the tab stands beside the lead-in.",
    Limit.TAB_STRENGTH: "Make the tab wider, support the piece, or move it nearer to the middle.",
}


AT_MOST = frozenset({Limit.ON_WALL, Limit.TAB_ON_WALL, Limit.TAB_SHARE, Limit.TAB_HALF})
"""Limits that are upper ones."""


def remedy_of(limit: Limit) -> str:
    """Return what helps where a limit is broken."""
    return _REMEDY[limit]


def side_of(limit: Limit) -> str:
    """Return how what has to be stands to what is there, in words."""
    if limit is Limit.HOLE_SIZE:
        return "usually"
    return "at most" if limit in AT_MOST else "at least"


def words_of(check: Check) -> str:
    """Return a limit with what is there and what has to be, in millimetres.

    >>> words_of(Check(limit=Limit.CORNER, is_met=False, value=0.2, least=0.5))
    'lead-in to the nearest corner 0.200 mm, at least 0.500 mm'
    """
    if check.value is None or check.least is None:
        return f"not {check.limit.value}" if not check.is_met else check.limit.value
    unit = "" if check.limit is Limit.TAB_STRENGTH else " mm"
    side = side_of(check.limit)
    return f"{check.limit.value} {check.value:.3f}{unit}, {side} {check.least:.3f}{unit}"
