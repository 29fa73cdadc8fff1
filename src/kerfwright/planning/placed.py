"""Start holes, lead-ins and tabs where a person put them, held to the planner's own limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.geometry.regions import contains_points
from kerfwright.planning.beside_clamps import beside_clamps_mm
from kerfwright.planning.limits import Check, Ground, Limit, remedy_of, words_of
from kerfwright.planning.placed_tab import lead_of_tab, stand_tab, station_on_wall
from kerfwright.planning.plan import StartKind, Tab
from kerfwright.planning.rough_attendance import frees_pieces
from kerfwright.planning.starts import (
    Candidates,
    Site,
    candidate_at,
    candidates,
    corner_stations_mm,
    lead_length_mm,
    led_from,
)
from kerfwright.planning.stations import opposite
from kerfwright.process.small_hole import reach_mm
from kerfwright.trade.part import GivenStart, PartContour, Role
from kerfwright.trade.placement import Placeable, Placement, Spot

_ON_HOLE_MM = 0.05
"""A start put so near to the middle of a drawn hole is put into it."""
_SAME_MM = 1e-6
_UNUSUAL = frozenset({Limit.TAB_WIDTH, Limit.TAB_SHARE})
_SAMPLES = 48
"""Points at which the way from a start to the wall is measured."""
_LEAST_BEND = 3.0
"""A lead-in turns onto the wall inside bends of more than this many offsets only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What becomes of a placement.

    Attributes
    ----------
    site : Site or None
        None where no start and lead-in come of it.
    tab : Tab or None
        None where no lead-in is known.
    checks : tuple of Check
    """

    site: Site | None
    tab: Tab | None
    checks: tuple[Check, ...]

    @property
    def refusals(self) -> tuple[Check, ...]:
        """The limits that are broken."""
        return tuple(c for c in self.checks if c.refuses)


def judge(placement: Placement, ground: Ground) -> Judged:
    """Hold the places that a person chose to the limits that the planner keeps.

    What is left open follows: the lead-in goes where the wall is best reached from the start, the
    start stands square off the lead-in, and of lead-in and tab one beside the other.
    """
    if placement.tab_width_mm is not None:
        span = placement.tab_width_mm + 2 * ground.kerf_radius_mm
        ground = replace(ground, tab_span_mm=max(span, ground.tab_span_mm))
    station, checks = _lead_station(placement, ground)
    if placement.start_mm is not None:
        site, more = _from_start(placement.start_mm, station, ground)
    else:
        site = ground.planners_site(station)
        more = () if site is not None or station is None else _no_room(station, ground)
    checks += more
    lead = station if station is not None else (site.lead_station_mm if site else None)
    tab = None
    if lead is not None:
        tab, of_tab = stand_tab(placement, lead, ground)
        checks += (*lead_checks(lead, ground), *of_tab)
    if site is not None and not ground.goes_if_parted(placement):
        checks += _stays_whole(site, ground)
    if any(c.refuses for c in checks):
        site = None
    return Judged(site=site, tab=tab, checks=checks)


def _stays_whole(site: Site, ground: Ground) -> tuple[Check, ...]:
    """Check that hole, lead-in and rough kerf leave the slug in one piece, which the tab holds.

    Else a piece comes free while the contour is roughed, long after the last stop.
    """

    def is_parted(at: Site) -> bool:
        return frees_pieces(ground.target, ground.rough_loop, at, ground.kerf_radius_mm)

    if ground.target.role is not Role.OPENING:
        return ()
    is_met = not is_parted(site)
    # Where the planner finds no better place either, somebody stands by for the whole pass.
    usual = None if is_met else ground.planners_site()
    is_needed = is_met or (usual is not None and not is_parted(usual))
    return (Check(limit=Limit.SLUG_WHOLE, is_met=is_met, is_needed=is_needed),)


def _lead_station(placement: Placement, ground: Ground) -> tuple[float | None, tuple[Check, ...]]:
    """Return the arc length at which the lead-in has to meet the wall, if a person said so."""
    length = ground.target.contour.length_mm
    if placement.lead_in_mm is not None:
        station, check = station_on_wall(placement.lead_in_mm, Limit.ON_WALL, ground)
        return station % length, (check,)
    if placement.tab_mm is not None:
        station, check = station_on_wall(placement.tab_mm, Limit.TAB_ON_WALL, ground)
        return lead_of_tab(station, placement.tab_width_mm, ground) % length, (check,)
    return None, ()


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
    checks += _beside_clamps(spot, ground)
    site = led_from(ground.target, hole, found, ground.walls, ground.rough_offset_mm, ground.rules)
    checks.append(_straight_way(spot, found, site, ground))
    if site is None:
        return None, tuple(checks)
    start = replace(site.start, kind=kind)
    return replace(site, start=start, has_tight_clearance=tight), tuple(checks)


def _beside_clamps(spot: Spot, ground: Ground) -> list[Check]:
    """Check that a nozzle at a place keeps off every clamp."""
    clamps = ground.walls.clamps
    if clamps is None:
        return []
    near = float(beside_clamps_mm(clamps, [np.array([spot])])[0])
    is_met = near >= clamps.reach_mm - _SAME_MM
    return [Check(limit=Limit.CLAMP, is_met=is_met, value=near, least=clamps.reach_mm)]


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
    if size < sizes[0] - _SAME_MM and checks[0].is_met:
        checks += _smaller(size, ground)
    return GivenStart(x_mm=spot[0], y_mm=spot[1], diameter_mm=size), is_tight, checks


def _smaller(size_mm: float, ground: Ground) -> list[Check]:
    """Say that a hole where a person put it is smaller than the planner's."""
    site = ground.planners_site()
    if site is None or site.start.kind is not StartKind.DRILLED:
        return []
    usual = site.start.diameter_mm
    if size_mm >= usual - _SAME_MM:
        return []
    return [Check(limit=Limit.HOLE_SIZE, is_met=False, is_needed=False, value=size_mm, least=usual)]


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
    at = float(spot[0]), float(spot[1])
    checks = [*_drilled(at, ground)[2], *_beside_clamps(at, ground)]
    return tuple(c for c in checks if c.refuses)


