"""What is wrong with the start of a contour, or with there being none."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.planning.plan import Start, StartKind, Tab
from kerfwright.planning.room import has_room, smallest_start_mm, start_room_mm
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Site
from kerfwright.process.hole_depth import depth_finding
from kerfwright.process.technology import PassChoice, SmallHoleLaw, Technology
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.placement import NOWHERE_PLACED, Placement
from kerfwright.trade.requirement import Requirement


def no_start_finding(
    target: PartContour,
    choice: PassChoice,
    requirement: Requirement,
    technology: Technology,
    rules: PlanningRules,
) -> Finding:
    """Return the refusal of a contour in whose waste no start hole fits."""
    wire_mm = choice.wire.diameter_mm
    smallest = smallest_start_mm(requirement, rules=rules, wire_mm=wire_mm)
    grown = 2 * start_room_mm(requirement, technology=technology, rules=rules, wire_mm=wire_mm)
    # A thinner wire is no remedy where the machine has none, or its hole fits no better.
    least = start_room_mm(requirement, technology=technology, rules=rules)
    is_helped = smallest_start_mm(requirement, rules=rules) < smallest and has_room(target, least)
    thinner = "ask for a thinner wire, " if is_helped else ""
    x0, y0, x1, y1 = target.contour.bounds_mm
    return Finding(
        code="start-hole-fits-nowhere",
        severity=Severity.REFUSAL,
        message=f"No start hole fits in the waste of {target.id}: the smallest, "
        f"{smallest:.2f} mm, with its wide mouth, wander over {requirement.height_mm:.4g} mm and "
        f"clearance needs a free circle of {grown:.2f} mm beside the wall.",
        where=Place(contour_id=target.id, x_mm=(x0 + x1) / 2, y_mm=(y0 + y1) / 2),
        remedy=f"Give a start hole on a layer of its own, {thinner}or "
        + (
            f"widen the opening to a free circle of {grown:.2f} mm; a round opening can be "
            "drilled with a tube electrode."
            if target.role is Role.OPENING
            else "leave more stock around the part."
        ),
        data={"smallest_hole_mm": smallest, "needed_mm": grown},
    )


def drilled_deep(start: Start, height_mm: float, *, law: SmallHoleLaw) -> list[Finding]:
    """Return what is to be said of the depth of a start hole that is to be drilled.

    Parameters
    ----------
    start : Start
    height_mm : float
    law : SmallHoleLaw
    """
    if start.kind is not StartKind.DRILLED:
        return []
    deep = depth_finding(height_mm, diameter_mm=start.diameter_mm, law=law)
    place = Place(contour_id=start.contour_id, x_mm=start.x_mm, y_mm=start.y_mm)
    if deep is None:
        return []
    # Whoever drills a start hole may do it another way: a warning at most.
    severity = Severity.WARNING if deep.severity is Severity.REFUSAL else deep.severity
    return [replace(deep, where=place, severity=severity)]


def site_findings(
    site: Site,
    tab: Tab | None,
    rules: PlanningRules,
    *,
    is_part: bool,
    placement: Placement = NOWHERE_PLACED,
) -> list[Finding]:
    """Return warnings of a tight hole, a start at the edge, and a tab, if any, that is too weak.

    Parameters
    ----------
    site : Site
    tab : Tab or None
    rules : PlanningRules
    is_part : bool
        The piece is wanted: a part, not a slug.
    placement : Placement
        What of them a person chose.
    """
    start = site.start
    place = Place(contour_id=start.contour_id, x_mm=start.x_mm, y_mm=start.y_mm)
    found: list[Finding] = []
    if site.has_tight_clearance:
        found.append(
            Finding(
                code="start-hole-close-to-wall",
                severity=Severity.WARNING,
                message=f"The start hole Ø{start.diameter_mm:.2f} mm of {start.contour_id} has "
                f"only {start.clearance_mm:.2f} mm to the finished wall beyond its wander; "
                f"{rules.wall_clearance_mm} mm is usual.",
                where=place,
                remedy="Drill it with care for place and squareness, and measure before cutting.",
                data={"clearance_mm": start.clearance_mm, "usual_mm": rules.wall_clearance_mm},
            )
        )
    if start.kind is StartKind.EDGE:
        is_placed = placement.start_mm is not None
        found.append(
            Finding(
                code="start-from-edge",
                severity=Severity.WARNING,
                message=f"{start.contour_id} is entered from the edge of the stock: "
                + (
                    "its start was placed there, outside the stock."
                    if is_placed
                    else "no start hole fits in the frame around it."
                ),
                where=place,
                remedy=(
                    "Place the start in the frame, where a hole fits, or leave its place to the "
                    "planner"
                    if is_placed
                    else "Leave more stock for a start hole"
                )
                + ": a closed frame does not spring, and the water stays in the cut.",
            )
        )
    if tab is not None and tab.safety < rules.tab_safety:
        asked_mm = placement.tab_width_mm
        found.append(_too_weak(tab, place, rules, asked_width_mm=asked_mm, is_part=is_part))
    return found


def _too_weak(
    tab: Tab,
    place: Place,
    rules: PlanningRules,
    *,
    asked_width_mm: float | None,
    is_part: bool,
) -> Finding:
    if asked_width_mm is None:
        share = f"{rules.tab_max_share:.0%}".replace("%", " %")
        whose, first = f"{share} of the perimeter and no more", ""
    else:
        whose, first = "as wide as asked", "Ask for a wider tab or leave its width open. "
    return Finding(
        code="tab-too-weak",
        severity=Severity.WARNING,
        message=f"A tab of {both_sizes(tab.width_mm)}, {whose}, holds {place.contour_id} with "
        f"safety {tab.safety:.2g} only; {rules.tab_safety:.0f} is the rule"
        f"{_yields(tab.safety, is_part=is_part)}.",
        where=place,
        remedy=f"{first}Support the piece from below, flush with low pressure, or cut several "
        "sheets as a stack."
        if tab.safety >= 1
        else f"{first}Clamp the sheet between two plates, or cut several as a stack, and ask for "
        "the height of all together: the tab then has that height, and nobody stands by.",
        data={"width_mm": tab.width_mm, "safety": tab.safety},
    )


def _yields(safety: float, *, is_part: bool) -> str:
    """Say what a tab that yields means for the work, and for its price."""
    if safety >= 1:
        return ""
    until = "in every pass until it is cut off" if is_part else "while it is roughed"
    return (
        f", and below 1 it yields: the piece has to be held otherwise, and someone stands by "
        f"{until}. Those attended hours make thin sheet dearer than a plate whose tabs hold"
    )
