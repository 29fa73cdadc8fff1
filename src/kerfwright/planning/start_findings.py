"""What is wrong with the start of a contour, or with there being none."""

from __future__ import annotations

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.planning.plan import StartKind, Tab
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Site
from kerfwright.process.small_hole import reach_mm
from kerfwright.process.technology import PassChoice, Technology
from kerfwright.trade.part import PartContour, Role
from kerfwright.trade.requirement import Requirement


def no_start_finding(
    target: PartContour,
    choice: PassChoice,
    requirement: Requirement,
    technology: Technology,
    rules: PlanningRules,
) -> Finding:
    """Return the refusal of a contour in whose waste no start hole fits."""
    smallest = max(
        requirement.machine.min_start_hole_mm,
        choice.wire.diameter_mm + rules.threading_clearance_mm,
    )
    reach = reach_mm(requirement.height_mm, diameter_mm=smallest, law=technology.small_hole)
    grown = 2 * (reach + rules.tight_wall_clearance_mm)
    x0, y0, x1, y1 = target.contour.bounds_mm
    return Finding(
        code="start-hole-fits-nowhere",
        severity=Severity.REFUSAL,
        message=f"No start hole fits in the waste of {target.id}: the smallest, "
        f"{smallest:.2f} mm, with its wide mouth, wander over {requirement.height_mm:.4g} mm and "
        f"clearance needs a free circle of {grown:.2f} mm beside the wall.",
        where=Place(contour_id=target.id, x_mm=(x0 + x1) / 2, y_mm=(y0 + y1) / 2),
        remedy=(
            "Give a start hole on a layer of its own, ask for a thinner wire, or drill the "
            "opening with a tube electrode."
            if target.role is Role.OPENING
            else "Give a start hole on a layer of its own, leave more stock around the part, or "
            "ask for a thinner wire."
        ),
        data={"smallest_hole_mm": smallest, "needed_mm": grown},
    )


def site_findings(
    site: Site, tab: Tab | None, rules: PlanningRules, *, asked_width_mm: float | None = None
) -> list[Finding]:
    """Return warnings of a tight hole, a start at the edge, and a tab, if any, that is too weak.

    Parameters
    ----------
    site : Site
    tab : Tab or None
    rules : PlanningRules
    asked_width_mm : float or None
        Of the tab, where a person chose it.
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
        found.append(
            Finding(
                code="start-from-edge",
                severity=Severity.WARNING,
                message=f"{start.contour_id} is entered from the edge of the stock: no start hole "
                "fits in the frame around it.",
                where=place,
                remedy="Leave more stock for a start hole: a closed frame does not spring, and "
                "the water stays in the cut.",
            )
        )
    if tab is not None and tab.safety < rules.tab_safety:
        found.append(_too_weak(tab, start.contour_id, place, rules, asked_width_mm))
    return found


def _too_weak(
    tab: Tab, contour_id: str, place: Place, rules: PlanningRules, asked_width_mm: float | None
) -> Finding:
    if asked_width_mm is None:
        share = f"{rules.tab_max_share:.0%}".replace("%", " %")
        whose, first = f"{share} of the perimeter and no more", "Support"
    else:
        whose, first = "as wide as asked", "Ask for a wider tab or leave its width open, support"
    return Finding(
        code="tab-too-weak",
        severity=Severity.WARNING,
        message=f"A tab of {both_sizes(tab.width_mm)}, {whose}, holds {contour_id} with safety "
        f"{tab.safety:.2g} only; {rules.tab_safety:.0f} is the rule"
        + ("." if tab.safety >= 1 else ", and below 1 it yields: someone stands by."),
        where=place,
        remedy=f"{first} the piece from below, flush with low pressure, or cut several sheets as "
        "a stack.",
        data={"width_mm": tab.width_mm, "safety": tab.safety},
    )
