"""A job planned and priced in one of several ways, without its program."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import TypedDict

from kerfwright.app.leaning_job import path_of, with_taper_effects
from kerfwright.app.sheets import holds_um
from kerfwright.costing.feed_parts import FeedPart, feed_parts
from kerfwright.costing.rates import RateTable
from kerfwright.costing.records import Estimate
from kerfwright.costing.stacked import estimate_pieces
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Shares
from kerfwright.motion.moves import WirePath
from kerfwright.planning.leaning import LeaningWalls
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.planning.planner import make_plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.choice import JobPasses, is_guided
from kerfwright.process.held import held_by
from kerfwright.process.technology import Pass, Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.material import Wire
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Demand, Requirement


def _nobody() -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What one way of cutting the job costs.

    Attributes
    ----------
    each : Decimal
        Likely price of one piece at the quantity asked.
    machine_minutes_each : float
    passes : int
        Of the contours that `asked` is of.
    wire_diameter_mm : float
    wire_name : str
        Of its kind, as printed.
    tolerance_um, ra_um, recast_um : float
        What can be promised after the last pass, on the contours that `asked` is of.
    refusals : int
        Refusal findings that stand against it.
    each_at : tuple of (int, Decimal)
        Likely price of one piece at every quantity asked.
    asks : tuple of (str, str)
        Lines of a job that ask for just this; empty for the job as asked, and where the offer
        says by itself what it changes.
    asked : Demand
        What this price promises on a group of contours: the limits that it is the price of asking
        for.  What the last pass holds beyond them is expected, and not promised.
    asked_on : tuple of str
        Those contours, of all of which just this is asked; the others ask something else.
    each_range, minutes_range : Range
        Of the price of one piece at the quantity asked, and of its machine time.
    each_shares : Shares
        What makes the range of the price.
    feed_parts : tuple of FeedPart
        What of price and time goes with feeds that are less sure than in routine work.
    """

    each: Decimal
    machine_minutes_each: float
    passes: int
    wire_diameter_mm: float
    wire_name: str
    tolerance_um: float
    ra_um: float
    recast_um: float
    refusals: int
    each_at: tuple[tuple[int, Decimal], ...] = ()
    asks: tuple[tuple[str, str], ...] = ()
    asked: Demand = field(default_factory=Demand)
    asked_on: tuple[str, ...] = ()
    each_range: Range = field(default=Range.exact(0.0), repr=False)
    each_shares: Shares = field(default=(), repr=False)
    minutes_range: Range = field(default=Range.exact(0.0), repr=False)
    feed_parts: tuple[FeedPart, ...] = field(default=(), repr=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Priced:
    """An offer with the plan, the path and the estimate it comes from."""

    offer: Offer
    plan: Plan
    path: WirePath
    estimate: Estimate

    @property
    def short_radii_mm(self) -> Mapping[str, float]:
        """Radius that comes out by contour, where inside corners are drawn tighter than it."""
        return {
            f.where.contour_id: float(f.data["limit_mm"])
            for f in self.plan.findings
            if f.code == "inside-radius-too-small" and f.where.contour_id is not None
        }

    @property
    def short_corners(self) -> Mapping[str, int]:
        """Number of those corners by contour."""
        return {
            f.where.contour_id: int(f.data["corners"])
            for f in self.plan.findings
            if f.code == "inside-radius-too-small" and f.where.contour_id is not None
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shop:
    """Tables, part and rules that all ways of cutting a job share.

    Attributes
    ----------
    part : Part
    catalogue, technology, rates, physics, rules
    quantities : tuple of int
        All that are asked; what is priced at the first is priced at the others too.
    memory : Memory
        What the ways have in common is worked out once.
    lean : LeaningWalls or None
        Walls that lean; ``part`` is then theirs, with the sections of least room.
    tell : callable
        Called between the steps of each price: whoever waits sees that it goes on, and may stop it
        by an exception.
    """

    part: Part
    catalogue: Catalogue
    technology: Technology
    rates: RateTable
    physics: WirePhysics | None
    rules: PlanningRules
    quantities: tuple[int, ...] = ()
    memory: Memory = field(default_factory=Memory)
    lean: LeaningWalls | None = None
    tell: Callable[[], None] = _nobody

    def planned(
        self,
        requirement: Requirement,
        *,
        quantity: int,
        part: Part | None = None,
        choice: JobPasses | None = None,
    ) -> Plan:
        """Plan without a price: what is refused is told also where nothing at all can be cut.

        Parameters
        ----------
        requirement, quantity, part, choice
            See :meth:`price`.
        """
        self.tell()
        plan = make_plan(
            part or self.part,
            replace(requirement, quantities=(quantity,)),
            technology=self.technology,
            catalogue=self.catalogue,
            rules=self.rules,
            choice=choice,
            physics=self.physics,
            memory=self.memory,
        )
        return with_taper_effects(
            plan,
            self.lean,
            rules=self.rules,
            technology=self.technology,
            catalogue=self.catalogue,
            physics=self.physics,
        )

    def price(
        self,
        requirement: Requirement,
        *,
        quantity: int,
        part: Part | None = None,
        choice: JobPasses | None = None,
    ) -> Priced | None:
        """Plan and price; None where nothing at all can be cut.

        Parameters
        ----------
        requirement : Requirement
            Of a stack, where pieces are cut at once.
        quantity : int
            Of pieces.
        part : Part, optional
            The part with contours changed; without it, as drawn.
        choice : JobPasses, optional
            Wire and passes; without it, those that the requirement asks for.
        """
        plan = self.planned(requirement, quantity=quantity, part=part, choice=choice)
        if not plan.contours:
            return None
        self.tell()
        try:
            path = path_of(
                plan,
                self.lean,
                rules=self.rules,
                physics=self.physics,
                memory=self.memory,
                programs_wall=False,
            )
        except InputError:
            # With other offsets a leaning wire may find no way: no such offer then.
            return None
        self.tell()
        others = self.quantities[1:] if self.quantities[:1] == (quantity,) else ()
        estimate = self._estimate(plan, path, (quantity, *others))
        offer = Offer(
            **_at_first(estimate),
            **self._on(plan, most_skimmed(plan)),
            wire_diameter_mm=plan.choice.wire.diameter_mm,
            wire_name=plan.choice.wire.name,
            refusals=sum(f.severity is Severity.REFUSAL for f in plan.findings),
            feed_parts=feed_parts(plan, estimate, technology=self.technology),
        )
        return Priced(offer=offer, plan=plan, path=path, estimate=estimate)

    def told_of(self, priced: Priced, contour_ids: Sequence[str]) -> Priced:
        """Return the same with an offer that tells of some contours, of all of which one is asked.

        Parameters
        ----------
        priced : Priced
        contour_ids : sequence of str
            Contours of its plan.
        """
        on = self._on(priced.plan, contour_ids)
        return replace(priced, offer=replace(priced.offer, **on))

    def at_quantity(self, priced: Priced, quantity: int) -> Priced:
        """Return the price of another quantity cut in the same way: nothing is planned anew."""
        if priced.plan.requirement.quantities == (quantity,):
            return priced
        plan = _for_quantities(priced.plan, (quantity,))
        estimate = self._estimate(plan, priced.path, (quantity,))
        offer = replace(
            priced.offer,
            **_at_first(estimate),
            feed_parts=feed_parts(plan, estimate, technology=self.technology),
        )
        return replace(priced, offer=offer, plan=plan, estimate=estimate)

    def _estimate(self, plan: Plan, path: WirePath, quantities: tuple[int, ...]) -> Estimate:
        return estimate_pieces(_for_quantities(plan, quantities), path, rates=self.rates)

    def _on(self, plan: Plan, contour_ids: Sequence[str]) -> _OnContours:
        """Return what a plan asks of some contours, and what it holds there."""
        passes = max((c.passes for c in plan.contours if c.target.id in contour_ids), key=len)
        held = self.held(passes, plan.requirement, plan.choice.wire)
        assert held.tolerance_um is not None
        assert held.ra_um is not None
        assert held.max_recast_um is not None
        return {
            "passes": len(passes),
            "tolerance_um": held.tolerance_um,
            "ra_um": held.ra_um,
            "recast_um": held.max_recast_um,
            "asked": plan.requirement.demand_on(contour_ids[0]),
            "asked_on": tuple(contour_ids),
        }

    def held(self, passes: Sequence[Pass], requirement: Requirement, wire: Wire) -> Demand:
        """Return what passes hold of every demand, a tolerance in the worst sheet of a stack."""
        held = held_by(passes, technology=self.technology)
        return replace(held, tolerance_um=self.holds_um(passes, requirement, wire))

    def holds_um(self, passes: Sequence[Pass], requirement: Requirement, wire: Wire) -> float:
        """Return the tolerance that passes hold, half the zone, in the worst sheet of a stack."""
        return holds_um(
            passes,
            requirement,
            wire=wire,
            technology=self.technology,
            physics=self.physics,
            rules=self.rules,
        )

    def wires(self, used: Wire, requirement: Requirement) -> tuple[Wire, ...]:
        """Return the wire in use and its neighbours of its kind in diameter that are guided."""
        same = sorted(
            (
                w
                for w in self.catalogue.wires
                if w.kind == used.kind and is_guided(w, requirement.machine)
            ),
            key=lambda w: w.diameter_mm,
        )
        here = next((k for k, w in enumerate(same) if w.diameter_mm == used.diameter_mm), None)
        if here is None:
            return (used,)
        return tuple(same[max(here - 1, 0) : here + 2])


class _OnContours(TypedDict):
    passes: int
    tolerance_um: float
    ra_um: float
    recast_um: float
    asked: Demand
    asked_on: tuple[str, ...]


class _AtFirst(TypedDict):
    each: Decimal
    machine_minutes_each: float
    each_at: tuple[tuple[int, Decimal], ...]
    each_range: Range
    each_shares: Shares
    minutes_range: Range


def _at_first(estimate: Estimate) -> _AtFirst:
    """Return what an offer has of its estimate: price and time at the first quantity."""
    first = estimate.prices[0]
    return {
        "each": first.each,
        "machine_minutes_each": 60 * first.hours.likely / first.quantity,
        "each_at": tuple((price.quantity, price.each) for price in estimate.prices),
        "each_range": Range(
            low=float(first.low) / first.quantity,
            likely=float(first.each),
            high=float(first.high) / first.quantity,
        ),
        "each_shares": tuple((s.cause, s.share_of_variance) for s in first.spread),
        "minutes_range": first.hours * (60 / first.quantity),
    }


def _for_quantities(plan: Plan, quantities: tuple[int, ...]) -> Plan:
    return replace(plan, requirement=replace(plan.requirement, quantities=quantities))


def most_skimmed(plan: Plan) -> tuple[str, ...]:
    """Return the contours with the same demand whose skims run over most wall.

    The rough pass is needed whatever is asked: what quality costs is the skims.  Without any skim
    it is the longest walls.

    Parameters
    ----------
    plan : Plan
    """

    def skimmed_mm(contours: Sequence[ContourPlan]) -> tuple[float, float]:
        walls = [(c.target.contour.length_mm, len(c.passes) - 1) for c in contours]
        return sum(mm * skims for mm, skims in walls), sum(mm for mm, _ in walls)

    most = max((own for _, own in plan.contours_by_demand()), key=skimmed_mm)
    return tuple(c.target.id for c in most)
