"""Start holes, lead-ins and tabs where a person put them, held to the planner's own limits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import contains_points, nearest_station
from kerfwright.planning.holding import TabSize
from kerfwright.planning.plan import StartKind
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import (
    Candidates,
    Site,
    Walls,
    candidate_at,
    candidates,
    corner_stations_mm,
    find_site,
    hole_sizes_mm,
    lead_length_mm,
    led_from,
)
from kerfwright.planning.stations import opposite
from kerfwright.process.small_hole import reach_mm
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.trade.part import GivenStart, PartContour, Role
from kerfwright.trade.placement import Placeable, Placement, Spot

_ON_WALL_MM = 1.0
"""A place for a lead-in or a tab is meant for the wall within this; further off is a slip."""
_ON_HOLE_MM = 0.05
"""A start put so near to the middle of a drawn hole is put into it."""
_SAME_MM = 1e-6
_SAMPLES = 48
"""Points at which the way from a start to the wall is measured."""
_LEAST_BEND = 3.0
"""A lead-in turns onto the wall inside bends of more than this many offsets only."""


class Limit(StrEnum):
    """What a place is held to."""

    WASTE = "in the waste"
    WALL = "hole and its wander to the wall"
    STOCK_EDGE = "hole to the edge of the stock"
    STRAIGHT_WAY = "straight way to the lead-in"
    ON_WALL = "on the wall"
    CORNER = "lead-in to the nearest corner"
    BEND = "bend at the lead-in"
    SQUARE = "wire square to the wall"
    TAB_SPAN = "tab on a smooth span"
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
        Sizes the tab for a lead-in at an arc length of the wall.
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
    tab_at: Callable[[float], TabSize]
    height_mm: float
    wire_diameter_mm: float
    smallest_hole_mm: float
    drilling: SmallHoleLaw
    rules: PlanningRules

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What becomes of a placement.

    Attributes
    ----------
    site : Site or None
        None where no start and lead-in come of it.
    checks : tuple of Check
    """

    site: Site | None
    checks: tuple[Check, ...]

    @property
    def refusals(self) -> tuple[Check, ...]:
        """The limits that are broken."""
        return tuple(c for c in self.checks if c.refuses)


def judge(placement: Placement, ground: Ground) -> Judged:
    """Hold the places that a person chose to the limits that the planner keeps.

    What is left open follows: the lead-in goes where the wall is best reached from the start, the
    start stands square off the lead-in, and the tab behind it.
    """
    station, checks = _lead_station(placement, ground)
    if placement.start_mm is not None:
        site, more = _from_start(placement.start_mm, station, ground)
    else:
        site = ground.planners_site(station)
        more = () if site is not None or station is None else _no_room(station, ground)
    checks += more
    lead = station if station is not None else (site.lead_station_mm if site else None)
    if lead is not None:
        checks += lead_checks(lead, ground)
    if any(c.refuses for c in checks):
        site = None
    return Judged(site=site, checks=checks)


def _lead_station(placement: Placement, ground: Ground) -> tuple[float | None, tuple[Check, ...]]:
    """Return the arc length at which the lead-in has to meet the wall, if a person said so."""
    spot = placement.lead_in_mm if placement.lead_in_mm is not None else placement.tab_mm
    if spot is None:
        return None, ()
    wall = ground.target.contour
    station, off = nearest_station(wall, spot)
    check = Check(limit=Limit.ON_WALL, is_met=off <= _ON_WALL_MM, value=off, least=_ON_WALL_MM)
    if placement.tab_mm is not None:
        station = lead_of_tab(station, ground)
    return station % wall.length_mm, (check,)


def lead_of_tab(middle_mm: float, ground: Ground) -> float:
    """Return the lead-in's arc length for a tab whose middle stands at another."""
    lead = middle_mm
    # The width follows from where the tab stands, and where it stands from its width.
    for _ in range(3):
        lead = middle_mm + ground.tab_at(lead).width_mm / 2 + ground.kerf_radius_mm
    return lead


def tab_middle_mm(lead_mm: float, start_mm: float, wall_length_mm: float) -> float:
    """Return the arc length of the middle of a tab between its ends."""
    return (start_mm + ((lead_mm - start_mm) % wall_length_mm) / 2) % wall_length_mm


def _from_start(
    spot: Spot, station: float | None, ground: Ground
) -> tuple[Site | None, tuple[Check, ...]]:
    point = np.array([spot])
    is_inside = float(ground.walls.stock_clearance_mm(point)[0]) >= 0
    checks = [Check(limit=Limit.WASTE, is_met=_is_in_waste(spot, ground))]
    drawn = next(
        (
            g
            for g in ground.given
            if g.diameter_mm > 0 and np.hypot(g.x_mm - spot[0], g.y_mm - spot[1]) <= _ON_HOLE_MM
        ),
        None,
    )
    kind, hole, tight = StartKind.EDGE, GivenStart(x_mm=spot[0], y_mm=spot[1], diameter_mm=0), False
    if drawn is not None:
        kind, hole = StartKind.GIVEN, drawn
    elif is_inside or not ground.is_outermost:
        kind = StartKind.DRILLED
        hole, tight, more = _drilled(spot, ground)
        checks += more
    else:
        checks.append(_beyond_edge(point, ground))
    found = (
        candidates(
            ground.target.contour,
            ground.tab_span_mm,
            ground.rough_offset_mm,
            ground.rules,
            (hole,),
        )
        if station is None
        else candidate_at(ground.target.contour, station)
    )
    site = led_from(ground.target, hole, found, ground.walls, ground.rough_offset_mm, ground.rules)
    checks.append(_straight_way(spot, found, site, ground))
    if site is None:
        return None, tuple(checks)
    start = replace(site.start, kind=kind)
    return replace(site, start=start, has_tight_clearance=tight), tuple(checks)


