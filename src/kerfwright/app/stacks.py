"""Stacks: what a person asks, the cost of a piece against the number in a stack, and why."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from kerfwright.app.asked_stacks import covers_asked, expect_stack, pieces_asked
from kerfwright.app.demand_kinds import size_text
from kerfwright.app.offers import Offer, Priced, Shop
from kerfwright.app.records import JobRequest
from kerfwright.app.sheets import shapes_of, sheet_findings
from kerfwright.app.stack_prices import SAME, StackPrices, refused
from kerfwright.foundation.units import both, minutes_text
from kerfwright.foundation.zones import zone_held
from kerfwright.planning.plan import Plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.sheets import least_held_um
from kerfwright.planning.stacking import stack_of, stacked
from kerfwright.process.stack_shape import SheetShape
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.stack import Holding, Stack, loads_for


def with_stack(
    requirement: Requirement,
    request: JobRequest,
    *,
    rules: PlanningRules,
) -> Requirement:
    """Return the requirement of a sheet as that of the stack that the request asks for by number.

    Parameters
    ----------
    requirement : Requirement
    request : JobRequest
    rules : PlanningRules

    Raises
    ------
    InputError
        Code ``stack-value``.
    """
    if request.stack is None:
        expect_stack(request.stack, request.covers)
        return requirement
    pieces = pieces_asked(request.stack)
    assert pieces is not None, "the best number is found before"
    stack = stack_of(
        pieces,
        sheet_mm=requirement.height_mm,
        rules=rules,
        holding=request.holding,
        covers=covers_asked(request.covers),
    )
    return stacked(requirement, stack)


@dataclass(frozen=True, slots=True, kw_only=True)
class StackPoint:
    """One number of pieces in a stack.

    Attributes
    ----------
    stack : Stack
    loads : int
        Stacks that the quantity takes.
    offer : Offer
        Of the contours that need most passes.
    area_rate_mm2_per_min : float
        Of the rough pass at this height.
    holds_um : float
        Half the tolerance zone of the sheet that holds least.
    blocks : str
        Why it cannot be cut so, in a few words; empty where it can.
    """

    stack: Stack
    loads: int
    offer: Offer
    area_rate_mm2_per_min: float
    holds_um: float
    blocks: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StackCurve:
    """What a piece costs by how many are cut at once.

    Attributes
    ----------
    currency : str
    quantity : int
    points : tuple of StackPoint
        Ascending; those that cannot be cut too.
    best : int or None
        Index of the point to take; None where none can be cut.
    why : tuple of str
        Sentences: what it saves, what keeps it from being lower or higher.
    sheets : tuple of SheetShape
        Of the best stack, how each sheet comes out, from the top; empty without wire physics.
    """

    currency: str
    quantity: int
    points: tuple[StackPoint, ...]
    best: int | None
    why: tuple[str, ...]
    sheets: tuple[SheetShape, ...]


def stack_curve(
    shop: Shop,
    requirement: Requirement,
    *,
    quantity: int,
    holding: Holding,
    covers: int | None = None,
    tell: Callable[[str, float], None] = lambda _what, _share: None,
) -> StackCurve:
    """Price the quantity cut singly and as stacks of every sensible number.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
        Of one sheet.
    quantity : int
    holding : Holding
    covers : int or None
        Scrap sheets of a stack; None for those that its sheet wants.
    tell : callable
    """
    prices = StackPrices(shop, requirement, holding=holding, covers=covers)
    counts = prices.counts(quantity)
    points: list[StackPoint] = []
    plans: list[Plan] = []
    allowed: set[str] | None = None
    for number, pieces in enumerate(counts):
        tell(f"pricing a stack of {pieces}", number / len(counts))
        priced = prices.price(pieces, quantity)
        if priced is None:
            continue
        found = refused(priced)
        # What is refused of a single sheet too is no matter of the stack.
        allowed = set(found) if allowed is None else allowed
        new = [words for code, words in found.items() if code not in allowed]
        held_um = least_held_um(shapes_of(priced.plan, shop.technology, shop.physics))
        told = shop.told_of(priced, _of_most_passes(priced.plan))
        points.append(_point(told, prices.stack(pieces), quantity, new, held_um=held_um))
        plans.append(priced.plan)
    tell("done", 1.0)
    best = _best(points, prices.most_known)
    why: tuple[str, ...] = ()
    sheets: tuple[SheetShape, ...] = ()
    if best is not None:
        why = tuple(_why(points, best, shop, prices.most, requirement.machine.max_height_mm))
        sheets = shapes_of(plans[best], shop.technology, shop.physics)
        why += tuple(
            f"{f.message} {f.remedy}"
            for f in sheet_findings(plans[best], shop.technology, shop.physics)
        )
    return StackCurve(
        currency=shop.rates.currency,
        quantity=quantity,
        points=tuple(points),
        best=best,
        why=why,
        sheets=sheets,
    )


def prices_of(shop: Shop, requirement: Requirement) -> StackPrices:
    """Return the prices of the sheet of a job in every stack, held as it is asked to be.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
        Of a stack, or of one sheet.
    """
    stack = requirement.stack
    if stack is None:
        return StackPrices(shop, requirement, holding=Holding.CLAMPED)
    return StackPrices(
        shop,
        replace(requirement, height_mm=stack.sheet_mm, stack=None),
        holding=stack.holding,
        covers=stack.covers if stack.pieces > 1 else None,
    )


def _point(
    priced: Priced, stack: Stack, quantity: int, blocks: list[str], *, held_um: float | None
) -> StackPoint:
    plan = priced.plan
    feeds = [c.feed_mm_per_min(c.passes[0]) for c in plan.contours]
    lengths = [c.target.contour.length_mm for c in plan.contours]
    minutes = math.fsum(length / feed for length, feed in zip(lengths, feeds, strict=True))
    return StackPoint(
        stack=stack,
        loads=loads_for(quantity, stack.pieces),
        offer=priced.offer,
        area_rate_mm2_per_min=math.fsum(lengths) / minutes * stack.height_mm,
        holds_um=priced.offer.tolerance_um if held_um is None else held_um,
        blocks=blocks[0] if blocks else "",
    )


def _of_most_passes(plan: Plan) -> list[str]:
    """Return the contours that need most passes, of all of which the same is asked."""
    ids = plan.contours_by_count()[0][1]
    demand = plan.requirement.demand_on(ids[0])
    return [name for name in ids if plan.requirement.demand_on(name) == demand]


def _best(points: list[StackPoint], known: int) -> int | None:
    """Return the cheapest that can be cut; a lower one where it costs the same within a share.

    Of more pieces than are known to be cut as one none is taken unasked.
    """
    open_ = [k for k, p in enumerate(points) if not p.blocks and p.stack.pieces <= known]
    if not open_:
        return None
    least = min(points[k].offer.each for k in open_)
    return next(k for k in open_ if points[k].offer.each <= least * (1 + SAME))


def _why(
    points: list[StackPoint], best: int, shop: Shop, most: int, machine_mm: float
) -> list[str]:
    here, single = points[best], points[0]
    currency, said = shop.rates.currency, []
    if here.stack.pieces > 1:
        saved = single.offer.each - here.offer.each
        minutes = single.offer.machine_minutes_each - here.offer.machine_minutes_each
        said.append(
            f"A stack of {here.stack.pieces}, {size_text(here.stack.height_mm)} high, costs "
            f"{currency} {here.offer.each} a piece, {saved} less than cut singly, and "
            f"{minutes_text(abs(minutes))} of machine time {'less' if minutes >= 0 else 'more'}: "
            f"the area rate is {here.area_rate_mm2_per_min:.0f} mm²/min, singly "
            f"{single.area_rate_mm2_per_min:.0f}."
        )
    else:
        said.append(f"Cut singly a piece costs {currency} {here.offer.each}; no stack is cheaper.")
    higher = points[best + 1] if best + 1 < len(points) else None
    if higher is not None and higher.stack.sheets > shop.rules.stack_known_sheets:
        said.append(
            f"A stack of {higher.stack.pieces} has {higher.stack.sheets} sheets; more than "
            f"{shop.rules.stack_known_sheets:g} (stack_known_sheets of planning.toml) are beyond "
            "what is known to be cut as one, so that none is chosen unasked. Ask it by number "
            "after a trial (--stack)."
        )
    elif higher is not None:
        said.append(_against(higher, here, currency))
    elif here.loads == 1:
        said.append("All pieces are in one stack.")
    else:
        said.append(
            f"More than {most} sheets are higher than {size_text(machine_mm)}, which the machine "
            "takes."
        )
    return said


def _against(higher: StackPoint, here: StackPoint, currency: str) -> str:
    """Say why the next higher stack is not taken."""
    subject = f"A stack of {higher.stack.pieces} ({size_text(higher.stack.height_mm)})"
    if higher.blocks:
        return f"{subject} cannot be cut as asked: {higher.blocks}"
    more = higher.offer.each - here.offer.each
    if more <= 0:
        return f"{subject} costs the same within {SAME:.0%}; the lower one is easier to hold."
    reasons = []
    if higher.offer.passes > here.offer.passes:
        reasons.append(f"it takes {higher.offer.passes} passes instead of {here.offer.passes}")
    if higher.area_rate_mm2_per_min < here.area_rate_mm2_per_min:
        reasons.append(f"the area rate falls to {higher.area_rate_mm2_per_min:.0f} mm²/min")
    if higher.offer.machine_minutes_each > here.offer.machine_minutes_each:
        minutes = higher.offer.machine_minutes_each - here.offer.machine_minutes_each
        reasons.append(f"{minutes_text(minutes)} more of machine time a piece")
    because = f": {', '.join(reasons)}" if reasons else ""
    return f"{subject} costs {currency} {more} a piece more{because}."


def sheets_told(sheets: tuple[SheetShape, ...]) -> tuple[tuple[str, SheetShape], ...]:
    """Return the sheets worth a line, with their names: top, middle and bottom."""
    if not sheets:
        return ()
    chosen = {"top": 0, "middle": (len(sheets) - 1) // 2, "bottom": len(sheets) - 1}
    names: dict[int, list[str]] = {}
    for name, index in chosen.items():
        names.setdefault(index, []).append(name)
    return tuple((" and ".join(named), sheets[k]) for k, named in sorted(names.items()))


def shape_text(shape: SheetShape) -> str:
    """Say how one sheet comes out, in both unit systems."""
    side = "fuller" if shape.wall_um >= 0 else "leaner"
    return (
        f"wall {both(abs(shape.wall_um))} {side} than the mean, corners lag by "
        f"{both(shape.lag_um)}, ±{zone_held(shape.holds_um)} to expect"
    )
