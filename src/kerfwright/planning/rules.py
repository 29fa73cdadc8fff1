"""The rules of thumb that planning works by, in one record that a shop can replace."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kerfwright.process.technology import Flushing


class CornerStyle(StrEnum):
    """How the wire passes an outside corner."""

    ROLL = "roll"
    """Round the corner on an arc at the offset."""
    EXTEND = "extend"
    """Straight past the corner and back onto the next wall, so that the lag of the wire dies
    out in the waste."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanningRules:
    """Clearances, tab sizes and limits; common practice, no source, unless said otherwise.

    Attributes
    ----------
    hole_diameters_mm : tuple of float
        Start holes that are stocked as tube electrodes, descending.
    threading_clearance_mm : float
        A start hole is at least the wire plus this.
    wall_clearance_mm : float
        From the drilled hole's edge (with wander and widening, see
        :func:`kerfwright.process.small_hole.reach_mm`) to the finished wall.
    tight_wall_clearance_mm : float
        The same where there is no room for more; worth a finding.
    stock_edge_clearance_mm : float
        From a start hole's edge to the edge of the stock.
    frame_min_mm : float
        Least width of the frame that must remain beyond the rough kerf of an outline.
    corner_clearance_mm : float
        A lead-in meets the wall at least this far from a corner.
    overlap_mm : float
        A skim pass runs on past its beginning by this.
    approach_radius_mm : float
        Largest radius of the arc on which a skim pass meets the wall.
    return_feed_mm_per_min : float
        Feed through kerf that is already open.
    lead_feed_factor : float
        Feed of the lead-in relative to the rough pass: water escapes at the start.
    tab_min_mm, tab_max_share : float
        Smallest tab, and largest as a share of the perimeter.
    tab_safety : float
        Factor on yield in bending, shear and torsion.
    flushing_pressure_mpa, nozzle_diameter_mm : float
        Pressure that reaches the face of the piece in roughing, and the face it acts on.
    small_slug_mm : float
        A piece narrower than this is hard to catch and can short the wire.
    heavy_slug_kg : float
        A piece heavier than this is supported before it is cut free.
    thin_web_mm : float
        Thinner walls bend or break: fins of 0.117 to 0.5 mm in D2 deform beyond 1 to 2 mm of
        unsupported length (read: Ahmed et al., Micromachines 12(1), 1, 2021,
        doi 10.3390/mi12010001).
    thin_web_length_mm : float
        Shorter thin walls stand by themselves (same source: stable to 1 to 2 mm).
    outside_corners : CornerStyle
    extend_up_to_deg : float
        Sharper turns than this are rolled all the same: the detour would grow without bound.
    nozzles : Flushing
        How far the set-up lets the nozzles close on the faces: the drawing does not tell of
        steps and clamps.
    thinnest_wire_mm : float
        Thinner wire than this is not chosen unasked where the drawing's radii or slots are below
        what the usual wire can make: it is slow, dear and breaks.
    """

    hole_diameters_mm: tuple[float, ...] = (3.0, 2.0, 1.5, 1.0, 0.8, 0.6, 0.5, 0.4, 0.3)
    threading_clearance_mm: float = 0.2
    wall_clearance_mm: float = 0.5
    tight_wall_clearance_mm: float = 0.1
    stock_edge_clearance_mm: float = 1.0
    frame_min_mm: float = 0.5
    corner_clearance_mm: float = 1.0
    overlap_mm: float = 1.0
    approach_radius_mm: float = 1.0
    return_feed_mm_per_min: float = 50.0
    lead_feed_factor: float = 0.5
    tab_min_mm: float = 3.0
    tab_max_share: float = 0.1
    tab_safety: float = 3.0
    flushing_pressure_mpa: float = 0.5
    nozzle_diameter_mm: float = 6.0
    small_slug_mm: float = 3.0
    heavy_slug_kg: float = 5.0
    thin_web_mm: float = 0.5
    thin_web_length_mm: float = 2.0
    outside_corners: CornerStyle = CornerStyle.ROLL
    extend_up_to_deg: float = 100.0
    thinnest_wire_mm: float = 0.10
    nozzles: Flushing = Flushing.SEALED

    def preferred_hole_mm(self, height_mm: float) -> float:
        """Return the usual start hole for a height: 1.5 mm to 50, 2 mm to 100, else 3 mm."""
        if height_mm <= 50:
            return 1.5
        return 2.0 if height_mm <= 100 else 3.0


DEFAULT_RULES = PlanningRules()