def _is_in_waste(spot: Spot, ground: Ground) -> bool:
    """Return whether a place lies in what leaves beside the wall of the contour."""
    point = np.array([spot])
    around = [c for c in ground.walls.contours if contains_points(c.contour, point)[0]]
    owner = min(around, key=lambda c: abs(c.contour.area_mm2), default=None)
    target = ground.target
    if target.role is Role.OPENING:
        return owner is target
    return (owner.id if owner else None) == target.parent_id


def _drilled(spot: Spot, ground: Ground) -> tuple[GivenStart, bool, list[Check]]:
    """Return the usual hole that fits at a place, whether it is tight there, and the checks."""
    rules, point = ground.rules, np.array([spot])
    free = float(ground.walls.clearance_mm(point)[0])
    edge = float(ground.walls.stock_clearance_mm(point)[0]) if ground.is_outermost else np.inf
    sizes = ground.sizes_mm()
    reaches = {d: reach_mm(ground.height_mm, diameter_mm=d, law=ground.drilling) for d in sizes}

    def fits(size: float, margin_mm: float) -> bool:
        return (
            free >= reaches[size] + margin_mm - _SAME_MM
            and edge >= reaches[size] + rules.stock_edge_clearance_mm - _SAME_MM
        )

    both = (rules.wall_clearance_mm, rules.tight_wall_clearance_mm)
    size = next((d for c in both for d in sizes if fits(d, c)), sizes[-1])
    room = free - reaches[size]
    checks = [
        Check(
            limit=Limit.WALL,
            is_met=room >= rules.tight_wall_clearance_mm - _SAME_MM,
            value=room,
            least=rules.tight_wall_clearance_mm,
        )
    ]
    if np.isfinite(edge):
        beyond = edge - reaches[size]
        checks.append(
            Check(
                limit=Limit.STOCK_EDGE,
                is_met=beyond >= rules.stock_edge_clearance_mm - _SAME_MM,
                value=beyond,
                least=rules.stock_edge_clearance_mm,
            )
        )
    is_tight = room < rules.wall_clearance_mm - _SAME_MM
    if is_tight and checks[0].is_met:
        checks.append(
            Check(
                limit=Limit.WALL,
                is_met=False,
                is_needed=False,
                value=room,
                least=rules.wall_clearance_mm,
            )
        )
    return GivenStart(x_mm=spot[0], y_mm=spot[1], diameter_mm=size), is_tight, checks


def _beyond_edge(point: np.ndarray[tuple[int, int], np.dtype[np.float64]], ground: Ground) -> Check:
    """Check that a start beside the stock is far enough from its edge to thread in the open."""
    out = -float(ground.walls.stock_clearance_mm(point)[0])
    least = ground.rules.stock_edge_clearance_mm
    return Check(limit=Limit.STOCK_EDGE, is_met=out >= least - _SAME_MM, value=out, least=least)


def _straight_way(spot: Spot, found: Candidates, site: Site | None, ground: Ground) -> Check:
    """Check that the wire gets from the start to the wall without touching another."""
    if site is not None:
        return Check(limit=Limit.STRAIGHT_WAY, is_met=True)
    run = ground.rough_offset_mm + lead_length_mm(ground.rough_offset_mm)
    feet = found.point_mm + found.normal * run
    nearest = feet[int(np.argmin(np.hypot(*(feet - np.array(spot)).T)))]
    steps = np.linspace(0.0, 1.0, _SAMPLES)[:, None]
    free = ground.walls.clearance_mm(np.array(spot) + (nearest - np.array(spot)) * steps)
    return Check(
        limit=Limit.STRAIGHT_WAY,
        is_met=False,
        value=float(free.min()),
        least=ground.rough_offset_mm,
    )


def _no_room(station: float, ground: Ground) -> tuple[Check, ...]:
    """Return what keeps every start hole away from square off a lead-in."""
    size = ground.sizes_mm()[-1]
    reach = reach_mm(ground.height_mm, diameter_mm=size, law=ground.drilling)
    needed = reach + ground.rules.tight_wall_clearance_mm
    place = candidate_at(ground.target.contour, station)
    spot = (place.point_mm + place.normal * needed)[0]
    _, _, checks = _drilled((float(spot[0]), float(spot[1])), ground)
    return tuple(c for c in checks if c.refuses)


