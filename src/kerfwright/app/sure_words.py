"""Why a number has no range: it is set, asked, drawn, counted, or follows from such alone."""

from __future__ import annotations

import re
from typing import Final

from kerfwright.foundation.sources import Reason

READ_BACK: Final = "the proof, from the text of the program"
"""Citation of what the proof measured."""
OF_FINDINGS: Final = ("finding", "proof")
"""Citations of the numbers that findings name."""
_SET: Final = "set, no prediction"
_SETTINGS: Final = "follows from settings alone"
_GEOMETRY: Final = "geometry of drawing and program"
_PROGRAM: Final = "as the program has it"
_ASKED: Final = "as asked"
_COUNT: Final = "a count, or a decision"
_LIMIT: Final = "a limit, no prediction"
_CHANCE: Final = "a chance: it has the ranges of its inputs in it"
_COMPARED: Final = "likely prices side by side: the price of the job has the range"
_SAID: Final = "the likely value that a finding speaks of: the number itself has its range"
_ELSEWHERE: Final = "part of a number that has its range: `kerfwright why` gives both"
UNKNOWN: Final = "nothing in the tables says how sure it is"
"""A gap of ours: a test looks for it among all numbers that are given."""
_MONEY: Final = re.compile("amount_[A-Z]{3}")
_PARTS: Final = frozenset({"breaks_by_heat", "breaks_beside", "drilling_min", "amount_m"})
"""Predictions written without their range in a plan or an estimate."""
NO_RANGE: Final = {
    "offset_mm": _SET,
    "tension_n": _SET,
    "stress_n_per_mm2": _SETTINGS,
    "natural_frequency_hz": _SETTINGS,
    "x_mm": _GEOMETRY,
    "y_mm": _GEOMETRY,
    "diameter_mm": _SET,
    "clearance_mm": _SET,
    "area_mm2": _GEOMETRY,
    "smallest_width_mm": _GEOMETRY,
    "width_mm": _SET,
    "start_station_mm": _GEOMETRY,
    "end_station_mm": _GEOMETRY,
    "edge_share": _GEOMETRY,
    "edge_reach_mm": _SET,
    "slow_entry_mm": _SET,
    "margin_factor": "a decision, by the likely values: the feed is set with it",
    "beside_margin_factor": "a decision, by the likely values: the feed is set with it",
    "least_feed_factor": "a decision, by the likely lag: the feed is set with it",
    "corner_allowance_um": _LIMIT,
    "height_mm": _ASKED,
    "length_mm": _GEOMETRY,
    "wall_mm": _GEOMETRY,
    "passes": _COUNT,
    "pieces": _COUNT,
    "covers": _COUNT,
    "lines": _COUNT,
    "proof_tolerance_um": _LIMIT,
    "gouge_um": _PROGRAM,
    "leftover_um": _PROGRAM,
    "depth_limit_mm": _LIMIT,
    "least_depth_mm": _LIMIT,
    "slope_deg": _GEOMETRY,
    "lip_mm": _GEOMETRY,
    "breakthrough_mm": _SET,
    "run_on_mm": _SET,
    "beyond_mm": _SET,
    "feed_way_mm": _SET,
    "used_most_mm": "the upper end of a range itself",
    "needs_mm": _LIMIT,
    "dressed_mm": _SET,
    "tube_mm": _SET,
    "guide_gap_mm": _SET,
    "travel_mm": _PROGRAM,
    "clear_z_mm": _PROGRAM,
    "not_through_chance": _CHANCE,
    "chance_of_a_miss": _CHANCE,
    "rank": "far from a break, whatever the current",
}
"""By quantity.  A number that is not here and has no range is a prediction without one."""
_VALUES: Final = {
    "stock_um": (0.0, "the rough pass opens the kerf: it has no stock by definition"),
    "rate_factor": (1.0, "1 with closed nozzles by definition"),
    "along_factor": (1.0, "1 with closed nozzles by definition"),
    "beside_factor": (1.0, "1 with closed nozzles by definition"),
    "breaks_by_dirt": (1.0, "1 in clean water by definition"),
    "breaks_by_taper": (1.0, "1 of an upright wire by definition"),
    "rise_k": (0.0, "none was drilled before it"),
    "left_by_next_um": (0.0, "nothing is left, from end to end of its range"),
    "left_at_end_um": (0.0, "nothing is left, from end to end of its range"),
    "wire_breaks": (0.0, "none in nine pieces of ten"),
}
"""Predictions that are known where they have one value."""


def no_range_words(reason: Reason) -> str:
    """Return why a number has no range; empty where it has one, or ought to.

    Parameters
    ----------
    reason : Reason
    """
    span, name = reason.range, reason.quantity
    if span is not None and span.low < span.high:
        return ""
    if name in _VALUES and reason.value == _VALUES[name][0]:
        return _VALUES[name][1]
    if name == "spark_energy_mj" and reason.formula.startswith("E = max(E_least"):
        return "the smallest spark that a generator keeps up, whatever the roughness"
    if reason.formula == _ASKED:
        return _ASKED
    if name.startswith(("angle_", "at_")):
        return _PROGRAM
    if span is not None and (name == "minutes" or name.startswith("amount_")):
        return "lengths over set speeds, counts and prices: known"
    if reason.source.citation == READ_BACK:
        return _PROGRAM
    if span is None and _MONEY.fullmatch(name):
        return _COMPARED
    return NO_RANGE.get(name, "")


def range_why(reason: Reason) -> str:
    """Return what is written beside a number in place of its range; empty where it has one.

    Parameters
    ----------
    reason : Reason
        Of an answer, a plan or an estimate.
    """
    span = reason.range
    if span is not None and span.low < span.high:
        return ""
    said = no_range_words(reason)
    if said:
        return said
    if reason.source.citation in OF_FINDINGS:
        return _SAID
    return _ELSEWHERE if reason.quantity in _PARTS else UNKNOWN
