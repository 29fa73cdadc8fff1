"""The wire in the readable summary: how taut, how hot, how near to a break, what it hurts."""

from __future__ import annotations

from kerfwright.cli.output import Page
from kerfwright.foundation.units import force_text
from kerfwright.planning.flushing_findings import how_often, times_as_often
from kerfwright.planning.plan import Plan
from kerfwright.process.flushing import BreakRisk
from kerfwright.process.wire_state import WireState

_RISKS = {
    BreakRisk.USUAL: "",
    BreakRisk.RAISED: "at a raised risk, ",
    BreakRisk.HIGH: "at a high risk, ",
}


_TALL_MM = 50.0
"""Work above it keeps dirt that closed nozzles do not carry off: common practice, no source."""


def _breaks(plan: Plan) -> str:
    """Say how often the wire breaks by heat, by the model's number, and with the dirt of nozzles.

    Heat is that of the place at which the wire is nearest to a break.
    """
    rough, wire = plan.wire_states[0], plan.choice.wire
    heat, begin = [rough.relative_breaks], f"by heat alone {_RISKS[rough.risk]}it breaks"
    if rough.is_counted:
        begin = "by your own counts and the model together it breaks"
    dirty = [c.flushing.breaks for c in plan.contours if c.flushing.breaks_by_dirt > 1]
    if not dirty:
        low, high = rough.breaks_range.low, rough.breaks_range.high
        whose = " of this shop" if rough.is_counted else ""
        said = f"{begin} {how_often(heat, wire)}{whose}, {low:.2g} to {high:.2g} in 8 cuts of 10"
        if not rough.is_counted and low < high <= heat[0]:
            said = (
                f"{begin} {how_often(heat, wire)}, a careful figure, with which the estimate "
                f"counts: nine cuts in ten stay within it, and their mean is {_mean(rough):.2g}"
            )
        if plan.requirement.height_mm <= _TALL_MM or rough.is_counted:
            return said
        return (
            f"{said}; the dirt that closed work of this height does not get rid of is not in that "
            "figure, and breaks wire too"
        )
    return (
        f"{begin} {times_as_often(heat)} an hour as in a usual rough cut, with the dirt of open "
        f"nozzles {how_often(dirty, wire)}, at the feed of this program, which is slowed for "
        "them"
    )


def _mean(rough: WireState) -> float:
    """Return the mean over single cuts of the breaks by heat."""
    told = next(r for r in rough.reasons if r.quantity == "relative_breaks")
    return float(dict(told.inputs)["mean over single cuts"])


def show_wire(page: Page, plan: Plan, *, explain: bool) -> None:
    """Show tension and nearness to a break in a line; every pass where reasons are asked."""
    if not plan.wire_states:
        return
    rough = plan.wire_states[0]
    page.line(
        f"tension {force_text(rough.tension_n)}, {rough.stress_n_per_mm2:.0f} N/mm²; the rough "
        f"pass takes about {rough.utilisation:.0%} of the current at which the wire parts: "
        f"{_breaks(plan)}",
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
