"""The table ``planning.toml`` as rules of planning."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from kerfwright.adapters.figures import Node, Span
from kerfwright.foundation.sources import Source
from kerfwright.planning.rules import PlanningRules
from kerfwright.trade.stack import MOST_SHEETS

_STRING: Final = "string"
"""A section of its own since strings are cut; before, every part had a start of its own."""
_SECTIONS: Final = {
    "start_hole": (
        "threading_clearance_mm",
        "wall_clearance_mm",
        "tight_wall_clearance_mm",
        "stock_edge_clearance_mm",
        "frame_min_mm",
    ),
    "entry": (
        "corner_clearance_mm",
        "overlap_mm",
        "approach_radius_mm",
        "return_feed_mm_per_min",
        "lead_feed_factor",
        "slow_entry_mm",
        "shortest_feed_stretch_mm",
        "extend_up_to_deg",
    ),
    "piece": (
        "tab_min_mm",
        "cut_off_wait_min",
        "tab_max_share",
        "tab_safety",
        "flushing_pressure_mpa",
        "nozzle_diameter_mm",
        "flushing_pressure_sigma_log",
        "yield_sigma_log",
        "density_sigma_log",
        "small_slug_mm",
        "heavy_slug_kg",
    ),
    "thin": ("thin_web_mm", "thin_web_length_mm", "thinnest_wire_mm", "fine_wire_height_mm"),
    "accuracy": ("temperature_swing_k", "stress_tolerance_um", "guides_give_way"),
    "stack": (
        "stack_joint_mm",
        "stack_cover_below_mm",
        "stack_bolt_mm",
        "stack_bolts",
        "stack_edge_mm",
        "stack_weld_mm",
        "stack_measured",
        "stack_known_sheets",
        "stack_air_share",
        "stack_stiff_mm",
    ),
    "nest": ("nest_web_mm", "nest_frame_mm", "remnant_width_mm", "remnant_area_mm2"),
    "coreless": (
        "coreless_wires",
        "coreless_unattended_mm",
        "coreless_overlap_share",
        "coreless_least_overlap_share",
        "coreless_feed_most",
        "coreless_feed_sigma_log",
        "coreless_scrap_mm",
    ),
    _STRING: (
        "string_most_parts",
        "string_longest_mm",
        "string_way_most_mm",
        "string_channel_most_mm",
        "string_margin_mm",
        "string_neck_mm",
        "string_frame_mm",
    ),
    "taper": (
        "taper_chord_um",
        "taper_soft_wire_deg",
        "taper_breaks_sigma_log",
        "taper_rate_sigma_log",
        "taper_mouth_lean",
    ),
}
"""Figures that are one number, by their place in the table."""
_HOLES: Final = ("hole_diameters_mm", "preferred_hole_above_mm")
_HOLE_MM: Final = Span(
    low=0.05, high=50.0, why="mm; start holes are drilled with 0.3 to a few mm: a slip of unit?"
)
"""Common practice, no source, with room on either side."""
_CURVES: Final = ("taper_rate_above_deg", "taper_breaks_above_deg", "taper_error_above_deg")
_BEFORE: Final = {
    "stack_measured": float(MOST_SHEETS),
    "stack_known_sheets": math.inf,
    "stack_air_share": 1.0,
    "stack_stiff_mm": 0.0,
    "cut_off_wait_min": math.inf,
    "fine_wire_height_mm": math.inf,
    "guides_give_way": math.inf,
    "taper_breaks_sigma_log": 0.0,
    "taper_rate_sigma_log": 0.0,
    "taper_mouth_lean": 0.0,
}
"""What held before there was such a figure, for jobs that were kept then.

All pieces were measured, and nothing was said of many or thin sheets, of the air between, or
of slow cut-offs; what an angle does to feeds and breaks counted as known, and mouths did not lift.
"""
_HALF: Final = 0.5
_SHARES: Final = ("lead_feed_factor", "tab_max_share", "stack_air_share", "taper_mouth_lean")
"""Figures that are parts of a whole."""
_SLUGS: Final = ("coreless_width_above_mm",)
_MORE: Final = {"start_hole": _HOLES, "taper": _CURVES, "coreless": _SLUGS}
"""Figures that are lists, by section."""


def planning_rules(node: Node, *, clamp_clearance: tuple[float, Source]) -> PlanningRules:
    """Read ``planning.toml``.

    Parameters
    ----------
    node : Node
    clamp_clearance : float, Source
        How far the nozzles stay from clamps, mm: papers and plans have it from one table.

    Raises
    ------
    InputError
        Code ``table-value`` or ``table-key``.
    """
    node.only(*_SECTIONS)
    values: dict[str, Any] = {}
    sources: dict[str, Source] = {}
    for section, names in _SECTIONS.items():
        if section == _STRING and section not in node.data:
            # A job kept before there were strings: none has more than no parts.
            values |= dict.fromkeys(names, 0.0)
            continue
        table = node.table(section)
        table.only(*names, *_MORE.get(section, ()))
        figures, said = table.record(*(n for n in names if n in table.data or n not in _BEFORE))
        figures = {**{n: _BEFORE[n] for n in names if n in _BEFORE}, **figures}
        _check(table, figures)
        values |= figures
        sources |= said
    start = node.table("start_hole")
    holes, sources["hole_diameters_mm"] = start.sizes("hole_diameters_mm", _HOLE_MM)
    preferred, sources["preferred_hole_above_mm"] = start.curve("preferred_hole_above_mm")
    for section, names in (("taper", _CURVES), ("coreless", _SLUGS)):
        for name in names:
            values[name], sources[name] = node.table(section).curve(name)
    values["clamp_clearance_mm"], sources["clamp_clearance_mm"] = clamp_clearance
    return PlanningRules(
        hole_diameters_mm=holes[::-1],
        preferred_hole_above_mm=preferred,
        sources=MappingProxyType(sources),
        **values,
    )


def _check(table: Node, figures: Mapping[str, float]) -> None:
    """Refuse figures that no plan could work by."""
    for name in _SHARES:
        if figures.get(name, 0) > 1:
            table.fail(name, figures[name], "a share, above 0 and at most 1")
    if "tab_safety" in figures and figures["tab_safety"] < 1:
        table.fail("tab_safety", figures["tab_safety"], "1 or more: a tab must at least hold")
    measured = figures.get("stack_measured")
    if measured is not None and measured != int(measured):
        table.fail("stack_measured", measured, "a whole number of pieces, 1 or more")
    overlap = figures.get("coreless_overlap_share")
    if overlap is not None:
        least = figures["coreless_least_overlap_share"]
        if not least < overlap / 2:
            table.fail("coreless_least_overlap_share", least, "below half of the usual overlap")
        if not overlap < _HALF:
            table.fail("coreless_overlap_share", overlap, "below a half: loops then always meet")
        if figures["coreless_feed_most"] < 1:
            table.fail("coreless_feed_most", figures["coreless_feed_most"], "1 or more")
    usual = figures.get("wall_clearance_mm")
    if usual is not None and figures["tight_wall_clearance_mm"] > usual:
        table.fail(
            "tight_wall_clearance_mm",
            figures["tight_wall_clearance_mm"],
            f"at most the usual clearance, {usual:g}",
        )
