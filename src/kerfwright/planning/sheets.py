"""Passes for a stack: as many as its sheets need to hold what is asked, not just the mean wall."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.process.choice import JobPasses, passes_of
from kerfwright.process.held import two_digits_up
from kerfwright.process.passes import passes_for
from kerfwright.process.stack_shape import SheetShape, sheet_shapes
from kerfwright.process.technology import Pass, Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Requirement

SEEN: Final = 1.01
"""A hundredth more is within the digits that are shown."""


def least_held_um(sheets: Sequence[SheetShape]) -> float | None:
    """Return what the sheet holds that holds least, half the zone; None of no sheets."""
    return max((s.holds_um for s in sheets), default=None)


def sheets_of(
    passes: Sequence[Pass],
    requirement: Requirement,
    *,
    wire: Wire,
    technology: Technology,
    physics: WirePhysics,
) -> tuple[SheetShape, ...]:
    """Return how each sheet of a stack comes out after some passes, from the top.

    Parameters
    ----------
    passes : sequence of Pass
        For the height of the stack.
    requirement : Requirement
        Of the stack; without one there are no sheets.
    wire : Wire
    technology : Technology
    physics : WirePhysics
        Of a wire whose nozzles stand as they will.
    """
    stack = requirement.stack
    if stack is None:
        return ()
    single = passes_for(
        len(passes),
        material=requirement.material,
        height_mm=stack.sheet_mm,
        wire=wire,
        machine=requirement.machine,
        technology=technology,
        between_guides_mm=stack.height_mm,
    )[-1]
    return sheet_shapes(stack, passes, single=single, wire=wire, physics=physics)


def tolerance_for_sheets_um(
    chosen: JobPasses,
    requirement: Requirement,
    *,
    technology: Technology,
    physics: WirePhysics,
) -> tuple[float, Finding] | None:
    """Return the tolerance to choose passes by, so that every sheet holds the one asked.

    None where the passes chosen do that already, where no tolerance is asked, or where no number
    of passes does: then the sheets that do not are warned of.

    Parameters
    ----------
    chosen : JobPasses
        By what the mean wall of the stack holds.
    requirement : Requirement
        Of the stack.
    technology : Technology
    physics : WirePhysics
        Of a wire whose nozzles stand as they will.
    """
    asked_um, most = requirement.tolerance_um, chosen.most
    if requirement.stack is None or asked_um is None or most.is_beyond:
        return None

    def held_um(passes: Sequence[Pass]) -> float:
        sheets = sheets_of(
            passes, requirement, wire=most.wire, technology=technology, physics=physics
        )
        return least_held_um(sheets) or 0.0

    first_um = held_um(most.passes)
    if first_um <= asked_um * SEEN:
        return None
    for count in range(len(most.passes) + 1, len(technology.passes) + 1):
        passes = passes_of(
            count,
            requirement=requirement,
            wire=most.wire,
            technology=technology,
            stock_by=most.stock_by,
        )
        tighter_um = passes[-1].tolerance_um
        if held_um(passes) <= asked_um * SEEN and tighter_um < most.passes[-1].tolerance_um:
            return tighter_um, _said(requirement, len(most.passes), count, first_um)
    return None


def _said(requirement: Requirement, fewer: int, count: int, first_um: float) -> Finding:
    asked_um = requirement.tolerance_um or 0.0
    return Finding(
        code="pass-more-for-sheets",
        severity=Severity.NOTE,
        message=f"{count} passes: after {fewer} the sheets of the stack that hold least would hold "
        f"±{zone_held(two_digits_up(first_um))}, not the ±{zone_asked(asked_um)} asked, for the "
        "wall is not as straight over the height as in a single sheet.",
        remedy="A lower stack, or wider limits, may do with fewer: compare with --stack.",
        data={"passes": count, "fewer": fewer, "holds_um": first_um, "asked_um": asked_um},
    )
