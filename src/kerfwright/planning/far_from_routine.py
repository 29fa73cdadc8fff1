"""What is said of wires in work taller, and of guides further off, than is routine."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.foundation.tolerances import TINY
from kerfwright.foundation.zones import zone_held
from kerfwright.planning.plan import ContourPlan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.held import two_digits_up
from kerfwright.process.wire import natural_frequency_hz
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_state import WireState
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Requirement

_FINE_MM: Final = 0.1
"""The wire that the routine height is told of."""


def routine_findings(
    contours: Sequence[ContourPlan],
    states: Sequence[WireState],
    *,
    requirement: Requirement,
    rules: PlanningRules,
    physics: WirePhysics | None,
) -> list[Finding]:
    """Return ``wire-thin-for-height`` and ``guides-far-off``, where they hold.

    Parameters
    ----------
    contours : sequence of ContourPlan
    states : sequence of WireState
        Of the wire in each pass; none where it was not worked out.
    requirement : Requirement
    rules : PlanningRules
    physics : WirePhysics or None
    """
    if physics is None or not states or not contours:
        return []
    wire = contours[0].choice.wire
    return [
        *_thin(states, wire, requirement, rules),
        *_far(contours, states, requirement, rules, physics),
    ]


def routine_height_mm(wire: Wire, *, rules: PlanningRules) -> float:
    """Return up to which height work is routine for a wire: ``H_0 (d / 0.1 mm)^2``.

    References
    ----------
    Common practice, no source; the tension that keeps a wire straight goes with the square.
    """
    return rules.fine_wire_height_mm * (wire.diameter_mm / _FINE_MM) ** 2


def _thin(
    states: Sequence[WireState], wire: Wire, requirement: Requirement, rules: PlanningRules
) -> list[Finding]:
    routine_mm, height_mm = routine_height_mm(wire, rules=rules), requirement.height_mm
    if height_mm <= routine_mm + TINY:
        return []
    rough, barrel_um = states[0], max(state.barrel_um for state in states)
    return [
        Finding(
            code="wire-thin-for-height",
            severity=Severity.WARNING,
            message=f"A wire of {wire.diameter_mm:g} mm in work of {both_sizes(height_mm)} is far "
            f"beyond routine, which ends at about {routine_mm:.3g} mm for it (common practice): "
            f"by the model the rough pass trails by {rough.lag_um:.0f} µm and a wall is "
            f"up to {barrel_um:.0f} µm fuller at mid-height. Times, breaks and tolerances of the "
            "tables were not seen there.",
            remedy="Take a thicker wire if the smallest inside radius allows it; else cut a test "
            "piece of full height, and quote after it.",
            data={"height_mm": height_mm, "routine_mm": routine_mm},
        )
    ]


def guides_factor(height_mm: float, *, physics: WirePhysics) -> float:
    """Return how many times as far the wire gives way as with guides at their usual distance.

    ``(2 L - h) / (2 L_0 - h)``: the bow of a taut string under an even push over the height.

    Parameters
    ----------
    height_mm : float
    physics : WirePhysics
        With the gaps of the set-up.
    """
    tension = physics.tension
    span = tension.span_mm(height_mm)
    return (2 * span - height_mm) / (2 * (span - tension.nozzles_off_mm) - height_mm)


def _far(
    contours: Sequence[ContourPlan],
    states: Sequence[WireState],
    requirement: Requirement,
    rules: PlanningRules,
    physics: WirePhysics,
) -> list[Finding]:
    height_mm = requirement.height_mm
    off = physics.with_nozzles_off(rules.nozzles_off_mm)
    factor = guides_factor(height_mm, physics=off)
    if factor < rules.guides_give_way:
        return []
    span, usual = (p.tension.span_mm(height_mm) for p in (off, physics))
    near_hz = natural_frequency_hz(
        contours[0].choice.wire, span_mm=usual, tension_n=states[0].tension_n
    )
    holds_um = {c.target.id: factor * c.choice.passes[-1].tolerance_um for c in contours}
    asked_um = {c.target.id: requirement.demand_on(c.target.id).tolerance_um for c in contours}
    missed = [
        name for name, um in asked_um.items() if um is not None and um < holds_um[name] - TINY
    ]
    best_um = two_digits_up(max(holds_um[n] for n in missed or holds_um))
    said = (
        f"The guides stand {span:.4g} mm apart for {height_mm:.4g} mm of work, {usual:.4g} mm is "
        f"usual: the wire gives way {factor:.2g} times as far (rough lag {states[0].lag_um:.0f} "
        f"µm, lowest natural frequency {states[0].natural_frequency_hz:.0f} for {near_hz:.0f} Hz). "
        f"The passes hold no better than about ±{zone_held(best_um)} so, not what the tables say "
        "of guides close to the work."
    )
    data = {"factor": factor, "span_mm": span, "usual_mm": usual, "holds_um": best_um}
    if missed:
        names = ", ".join(missed[:_NAMED]) + (" and others" if len(missed) > _NAMED else "")
        said += f" What is asked of {names} is closer."
    return [
        Finding(
            code="guides-far-off",
            severity=Severity.REFUSAL if missed else Severity.WARNING,
            message=said,
            remedy="Bring the heads nearer to the work, by packing or clamping it "
            "otherwise" + (f", or agree on ±{zone_held(best_um)}." if missed else "."),
            data=data,
        )
    ]


_NAMED: Final = 4
