"""The changes to a job that a what-if prices: one demand a step looser or tighter, and more."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from kerfwright.app.offers import Priced, Shop
from kerfwright.foundation.units import MM_PER_INCH, both, both_roughness
from kerfwright.planning.feasibility import inside_radii
from kerfwright.planning.inside_corners import with_rounded_corners
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.stacking import most_pieces, stack_of, stacked
from kerfwright.process.choice import passes_of
from kerfwright.process.held import ra_held_um, recast_held_um, two_digits_up
from kerfwright.process.technology import Pass, StockBy, Technology
from kerfwright.trade.material import Wire
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.trade.shapes import same_shapes

_ROUNDING = 1e-9
"""Share by which a limit and what is reached may differ and be the same: conversion of inches."""
COVER_METAL = "The metal of the sheets that cover the stack is not counted."
_QUANTITIES = (1, 2, 5, 10, 25, 50, 100, 250, 500, 1000)
_RADIUS_STEP_MM = 0.01
"""Radii are proposed in whole hundredths: nobody draws thousandths."""
_MOST_KEPT = 6
"""Shapes that are asked what it costs to keep the demand on them alone, the smallest first."""
_MOST_NAMES = 6
_Reached = Mapping[str, Sequence[float]]
"""By the name of a demand: what can be promised of one pass, two and so on."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Change:
    """The job with something changed.

    Attributes
    ----------
    demand : str
        See :class:`kerfwright.app.what_if.Alternative`.
    asked, instead : str
        As it is and as it would be, in both unit systems.
    wording : str
        The sentence up to its effect, with ``{asked}`` and ``{instead}``.
    requirement : Requirement
    quantity : int
    part : Part or None
        With contours changed.
    is_looser : bool
        Whether the customer asks for less: then a change that saves nothing needs a reason.
    also_decides : tuple of str
        What else is asked there, in words.
    must_save : bool
        Whether it is not worth a word where it saves nothing, or costs more.
    is_by_wire : bool
        Whether another wire makes it: then a small difference is within what prices know.
    not_counted : str
        What the price leaves out, a sentence for the customer; empty for nothing.
    """

    demand: str
    asked: str
    instead: str
    wording: str
    requirement: Requirement
    quantity: int
    part: Part | None = None
    is_looser: bool = False
    also_decides: tuple[str, ...] = ()
    must_save: bool = False
    is_by_wire: bool = False
    not_counted: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """One kind of demand: its name, its field and what a pass reaches of it."""

    name: str
    field: str
    reached: Callable[[Sequence[Pass], Technology], float]
    """What can be promised after these passes, the last of them."""
    said: Callable[[float], str]
    wording: str
    named: str = ""
    """What goes before a value that stands among values of other kinds."""
    stock_by: StockBy = StockBy.TABLE
    """What sets the stock where such a demand is asked."""
    least_step: float = 1.0
    """By how much a looser value differs at least: less reads the same in microinches."""

    def listed(self, value: float) -> str:
        """Return a value as it stands in a list with others."""
        return self.named + self.said(value)


_KINDS = (
    _Kind(
        name="tolerance",
        field="tolerance_um",
        reached=lambda passes, _: passes[-1].tolerance_um,
        said=lambda v: "±" + both(v),
        wording="A tolerance of {instead} instead of {asked}",
    ),
    _Kind(
        name="finish",
        field="ra_um",
        reached=lambda passes, technology: two_digits_up(ra_held_um(passes, technology=technology)),
        said=both_roughness,
        wording="A finish of {instead} instead of {asked}",
        least_step=1.05,
    ),
    _Kind(
        name="recast",
        field="max_recast_um",
        reached=lambda passes, technology: two_digits_up(
            recast_held_um(passes, technology=technology)
        ),
        said=both,
        wording="A recast layer up to {instead} instead of {asked}",
        named="recast ",
        stock_by=StockBy.HURT_LAYER,
    ),
)


