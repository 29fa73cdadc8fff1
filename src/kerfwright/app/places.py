"""A start hole, a lead-in or a tab tried at a place: whether it may stand there, and why not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from kerfwright.app.said import Said
from kerfwright.foundation.places import place_text
from kerfwright.foundation.units import UnitSystem, length_text
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import nearest_station
from kerfwright.planning.limits import Check, Ground, Limit, remedy_of, side_of
from kerfwright.planning.placed import Judged, judge
from kerfwright.planning.placed_tab import middle_of, solid_ends_mm
from kerfwright.planning.plan import ContourPlan, Tab
from kerfwright.trade.placement import Placeable, Placement, Spot

_OFF_WALL: Final = {Limit.ON_WALL, Limit.TAB_ON_WALL}
_LEAST_WIDTH_MM: Final = 0.01
"""A width that a hand pulls to nothing is refused as this."""
_DECIMALS: Final = {UnitSystem.METRIC: 3, UnitSystem.INCH: 4}


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """What comes of a place.

    Attributes
    ----------
    is_refused : bool
    spot : (float, float)
        The place, brought onto the wall for a lead-in or a tab.
    text : str
        The place as a line would keep it.
    checks : tuple of (Limit, Said, str)
        Each limit with what is there and what has to be, and ``met``, ``warning`` or
        ``refused``.
    remedy : str
        What helps against the first that refuses.
    start : (float, float, float) or None
        X, Y and diameter of the start hole that would come of it; None where none does.
    lead_in, tab, tab_end : (float, float) or None
        Where the lead-in meets the wall, the middle of the tab, and the end of its metal.
    """

    is_refused: bool
    spot: Spot
    text: str
    checks: tuple[tuple[Limit, Said, str], ...]
    remedy: str
    start: tuple[float, float, float] | None
    lead_in: Spot | None
    tab: Spot | None
    tab_end: Spot | None


def try_place(ground: Ground, before: Placement, what: Placeable, spot: Spot) -> Tried:
    """Hold a place to the planner's limits; nothing is changed by it.

    Parameters
    ----------
    ground : Ground
    before : Placement
        What a person placed already on this contour.
    what : Placeable
    spot : (float, float)
        In mm.
    """
    wall = ground.target.contour
    judged = judge(before.moved(what, spot), ground)
    on_wall: Spot = spot
    if what is not Placeable.START and not _is_off(judged):
        on_wall = _point(wall, nearest_station(wall, spot)[0])
    return _tried(judged, ground, spot=on_wall, text=place_text(*on_wall))


def try_width(ground: Ground, before: Placement, width: float | Spot) -> Tried:
    """Hold the width of a tab to the planner's limits; nothing is changed by it.

    Parameters
    ----------
    ground : Ground
    before : Placement
        What a person placed already on this contour.
    width : float or (float, float)
        In mm, or the place of the end of its metal: the other end stays, or the middle where that
        was placed.
    """
    spot: Spot = width if isinstance(width, tuple) else (0.0, 0.0)
    width_mm = (
        _width_to(width, judge(before, ground).tab, before, ground)
        if isinstance(width, tuple)
        else width
    )
    judged = judge(replace(before, tab_width_mm=width_mm), ground)
    return _tried(judged, ground, spot=spot, text=f"{width_mm:.4g} mm")


def _width_to(spot: Spot, tab: Tab | None, before: Placement, ground: Ground) -> float:
    """Return how wide a tab is whose metal begins at a place of the wall."""
    wall = ground.target.contour
    if tab is None:
        return ground.rules.tab_min_mm
    begin, _ = nearest_station(wall, spot)
    _, end = solid_ends_mm(tab, ground.kerf_radius_mm)
    fixed = end if before.tab_mm is None else middle_of(tab, wall.length_mm)
    away = (fixed - begin) % wall.length_mm
    # Pulled past what stays, a tab has no width.
    away = 0.0 if away > wall.length_mm / 2 else away
    return max(away if before.tab_mm is None else 2 * away, _LEAST_WIDTH_MM)


def refusal_of(ground: Ground, placement: Placement) -> tuple[str, str] | None:
    """Return why a contour cannot be as a person placed it, and what helps; None where it can."""
    judged = judge(placement, ground)
    if judged.site is not None:
        return None
    broken = judged.refusals
    words = "; ".join(_words(c).metric for c in broken) or "no start hole fits there"
    return words, remedy_of(broken[0].limit) if broken else ""


def _tried(judged: Judged, ground: Ground, *, spot: Spot, text: str) -> Tried:
    wall, broken, site, tab = ground.target.contour, judged.refusals, judged.site, judged.tab
    is_shown = site is not None and tab is not None
    return Tried(
        is_refused=site is None,
        spot=spot,
        text=text,
        checks=tuple((c.limit, _words(c), _state(c)) for c in judged.checks),
        remedy=remedy_of(broken[0].limit) if broken else "",
        start=(site.start.x_mm, site.start.y_mm, site.start.diameter_mm) if site else None,
        lead_in=_point(wall, site.lead_station_mm) if site else None,
        tab=_point(wall, middle_of(tab, wall.length_mm)) if is_shown and tab else None,
        tab_end=_point(wall, solid_ends_mm(tab, ground.kerf_radius_mm)[0])
        if is_shown and tab
        else None,
    )


def places_of(plan: ContourPlan) -> tuple[Spot, Spot | None]:
    """Return where the lead-in of a planned contour meets the wall, and the middle of its tab."""
    wall, tab = plan.target.contour, plan.tab
    middle = None if tab is None else _point(wall, middle_of(tab, wall.length_mm))
    return _point(wall, plan.lead_station_mm), middle


def tab_end_of(plan: ContourPlan) -> Spot | None:
    """Return where the metal of the tab begins."""
    wall, tab = plan.target.contour, plan.tab
    if tab is None:
        return None
    kerf_mm = (tab.end_station_mm - tab.start_station_mm) % wall.length_mm - tab.width_mm
    return _point(wall, solid_ends_mm(tab, kerf_mm / 2)[0])


def _is_off(judged: Judged) -> bool:
    return any(c.limit in _OFF_WALL and c.refuses for c in judged.checks)


def _point(wall: Contour, station_mm: float) -> Spot:
    x, y = wall.points_at(np.array([station_mm % wall.length_mm]))[0]
    return float(x), float(y)


def _state(check: Check) -> str:
    if check.is_met:
        return "met"
    return "refused" if check.is_needed else "warning"


def _words(check: Check) -> Said:
    if check.value is None or check.least is None:
        text = check.limit.value if check.is_met else f"not {check.limit.value}"
        return Said(metric=text, inch=text)
    value, least = check.value, check.least
    if check.limit is Limit.TAB_STRENGTH:
        text = f"{check.limit.value} {value:.3g} times yield, the rule is {least:.3g}"
        return Said(metric=text, inch=text)
    side = side_of(check.limit)

    def write(system: UnitSystem) -> str:
        has, needs = (
            length_text(mm, system=system, decimals=_DECIMALS[system]) for mm in (value, least)
        )
        return f"{check.limit.value} {has}, {side} {needs}"

    return Said(metric=write(UnitSystem.METRIC), inch=write(UnitSystem.INCH))
