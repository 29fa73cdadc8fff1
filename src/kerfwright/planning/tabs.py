"""The tab of a contour: how wide at a place of its wall, and where its ends stand."""

from __future__ import annotations

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import Floats
from kerfwright.planning.holding import TabSize, size_tab
from kerfwright.planning.plan import Slug, Tab
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.stations import settled
from kerfwright.trade.requirement import Requirement


def place_tab(
    wall: Contour,
    rough_loop: Contour,
    size: TabSize,
    *,
    offset_mm: float,
    kerf_radius_mm: float,
    lead_station_mm: float,
    middle_mm: float | None = None,
) -> Tab:
    """Set the ends of a tab where the rough path has a place square to the wall.

    Parameters
    ----------
    wall, rough_loop : Contour
    size : TabSize
    offset_mm, kerf_radius_mm : float
        Of the rough pass.
    lead_station_mm : float
        Arc length of the wall at which the lead-in meets it.
    middle_mm : float or None
        Arc length of the middle of a tab apart from the lead-in; else it ends there.
    """
    span = size.width_mm + 2 * kerf_radius_mm
    length = wall.length_mm
    end = lead_station_mm
    if middle_mm is not None:
        end = settled(
            wall,
            rough_loop,
            station_mm=(middle_mm + span / 2) % length,
            offset_mm=offset_mm,
            sense=1,
        )
    start = settled(
        wall,
        rough_loop,
        station_mm=(end if middle_mm is None else middle_mm + span / 2) % length - span,
        offset_mm=offset_mm,
        sense=-1,
    )
    return Tab(
        start_station_mm=start % length,
        end_station_mm=end,
        width_mm=size.width_mm,
        weight_n=size.weight_n,
        flushing_n=size.flushing_n,
        safety=size.safety,
    )


def size_tab_at(
    contour: Contour,
    piece: Slug,
    requirement: Requirement,
    rules: PlanningRules,
    *,
    at: float | None,
    asked_mm: float | None = None,
) -> TabSize:
    """Size the tab at a station of the contour, or for the longest arm anywhere on it.

    With the width that a person chose, how strong it is.
    """
    centroid = _centroid(contour)
    if at is None:
        reach = contour.vertices[:, :2] - centroid
        arm = side = float(np.hypot(reach[:, 0], reach[:, 1]).max()) / np.sqrt(2)
    else:
        index, fraction = contour.locate(np.array([at]))
        tangent = contour.segments.tangents_at(index, fraction)[0]
        reach = contour.segments.points_at(index, fraction)[0] - centroid
        side = abs(float(reach @ tangent))
        arm = abs(float(reach[0] * tangent[1] - reach[1] * tangent[0]))
    return size_tab(
        height_mm=requirement.height_mm,
        mass_kg=piece.mass_kg,
        area_mm2=piece.area_mm2,
        perimeter_mm=contour.length_mm,
        arm_mm=arm,
        side_mm=side,
        yield_mpa=requirement.material.yield_mpa,
        rules=rules,
        asked_mm=asked_mm,
    )


def _centroid(contour: Contour) -> Floats:
    """Return the centroid of the polygon on the segments' midpoints and ends, mm.

    Arcs enter by their midpoint; a tab's arm needs no more than a percent.
    """
    s = contour.segments
    middle = s.points_at(np.arange(len(s)), np.full(len(s), 0.5))
    p = np.stack([s.start, middle], axis=1).reshape(-1, 2)
    origin = p[0].copy()
    p = p - origin
    q = rolled(p, -1)
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    centroid: Floats = origin + ((p + q) * cross[:, None]).sum(axis=0) / (3 * cross.sum())
    return centroid
