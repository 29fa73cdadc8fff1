"""Stacks: how many sheets, how they are held, and where screws go outside the parts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import both
from kerfwright.geometry.segments import Floats
from kerfwright.planning.feasibility import chords
from kerfwright.planning.plan import Plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.beyond import both_sizes
from kerfwright.trade.part import Role
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import MOST_SHEETS, Holding, Stack

_UM: Final = 1000.0
_STEPS: Final = 60
"""Places tried along the longer side of the stock."""
_HEAD: Final = 2.0
"""A countersunk head is about twice as wide as its screw (common practice, no source)."""
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldHole:
    """A hole for a screw that holds a stack."""

    x_mm: float
    y_mm: float
    diameter_mm: float


def stack_of(
    pieces: int,
    *,
    sheet_mm: float,
    rules: PlanningRules,
    holding: Holding = Holding.CLAMPED,
    covers: int | None = None,
) -> Stack:
    """Return a stack; without a word on covers, thin sheet lies between two.

    Parameters
    ----------
    pieces : int
    sheet_mm : float
    rules : PlanningRules
    holding : Holding
    covers : int, optional
    """
    if covers is None:
        covers = 2 if pieces > 1 and sheet_mm < rules.stack_cover_below_mm else 0
    return Stack(
        pieces=pieces,
        sheet_mm=sheet_mm,
        joint_mm=rules.stack_joint_mm,
        covers=covers,
        holding=holding,
    )


def most_pieces(
    limit_mm: float,
    *,
    sheet_mm: float,
    rules: PlanningRules,
    covers: int | None = None,
) -> int:
    """Return how many pieces a stack of a height holds at most, covers and joints counted."""
    one = stack_of(2, sheet_mm=sheet_mm, rules=rules, covers=covers)
    each = sheet_mm + one.joint_mm
    sheets = int((limit_mm + one.joint_mm) / each + _ROUNDING)
    return max(min(sheets - one.covers, MOST_SHEETS), 0)


def stacked(requirement: Requirement, stack: Stack) -> Requirement:
    """Return the requirement of one sheet as that of a stack of it."""
    return replace(requirement, height_mm=stack.height_mm, stack=stack)


def hold_holes(plan: Plan) -> tuple[HoldHole, ...]:
    """Return where screws hold a bolted stack: outside parts, kerfs and starts, far apart.

    Each hole keeps its head clear of every kerf, and its edge clear of the edge of the stock.
    Fewer than the rules ask for are returned where there is no room for more.

    Parameters
    ----------
    plan : Plan
    """
    stack = plan.requirement.stack
    if stack is None or stack.holding is not Holding.BOLTED or plan.stock is None:
        return ()
    rules = plan.rules
    rough = plan.passes[0]
    kerf_mm = rough.offset_mm + plan.choice.wire.radius_mm + rough.gap_um / _UM
    head_mm = _HEAD * rules.stack_bolt_mm / 2
    metal = shapely.Polygon(chords(plan.stock)).buffer(
        -(rules.stack_bolt_mm / 2 + rules.stack_edge_mm)
    )
    away = [
        shapely.Polygon(chords(c.contour)).buffer(kerf_mm + head_mm + rules.wall_clearance_mm)
        for c in plan.part.contours
        if c.role is Role.OUTLINE or c.parent_id is None
    ]
    away += [
        shapely.Point(c.start.x_mm, c.start.y_mm).buffer(c.start.diameter_mm / 2 + head_mm)
        for c in plan.contours
    ]
    places = _grid_in(metal.difference(shapely.union_all(away)))
    centre = np.array(shapely.centroid(metal).coords[0]) if not metal.is_empty else np.zeros(2)
    chosen: list[tuple[float, float]] = []
    while len(places) and len(chosen) < int(rules.stack_bolts):
        against = np.array(chosen) if chosen else centre[None, :]
        apart = np.hypot(*(places[:, None, :] - against[None, :, :]).transpose(2, 0, 1)).min(axis=1)
        k = int(np.argmax(apart))
        if chosen and apart[k] < 2 * head_mm:
            break
        chosen.append((float(places[k, 0]), float(places[k, 1])))
    return tuple(HoldHole(x_mm=x, y_mm=y, diameter_mm=rules.stack_bolt_mm) for x, y in chosen)


def _grid_in(region: shapely.Geometry) -> Floats:
    if region.is_empty:
        return np.empty((0, 2))
    x0, y0, x1, y1 = region.bounds
    step = max(x1 - x0, y1 - y0) / _STEPS or 1.0
    x, y = np.meshgrid(np.arange(x0, x1 + step / 2, step), np.arange(y0, y1 + step / 2, step))
    inside = shapely.contains_xy(region, x.ravel(), y.ravel())
    found: Floats = np.round(np.column_stack([x.ravel(), y.ravel()])[inside], 3)
    return found


def stack_findings(plan: Plan) -> list[Finding]:
    """Return what is to be said of the stack of a plan: its pieces, and what holds them.

    Parameters
    ----------
    plan : Plan
    """
    stack = plan.requirement.stack
    if stack is None:
        return []
    found = []
    if stack.sheets > 1:
        covers = f" and {stack.covers} covers" if stack.covers else ""
        found.append(
            Finding(
                code="stack-pieces-come-free",
                severity=Severity.NOTE,
                message=f"At each cut-off {stack.sheets} loose pieces come free at once, one of "
                f"each of {stack.pieces} sheets{covers}.",
                remedy="Hold them as one with a clamp or a strap before the cut-off: a single "
                "sheet can tip into the wire.",
                data={"pieces": stack.pieces, "covers": stack.covers},
            )
        )
    rules = plan.rules
    found += _beyond_known(stack, rules)
    if stack.holding is Holding.BOLTED:
        holes, wanted = hold_holes(plan), int(rules.stack_bolts)
        if len(holes) < wanted:
            found.append(
                Finding(
                    code="stack-no-room-for-screws",
                    severity=Severity.WARNING,
                    message=f"There is room for {len(holes)} of {wanted} screws of "
                    f"{both(rules.stack_bolt_mm * _UM)} outside the parts"
                    + (": the edge of the stock is not known." if plan.stock is None else "."),
                    remedy="Leave more stock around the parts (--stock-margin), draw the stock, "
                    "or have the stack clamped or welded.",
                    data={"holes": len(holes), "wanted": wanted},
                )
            )
    if stack.holding is Holding.WELDED:
        found += _weld_findings(plan)
    return found


def _beyond_known(stack: Stack, rules: PlanningRules) -> list[Finding]:
    """Return what is to be said of very many sheets, and of joints that are much of the height."""
    found = []
    if stack.sheets > rules.stack_known_sheets:
        found.append(
            Finding(
                code="stack-beyond-known",
                severity=Severity.WARNING,
                message=f"{stack.sheets} sheets in one stack; more than "
                f"{rules.stack_known_sheets:g} are beyond what is known to be cut as one. How flat "
                "they lie, whether each conducts to the clamp, and burr in the joints decide, and "
                "none of them is in feed, price or tolerance.",
                remedy=f"Make stacks of {rules.stack_known_sheets:g} sheets or fewer (--stack), "
                "or cut one as a trial and quote after it.",
                data={"sheets": stack.sheets, "limit": rules.stack_known_sheets},
            )
        )
    if stack.air_share > rules.stack_air_share:
        metal_mm = stack.sheets * stack.sheet_mm
        found.append(
            Finding(
                code="stack-joints-not-counted",
                severity=Severity.NOTE,
                message=f"{stack.air_share:.0%} of the height of {both_sizes(stack.height_mm)} is "
                f"air between sheets, {both(stack.joint_mm * _UM)} a joint; the metal is "
                f"{both_sizes(metal_mm)}. Feed, time and masses are those of a solid block so "
                "high: there is less to take, but water is lost into the joints, and nothing "
                "measured says which of the two counts more.",
                remedy="Measure the stack clamped and put its joint into stack_joint_mm of "
                "planning.toml; cut one and record it.",
                data={
                    "air_share": stack.air_share,
                    "limit": rules.stack_air_share,
                    "metal_mm": metal_mm,
                    "height_mm": stack.height_mm,
                },
            )
        )
    return found


def _weld_findings(plan: Plan) -> list[Finding]:
    if plan.stock is None:
        return []
    edge = shapely.LinearRing(chords(plan.stock))
    outlines = [c for c in plan.part.contours if c.role is Role.OUTLINE and c.parent_id is None]
    rooms = [(float(edge.distance(shapely.LinearRing(chords(c.contour)))), c) for c in outlines]
    if not rooms:
        return []
    room, nearest = min(rooms, key=lambda pair: pair[0])
    if room >= plan.rules.stack_weld_mm:
        return []
    return [
        Finding(
            code="stack-weld-near-part",
            severity=Severity.WARNING,
            message=f"{nearest.id} lies {both(room * _UM)} from the edge of the stock; the bead "
            f"and what its heat draws need {both(plan.rules.stack_weld_mm * _UM)}.",
            where=Place(contour_id=nearest.id),
            remedy="Leave more stock there, weld at the other edges, or clamp the stack.",
            data={"room_mm": room, "needed_mm": plan.rules.stack_weld_mm},
        )
    ]
