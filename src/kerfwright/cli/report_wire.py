"""The wire in the readable summary: how taut, how hot, how near to a break, what it hurts."""

from __future__ import annotations

from kerfwright.cli.output import Page
from kerfwright.foundation.sources import Reason
from kerfwright.foundation.units import force_text
from kerfwright.planning.plan import Plan
from kerfwright.process.flushing import BreakRisk

_RISKS = {
    BreakRisk.USUAL: "no more than usual",
    BreakRisk.RAISED: "raised",
    BreakRisk.HIGH: "high",
}


def show_wire(page: Page, plan: Plan, *, explain: bool) -> None:
    """Show tension and nearness to a break in a line; every pass where reasons are asked."""
    if not plan.wire_states:
        return
    rough = plan.wire_states[0]
    page.line(
        f"tension {force_text(rough.tension_n)}, {rough.stress_n_per_mm2:.0f} N/mm²; the rough "
        f"pass takes about {rough.utilisation:.0%} of the current at which the wire parts, risk "
        f"of a break {_RISKS[rough.risk]} by heat",
        indent=2,
    )
    if not explain:
        return
    page.heading("The wire in each pass")
    page.table(
        (
            "pass", "nozzles", "mean A", "parts at A", "share", "hottest °C",
            "lag µm", "barrel µm", "spark mJ", "hurts µm",
            "next takes µm", "left at end µm",
        ),
        [
            (
                str(s.pass_number), s.flushing.value, f"{s.mean_current_a:.3g}",
                f"{s.break_current_a:.3g}", f"{s.utilisation:.0%}", f"{s.hottest_c:.0f}",
                f"{s.lag_um:.1f}",
                f"{s.barrel_um:.1f}", f"{s.spark_energy_mj:.2g}",
                f"{s.layer.hurt_um:.1f}",
                "" if s.layer.next_stock_um is None else f"{s.layer.next_stock_um:.1f}",
                f"{s.layer.left_at_end_um:.1f}",
            )
            for s in plan.wire_states
        ],
        left=(1,),
    )  # fmt: skip
    page.line(
        "The share ranks cuts against each other; it is no count of breaks. Hurt: recast layer and "
        f"peaks. Lowest natural frequency of the wire: {rough.natural_frequency_hz:.0f} Hz.",
        indent=2,
    )


def show_wire_reasons(page: Page, plan: Plan) -> None:
    """Show formula, inputs and source of each number of the wire and of each contour's water."""
    said: set[tuple[str, float]] = set()
    for state in plan.wire_states:
        for reason in state.reasons:
            # What is the same in every pass is said once.
            if (reason.quantity, reason.value) not in said:
                _show(page, f"pass {state.pass_number}", reason)
            said.add((reason.quantity, reason.value))
    for contour in plan.contours:
        for reason in contour.flushing.reasons:
            _show(page, contour.target.id, reason)


def _show(page: Page, of: str, reason: Reason) -> None:
    inputs = ", ".join(
        f"{name} = {value:.4g}" if isinstance(value, float) else f"{name} = {value}"
        for name, value in reason.inputs
    )
    within = ""
    if reason.range is not None:
        within = f" (10–90 %: {reason.range.low:.3g}–{reason.range.high:.3g})"
    page.line(f"{of} {reason.quantity} = {reason.value:.4g}{within}: {reason.formula}", indent=2)
    page.line(f"{inputs}; {reason.source}" if inputs else str(reason.source), indent=6)
