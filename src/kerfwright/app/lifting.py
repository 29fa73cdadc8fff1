"""The steps of a refused job that lift its refusals.

A limit beyond the process is eased to what is held, work higher than the machine takes is made as
high as it takes, places that cannot be are left to the planner: all of these together.  Walls too
close for the kerf are asked of another wire, and of fewer passes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from kerfwright.app.changes import Change
from kerfwright.app.demand_kinds import and_text, names
from kerfwright.app.eases import Ease, eased_limits, lower_work, other_wire, planners_places
from kerfwright.app.eases import fewer_passes as of_fewer_passes
from kerfwright.app.offers import Priced, Shop
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.planning.plan import Plan
from kerfwright.planning.unroughed import SLOT_NOT_ROUGHED
from kerfwright.process.choice import is_guided
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Requirement

_NARROW = frozenset(
    {"slot-below-kerf", SLOT_NOT_ROUGHED, "walls-closer-than-kerf", "start-hole-fits-nowhere"}
)
"""Refusals of contours that a thinner wire may lift, and fewer passes all but the last."""
_BY_WIRE = _NARROW | {"wire-not-on-machine"}
_MOST_WIRES = 4
"""Thinner wires that are tried, the thickest first."""


def lifting_changes(
    shop: Shop, requirement: Requirement, plan: Plan, quantity: int
) -> Iterator[Change]:
    """Yield the ways to ask for a refused job so that what is refused may be lifted.

    What is certain to be needed is in each; what else is refused may stay so.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    plan : Plan
        Of the job as asked.
    quantity : int
    """
    codes = {f.code for f in _refusals(plan.findings)}
    needed = [*eased_limits(plan), *lower_work(shop, requirement, plan), *planners_places(plan)]
    if not codes & _BY_WIRE:
        if needed:
            yield _together(requirement, needed, quantity)
        return
    ways = _by_wire(shop, requirement, plan), _by_passes(shop, requirement, plan)
    for way in ways:
        found = _first_lifting(shop, requirement, [[*needed, *more] for more in way], quantity)
        if found is not None:
            yield found


def lifted(plan: Plan, priced: Priced, *, currency: str) -> str:
    """Say what a job costs whose refusals a change lifts: the job as asked has no price.

    Parameters
    ----------
    plan : Plan
        Of the job as asked.
    priced : Priced
        It, changed.
    currency : str
    """
    planned = {c.target.id for c in plan.contours}
    added = [c.target.id for c in priced.plan.contours if c.target.id not in planned]
    with_them = f", {names(added)} cut with the others" if added and planned else ""
    return f"lifts what is refused: {currency} {priced.offer.each} a piece{with_them}"


def _refusals(findings: Iterable[Finding]) -> list[Finding]:
    return [f for f in findings if f.severity is Severity.REFUSAL]


def _together(requirement: Requirement, eases: Sequence[Ease], quantity: int) -> Change:
    """Return the change that all eases make."""
    wanted = requirement
    for one in eases:
        wanted = one.on(wanted)
    single = len(eases) == 1
    return Change(
        demand=and_text(dict.fromkeys(one.demand for one in eases)),
        asked=and_text(one.asked if single else one.asked_listed for one in eases),
        instead=and_text(one.instead if single else one.instead_listed for one in eases),
        wording=eases[0].wording if single else "Asking {instead} instead of {asked}",
        requirement=wanted,
        quantity=quantity,
        is_looser=True,
        is_lifting=True,
    )


def _first_lifting(
    shop: Shop, requirement: Requirement, ways: Sequence[Sequence[Ease]], quantity: int
) -> Change | None:
    """Return the first of some changes after which nothing is refused; None for none."""
    for eases in ways:
        change = _together(requirement, eases, quantity)
        priced = shop.price(change.requirement, quantity=quantity)
        if priced is not None and not priced.offer.refusals:
            return replace(change, priced=priced)
    return None


def _by_wire(shop: Shop, requirement: Requirement, plan: Plan) -> list[list[Ease]]:
    """Return other wires, that of the planner's choice first where one was asked for."""
    used = plan.choice.wire
    wires: list[Wire] = []
    if requirement.wire is not None:
        free = shop.planned(replace(requirement, wire=None), quantity=1)
        wires.append(free.choice.wire)
    if any(f.code in _NARROW for f in _refusals(plan.findings)):
        wires += sorted(
            (
                w
                for w in shop.catalogue.wires
                if w.kind == used.kind
                and shop.rules.thinnest_wire_mm <= w.diameter_mm < used.diameter_mm
                and is_guided(w, requirement.machine)
            ),
            key=lambda w: -w.diameter_mm,
        )[:_MOST_WIRES]
    return [
        [other_wire(used, wire)]
        for n, wire in enumerate(wires)
        if wire != used and wire not in wires[:n]
    ]


def _by_passes(shop: Shop, requirement: Requirement, plan: Plan) -> list[list[Ease]]:
    """Return what fewer passes hold on the contours that are too narrow, most passes first."""
    ids = dict.fromkeys(
        f.where.contour_id
        for f in _refusals(plan.findings)
        if f.code in _NARROW - {"start-hole-fits-nowhere"}
        and f.where.contour_id is not None
        # A dead end that fewer passes leave out would be lifted, and never cut.
        and f.data.get("fewer_passes", 1)
    )
    return of_fewer_passes(shop, requirement, plan, tuple(ids)) if ids else []
