"""The tab of a contour where a person put it, or as wide as a person chose."""

from __future__ import annotations

from kerfwright.geometry.regions import nearest_station
from kerfwright.planning.limits import Check, Ground, Limit
from kerfwright.planning.plan import Tab
from kerfwright.planning.starts import corner_stations_mm
from kerfwright.planning.tabs import place_tab
from kerfwright.trade.placement import Placement, Spot

_ON_WALL_MM = 1.0
"""A place for a lead-in or a tab is meant for the wall within this; further off is a slip."""
_SAME_MM = 1e-6


def station_on_wall(spot: Spot, limit: Limit, ground: Ground) -> tuple[float, Check]:
    """Return the arc length of the wall nearest to a place, and whether it is meant for it."""
    station, off = nearest_station(ground.target.contour, spot)
    is_met = off <= _ON_WALL_MM
    return station, Check(limit=limit, is_met=is_met, value=off, least=_ON_WALL_MM)


def lead_of_tab(middle_mm: float, asked_mm: float | None, ground: Ground) -> float:
    """Return the lead-in's arc length for a tab beside it whose middle stands at another."""
    lead = middle_mm
    # The width follows from where the tab stands, and where it stands from its width.
    for _ in range(3):
        lead = middle_mm + ground.tab_at(lead, asked_mm).width_mm / 2 + ground.kerf_radius_mm
    return lead


def middle_of(tab: Tab, wall_length_mm: float) -> float:
    """Return the arc length of the middle of a tab between its ends."""
    span = (tab.end_station_mm - tab.start_station_mm) % wall_length_mm
    return (tab.start_station_mm + span / 2) % wall_length_mm


def stand_tab(placement: Placement, lead_mm: float, ground: Ground) -> tuple[Tab, list[Check]]:
    """Set the tab of a contour whose lead-in is known, and hold it to its limits.

    A tab that was put within a kerf's width of its usual place stands there: right behind the
    lead-in, where the wall has one scar and not two.
    """
    asked, wall = placement.tab_width_mm, ground.target.contour
    beside = _placed(lead_mm, None, asked, ground)
    if placement.tab_mm is None or not placement.is_apart:
        return beside, _checks(beside, asked, ground)
    middle, on_wall = station_on_wall(placement.tab_mm, Limit.TAB_ON_WALL, ground)
    away = (middle - middle_of(beside, wall.length_mm)) % wall.length_mm
    if min(away, wall.length_mm - away) <= 2 * ground.kerf_radius_mm:
        return beside, [on_wall, *_checks(beside, asked, ground)]
    tab = _placed(lead_mm, middle, asked, ground)
    checks = [on_wall, _clear_of(tab, lead_mm, ground)]
    if ground.has_wall_form:
        checks.append(Check(limit=Limit.TAB_FORM, is_met=False))
    if ground.leans:
        checks.append(Check(limit=Limit.TAB_UPRIGHT, is_met=False))
    return tab, [*checks, *_checks(tab, asked, ground)]


def _placed(lead_mm: float, middle_mm: float | None, asked_mm: float | None, ground: Ground) -> Tab:
    return place_tab(
        ground.target.contour,
        ground.rough_loop,
        ground.tab_at(lead_mm if middle_mm is None else middle_mm, asked_mm),
        offset_mm=ground.rough_offset_mm,
        kerf_radius_mm=ground.kerf_radius_mm,
        lead_station_mm=lead_mm,
        middle_mm=middle_mm,
    )


def _clear_of(tab: Tab, lead_mm: float, ground: Ground) -> Check:
    """Check that the wire comes in beside a tab apart from it, and not through it."""
    length, least = ground.target.contour.length_mm, 2 * ground.kerf_radius_mm
    behind = (lead_mm - tab.end_station_mm) % length
    ahead = (tab.start_station_mm - lead_mm) % length
    span = (tab.end_station_mm - tab.start_station_mm) % length
    is_outside = behind + ahead <= length - span + _SAME_MM
    room = min(behind, ahead) if is_outside else 0.0
    return Check(limit=Limit.TAB_CLEAR, is_met=room >= least - _SAME_MM, value=room, least=least)


def _checks(tab: Tab, asked_mm: float | None, ground: Ground) -> list[Check]:
    """Hold a tab to the rules of its span, its width and its strength."""
    wall, rules = ground.target.contour, ground.rules
    at, length = corner_stations_mm(wall), wall.length_mm
    span = tab.width_mm + 2 * ground.kerf_radius_mm
    has_corner = bool(((tab.end_station_mm - at) % length <= span).any())
    checks = [Check(limit=Limit.TAB_SPAN, is_met=not has_corner, is_needed=False)]
    is_strong = tab.safety >= rules.tab_safety
    if asked_mm is not None:
        usual = rules.tab_max_share * length
        least = min(rules.tab_min_mm, usual)
        # What is unusual is a person's to choose; a tab of half the wall is none.
        checks += [
            _width(Limit.TAB_WIDTH, asked_mm, least, is_met=asked_mm >= least - _SAME_MM),
            _width(Limit.TAB_SHARE, asked_mm, usual, is_met=asked_mm <= usual + _SAME_MM),
            _width(Limit.TAB_HALF, span, length / 2, is_met=span <= length / 2, is_needed=True),
        ]
    station = middle_of(tab, length)
    can_hold = asked_mm is not None and not ground.tab_at(station, None).is_limited
    checks.append(
        Check(
            limit=Limit.TAB_STRENGTH,
            is_met=is_strong,
            # A width that a person chose must hold; where none would, the best there is.
            is_needed=can_hold,
            value=tab.safety,
            least=rules.tab_safety,
        )
    )
    return checks


def _width(
    limit: Limit, value: float, least: float, *, is_met: bool, is_needed: bool = False
) -> Check:
    return Check(limit=limit, is_met=is_met, is_needed=is_needed, value=value, least=least)


def solid_ends_mm(tab: Tab, kerf_radius_mm: float) -> tuple[float, float]:
    """Return the arc lengths between which the metal of a tab stands."""
    return tab.start_station_mm + kerf_radius_mm, tab.end_station_mm - kerf_radius_mm
