"""What a refused job could ask instead, demand by demand: each a step that may lift a refusal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

from kerfwright.app.demand_kinds import KINDS, Kind, names, size_text, wire_text
from kerfwright.app.offers import Shop
from kerfwright.app.stacks import prices_of
from kerfwright.foundation.counts import counted
from kerfwright.planning.plan import Plan
from kerfwright.process.choice import choose_passes, passes_of
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.trade.stack import Stack, loads_for

_KINDS = {f"{kind.name}-beyond-process": kind for kind in KINDS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Ease:
    """One demand, as it is and as it would be.

    Attributes
    ----------
    demand : str
    asked, instead : str
        In both unit systems.
    wording : str
        The sentence up to its effect, with ``{asked}`` and ``{instead}``.
    on : callable
        Returns a requirement with it.
    named : str
        What goes before both where they stand among others.
    """

    demand: str
    asked: str
    instead: str
    wording: str
    on: Callable[[Requirement], Requirement]
    named: str = ""

    @property
    def asked_listed(self) -> str:
        """What is asked, as it stands in a list with others."""
        return self.named + self.asked

    @property
    def instead_listed(self) -> str:
        """What could be asked, as it stands in a list with others."""
        return self.named + self.instead


def eased_limits(plan: Plan) -> list[Ease]:
    """Return each limit that is beyond the process as it is held.

    Parameters
    ----------
    plan : Plan
        Of the job as asked.
    """
    unit = plan.part.drawing_unit
    groups: dict[tuple[str, float, float], list[str]] = {}
    for f in plan.findings:
        if f.code in _KINDS:
            held_um = _KINDS[f.code].rounded(float(f.data["sure_um"]), unit)
            ids = groups.setdefault((f.code, float(f.data["asked_um"]), held_um), [])
            ids += [f.where.contour_id] if f.where.contour_id is not None else []
    return [
        _limit(_KINDS[code], tuple(dict.fromkeys(ids)), asked_um=asked_um, held_um=held_um)
        for (code, asked_um, held_um), ids in groups.items()
    ]


def lower_work(shop: Shop, requirement: Requirement, plan: Plan, quantity: int) -> Iterator[Ease]:
    """Yield the stack that is best for its order, or the height of one piece, that can be cut.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    plan : Plan
        Of the requirement.
    quantity : int
        Of the order.
    """
    codes = {f.code for f in plan.findings}
    stack = requirement.stack
    if stack is not None and stack.pieces > 1:
        if codes & {"height-beyond-machine", "weight-beyond-machine"}:
            yield _fewer_sheets(shop, requirement, stack, quantity)
        return
    if "height-beyond-machine" not in codes or shop.lean is not None or stack is not None:
        return
    most_mm = requirement.machine.max_height_mm
    yield Ease(
        demand="height",
        asked=size_text(requirement.height_mm),
        instead=size_text(most_mm),
        wording="A height of {instead}, the most that the machine takes, instead of {asked}",
        on=lambda other: replace(other, height_mm=most_mm),
        named="a height of ",
    )


def _fewer_sheets(shop: Shop, requirement: Requirement, stack: Stack, quantity: int) -> Ease:
    """Return the stack at which a piece of the order costs least, of those that can be cut."""
    prices = prices_of(shop, requirement)
    pieces = prices.cheapest(quantity)
    if prices.price(pieces, quantity) is None:
        # Nothing can be cut as asked: what is best with other passes has no price yet.
        pieces = max(1, min(prices.most_known, stack.pieces - 1, quantity))
    over = loads_for(quantity, pieces) * pieces - quantity
    left = f" with {counted(over, 'piece')} over" if over else ""
    fewer = prices.chosen(pieces)
    return Ease(
        demand="height",
        asked=f"stacks of {stack.pieces}",
        instead="one at a time" if pieces == 1 else f"stacks of {pieces}{left}",
        wording="Cutting {instead}, instead of {asked},",
        on=lambda other: replace(other, stack=fewer.stack, height_mm=fewer.height_mm),
    )


def planners_places(plan: Plan) -> Iterator[Ease]:
    """Yield the places of starts and tabs that cannot be, left to the planner.

    Parameters
    ----------
    plan : Plan
        Of the job as asked.
    """
    ids = {f.where.contour_id for f in plan.findings if f.code == "place-refused"}
    found = sorted(name for name in ids if name is not None)
    if not found:
        return

    def left(requirement: Requirement) -> Requirement:
        kept = {n: one for n, one in requirement.placements.items() if n not in found}
        return replace(requirement, placements=kept)

    yield Ease(
        demand="places",
        asked=f"the places given on {names(found)}",
        instead="places that the planner chooses",
        wording="Asking {instead} instead of {asked}",
        on=left,
    )


def other_wire(used: Wire, wire: Wire) -> Ease:
    """Return another wire in place of the one in use."""
    return Ease(
        demand="wire",
        asked=wire_text(used),
        instead=wire_text(wire),
        wording="Wire of {instead} instead of {asked}",
        on=partial(replace, wire=wire),
        named="wire of ",
    )


def fewer_passes(
    shop: Shop, requirement: Requirement, plan: Plan, contour_ids: tuple[str, ...]
) -> list[list[Ease]]:
    """Return, for each smaller number of passes, the limits that they hold on some contours.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    plan : Plan
        Of the job as asked.
    contour_ids : tuple of str

    Returns
    -------
    list of list of Ease
        The most passes first; those of one number belong together.
    """
    wire = plan.choice.wire
    by_wire = replace(requirement, wire=wire)
    now = max(
        len(
            choose_passes(
                by_wire,
                technology=shop.technology,
                catalogue=shop.catalogue,
                demand=requirement.demand_on(name),
            ).passes
        )
        for name in contour_ids
    )
    found = []
    for count in range(now - 1, 0, -1):
        passes = passes_of(count, requirement=by_wire, wire=wire, technology=shop.technology)
        held = shop.held(passes, by_wire, wire)
        eases = list(_eased(requirement, plan, held, contour_ids))
        if eases:
            found.append(eases)
    return found


def _eased(
    requirement: Requirement, plan: Plan, held: Demand, contour_ids: tuple[str, ...]
) -> Iterator[Ease]:
    """Yield every limit on some contours that is tighter than what is held."""
    for kind in KINDS:
        held_um = kind.rounded(getattr(held, kind.field), plan.part.drawing_unit)
        groups: dict[float, list[str]] = {}
        for name in contour_ids:
            asked_um = getattr(requirement.demand_on(name), kind.field)
            if asked_um is not None and asked_um < held_um:
                groups.setdefault(asked_um, []).append(name)
        for asked_um, ids in groups.items():
            yield _limit(kind, tuple(ids), asked_um=asked_um, held_um=held_um)


def _limit(kind: Kind, contour_ids: tuple[str, ...], *, asked_um: float, held_um: float) -> Ease:
    """Return a limit eased, of the job where no contours are named."""

    def said(value: str) -> str:
        return f"{value} on {names(contour_ids)}" if contour_ids else value

    return Ease(
        demand=kind.name,
        asked=said(kind.said(asked_um)),
        instead=said(kind.offered(held_um)),
        wording=kind.wording,
        on=partial(_with_limits, fields={kind.field: held_um}, contour_ids=contour_ids),
        named=kind.named,
    )


def _with_limits(
    requirement: Requirement, *, fields: Mapping[str, float], contour_ids: tuple[str, ...]
) -> Requirement:
    """Return a requirement with limits on some contours; of the job wherever they are asked."""
    (field,) = fields
    ids = list(contour_ids)
    if not ids:
        ids = [n for n, own in requirement.contours.items() if getattr(own, field) is not None]
        if getattr(requirement, field) is not None:
            requirement = replace(requirement, **fields)  # type: ignore[arg-type]
    own = {n: replace(requirement.contours.get(n, Demand()), **fields) for n in ids}
    return replace(requirement, contours={**requirement.contours, **own})
