"""What the strength of a tab leaves out where a stack hangs by it, and covers that are too thin."""

from __future__ import annotations

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.planning.plan import Plan


def stack_tab_findings(plan: Plan) -> list[Finding]:
    """Return what is to be said of tabs that hold a stack, and of covers that bend.

    A tab is sized as one block of the height of the stack.  Sheets that can slide on each other
    bend one by one: ``n`` leaves of a thickness are ``n^2`` times softer than a block of theirs
    (bending of a rectangle goes with the cube of its height, ``(n t)^3`` over ``n t^3``).

    Parameters
    ----------
    plan : Plan

    References
    ----------
    Second moment of a rectangle, b h^3/12 (computed).  From which thickness on a sheet is called
    stiff is common practice, no source: ``stack_stiff_mm`` of planning.toml.
    """
    stack = plan.requirement.stack
    if stack is None or stack.sheets == 1:
        return []
    stiff_mm, sheet_mm = plan.rules.stack_stiff_mm, stack.sheet_mm
    is_thin = sheet_mm < stiff_mm
    sheet, stiff = both_sizes(sheet_mm), both_sizes(stiff_mm)
    found = []
    tabbed = [c for c in plan.contours if c.tab is not None and c.tab.width_mm > 0]
    if tabbed:
        narrowest = min(tabbed, key=lambda c: c.tab.width_mm if c.tab else 0.0)
        assert narrowest.tab is not None
        width = both_sizes(narrowest.tab.width_mm)
        found.append(
            Finding(
                code="stack-tabs-as-one-block",
                severity=Severity.WARNING if is_thin else Severity.NOTE,
                message=f"The {counted(len(tabbed), 'tab')} of the stack, {width} wide and up, "
                f"count as one block. {counted(stack.sheets, 'sheet')} that slide on each other "
                f"are {stack.sheets**2:,} times softer, and each hangs by a strip of {sheet}"
                + (f", below the {stiff} from which a sheet is stiff." if is_thin else "."),
                remedy="Clamp, bolt or weld the sheets together on both sides of every tab before "
                "the rough cut; or ask for wider tabs (--tab-width).",
                data={"tabs": len(tabbed), "sheets": stack.sheets, "sheet_mm": sheet_mm},
            )
        )
    if stack.covers and is_thin:
        found.append(
            Finding(
                code="stack-covers-bend",
                severity=Severity.WARNING,
                message=f"The {counted(stack.covers, 'cover')} of the stack are sheets of {sheet}, "
                f"below the {stiff} from which a sheet is stiff: they lift in the jet and do not "
                "press the parts flat.",
                remedy="Lay scrap of that thickness or more on top and below, and plan with as "
                "many sheets as it is thick.",
                data={"covers": stack.covers, "sheet_mm": sheet_mm, "stiff_mm": stiff_mm},
            )
        )
    return found