def changes(shop: Shop, requirement: Requirement, base: Priced, quantity: int) -> Iterator[Change]:
    """Yield every change worth a price.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    base : Priced
        The job as asked.
    quantity : int
    """
    used = base.plan.choice.wire
    most = len(shop.technology.passes)
    reached = {}
    for kind in _KINDS:
        every = passes_of(
            most,
            requirement=requirement,
            wire=used,
            technology=shop.technology,
            stock_by=kind.stock_by,
        )
        reached[kind.name] = [kind.reached(every[:n], shop.technology) for n in range(1, most + 1)]
    for scope in _scopes(requirement, base):
        yield from _steps(scope, requirement, reached, quantity)
    yield from _kept_on_some(requirement, base, reached, quantity)
    for wire in shop.wires(used, requirement):
        if wire.diameter_mm != used.diameter_mm:
            yield from _with_wire(shop, requirement, base, wire, quantity)
    for other in (
        next((q for q in _QUANTITIES if q > quantity), None),
        next((q for q in reversed(_QUANTITIES) if q < quantity), None),
    ):
        if other is not None:
            yield Change(
                demand="quantity",
                asked=str(quantity),
                instead=str(other),
                wording="An order of {instead} instead of {asked}",
                requirement=requirement,
                quantity=other,
            )
    yield from _stacked(requirement, quantity, shop.rules)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scope:
    """Whose demand is changed: the job's, or that of contours with the same one."""

    contour_ids: tuple[str, ...]
    """None for the job."""
    demand: Demand
    """What is asked there and may be changed there."""
    words: Mapping[str, str]
    """By field: where it is, for a sentence."""

    def changed(self, requirement: Requirement, fields: Mapping[str, float]) -> Requirement:
        if not self.contour_ids:
            return replace(requirement, **fields)  # type: ignore[arg-type]
        own = {name: replace(requirement.contours[name], **fields) for name in self.contour_ids}
        return replace(requirement, contours={**requirement.contours, **own})


def _scopes(requirement: Requirement, base: Priced) -> Iterator[_Scope]:
    planned = {c.target.id for c in base.plan.contours}
    cut = [c.id for c in base.plan.part.contours if c.id in planned]
    own = {name: demand for name, demand in requirement.contours.items() if name in cut}
    asked, words = {}, {}
    for kind in _KINDS:
        other = [n for n in cut if n in own and getattr(own[n], kind.field) is not None]
        these = [n for n in cut if n not in other]
        if these:
            asked[kind.field] = getattr(requirement, kind.field)
            all_but = len(other) < len(these)
            where = f"all contours but {names(other)}" if all_but and other else names(these)
            words[kind.field] = f" on {where}" if other else ""
    yield _Scope(contour_ids=(), demand=Demand(**asked), words=words)
    groups: dict[Demand, list[str]] = {}
    for name in cut:
        if name in own:
            groups.setdefault(own[name], []).append(name)
    for demand, ids in groups.items():
        there = dict.fromkeys((kind.field for kind in _KINDS), f" on {names(ids)}")
        yield _Scope(contour_ids=tuple(ids), demand=demand, words=there)


def names(contour_ids: Sequence[str]) -> str:
    """Return ids as a list in words, a long one shortened.

    >>> names(["H1"]), names(["H1", "H2", "H7"])
    ('H1', 'H1, H2 and H7')
    """
    if len(contour_ids) > _MOST_NAMES:
        return f"{len(contour_ids)} contours ({', '.join(contour_ids[:_MOST_NAMES])}, …)"
    *most, last = contour_ids
    return f"{', '.join(most)} and {last}" if most else last


