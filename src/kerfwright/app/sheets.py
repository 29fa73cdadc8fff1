"""How each sheet of a stack comes out, and which do not keep what is asked."""

from __future__ import annotations

from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.units import both
from kerfwright.planning.plan import Plan
from kerfwright.process.passes import passes_for
from kerfwright.process.stack_shape import SheetShape, sheet_shapes
from kerfwright.process.technology import Technology
from kerfwright.process.wire_physics import WirePhysics

_SEEN: Final = 1.01
"""A hundredth more is within the digits that are shown."""


def shapes_of(
    plan: Plan, technology: Technology, physics: WirePhysics | None
) -> tuple[SheetShape, ...]:
    """Return how each sheet of a plan's stack comes out, from the top."""
    stack, requirement = plan.requirement.stack, plan.requirement
    if stack is None or physics is None or not plan.contours:
        return ()
    single = passes_for(
        len(plan.passes),
        material=requirement.material,
        height_mm=stack.sheet_mm,
        wire=plan.choice.wire,
        machine=requirement.machine,
        technology=technology,
    )[-1]
    return sheet_shapes(
        stack,
        plan.passes,
        single_um=single.tolerance_um,
        wire=plan.choice.wire,
        physics=physics.with_nozzles_off(plan.rules.nozzles_off_mm),
    )


def sheet_findings(
    plan: Plan, technology: Technology, physics: WirePhysics | None
) -> tuple[Finding, ...]:
    """Return a finding where sheets of a stack come out beyond the tolerance asked.

    Parameters
    ----------
    plan : Plan
    technology : Technology
    physics : WirePhysics or None
        None: nothing is known of single sheets, and nothing said.
    """
    asked_um = plan.requirement.tolerance_um
    sheets = shapes_of(plan, technology, physics)
    if asked_um is None or not sheets:
        return ()
    beyond = [s for s in sheets if s.holds_um > asked_um * _SEEN]
    if not beyond:
        return ()
    worst = max(beyond, key=lambda s: s.holds_um)
    return (
        Finding(
            code="sheets-beyond-tolerance",
            severity=Severity.WARNING,
            message=f"{len(beyond)} of {len(sheets)} pieces of the stack are to be expected "
            f"beyond ±{both(asked_um)}: piece {worst.piece} from the top holds "
            f"±{both(worst.holds_um)}, for the wall is not as straight over the height as in a "
            "single sheet.",
            remedy="Cut lower stacks, ask for one skim more, or agree the wider limits.",
            data={
                "pieces_beyond": len(beyond),
                "asked_um": asked_um,
                "holds_um": worst.holds_um,
            },
        ),
    )