def lead_checks(station_mm: float, ground: Ground) -> tuple[Check, ...]:
    """Hold a lead-in and the tab behind it to corner, bend, path and strength."""
    wall, rules = ground.target.contour, ground.rules
    s = wall.segments
    segment = int(wall.locate(np.array([station_mm]))[0][0])
    at, length = corner_stations_mm(wall), wall.length_mm
    ahead = (at - station_mm) % length
    to_corner = float(np.minimum(ahead, length - ahead).min()) if len(at) else np.inf
    gaps = np.diff(np.append(at, at[:1] + length)) if len(at) else np.array([np.inf])
    checks = []
    if np.isfinite(to_corner):
        checks.append(
            Check(
                limit=Limit.CORNER,
                is_met=to_corner >= rules.corner_clearance_mm - _SAME_MM,
                # Where no span is long enough, the middle of one is the best there is.
                is_needed=bool((gaps >= 2 * rules.corner_clearance_mm).any()),
                value=to_corner,
                least=rules.corner_clearance_mm,
            )
        )
    bend = float(s.radius[segment]) if s.bulge[segment] < 0 else np.inf
    if np.isfinite(bend):
        least = _LEAST_BEND * ground.rough_offset_mm
        checks.append(Check(limit=Limit.BEND, is_met=bend > least, value=bend, least=least))
    _, is_opposite = opposite(
        wall, ground.rough_loop, station_mm=station_mm, offset_mm=ground.rough_offset_mm
    )
    size = ground.tab_at(station_mm)
    back = (station_mm - at) % length
    span = size.width_mm + 2 * ground.kerf_radius_mm
    checks += [
        Check(limit=Limit.SQUARE, is_met=is_opposite),
        Check(limit=Limit.TAB_SPAN, is_met=not bool((back <= span).any()), is_needed=False),
        Check(
            limit=Limit.TAB_STRENGTH,
            is_met=size.safety >= rules.tab_safety,
            is_needed=False,
            value=size.safety,
            least=rules.tab_safety,
        ),
    ]
    return tuple(checks)


_REMEDY = {
    Limit.WASTE: "Put it where material leaves beside this contour.",
    Limit.WALL: "Move it further from the wall.",
    Limit.STOCK_EDGE: "Move it further from the edge of the stock.",
    Limit.STRAIGHT_WAY: "Move it to where the lead-in is reached in a straight line.",
    Limit.ON_WALL: "Give a place on the wall of this contour.",
    Limit.CORNER: "Move it along the wall, away from the corner.",
    Limit.BEND: "Move it out of the bend.",
    Limit.SQUARE: "Move it along the wall: the wire cannot stand square to the wall here.",
    Limit.TAB_SPAN: "Move it along the wall, off the corner.",
    Limit.TAB_STRENGTH: "Support the piece, or move the tab nearer to its middle.",
}


def remedy_of(limit: Limit) -> str:
    """Return what helps where a limit is broken."""
    return _REMEDY[limit]


def placed_findings(target: PartContour, placement: Placement, judged: Judged) -> list[Finding]:
    """Return the refusal of a placement that cannot be kept, or that it is a person's choice."""
    names = " and ".join(what.value for what in placement.placed)
    spot = next(s for s in map(placement.at, Placeable) if s is not None)
    place = Place(contour_id=target.id, x_mm=spot[0], y_mm=spot[1])
    if judged.site is None:
        broken = judged.refusals
        first = broken[0].limit if broken else Limit.STRAIGHT_WAY
        return [
            Finding(
                code="place-refused",
                severity=Severity.REFUSAL,
                message=f"The {names} of {target.id} cannot be where a person put it: "
                + ("; ".join(map(words_of, broken)) or "no start hole fits there")
                + ".",
                where=place,
                remedy=f"{remedy_of(first)} Or leave it to the planner.",
                data={
                    "value": first_value if (first_value := broken[0].value) is not None else 0.0,
                    "least": broken[0].least or 0.0,
                }
                if broken
                else {},
            )
        ]
    found = [
        Finding(
            code="place-by-person",
            severity=Severity.NOTE,
            message=f"The {names} of {target.id} is where a person put it, not where the planner "
            "would.",
            where=place,
        )
    ]
    span = next((c for c in judged.checks if c.limit is Limit.TAB_SPAN), None)
    if span is not None and not span.is_met:
        found.append(
            Finding(
                code="tab-on-corner",
                severity=Severity.WARNING,
                message=f"The tab of {target.id} stands on a corner of the part, which will carry "
                "its scar.",
                where=place,
                remedy=remedy_of(Limit.TAB_SPAN),
            )
        )
    return found


def words_of(check: Check) -> str:
    """Return a limit with what is there and what has to be, in millimetres.

    >>> words_of(Check(limit=Limit.CORNER, is_met=False, value=0.2, least=0.5))
    'lead-in to the nearest corner 0.200 mm, at least 0.500 mm'
    """
    if check.value is None or check.least is None:
        return f"not {check.limit.value}" if not check.is_met else check.limit.value
    unit = "" if check.limit is Limit.TAB_STRENGTH else " mm"
    side = "at most" if check.limit is Limit.ON_WALL else "at least"
    return f"{check.limit.value} {check.value:.3f}{unit}, {side} {check.least:.3f}{unit}"