def _steps(
    scope: _Scope, requirement: Requirement, reached: _Reached, quantity: int
) -> Iterator[Change]:
    """Yield each demand of a scope a step looser and tighter, and all of them looser."""
    looser: list[tuple[_Kind, float, float]] = []
    ids = scope.contour_ids
    there = requirement.demand_on(ids[0]) if ids else scope.demand
    for kind in _KINDS:
        asked = getattr(scope.demand, kind.field)
        if asked is None:
            continue
        others = tuple(
            f"the {k.name} asked"
            for k in _KINDS
            if k is not kind and getattr(there, k.field) is not None
        )
        for step in (-1, 1):
            value = next_step(reached[kind.name], asked, step)
            if value is None:
                continue
            if step < 0 and value < asked * kind.least_step:
                value = two_digits_up(asked * kind.least_step)
            if step < 0:
                looser.append((kind, asked, value))
            yield Change(
                demand=kind.name,
                asked=kind.said(asked),
                instead=kind.said(value),
                wording=kind.wording + scope.words[kind.field],
                requirement=scope.changed(requirement, {kind.field: value}),
                quantity=quantity,
                is_looser=step < 0,
                also_decides=others,
            )
    if len(looser) > 1:
        places = {scope.words[k.field] for k, _, _ in looser}
        each = scope.words if len(places) > 1 else dict.fromkeys(scope.words, "")
        yield Change(
            demand=_and(k.name for k, _, _ in looser),
            asked=_and(k.listed(asked) for k, asked, _ in looser),
            instead=_and(k.listed(value) + each[k.field] for k, _, value in looser),
            wording="Asking {instead} instead of {asked}"
            + (places.pop() if len(places) == 1 else ""),
            requirement=scope.changed(requirement, {k.field: value for k, _, value in looser}),
            quantity=quantity,
            is_looser=True,
        )


def _and(words: Iterable[str]) -> str:
    return " and ".join(words)


def next_step(reached: Sequence[float], asked: float, step: int) -> float | None:
    """Return the limit of the next looser (−1) or tighter (+1) class of passes.

    Parameters
    ----------
    reached : sequence of float
        What can be promised of each pass, the rough pass first.
    asked : float
    step : int

    Examples
    --------
    >>> next_step([25.0, 10.0, 5.0, 3.0], 6.0, -1), next_step([25.0, 10.0, 5.0, 3.0], 6.0, 1)
    (10.0, 3.0)
    """
    meets = [v for v in reached if v <= asked * (1 + _ROUNDING)]
    if step < 0:
        # Where none holds it surely, the surest passes are what is planned: looser is beyond them.
        looser = [v for v in reached if v > max(asked, min(reached)) * (1 + _ROUNDING)]
        return min(looser) if looser else None
    if not meets:
        return None
    now = meets[0]
    tighter = [v for v in reached if v < now * (1 - _ROUNDING)]
    return max(tighter) if tighter else None


def _kept_on_some(
    requirement: Requirement, base: Priced, reached: _Reached, quantity: int
) -> Iterator[Change]:
    """Yield the job's demands kept on contours of one shape and a step looser elsewhere."""
    shared = [c.target for c in base.plan.contours if c.target.id not in requirement.contours]
    shapes = [[c.id for c in alike] for alike in same_shapes(shared)]
    if len(shapes) < 2:
        return
    looser: dict[str, float] = {}
    for kind in _KINDS:
        asked = getattr(requirement, kind.field)
        value = None if asked is None else next_step(reached[kind.name], asked, -1)
        if value is not None:
            looser[kind.field] = value
    if not looser:
        return
    relaxed = replace(requirement, **looser)  # type: ignore[arg-type]
    fields = [k for k in _KINDS if k.field in looser]
    for ids in shapes[:_MOST_KEPT]:
        # Contours with demands of their own keep all that is asked of them now.
        kept = {name: requirement.demand_on(name) for name in (*ids, *requirement.contours)}
        yield Change(
            demand="one shape only",
            asked=_and(k.listed(getattr(requirement, k.field)) for k in fields),
            instead=_and(k.listed(looser[k.field]) for k in fields),
            wording=f"Keeping {{asked}} on {names(sorted(ids))} only, with {{instead}} elsewhere,",
            requirement=replace(relaxed, contours=kept),
            quantity=quantity,
            is_looser=True,
            must_save=True,
        )


