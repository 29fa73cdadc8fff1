"""The changes to a job that a what-if prices: one demand a step looser or tighter, and more."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from itertools import groupby

from kerfwright.app.changes import Change
from kerfwright.app.demand_kinds import names, wire_text
from kerfwright.app.limit_changes import limit_changes
from kerfwright.app.offers import Priced, Shop
from kerfwright.app.stack_changes import quantity_and_stack_changes
from kerfwright.foundation.counts import counted
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.planning.inside_corners import smallest_drawn_mm, with_rounded_corners
from kerfwright.planning.plan import Plan
from kerfwright.trade.material import Wire
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement

_RADIUS_STEP_MM = 0.01
"""Radii are proposed in whole hundredths: nobody draws thousandths."""


def changes(
    shop: Shop,
    requirement: Requirement,
    base: Priced,
    quantity: int,
    *,
    wires: Sequence[Wire] = (),
) -> Iterator[Change]:
    """Yield every change worth a price.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    base : Priced
        The job as asked.
    quantity : int
    wires : sequence of Wire
        Others that pay on the job's own demands.
    """
    used = base.plan.choice.wire
    yield from limit_changes(shop, requirement, base, quantity)
    for wire in shop.wires(used, requirement):
        if wire.diameter_mm != used.diameter_mm:
            yield from _with_radius_of(shop, requirement, base, wire, quantity)
    for wire in wires:
        yield _with_wire(requirement, base, wire, quantity)
    yield from quantity_and_stack_changes(shop, requirement, base, quantity)


def _with_wire(requirement: Requirement, base: Priced, wire: Wire, quantity: int) -> Change:
    """Return the job on its own demands with another wire."""
    return Change(
        demand="wire",
        asked=wire_text(base.plan.choice.wire),
        instead=wire_text(wire),
        wording="Wire of {instead} instead of {asked}",
        is_by_wire=True,
        requirement=replace(requirement, wire=wire),
        quantity=quantity,
    )


def _with_radius_of(
    shop: Shop, requirement: Requirement, base: Priced, wire: Wire, quantity: int
) -> Iterator[Change]:
    """Yield the drawing with another smallest inside radius: what another wire is needed for."""
    drawn = shop.price(replace(requirement, wire=wire), quantity=quantity)
    if drawn is None:
        return
    used = base.plan.choice.wire
    if wire.diameter_mm < used.diameter_mm:
        yield from _tighter(requirement, base, drawn, wire, quantity)
    else:
        yield from _rounder(shop, requirement, base, drawn, wire, quantity)


def _tighter(
    requirement: Requirement, base: Priced, drawn: Priced, wire: Wire, quantity: int
) -> Iterator[Change]:
    """Yield the drawing with an inside radius that forces a thinner wire."""
    smallest_mm = _smallest_drawn_mm(base.plan, {c.target.id for c in base.plan.contours})
    if smallest_mm is None:
        # No corner of the drawing asks anything of the wire.
        return
    used = base.plan.choice.wire
    now_mm = _up(max(c.passes[-1].offset_mm for c in base.plan.contours))
    then_mm = _up(max(c.passes[-1].offset_mm for c in drawn.plan.contours))
    corners = base.short_corners
    tight = f"; {_corners(corners)} drawn tighter" if corners else ""
    yield Change(
        demand="inside radius",
        asked=_drawn_text(smallest_mm),
        instead=radius_text(then_mm),
        wording="A smallest inside radius of {instead}, where the drawing has {asked} "
        f"(any down to {radius_text(now_mm)} comes out with wire of {wire_text(used)}; below it "
        f"wire of {wire_text(wire)} is forced{tight}),",
        is_by_wire=True,
        must_cost=True,
        requirement=replace(requirement, wire=wire),
        quantity=quantity,
    )


def _rounder(
    shop: Shop,
    requirement: Requirement,
    base: Priced,
    drawn: Priced,
    wire: Wire,
    quantity: int,
) -> Iterator[Change]:
    """Yield the drawing with the inside radius that a thicker wire leaves."""
    short = drawn.short_radii_mm
    if not short:
        # It changes no radius: a wire like any other.
        return
    radius_mm = _up(max(short.values()))
    if short.keys() & (shop.lean.walls.keys() if shop.lean else set()):
        # The corners of a leaning wall are those of two drawings, or of none: they stay.
        return
    rounded = _rounded(shop.part, short, radius_mm)
    smallest_mm = _smallest_drawn_mm(base.plan, set(short))
    if rounded is None or smallest_mm is None:
        return
    cut_mm = max(_up(c.passes[-1].offset_mm) for c in base.plan.contours if c.target.id in short)
    now = f", cut at {radius_text(cut_mm)}," if smallest_mm < cut_mm else ""
    yield Change(
        demand="inside radius",
        asked=_drawn_text(smallest_mm),
        instead=radius_text(radius_mm),
        wording="A smallest inside radius of {instead} instead of {asked}"
        f"{now} ({_corners(drawn.short_corners)}), which allows wire of {wire_text(wire)},",
        requirement=replace(requirement, wire=wire),
        quantity=quantity,
        part=rounded,
        is_by_wire=True,
        must_save=True,
    )


def _smallest_drawn_mm(plan: Plan, ids: AbstractSet[str]) -> float | None:
    """Return the smallest inside radius drawn on some contours; 0 of a sharp corner."""
    drawn = (smallest_drawn_mm(c.contour) for c in plan.part.contours if c.id in ids)
    return min((radius for radius in drawn if radius is not None), default=None)


def _drawn_text(radius_mm: float) -> str:
    """Return the smallest inside radius of a drawing in both unit systems."""
    return radius_text(radius_mm) if radius_mm else "sharp inside corners"


def _up(radius_mm: float) -> float:
    """Return a radius that a wire reaches, rounded up: what is promised must come out."""
    return math.ceil(round(radius_mm / _RADIUS_STEP_MM, 6)) * _RADIUS_STEP_MM


def _rounded(part: Part, short: Mapping[str, float], radius_mm: float) -> Part | None:
    """Return the part with the inside corners of some contours rounded; None if one cannot be."""
    contours = []
    for target in part.contours:
        new = with_rounded_corners(target, radius_mm=radius_mm) if target.id in short else target
        if new is None:
            return None
        contours.append(new)
    return replace(part, contours=tuple(contours))


def _corners(count: Mapping[str, int]) -> str:
    """Say how many corners of which contours.

    Contours with equally many are named together.
    """
    said = []
    ordered = sorted(count, key=lambda name: (-count[name], name))
    for number, ids in groupby(ordered, key=lambda name: count[name]):
        own = list(ids)
        each = "each of " if len(own) > 1 else ""
        said.append(f"{counted(number, 'corner')} of {each}{names(own)}")
    return ", ".join(said)


def radius_text(value_mm: float) -> str:
    """Return a radius in both unit systems."""
    return f"R {value_mm:.3g} mm ({value_mm / MM_PER_INCH:.4f} in)"
