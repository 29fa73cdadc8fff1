"""Changes of what is asked of walls: of all, of one shape, of all but one shape."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kerfwright.app.changes import ONE_SHAPE, Change
from kerfwright.app.demand_kinds import KINDS, Kind, and_text, names, next_step
from kerfwright.app.offers import Priced, Shop
from kerfwright.process.choice import choose_passes, passes_of
from kerfwright.process.held import two_digits_up
from kerfwright.process.technology import Pass, StockBy
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.requirement import Demand, Requirement
from kerfwright.trade.shapes import same_shapes

_STEP = 1.25
"""By how much a tighter limit that costs nothing differs at least: a step of the preferred numbers
R10, in which roughness is chosen (ISO 3, from memory)."""
_MOST_SHAPES = 6
"""Shapes that are asked what the demand on them alone costs, the smallest first."""


def limit_changes(
    shop: Shop, requirement: Requirement, base: Priced, quantity: int
) -> Iterator[Change]:
    """Yield each demand a step looser and tighter, for all walls that share it and for single ones.

    Parameters
    ----------
    shop : Shop
    requirement : Requirement
    base : Priced
        The job as asked.
    quantity : int
    """
    asking = _Asking(
        requirement=requirement,
        base=base,
        reach=_Reach(
            shop=shop,
            requirement=replace(requirement, wire=base.plan.choice.wire),
            found={},
        ),
        quantity=quantity,
    )
    for scope in _scopes(requirement, base):
        yield from asking.steps(scope)
    yield from asking.kept_on_some()
    yield from asking.on_one_shape()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Reach:
    """What can be promised of the passes that each limit makes the choice take."""

    shop: Shop
    requirement: Requirement
    found: dict[tuple[str, Demand, int], Sequence[float]]

    def of(self, kind: Kind, demand: Demand, step: int) -> Sequence[float]:
        """Return what is held with one limit of a demand moved over all that passes reach.

        With the stock of the table and with that raised for the layer: of the same number of
        passes the one holds more than the other, and the choice takes what is quicker.  A looser
        step (−1) is of fewer passes: other demands may loosen with it and must not hold it back.
        """
        key = kind.name, Demand() if step < 0 else replace(demand, **{kind.field: None}), step
        if key not in self.found:
            self.found[key] = self._held(kind, demand, step)
        return self.found[key]

    def _held(self, kind: Kind, demand: Demand, step: int) -> Sequence[float]:
        shop, wire = self.shop, self.requirement.wire
        assert wire is not None
        most = len(shop.technology.passes)
        raised = (StockBy.HURT_LAYER,) if step < 0 else tuple(StockBy)
        kinds = raised if kind.by_stock else (StockBy.TABLE,)
        chains = [
            passes_of(
                most,
                requirement=self.requirement,
                wire=wire,
                technology=shop.technology,
                stock_by=stock_by,
            )
            for stock_by in kinds
        ]
        limits = {self.reached(kind, c[:n]) for c in chains for n in range(1, most + 1)}
        if len(kinds) == 1:
            return sorted(limits, reverse=True)
        held = set()
        for um in limits:
            passes = choose_passes(
                self.requirement,
                technology=shop.technology,
                catalogue=shop.catalogue,
                demand=replace(demand, **{kind.field: um}),
            ).passes
            held.add(self.reached(kind, passes))
        return sorted(held, reverse=True)

    def reached(self, kind: Kind, passes: Sequence[Pass]) -> float:
        """Return what passes hold of a demand, a tolerance in the worst sheet of a stack."""
        shop, wire = self.shop, self.requirement.wire
        if not kind.is_measured:
            return kind.reached(passes, shop.technology)
        assert wire is not None
        return shop.holds_um(passes, self.requirement, wire)


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
        own = {
            name: replace(requirement.contours.get(name, Demand()), **fields)
            for name in self.contour_ids
        }
        return replace(requirement, contours={**requirement.contours, **own})


def _scopes(requirement: Requirement, base: Priced) -> Iterator[_Scope]:
    planned = {c.target.id for c in base.plan.contours}
    cut = [c.id for c in base.plan.part.contours if c.id in planned]
    own = {name: demand for name, demand in requirement.contours.items() if name in cut}
    asked, words = {}, {}
    for kind in KINDS:
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
        there = dict.fromkeys((kind.field for kind in KINDS), f" on {names(ids)}")
        yield _Scope(contour_ids=tuple(ids), demand=demand, words=there)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Asking:
    """The job whose demands are changed."""

    requirement: Requirement
    base: Priced
    reach: _Reach
    quantity: int

    def steps(self, scope: _Scope) -> Iterator[Change]:
        """Yield each demand of a scope a step looser and tighter, and all of them looser."""
        for kind in KINDS:
            asked = getattr(scope.demand, kind.field)
            for step in (-1, 1) if asked is not None else ():
                value = self._step(kind, scope.demand, step)
                held = self._held_already(scope, kind) if step > 0 else None
                if held is not None and held * _STEP > asked:
                    # It costs nothing, and is no step that anybody asks for.
                    value, held = (None if value is not None and value >= held else value), None
                if held is not None and not kind.is_measured and held < (value or held + 1):
                    # Of what costs nothing the tightest is told, and nothing looser beside it.
                    value, held = held, None
                if value is not None:
                    yield self._one(scope, kind, value, is_looser=step < 0)
                if kind.is_measured and held is not None and held != value:
                    yield self._one(scope, kind, held, is_looser=False)
        looser = self._looser(scope.demand)
        if len(looser) > 1:
            yield self._together(scope, looser)

    def kept_on_some(self) -> Iterator[Change]:
        """Yield the job's demands kept on contours of one shape and a step looser elsewhere."""
        shapes = self._shapes([n for n in self._cut if n not in self.requirement.contours])
        looser = self._looser(self.requirement.demand)
        if len(shapes) > 1 and looser:
            for ids in shapes[:_MOST_SHAPES]:
                yield self._kept(ids, looser)

    def on_one_shape(self) -> Iterator[Change]:
        """Yield the demands of contours that share theirs changed on those of one shape alone.

        With two shapes of the job's demand, keeping it on one is loosening the other.
        """
        own: dict[Demand, list[str]] = {}
        for name in self._cut:
            own.setdefault(self.requirement.contours.get(name, Demand()), []).append(name)
        for demand, ids in own.items():
            is_jobs = demand == Demand()
            shapes = self._shapes(ids)
            for these in shapes[:_MOST_SHAPES] if len(shapes) > (2 if is_jobs else 1) else ():
                there = self.requirement.demand_on(these[0])
                where = f" on {names(sorted(these))} alone"
                scope = _Scope(
                    contour_ids=tuple(these),
                    demand=there,
                    words=dict.fromkeys((kind.field for kind in KINDS), where),
                )
                looser = self._looser(there)
                if looser:
                    yield self._together(scope, looser, demand=ONE_SHAPE)
                if not is_jobs:
                    yield from self._tighter_where_it_decides(scope)

    def _tighter_where_it_decides(self, scope: _Scope) -> Iterator[Change]:
        """Yield a step tighter of the demand that sets the passes of some contours."""
        planned = next(c for c in self.base.plan.contours if c.target.id == scope.contour_ids[0])
        for kind in KINDS:
            if kind.name == planned.choice.limiting:
                value = self._step(kind, scope.demand, 1)
                if value is not None:
                    yield self._one(scope, kind, value, is_looser=False)

    @property
    def _unit(self) -> LengthUnit:
        return self.base.plan.part.drawing_unit

    @property
    def _cut(self) -> list[str]:
        return [c.target.id for c in self.base.plan.contours]

    def _shapes(self, contour_ids: Sequence[str]) -> list[list[str]]:
        """Return contours by shape, the shortest first."""
        targets = [c.target for c in self.base.plan.contours if c.target.id in contour_ids]
        return [[c.id for c in alike] for alike in same_shapes(targets)]

    def _step(self, kind: Kind, demand: Demand, step: int) -> float | None:
        """Return a limit a step looser (−1) or tighter (+1), to two digits; None where none is."""
        asked = getattr(demand, kind.field)
        if asked is None:
            return None
        value = next_step(self.reach.of(kind, demand, step), asked, step)
        if value is None:
            return None
        rounded = kind.rounded(value, self._unit)
        if step < 0 and rounded < asked * kind.least_step:
            return kind.rounded(asked * kind.least_step, self._unit)
        # Two digits of the one unit may be no step tighter where those of the other are.
        return rounded if step < 0 or rounded < asked else two_digits_up(value)

    def _held_already(self, scope: _Scope, kind: Kind) -> float | None:
        """Return what the passes as planned hold more than is asked; None for no more.

        Only measuring it costs more, where it is measured.
        """
        of_job = [n for n in self._cut if n not in self.requirement.contours]
        ids = scope.contour_ids or of_job or self._cut
        planned = [c.passes for c in self.base.plan.contours if c.target.id in ids]
        asked = getattr(scope.demand, kind.field)
        most = max(self.reach.reached(kind, passes) for passes in planned)
        held = kind.rounded(most, self._unit)
        return held if held < asked else None

    def _looser(self, demand: Demand) -> dict[str, float]:
        """Return the next looser value of everything that is asked and has one."""
        found = {}
        for kind in KINDS:
            value = self._step(kind, demand, -1)
            if value is not None:
                found[kind.field] = value
        return found

    def _one(self, scope: _Scope, kind: Kind, value: float, *, is_looser: bool) -> Change:
        asked = getattr(scope.demand, kind.field)
        return Change(
            demand=kind.name,
            asked=kind.said(asked),
            instead=kind.offered(value),
            wording=kind.wording + scope.words[kind.field],
            requirement=scope.changed(self.requirement, {kind.field: value}),
            quantity=self.quantity,
            is_looser=is_looser,
            conceded={kind.field: (asked, value)} if is_looser else {},
            conceding=lambda values: self._one(
                scope, kind, values[kind.field], is_looser=is_looser
            ),
        )

    def _together(self, scope: _Scope, looser: Mapping[str, float], *, demand: str = "") -> Change:
        """Return several demands looser at once; under a name of its own also one of them."""
        kinds = [kind for kind in KINDS if kind.field in looser]
        asked = {kind.field: getattr(scope.demand, kind.field) for kind in kinds}
        places = {scope.words[kind.field] for kind in kinds}
        each = scope.words if len(places) > 1 else dict.fromkeys(scope.words, "")
        one = kinds[0] if len(kinds) == 1 else None

        def conceding(values: Mapping[str, float]) -> Change | None:
            left = {name: um for name, um in values.items() if um > asked[name]}
            return self._together(scope, left, demand=demand) if left else None

        return Change(
            demand=demand or and_text(kind.name for kind in kinds),
            asked=one.said(asked[one.field])
            if one
            else and_text(kind.listed(asked[kind.field]) for kind in kinds),
            instead=one.offered(looser[one.field])
            if one
            else and_text(
                kind.listed_offer(looser[kind.field]) + each[kind.field] for kind in kinds
            ),
            wording=(one.wording if one else "Asking {instead} instead of {asked}")
            + (places.pop() if len(places) == 1 else ""),
            requirement=scope.changed(self.requirement, looser),
            quantity=self.quantity,
            is_looser=True,
            must_save=bool(demand),
            conceded={name: (asked[name], um) for name, um in looser.items()},
            conceding=conceding,
        )

    def _kept(self, contour_ids: Sequence[str], looser: Mapping[str, float]) -> Change:
        """Return the job's demands kept on some contours and looser elsewhere."""
        wanted = self.requirement
        kinds = [kind for kind in KINDS if kind.field in looser]
        asked = {kind.field: getattr(wanted, kind.field) for kind in kinds}
        # Contours with demands of their own keep all that is asked of them now.
        kept = {name: wanted.demand_on(name) for name in (*contour_ids, *wanted.contours)}
        relaxed = replace(wanted, **looser)  # type: ignore[arg-type]

        def conceding(values: Mapping[str, float]) -> Change | None:
            left = {name: um for name, um in values.items() if um > asked[name]}
            return self._kept(contour_ids, left) if left else None

        return Change(
            demand=ONE_SHAPE,
            asked=and_text(kind.listed(asked[kind.field]) for kind in kinds),
            instead=and_text(kind.listed_offer(looser[kind.field]) for kind in kinds),
            wording=f"Keeping {{asked}} on {names(sorted(contour_ids))} only, with {{instead}} "
            "elsewhere,",
            requirement=replace(relaxed, contours=kept),
            quantity=self.quantity,
            is_looser=True,
            must_save=True,
            conceded={name: (asked[name], um) for name, um in looser.items()},
            conceding=conceding,
        )
