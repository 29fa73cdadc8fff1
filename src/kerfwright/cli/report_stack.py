"""What a person reads of a stack."""

from __future__ import annotations

from kerfwright.cli.output import Page
from kerfwright.cli.words import Show
from kerfwright.foundation.counts import counted
from kerfwright.planning.plan import Plan
from kerfwright.planning.stacking import hold_holes


def show_stack(page: Page, plan: Plan, show: Show) -> None:
    """Show sheets, holding and screws of a stack; nothing for a job that is none."""
    stack = plan.requirement.stack
    if stack is None:
        return
    page.heading("Stack")
    scrap = f", {stack.covers} of them scrap" if stack.covers else ""
    page.line(
        f"{counted(stack.sheets, 'sheet')} of {show.size(stack.sheet_mm)}{scrap}, "
        f"{stack.holding.value}, with {show.size(stack.joint_mm)} between two: "
        f"{show.size(stack.height_mm)}",
        indent=2,
    )
    holes = hold_holes(plan)
    if holes:
        unit = show.unit.value
        page.table(
            ("screw", f"X {unit}", f"Y {unit}", f"Ø {unit}"),
            [
                (str(n), show.length(h.x_mm), show.length(h.y_mm), show.length(h.diameter_mm))
                for n, h in enumerate(holes, start=1)
            ],
        )
