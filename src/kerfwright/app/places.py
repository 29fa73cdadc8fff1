"""A start hole, a lead-in or a tab tried at a place: whether it may stand there, and why not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.app.ledger import Said
from kerfwright.foundation.places import place_text
from kerfwright.foundation.units import UnitSystem, length_text
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import nearest_station
from kerfwright.planning.placed import Check, Ground, Judged, Limit, judge, remedy_of
from kerfwright.planning.plan import ContourPlan
from kerfwright.trade.placement import Placeable, Placement, Spot

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
    lead_in, tab : (float, float) or None
    """

    is_refused: bool
    spot: Spot
    text: str
    checks: tuple[tuple[Limit, Said, str], ...]
    remedy: str
    start: tuple[float, float, float] | None
    lead_in: Spot | None
    tab: Spot | None


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
    on_wall = spot
    if what is not Placeable.START and not _is_off(judged):
        on_wall = _point(wall, nearest_station(wall, spot)[0])
    broken = judged.refusals
    site = judged.site
    lead = site.lead_station_mm if site else None
    middle = (
        None if lead is None else lead - ground.kerf_radius_mm - ground.tab_at(lead).width_mm / 2
    )
    return Tried(
        is_refused=site is None,
        spot=on_wall,
        text=place_text(*on_wall),
        checks=tuple((c.limit, _words(c), _state(c)) for c in judged.checks),
        remedy=remedy_of(broken[0].limit) if broken else "",
        start=(site.start.x_mm, site.start.y_mm, site.start.diameter_mm) if site else None,
        lead_in=None if lead is None else _point(wall, lead),
        tab=None if middle is None else _point(wall, middle),
    )


def places_of(plan: ContourPlan) -> tuple[Spot, Spot]:
    """Return where the lead-in of a planned contour meets the wall, and the middle of its tab."""
    wall, tab = plan.target.contour, plan.tab
    width = (tab.end_station_mm - tab.start_station_mm) % wall.length_mm
    return (
        _point(wall, plan.lead_station_mm),
        _point(wall, tab.start_station_mm + width / 2),
    )


def _is_off(judged: Judged) -> bool:
    return any(c.limit is Limit.ON_WALL and c.refuses for c in judged.checks)


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
    side = "at most" if check.limit is Limit.ON_WALL else "at least"

    def write(system: UnitSystem) -> str:
        has, needs = (
            length_text(mm, system=system, decimals=_DECIMALS[system]) for mm in (value, least)
        )
        return f"{check.limit.value} {has}, {side} {needs}"

    return Said(metric=write(UnitSystem.METRIC), inch=write(UnitSystem.INCH))
