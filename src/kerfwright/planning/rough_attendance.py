"""Why someone must stand by while a contour is roughed."""

from __future__ import annotations

from functools import partial

import numpy as np
import shapely

from kerfwright.geometry.contour import Contour
from kerfwright.planning import feasibility
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import RoughAttendance, Tab
from kerfwright.planning.starts import Site
from kerfwright.planning.wires import Paths
from kerfwright.trade.part import PartContour, Role

_SMALLEST_PIECE_MM2 = 1e-3
"""Crumbs below this are debris, not pieces."""


def rough_attendance(
    path: Paths, site: Site, tab: Tab, kerf_radius_mm: float, memory: Memory
) -> RoughAttendance:
    """Return why someone must stand by while a contour is roughed, if so.

    Parameters
    ----------
    path : Paths
        Of a contour.
    site : Site
    tab : Tab
    kerf_radius_mm : float
        Of the rough pass.
    memory : Memory
        Where to keep, and find, whether pieces come free: lines alone decide that.
    """
    if tab.safety < 1:
        return RoughAttendance.WEAK_TAB
    frees = memory.shapes.once(
        partial(frees_pieces, path.target, path.loops[0].contour, site, kerf_radius_mm),
        "frees pieces",
        path.target,
        path.loops[0].contour,
        site.lead_station_mm,
        (site.start.x_mm, site.start.y_mm, site.start.diameter_mm),
        kerf_radius_mm,
    )
    if frees:
        return RoughAttendance.PIECES_COME_FREE
    return RoughAttendance.NONE


def frees_pieces(target: PartContour, loop: Contour, site: Site, kerf_radius_mm: float) -> bool:
    """Return whether start hole, lead-in and rough kerf part the slug of an opening.

    The slug is what lies inside the rough kerf; the tab holds one piece of it.

    Parameters
    ----------
    target : PartContour
    loop : Contour
        Path of the wire centre in the rough pass.
    site : Site
    kerf_radius_mm : float
        Of that pass.
    """
    if target.role is Role.OUTLINE:
        return False
    lead = target.contour.points_at(np.array([site.lead_station_mm]))[0]
    hole = shapely.Point(site.start.x_mm, site.start.y_mm)
    slug = shapely.Polygon(feasibility.chords(loop)).buffer(-kerf_radius_mm)
    slug = slug.difference(hole.buffer(site.start.diameter_mm / 2))
    slug = slug.difference(shapely.LineString([(hole.x, hole.y), lead]).buffer(kerf_radius_mm))
    pieces = [p for p in shapely.get_parts(slug) if p.area > _SMALLEST_PIECE_MM2]
    return len(pieces) > 1