def _with_wire(
    shop: Shop, requirement: Requirement, base: Priced, wire: Wire, quantity: int
) -> Iterator[Change]:
    """Yield the job with another wire, told by the inside radius where that is what it changes."""
    used = base.plan.choice.wire
    wanted = replace(requirement, wire=wire)
    drawn = shop.price(wanted, quantity=quantity)
    if drawn is None:
        return
    if wire.diameter_mm < used.diameter_mm:
        now_mm = _up(max(c.passes[-1].offset_mm for c in base.plan.contours))
        then_mm = _up(max(c.passes[-1].offset_mm for c in drawn.plan.contours))
        corners = base.short_corners
        where = f" ({_corners(corners)} drawn tighter)" if corners else ""
        yield Change(
            demand="inside radius",
            asked=radius_text(now_mm),
            instead=radius_text(then_mm),
            wording="An inside radius down to {instead} instead of {asked}" + where,
            is_by_wire=True,
            requirement=wanted,
            quantity=quantity,
        )
        return
    short = drawn.short_radii_mm
    if not short:
        yield Change(
            demand="wire",
            asked=size_text(used.diameter_mm),
            instead=size_text(wire.diameter_mm),
            wording="Wire of {instead} instead of {asked}",
            is_by_wire=True,
            requirement=wanted,
            quantity=quantity,
        )
        return
    radius_mm = _up(max(short.values()))
    rounded = _rounded(shop.part, short, radius_mm)
    if rounded is None:
        return
    now_mm = min(_smallest_radius_mm(base, name) for name in short)
    yield Change(
        demand="inside radius",
        asked=radius_text(now_mm),
        instead=radius_text(radius_mm),
        wording=f"An inside radius of {{instead}} or more instead of {{asked}} "
        f"({_corners(drawn.short_corners)})",
        requirement=wanted,
        quantity=quantity,
        part=rounded,
        is_by_wire=True,
        must_save=True,
    )


def _smallest_radius_mm(base: Priced, contour_id: str) -> float:
    """Return the smallest inside radius that comes out on a contour of the job as asked."""
    if contour_id in base.short_radii_mm:
        return _up(base.short_radii_mm[contour_id])
    target = next(c for c in base.plan.part.contours if c.id == contour_id)
    radii = inside_radii(target.contour)
    last = next(c for c in base.plan.contours if c.target.id == contour_id).passes[-1]
    return float(radii.min()) if len(radii) else _up(last.offset_mm)


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
        said.append(f"{number} {'corner' if number == 1 else 'corners'} of {each}{names(own)}")
    return ", ".join(said)


def size_text(value_mm: float) -> str:
    """Return a size in both unit systems."""
    return f"{value_mm:g} mm ({value_mm / MM_PER_INCH:.4f} in)"


def radius_text(value_mm: float) -> str:
    """Return a radius in both unit systems."""
    return f"R {value_mm:.3g} mm ({value_mm / MM_PER_INCH:.4f} in)"


def _stacked(requirement: Requirement, quantity: int, rules: PlanningRules) -> Iterator[Change]:
    """Yield the job cut as a stack, where more than one piece is asked and it is none yet."""
    if requirement.stack is not None:
        return
    sheet = requirement.height_mm
    tallest = min(rules.stack_tall_mm, requirement.machine.max_height_mm)
    pieces = min(quantity, most_pieces(tallest, sheet_mm=sheet, rules=rules))
    if pieces > 1:
        stack = stack_of(pieces, sheet_mm=sheet, rules=rules)
        yield Change(
            demand="height",
            asked="one at a time",
            instead=f"a stack of {pieces}, {size_text(stack.height_mm)} high",
            wording="Cutting {instead}, instead of {asked},",
            requirement=stacked(requirement, stack),
            quantity=quantity,
            not_counted=COVER_METAL if stack.covers else "",
        )
