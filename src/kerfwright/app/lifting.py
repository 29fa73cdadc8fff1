"""The steps of a refused job that lift its refusals.

Work higher than the machine takes is made as high as it takes, or its stack the best lower one;
places that cannot be are left to the planner; a limit that is still beyond the process is eased to
what is held then: all of these together.  Walls too close for the kerf are asked of another wire,
and of fewer passes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

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
    as_asked = _Way(requirement=requirement, plan=plan)
    lowered = _lowered(shop, as_asked, quantity)
    if not {f.code for f in _refusals(lowered.plan.findings)} & _BY_WIRE:
        change = _held(lowered, quantity)
        if change is not None:
            yield change
        return
    by_wire = (
        _lowered(shop, _eased(shop, as_asked, [wire], quantity), quantity)
        for wire in _by_wire(shop, lowered)
    )
    by_passes = (_eased(shop, lowered, limits, quantity) for limits in _by_passes(shop, lowered))
    for ways in (by_wire, by_passes):
        found = _first_lifting(shop, ways, quantity)
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """A job with some demands eased.

    Attributes
    ----------
    requirement : Requirement
        With them.
    plan : Plan
        Of the requirement.
    eases : tuple of Ease
    """

    requirement: Requirement
    plan: Plan
    eases: tuple[Ease, ...] = ()


def _with(requirement: Requirement, eases: Iterable[Ease]) -> Requirement:
    for one in eases:
        requirement = one.on(requirement)
    return requirement


def _eased(shop: Shop, way: _Way, eases: Sequence[Ease], quantity: int) -> _Way:
    """Return a way with more of it eased, planned so."""
    if not eases:
        return way
    wanted = _with(way.requirement, eases)
    plan = shop.planned(wanted, quantity=quantity)
    return _Way(requirement=wanted, plan=plan, eases=(*eases, *way.eases))


def _lowered(shop: Shop, way: _Way, quantity: int) -> _Way:
    """Return a way with what can be cut of its height, and its places where they can be."""
    lower = lower_work(shop, way.requirement, way.plan, quantity)
    return _eased(shop, way, [*lower, *planners_places(way.plan)], quantity)


def _held(way: _Way, quantity: int) -> Change | None:
    """Return a way as a change, its limits eased to what is held so; None where nothing is."""
    limits = eased_limits(way.plan)
    eases = [*limits, *way.eases]
    if not eases:
        return None
    single = len(eases) == 1
    return Change(
        demand=and_text(dict.fromkeys(one.demand for one in eases)),
        asked=and_text(one.asked if single else one.asked_listed for one in eases),
        instead=and_text(one.instead if single else one.instead_listed for one in eases),
        wording=eases[0].wording if single else "Asking {instead} instead of {asked}",
        requirement=_with(way.requirement, limits),
        quantity=quantity,
        is_looser=True,
        is_lifting=True,
    )


def _first_lifting(shop: Shop, ways: Iterable[_Way], quantity: int) -> Change | None:
    """Return the first of some ways after which nothing is refused; None for none."""
    for way in ways:
        change = _held(way, quantity)
        if change is None:
            continue
        priced = shop.price(change.requirement, quantity=quantity)
        if priced is not None and not priced.offer.refusals:
            return replace(change, priced=priced)
    return None


def _by_wire(shop: Shop, way: _Way) -> list[Ease]:
    """Return other wires, that of the planner's choice first where one was asked for."""
    used, requirement = way.plan.choice.wire, way.requirement
    wires: list[Wire] = []
    if requirement.wire is not None:
        free = shop.planned(replace(requirement, wire=None), quantity=1)
        wires.append(free.choice.wire)
    if any(f.code in _NARROW for f in _refusals(way.plan.findings)):
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
        other_wire(used, wire)
        for n, wire in enumerate(wires)
        if wire != used and wire not in wires[:n]
    ]


def _by_passes(shop: Shop, way: _Way) -> list[list[Ease]]:
    """Return what fewer passes hold on the contours that are too narrow, most passes first."""
    ids = dict.fromkeys(
        f.where.contour_id
        for f in _refusals(way.plan.findings)
        if f.code in _NARROW - {"start-hole-fits-nowhere"}
        and f.where.contour_id is not None
        # A dead end that fewer passes leave out would be lifted, and never cut.
        and f.data.get("fewer_passes", 1)
    )
    return of_fewer_passes(shop, way.requirement, way.plan, tuple(ids)) if ids else []
