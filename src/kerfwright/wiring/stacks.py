"""Stacks with the shop's tables: the number that costs least, the curve, and each sheet."""

from __future__ import annotations

from dataclasses import replace

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app import stacks
from kerfwright.app.asked_stacks import covers_asked, pieces_asked
from kerfwright.app.drawn_sizes import with_drawn_sizes
from kerfwright.app.offers import Shop
from kerfwright.app.plan_job import Progress, quiet
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.requirements import read_requirement
from kerfwright.app.set_up import rules_of
from kerfwright.app.sheets import SheetGroup, groups_of
from kerfwright.app.solids import require_no_solid
from kerfwright.app.stack_prices import StackPrices
from kerfwright.foundation.errors import InputError
from kerfwright.planning.memory import Memory
from kerfwright.process.stack_shape import SheetShape
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement
from kerfwright.wiring import technology_of
from kerfwright.wiring.drawings import check_drawing


def as_stacked(
    request: JobRequest,
    requirement: Requirement,
    part: Part,
    *,
    memory: Memory | None = None,
    progress: Progress = quiet,
) -> tuple[Requirement, ...]:
    """Return what the stacks asked for ask, the best number for each quantity found if need be.

    Parameters
    ----------
    request : JobRequest
    requirement : Requirement
        Of one sheet.
    part : Part
    memory : Memory, optional
        What plans of the same part and request had.
    progress : callable, optional

    Returns
    -------
    tuple of Requirement
        One for each number in a stack with the quantities that are cut so, that of the first
        quantity first.

    Raises
    ------
    InputError
        Code ``stack-value``, or ``stack-leaning`` where walls lean.
    """
    pieces = None if request.stack is None else pieces_asked(request.stack)
    if request.stack is not None and pieces != 1:
        _expect_upright(request)
    if request.stack is None or pieces is not None:
        rules = load_tables(request.tables_used).rules
        return (stacks.with_stack(requirement, request, rules=rules),)
    prices = StackPrices(
        _shop_tables(request, part, memory),
        requirement,
        holding=request.holding,
        covers=covers_asked(request.covers),
    )
    together: dict[int, list[int]] = {}
    for number, quantity in enumerate(request.quantities):
        progress(f"finding the stack for {quantity}", number / len(request.quantities))
        found = request.stacks_found.get(quantity) or prices.cheapest(quantity)
        together.setdefault(found, []).append(quantity)
    return tuple(
        replace(prices.chosen(found), quantities=tuple(quantities))
        for found, quantities in together.items()
    )


def _expect_upright(request: JobRequest) -> None:
    if request.tapers:
        raise InputError(
            "a stack cannot lean: the angle would run through all sheets, and each would come out "
            "of another size",
            code="stack-leaning",
            remedy="Cut leaning walls sheet by sheet, or ask no taper.",
        )


def _shop_tables(request: JobRequest, part: Part, memory: Memory | None) -> Shop:
    """Return what all ways of cutting a part share."""
    _expect_upright(request)
    tables, technology = load_tables(request.tables_used), technology_of(request)
    return Shop(
        part=part,
        catalogue=tables.catalogue,
        technology=technology,
        rates=tables.rates,
        physics=load_wire_physics(request.tables_used),
        rules=rules_of(request, tables.rules, law=technology.flushing),
        memory=memory or Memory(),
    )


def stack_curve(
    request: JobRequest,
    *,
    part: Part | None = None,
    quantity: int | None = None,
    progress: Progress = quiet,
) -> stacks.StackCurve:
    """Return what a piece costs by how many are cut at once.

    Parameters
    ----------
    request : JobRequest
        Its height is that of one sheet; how many it asks for in a stack does not matter here.
    part : Part, optional
        The drawing of the request with its roles, where it was read before.
    quantity : int, optional
        Of pieces; the first that is asked, without it.
    progress : callable, optional

    Raises
    ------
    KerfwrightError
        As :func:`kerfwright.wiring.plan_job`.
    """
    if part is None:
        part = check_drawing(
            request.drawing, unit=request.units, layer_uses=request.layer_uses, roles=request.roles
        )
    require_no_solid(part)
    request = with_drawn_sizes(request, part, table=load_fits())
    requirement, _ = read_requirement(
        request,
        catalogue=load_tables(request.tables_used).catalogue,
        machine=load_machine(request.machine_used),
        fits=load_fits(),
    )
    return stacks.stack_curve(
        _shop_tables(request, part, None),
        requirement,
        quantity=quantity or request.quantities[0],
        holding=request.holding,
        covers=covers_asked(request.covers),
        tell=progress,
    )


def sheet_groups_of(result: JobResult) -> tuple[SheetGroup, ...]:
    """Return the sheets of a job's stack by demand, those that hold least first."""
    if result.requirement.stack is None:
        return ()
    physics = load_wire_physics(result.request.tables_used)
    return groups_of(result.plan, technology_of(result.request), physics)


def sheets_of(result: JobResult) -> tuple[SheetShape, ...]:
    """Return how each sheet of a job's stack comes out, from the top; none without a stack.

    Of the contours that hold least.
    """
    groups = sheet_groups_of(result)
    return groups[0].sheets if groups else ()
