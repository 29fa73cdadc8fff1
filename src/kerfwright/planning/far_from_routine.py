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
from kerfwright.process.guide_distance import counted_factor, is_covered
from kerfwright.process.misses import odds
from kerfwright.process.technology import Pass, Technology
from kerfwright.process.undercut import is_undercut
from kerfwright.process.wider_zones import chance_undercut, held_close_um
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
    technology: Technology,
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
    technology : Technology
        With the set-up.
    physics : WirePhysics or None
    """
    if physics is None or not states or not contours:
        return []
    wire = contours[0].choice.wire
    return [
        *_thin(states, wire, requirement, rules),
        *_far(contours, states, requirement, technology),
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
    rough, last = states[0], states[-1]
    return [
        Finding(
            code="wire-thin-for-height",
            severity=Severity.WARNING,
            message=f"A wire of {wire.diameter_mm:g} mm in work of {both_sizes(height_mm)} is far "
            f"beyond routine, which ends at about {routine_mm:.3g} mm for it (common practice): "
            f"by the model the rough pass trails by {rough.lag_um:.0f} µm and the wall is "
            f"{last.barrel_um:.0f} µm fuller at mid-height after {_after(states)}. Times, "
            "breaks and tolerances of the tables were not seen there.",
            remedy="Take a thicker wire if the smallest inside radius allows it; else cut a test "
            "piece of full height, and quote after it.",
            data={"height_mm": height_mm, "routine_mm": routine_mm},
        )
    ]


def _after(states: Sequence[WireState]) -> str:
    return "this only pass" if len(states) == 1 else f"the last of {len(states)} passes"


def _far(
    contours: Sequence[ContourPlan],
    states: Sequence[WireState],
    requirement: Requirement,
    technology: Technology,
) -> list[Finding]:
    height_mm, guides = requirement.height_mm, technology.guides
    factor = counted_factor(height_mm, guides=guides)
    if guides is None or is_covered(factor, guides=guides):
        return []
    span, usual = guides.span_mm(height_mm), guides.usual_span_mm(height_mm)
    near_hz = natural_frequency_hz(
        contours[0].choice.wire, span_mm=usual, tension_n=states[0].tension_n
    )
    worst = max((c.choice.passes for c in contours), key=lambda p: p[-1].tolerance_um)
    holds_um = worst[-1].tolerance_um
    return [
        Finding(
            code="guides-far-off",
            severity=Severity.WARNING,
            message=f"The guides stand {span:.4g} mm apart for {height_mm:.4g} mm of work, "
            f"{usual:.4g} mm is usual: the wire gives way {factor:.2g} times as far (rough lag "
            f"{states[0].lag_um:.0f} µm, lowest natural frequency "
            f"{states[0].natural_frequency_hz:.0f} for {near_hz:.0f} Hz). The passes chosen hold "
            f"±{zone_held(holds_um)} so, not the ±{zone_held(held_close_um(worst[-1]))} of guides "
            f"close to the work.{_undercut_words(worst)}",
            remedy="Bring the heads nearer to the work, by packing or clamping it otherwise.",
            data={
                "factor": factor,
                "span_mm": span,
                "usual_mm": usual,
                "holds_um": holds_um,
            },
        )
    ]


def _undercut_words(passes: Sequence[Pass]) -> str:
    """Say what the scatter of the rough pass leaves undercut; nothing where the stock takes it."""
    last = passes[-1]
    if not is_undercut(last):
        return ""
    itself_um = last.tolerance_um / last.undercut_factor
    left_um = sum(p.stock_um for p in passes[1:])
    return (
        f" Pass 1 scatters by ±{zone_held(passes[0].tolerance_um)} there, and only "
        f"{zone_held(left_um)} of stock are left for the skims: {odds(chance_undercut(passes))} "
        f"would be cut below the ±{zone_held(itself_um)} that pass {last.number} holds by itself, "
        "and no skim puts metal back. What is promised has that in it."
    )