def lead_checks(station_mm: float, ground: Ground) -> tuple[Check, ...]:
    """Hold a lead-in to corner, bend and path."""
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
    checks.append(Check(limit=Limit.SQUARE, is_met=is_opposite))
    return tuple(checks)


def placed_findings(target: PartContour, placement: Placement, judged: Judged) -> list[Finding]:
    """Return the refusal of a placement that cannot be kept, or that it is a person's choice."""
    names = " and ".join(placement.placed)
    spot = next((s for s in map(placement.at, Placeable) if s is not None), None)
    place = Place(contour_id=target.id)
    if spot is not None:
        place = Place(contour_id=target.id, x_mm=spot[0], y_mm=spot[1])
    if judged.site is None:
        return [_refusal(f"The {names} of {target.id}", judged.refusals, place)]
    found = [
        Finding(
            code="place-by-person",
            severity=Severity.NOTE,
            message=f"The {names} of {target.id} is as a person chose, not as the planner would.",
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
    small = next((c for c in judged.checks if c.limit is Limit.HOLE_SIZE), None)
    if small is not None and small.value and small.least:
        found.append(
            Finding(
                code="start-hole-smaller",
                severity=Severity.WARNING,
                message=f"The start hole of {target.id} is Ø {both_sizes(small.value)} where a "
                f"person put it, not Ø {both_sizes(small.least)}: no larger one fits there.",
                where=place,
                remedy=remedy_of(Limit.HOLE_SIZE),
                data={"diameter_mm": small.value, "usual_mm": small.least},
            )
        )
    odd = [c for c in judged.checks if c.limit in _UNUSUAL and not c.is_met]
    if odd:
        found.append(
            Finding(
                code="tab-width-unusual",
                severity=Severity.WARNING,
                message=f"The tab of {target.id} is not as wide as usual: {words_of(odd[0])}.",
                where=place,
                remedy=remedy_of(odd[0].limit),
                data={"width_mm": odd[0].value or 0.0, "usual_mm": odd[0].least or 0.0},
            )
        )
    return found


def _refusal(subject: str, broken: Sequence[Check], place: Place) -> Finding:
    """Return the refusal of a placement by the limits that it breaks."""
    first = broken[0] if broken else None
    return Finding(
        code="place-refused",
        severity=Severity.REFUSAL,
        message=f"{subject} cannot be as a person put it: "
        f"{'; '.join(map(words_of, broken)) or 'no start hole fits there'}.",
        where=place,
        remedy=f"{remedy_of(first.limit if first else Limit.STRAIGHT_WAY)} "
        "Or leave it to the planner.",
        data={"value": first.value or 0.0, "least": first.least or 0.0} if first else {},
    )
