"""Why the wire of a plan is as taut, hot and near to a break as it is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from kerfwright.foundation.answers import Answer
from kerfwright.planning.break_ranges import with_ranges
from kerfwright.planning.feeds_of_program import at_the_place
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.material import Material

_NAMES: Final = {
    "tension_n": "wire tension",
    "stress_n_per_mm2": "wire stress",
    "natural_frequency_hz": "wire natural frequency",
    "feed_mm_per_min": "feed at the worst place",
    "mean_current_a": "mean current",
    "peak_current_a": "peak current of the sparks",
    "pulse_us": "length of a spark",
    "sparks_khz": "sparks a second",
    "break_current_a": "break current",
    "utilisation": "share of the break current",
    "rank": "break rank",
    "relative_breaks": "breaks by heat",
    "hottest_c": "hottest place of the wire",
    "margin": "break margin",
    "hurt_um": "hurt layer",
    "next_stock_um": "stock of the next pass",
    "left_by_next_um": "hurt layer left by the next pass",
    "left_at_end_um": "hurt layer left at the end",
}
"""Plain words for the quantities of a wire in a pass."""
_ALSO: Final = {
    "utilisation": "utilisation",
    "hottest_c": "temperature heat",
    "tension_n": "force",
    "mean_current_a": "amperes",
    "break_current_a": "amperes",
}
"""Other words that people use for them."""
_WATER: Final = {
    "rate_factor": "flushing rate factor",
    "along_factor": "flushing factor away from the edge",
    "beside_factor": "flushing factor beside the edge",
    "edge_reach_mm": "flushing reach of the nozzle",
    "slow_entry_mm": "slow entry",
    "margin_factor": "feed held for the wire",
    "beside_margin_factor": "feed held for the wire beside the edge",
    "breaks_by_heat": "breaks by heat",
    "breaks_by_dirt": "breaks by dirt",
    "breaks_beside": "breaks beside the edge",
    "breaks_closed": "breaks with closed nozzles",
    "breaks_unslowed": "breaks at the feed of closed nozzles",
    "breaks_by_taper": "breaks by taper",
}


def wire_answers(plan: Plan) -> Iterator[Answer]:
    """Return the answers on the state of the wire in each pass.

    Parameters
    ----------
    plan : Plan
    """
    for state in plan.wire_states:
        for reason in state.reasons:
            is_feed = reason.quantity == "feed_mm_per_min"
            yield Answer(
                about=f"pass {state.pass_number}",
                name=_NAMES[reason.quantity],
                path=f"plan/wire_states/{state.pass_number}/{reason.quantity}",
                reason=at_the_place(plan, reason, pass_number=state.pass_number)
                if is_feed
                else reason,
                also=_ALSO.get(reason.quantity, ""),
            )


_LEAN: Final = {
    "taper_factor": ("lean factor of skims", "taper_factors"),
    "rough_taper_factor": (
        "lean factor of the rough pass beyond the water's",
        "rough_taper_factors",
    ),
    "rough_lean_factor": ("lean factor of the rough pass", ""),
}
"""Names of what a lean does to feeds, and where in a plan the number stands."""


def lean_answers(contour: ContourPlan) -> Iterator[Answer]:
    """Yield the answers on what the lean of the wire takes off the feeds of a contour.

    Parameters
    ----------
    contour : ContourPlan
    """
    for reason in contour.lean.reasons:
        name, place = _LEAN[reason.quantity]
        yield Answer(
            about=contour.target.id,
            name=name,
            path=f"plan/{place}/{contour.target.id}" if place else "",
            reason=reason,
            also="taper angle feed slow",
        )


def flushing_answers(
    contour: ContourPlan,
    *,
    material: Material,
    physics: WirePhysics | None,
    rate_exponent: float,
) -> Iterator[Answer]:
    """Return the answers on what water and wire make of the feed of one rough cut.

    Parameters
    ----------
    contour : ContourPlan
    material : Material
    physics : WirePhysics or None
        For the ranges of the breaks; without it they are left out.
    rate_exponent : float
        Power by which the rate falls with the dirt.
    """
    reasons = contour.flushing.reasons
    if physics is not None:
        reasons = with_ranges(
            contour.flushing,
            law=physics.breaking,
            rate_exponent=rate_exponent,
            feed_sigma_log=contour.passes[0].feed_sigma_log,
            charge_more_log=physics.breaking.charge_more_log(material),
        )
    for reason in reasons:
        yield Answer(
            about=contour.target.id,
            name=_WATER[reason.quantity],
            path=f"plan/flushing/{contour.target.id}/{reason.quantity}",
            reason=reason,
        )
