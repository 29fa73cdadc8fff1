"""The rules of thumb that planning works by, in one record that a shop can replace.

The figures themselves are those of ``data/planning.toml``, each with its source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from kerfwright.foundation.sources import Source
from kerfwright.planning.lean_feed import LeaningMouths
from kerfwright.process.flushing import Bath
from kerfwright.process.technology import Curve, Flushing


class CornerStyle(StrEnum):
    """How the wire passes an outside corner."""

    ROLL = "roll"
    """Round the corner on an arc at the offset."""
    EXTEND = "extend"
    """Straight past the corner and back onto the next wall, so that the lag of the wire dies
    out in the waste."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanningRules:
    """Clearances, tab sizes and limits.

    Attributes
    ----------
    hole_diameters_mm : tuple of float
        Start holes that are stocked as tube electrodes, descending.
    preferred_hole_above_mm : Curve
        Heights in mm, ascending, and the usual start hole above each.
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
    slow_entry_mm : float
        A cut from the edge of the stock keeps the feed of its lead-in over this length of metal.
    shortest_feed_stretch_mm : float
        Least length of a stretch beside the edge of the stock that has a feed of its own, and of
        a gap between two.
    tab_min_mm, tab_max_share : float
        Smallest tab, and largest as a share of the perimeter.
    cut_off_wait_min : float
        For so long after a stop somebody is taken to stand by.
    tab_safety : float
        Factor on yield in bending, shear and torsion.
    flushing_pressure_mpa, nozzle_diameter_mm : float
        Pressure that reaches the face of the piece in roughing, and the face it acts on.
    flushing_pressure_sigma_log, yield_sigma_log, density_sigma_log : float
        Standard deviations of the logarithms of that pressure and of the material's figures.
    small_slug_mm : float
        A piece narrower than this is hard to catch and can short the wire.
    heavy_slug_kg : float
        A piece heavier than this is supported before it is cut free.
    thin_web_mm : float
        Thinner walls bend or break.
    thin_web_length_mm : float
        Shorter thin walls stand by themselves.
    extend_up_to_deg : float
        Sharper turns than this are rolled all the same: the detour would grow without bound.
    thinnest_wire_mm : float
        Thinner wire than this is not chosen unasked where the drawing's radii or slots are below
        what the usual wire can make: it is slow, dear and breaks.
    temperature_swing_k : float
        A tolerance that a smaller change of temperature uses up is spoken of.
    stress_tolerance_um : float
        From this tolerance on tool steel is released and clamped again before the skims.
    stack_joint_mm : float
        Between two sheets of a stack.
    stack_cover_below_mm : float
        Thinner sheets lie between two that are scrap.
    stack_bolt_mm, stack_bolts : float
        Hole of a screw that holds a stack, and how many.
    stack_edge_mm, stack_weld_mm : float
        From such a hole to the edge of the stock, and from a welded edge to a part.
    stack_stiff_mm : float
        A thinner sheet of a stack bends by itself.
    stack_measured : float
        Of the pieces of a stack so many are measured at most.
    stack_known_sheets : float
        Of stacks of more nobody knows how they cut.
    stack_air_share : float
        Air between the sheets, as a share of the height, from which it is spoken of.
    nest_web_mm, nest_frame_mm : float
        Metal between the rough kerfs of two parts in a sheet, and to the edge of the sheet.
    remnant_width_mm, remnant_area_mm2 : float
        What is left of a sheet is kept from this size on.
    coreless_width_above_mm : Curve
        Heights in mm, ascending, and the slug that is too small to catch above each.
    coreless_wires : float
        A slug narrower than this many wire diameters is too small at any height.
    coreless_unattended_mm : float
        Up to this width of the slug the inside is cut away where nobody is to be there.
    coreless_overlap_share, coreless_least_overlap_share : float
        Of the kerf's width, by which loops overlap where the inside is smooth, and everywhere.
    coreless_feed_most : float
        Factor on the rough feed where only a part of the kerf is metal, at most.
    coreless_feed_sigma_log : float
        How unsure the feed of such loops is, beyond that of the rough pass.
    coreless_scrap_mm : float
        No wider piece may come free while an inside is cut away.
    string_most_parts : float
        Parts of one string, at most.
    string_longest_mm : float
        Longest way from one end of a string to the other.
    string_way_most_mm : float
        Rough paths of all parts but the last together: by these the wire goes back to a tab,
        while somebody waits.
    string_channel_most_mm : float
        Longest channel from part to part.
    string_margin_mm : float
        A channel keeps the rough offset and this off every other wall.
    string_neck_mm : float
        Least metal on which a tab, and what lies beside a channel, hangs.
    string_frame_mm : float
        Least frame that stays closed between a string and the edge of the stock.
    taper_chord_um : float
        Straight moves of a leaning wire leave the true path by no more than this.
    taper_soft_wire_deg : float
        Above this angle soft wire is advised.
    taper_rate_above_deg, taper_breaks_above_deg, taper_error_above_deg : Curve
        By angle in degrees: factor on the feed, factor on the breaks an hour, and angular error
        in degrees.
    taper_breaks_sigma_log, taper_rate_sigma_log : float
        Standard deviation of the logarithm of how far the factor on the breaks is above 1, and
        that on the feed below it.
    taper_mouth_lean : float
        How far the mouths of the nozzles lean with the wire: 1 as far, 0 not at all.
    fine_wire_height_mm : float
        Work up to which is routine for a wire of 0.1 mm; for others with the diameter squared.
    guides_give_way : float
        How many times as far as usual the wire may give way before its tolerance is not promised.
    clamp_clearance_mm : float
        How far the nozzles stay from clamps.
    sources : mapping of str to Source
    outside_corners : CornerStyle
        Of the job, as is what follows: no figure.
    nozzles : Flushing
        How far the set-up lets the nozzles close on the faces: the drawing does not tell of
        steps and clamps.
    upper_gap_mm, lower_gap_mm : float or None
        From each nozzle to its face, where the set-up is known by numbers; the height of the step
        where the top is stepped.
    bath : Bath
    mouths : LeaningMouths or None
        At a wall that leans; None where the nozzles stand square to their faces.
    """

    hole_diameters_mm: tuple[float, ...]
    preferred_hole_above_mm: Curve
    threading_clearance_mm: float
    wall_clearance_mm: float
    tight_wall_clearance_mm: float
    stock_edge_clearance_mm: float
    frame_min_mm: float
    corner_clearance_mm: float
    overlap_mm: float
    approach_radius_mm: float
    return_feed_mm_per_min: float
    lead_feed_factor: float
    slow_entry_mm: float
    shortest_feed_stretch_mm: float
    tab_min_mm: float
    cut_off_wait_min: float
    tab_max_share: float
    tab_safety: float
    flushing_pressure_mpa: float
    nozzle_diameter_mm: float
    flushing_pressure_sigma_log: float
    yield_sigma_log: float
    density_sigma_log: float
    small_slug_mm: float
    heavy_slug_kg: float
    thin_web_mm: float
    thin_web_length_mm: float
    extend_up_to_deg: float
    thinnest_wire_mm: float
    fine_wire_height_mm: float
    guides_give_way: float
    temperature_swing_k: float
    stress_tolerance_um: float
    stack_joint_mm: float
    stack_cover_below_mm: float
    stack_bolt_mm: float
    stack_bolts: float
    stack_edge_mm: float
    stack_weld_mm: float
    stack_stiff_mm: float
    stack_measured: float
    stack_known_sheets: float
    stack_air_share: float
    nest_web_mm: float
    nest_frame_mm: float
    remnant_width_mm: float
    remnant_area_mm2: float
    coreless_width_above_mm: Curve
    coreless_wires: float
    coreless_unattended_mm: float
    coreless_overlap_share: float
    coreless_least_overlap_share: float
    coreless_feed_most: float
    coreless_feed_sigma_log: float
    coreless_scrap_mm: float
    string_most_parts: float
    string_longest_mm: float
    string_way_most_mm: float
    string_channel_most_mm: float
    string_margin_mm: float
    string_neck_mm: float
    string_frame_mm: float
    taper_chord_um: float
    taper_soft_wire_deg: float
    taper_rate_above_deg: Curve
    taper_breaks_above_deg: Curve
    taper_error_above_deg: Curve
    taper_breaks_sigma_log: float
    taper_rate_sigma_log: float
    taper_mouth_lean: float
    clamp_clearance_mm: float
    sources: Mapping[str, Source]
    outside_corners: CornerStyle = CornerStyle.ROLL
    nozzles: Flushing = Flushing.SEALED
    upper_gap_mm: float | None = None
    lower_gap_mm: float | None = None
    bath: Bath = Bath.SUBMERGED
    mouths: LeaningMouths | None = None

    @property
    def clamp_reach_mm(self) -> float:
        """How far the wire centre stays from every clamp: half a nozzle and the clearance."""
        return self.nozzle_diameter_mm / 2 + self.clamp_clearance_mm

    @property
    def nozzles_off_mm(self) -> tuple[float, float]:
        """How far the set-up keeps the upper and the lower nozzle off its face."""
        return self.upper_gap_mm or 0.0, self.lower_gap_mm or 0.0

    def coreless_width_mm(self, height_mm: float, *, wire_mm: float) -> float:
        """Return the width below which a slug is too small to catch, mm."""
        by_height = [mm for above, mm in self.coreless_width_above_mm if height_mm > above]
        return max(self.coreless_wires * wire_mm, *by_height, 0.0)

    def preferred_hole_mm(self, height_mm: float) -> float:
        """Return the usual start hole for a height."""
        fits = [hole for above, hole in self.preferred_hole_above_mm if height_mm > above]
        return fits[-1] if fits else self.preferred_hole_above_mm[0][1]
