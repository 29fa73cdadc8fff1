"""Passes for a stack: as many as its sheets need to hold what is asked, not just the mean wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.zones import zone_asked, zone_held
from kerfwright.process.beyond import of_contours, place_of
from kerfwright.process.choice import JobPasses, passes_of
from kerfwright.process.held import two_digits_up
from kerfwright.process.passes import passes_for
from kerfwright.process.stack_shape import SheetShape, sheet_shapes
from kerfwright.process.technology import Pass, PassChoice, Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Demand, Requirement

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


def requirement_for_sheets(
    chosen: JobPasses,
    requirement: Requirement,
    *,
    technology: Technology,
    physics: WirePhysics,
) -> tuple[Requirement, tuple[Finding, ...]] | None:
    """Return what to choose passes by, so that every sheet holds what is asked of each contour.

    Contours of which the same is asked are judged together, by their own passes.  None where the
    passes chosen do it already, where no tolerance is asked, or where no number of passes does:
    then the sheets that do not are warned of.

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
    if requirement.stack is None:
        return None
    groups: dict[Demand, list[str]] = {}
    for name in chosen.by_contour:
        groups.setdefault(requirement.demand_on(name), []).append(name)
    contours, findings = dict(requirement.contours), []
    for demand, ids in groups.items():
        asked_um, choice = demand.tolerance_um, chosen.of(ids[0])
        if asked_um is None or choice.is_beyond:
            continue
        named = () if len(groups) == 1 else tuple(ids)
        found = _surer(choice, requirement, asked_um, named, technology=technology, physics=physics)
        if found is None:
            continue
        for name in ids:
            own = contours.get(name, Demand())
            contours[name] = replace(own, tolerance_um=found[0])
        findings.append(found[1])
    if not findings:
        return None
    return replace(requirement, contours=contours), tuple(findings)


def _surer(
    choice: PassChoice,
    requirement: Requirement,
    asked_um: float,
    contour_ids: tuple[str, ...],
    *,
    technology: Technology,
    physics: WirePhysics,
) -> tuple[float, Finding] | None:
    """Return the tolerance by which contours get the passes that their sheets need, and why."""

    def held_um(passes: Sequence[Pass]) -> float:
        sheets = sheets_of(
            passes, requirement, wire=choice.wire, technology=technology, physics=physics
        )
        return least_held_um(sheets) or 0.0

    fewer, first_um = len(choice.passes), held_um(choice.passes)
    if first_um <= asked_um * SEEN:
        return None
    for count in range(fewer + 1, len(technology.passes) + 1):
        passes = passes_of(
            count,
            requirement=requirement,
            wire=choice.wire,
            technology=technology,
            stock_by=choice.stock_by,
        )
        tighter_um = passes[-1].tolerance_um
        if held_um(passes) <= asked_um * SEEN and tighter_um < choice.passes[-1].tolerance_um:
            return tighter_um, _said(asked_um, (fewer, count), first_um, contour_ids)
    return None


def _said(
    asked_um: float, counts: tuple[int, int], first_um: float, contour_ids: tuple[str, ...]
) -> Finding:
    fewer, count = counts
    return Finding(
        code="pass-more-for-sheets",
        severity=Severity.NOTE,
        message=f"{count} passes{of_contours(contour_ids)}: after {fewer} the sheets of the stack "
        f"that hold least would hold ±{zone_held(two_digits_up(first_um))}, not the "
        f"±{zone_asked(asked_um)} asked, for the wall is not as straight over the height as in a "
        "single sheet.",
        where=place_of(contour_ids),
        remedy="A lower stack, or wider limits, may do with fewer: compare with --stack.",
        data={"passes": count, "fewer": fewer, "holds_um": first_um, "asked_um": asked_um},
    )


def held_in_sheets(
    chosen: JobPasses,
    requirement: Requirement,
    *,
    technology: Technology,
    physics: WirePhysics | None,
) -> tuple[Finding, ...]:
    """Return what the choice of passes finds, offering what every sheet of a stack holds.

    Passes are chosen by the mean wall, and so is what is refused: a sheet at the top of a stack
    may hold less.

    Parameters
    ----------
    chosen : JobPasses
        By what the mean wall of the stack holds.
    requirement : Requirement
        Of the stack; without one the findings stay as they are.
    technology : Technology
        At the set-up.
    physics : WirePhysics or None
        Of the wire as the set-up has its nozzles; None: nothing is known of single sheets.
    """
    if physics is None or requirement.stack is None:
        return tuple(chosen.most.findings)
    return tuple(
        _in_sheets(one, requirement, chosen.wire, technology=technology, physics=physics)
        if one.code == "tolerance-beyond-process"
        else one
        for one in chosen.most.findings
    )


def _in_sheets(
    one: Finding,
    requirement: Requirement,
    wire: Wire,
    *,
    technology: Technology,
    physics: WirePhysics,
) -> Finding:
    held = []
    for count in range(1, len(technology.passes) + 1):
        passes = passes_of(count, requirement=requirement, wire=wire, technology=technology)
        sheets = sheets_of(passes, requirement, wire=wire, technology=technology, physics=physics)
        held.append(max(least_held_um(sheets) or 0.0, passes[-1].tolerance_um))
    best_um = min(held)
    if best_um <= float(one.data["sure_um"]) * SEEN:
        return one
    sure_um = two_digits_up(best_um)
    return replace(
        one,
        message=f"{one.message} Of a stack the sheet that holds least holds "
        f"±{zone_held(best_um)} at best.",
        remedy=f"Accept ±{zone_held(sure_um)}, which every piece of the stack holds, or cut lower "
        f"stacks. For one piece at a time: {one.remedy[:1].lower()}{one.remedy[1:]}",
        data={**one.data, "best_um": best_um, "sure_um": sure_um},
    )
