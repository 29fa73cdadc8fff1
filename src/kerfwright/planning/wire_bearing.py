"""What the wire of a plan bears: break current, dirt, own cuts, and the feeds held to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason
from kerfwright.planning.flushing import dirt
from kerfwright.planning.flushing_reasons import mean_factor_reason
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.own_cuts import OwnCuts
from kerfwright.planning.plan import ContourPlan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import Derating, by_openness, face_gap_mm
from kerfwright.process.flushing_law import FlushingLaw
from kerfwright.process.technology import Flushing, PassChoice, Technology, read_curve
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_scene import WireScene
from kerfwright.trade.requirement import Requirement


@dataclass(frozen=True, slots=True, kw_only=True)
class Bearing:
    """What the wire bears in each state of the nozzles that a plan meets.

    Attributes
    ----------
    scene : WireScene
    choice : PassChoice
    nozzles : Flushing
        Along most of the cut.
    thresholds_a : mapping of Flushing to float
        Break currents.
    closed_a : float
        That of closed nozzles at their usual gap.
    dirt_along, dirt_beside, dirt_unslowed : float
        Dirtiest place against closed nozzles: along the cut and beside the edge at the feed taken
        back, and along it at that of closed nozzles.
    own : OwnCuts or None
    leans : bool
        Whether the mouths of the nozzles lean with the wire.
    """

    scene: WireScene
    choice: PassChoice
    nozzles: Flushing
    thresholds_a: Mapping[Flushing, float]
    closed_a: float
    dirt_along: float
    dirt_beside: float
    dirt_unslowed: float
    own: OwnCuts | None
    leans: bool = False

    @classmethod
    def of(
        cls,
        planned: Sequence[ContourPlan],
        *,
        requirement: Requirement,
        choice: PassChoice,
        technology: Technology,
        rules: PlanningRules,
        physics: WirePhysics,
    ) -> Bearing:
        """Return what the wire of a plan bears.

        Parameters
        ----------
        planned : sequence of ContourPlan
        requirement, choice, technology, rules, physics
        """
        by_edge = any(c.flushing.meets_edge for c in planned)
        scene = WireScene(
            wire=choice.wire,
            material=requirement.material,
            height_mm=requirement.height_mm,
            physics=_physics_at(physics, rules, technology.flushing, by_edge=by_edge),
        )
        met = {Flushing.SEALED, rules.nozzles} | ({Flushing.BOTH_OPEN} if by_edge else set())
        along, beside = (
            dirt(state, requirement, choice, technology, rules) if is_met else None
            for state, is_met in (
                (rules.nozzles, rules.nozzles is not Flushing.SEALED or _stand_by_numbers(rules)),
                (None, by_edge),
            )
        )
        near = replace(scene, physics=physics.with_nozzles_off((0.0, 0.0)))
        closed_a = near.break_current_a(Flushing.SEALED)
        per_feed = scene.mean_current_a(choice.passes[0], feed_mm_per_min=1.0)
        return cls(
            scene=scene,
            choice=choice,
            nozzles=rules.nozzles,
            thresholds_a={state: scene.break_current_a(state) for state in sorted(met)},
            closed_a=closed_a,
            dirt_along=_at_least_one(along, slowed=True),
            dirt_beside=_at_least_one(beside, slowed=True),
            dirt_unslowed=_at_least_one(along, slowed=False),
            leans=rules.mouths is not None,
            own=OwnCuts.of(
                choice.passes[0],
                rules,
                scene.physics,
                charge_more_log=scene.charge_more_log,
                share_per_feed=per_feed / closed_a if closed_a > 0 else float("inf"),
            ),
        )

    def used(self, state: Flushing, feed_mm_per_min: float) -> float:
        """Return the share of the break current that a rough feed takes."""
        current = self.scene.mean_current_a(self.choice.passes[0], feed_mm_per_min=feed_mm_per_min)
        threshold = self.thresholds_a[state]
        return current / threshold if threshold > 0 else float("inf")

    def at(self, state: Flushing, feed_mm_per_min: float) -> At:
        """Return how the wire bears a rough feed under a state of the nozzles.

        Parameters
        ----------
        state : Flushing
        feed_mm_per_min : float
            By the rate law.
        """
        law = self.scene.physics.breaking
        used = self.used(state, feed_mm_per_min)
        # A wire that parts cold is no matter of the feed; the finding on the margin says so.
        factor = min(1.0, law.most_share / used) if used < float("inf") else 1.0
        found = At(
            state=state,
            used=used,
            factor=factor,
            feed_mm_per_min=feed_mm_per_min * factor,
            breaks=read_curve(law.relative_rate, used * factor),
        )
        own = self.own
        if own is None or not own.are_settled or state is not Flushing.SEALED:
            return found
        # Rounding must not make a feed that nothing holds one that the counts lifted.
        lifted = own.factor(feed_mm_per_min) if factor < 1 else 0.0
        factor = max(factor, lifted)
        rate = own.rate_per_h(feed_mm_per_min * factor)
        return replace(
            found,
            factor=factor,
            feed_mm_per_min=feed_mm_per_min * factor,
            breaks=rate.likely / own.counted.per_h.likely,
            is_own=lifted > found.factor,
            counted=rate,
        )

    def closed_breaks(self, nominal_mm_per_min: float) -> float:
        """Return the breaks by heat with closed nozzles at their feed, held to the margin."""
        law = self.scene.physics.breaking
        current = self.scene.mean_current_a(
            self.choice.passes[0], feed_mm_per_min=nominal_mm_per_min
        )
        used = current / self.closed_a if self.closed_a > 0 else float("inf")
        return read_curve(law.relative_rate, min(used, law.most_share))

    def held(self, flushing: FlushingState, nominal_mm_per_min: float) -> FlushingState:
        """Return the state of one contour with its feeds held to the margin.

        Parameters
        ----------
        flushing : FlushingState
        nominal_mm_per_min : float
            Rough feed of the pass, nozzles closed.

        Notes
        -----
        Where a nozzle does not close, the feed is slow because the gap is dirty, see
        :meth:`open_breaks`.
        """
        along = self.at(self.nozzles, nominal_mm_per_min * flushing.along_factor)
        least = self.closed_breaks(nominal_mm_per_min)
        if self.is_slowed:
            along = self.opened(along, nominal_mm_per_min, least=least)
        beside = along
        if flushing.meets_edge:
            beside = self.at(Flushing.BOTH_OPEN, nominal_mm_per_min * flushing.beside_factor)
            beside = self.opened(beside, nominal_mm_per_min, least=max(least, along.breaks))
        with_feeds = replace(
            flushing,
            along_factor=flushing.along_factor * along.factor,
            beside_factor=flushing.beside_factor * beside.factor,
            margin_factor=along.factor,
            beside_margin_factor=beside.factor,
            has_wire=True,
        )
        edge = with_feeds.edge_time_share
        heat = (1 - edge) * along.breaks + edge * beside.breaks
        by_dirt = self.dirt_beside if flushing.meets_edge else self.dirt_along
        breaks = (1 - edge) * along.breaks * self.dirt_along + edge * beside.breaks * by_dirt
        curve = self.scene.physics.breaking.relative_rate
        unslowed = max(least, read_curve(curve, self.used(self.nozzles, nominal_mm_per_min)))
        found = replace(
            with_feeds,
            breaks_by_heat=heat,
            breaks_by_dirt=breaks / heat,
            breaks_beside=beside.breaks * by_dirt,
            breaks_unslowed=unslowed * self.dirt_unslowed,
            breaks_closed=least,
            counted_sigma_log=0.0 if along.counted is None else along.counted.sigma_log,
            counted_ends=_ends(along.counted),
        )
        return replace(found, reasons=self._reasons(found, along, beside))

    def opened(self, found: At, nominal_mm_per_min: float, *, least: float) -> At:
        """Return how the wire bears a feed that is slow for open nozzles, by :meth:`open_breaks`.

        Parameters
        ----------
        found : At
        nominal_mm_per_min : float
            Rough feed of closed nozzles.
        least : float
            Breaks by heat with them.
        """
        share = found.feed_mm_per_min / nominal_mm_per_min
        breaks = self.open_breaks(found.used * found.factor, share, least=least)
        return replace(found, breaks=breaks, is_open=True)

    def open_breaks(self, used: float, share: float, *, least: float) -> float:
        """Return the breaks by heat at a feed that is slow because a nozzle does not close.

        ``R(u / K^(1-m))``: of what the feed loses, ``K``, only the power m is current; the rest
        goes into shorts and arcs, which warm the wire and remove nothing.  Never less than with
        closed nozzles at their feed.

        Parameters
        ----------
        used : float
            Share of the break current that the removal takes.
        share : float
            Of the feed of closed nozzles.
        least : float
            Breaks by heat with closed nozzles.
        """
        law = self.scene.physics.breaking
        warm = used / min(1.0, share) ** (1 - law.slow_current_exponent)
        return max(least, read_curve(law.relative_rate, warm))

    @property
    def is_slowed(self) -> bool:
        """Whether the feed along a wall is that of nozzles which do not close on their faces."""
        return self.nozzles is not Flushing.SEALED or any(self._off_mm) or self.leans

    @property
    def _off_mm(self) -> tuple[float, float]:
        heat = self.scene.physics.heat
        return heat.upper_off_mm, heat.lower_off_mm

    def _reasons(self, state: FlushingState, along: At, beside: At) -> tuple[Reason, ...]:
        law = self.scene.physics.breaking
        held = {"along_factor": along.factor, "beside_factor": beside.factor}
        return (
            *(
                mean_factor_reason(state, source=r.source)
                if r.quantity == "rate_factor"
                else _times(r, held.get(r.quantity, 1.0))
                for r in state.reasons
            ),
            *(
                self.own.reason(name, at.factor, at.feed_mm_per_min)
                if self.own and at.is_own
                else Reason(
                    quantity=name,
                    value=at.factor,
                    formula="min(1, most share / (I / I_break)) at the feed of the rate law",
                    inputs=(
                        ("most_share", law.most_share),
                        ("utilisation", at.used),
                        ("nozzles", at.state.value),
                    ),
                    source=law.sources["most_share"],
                )
                for name, at in (("margin_factor", along), ("beside_margin_factor", beside))
            ),
            *self._break_reasons(state, along, beside),
        )

    def _break_reasons(self, state: FlushingState, along: At, beside: At) -> tuple[Reason, ...]:
        """Say what the breaks of the cut follow from."""
        law, edge = self.scene.physics.breaking, state.edge_time_share
        by_dirt = self.dirt_beside if state.meets_edge else self.dirt_along
        return (
            Reason(
                quantity="breaks_by_heat",
                value=state.breaks_by_heat,
                formula=f"(1 - s) b_along + s b_beside, s by time, b {_basis(along, beside)}",
                inputs=(
                    ("s", edge),
                    ("b_along", along.breaks),
                    ("b_beside", beside.breaks),
                    ("b_closed", state.breaks_closed),
                ),
                source=law.sources["relative_rate"]
                if along.counted is None or self.own is None
                else self.own.source,
            ),
            Reason(
                quantity="breaks_by_dirt",
                value=state.breaks_by_dirt,
                formula="((1 - s) b_along c_along + s b_beside c_beside) / b, c the dirtiest place "
                "after the feed is taken back",
                inputs=(
                    ("s", edge),
                    ("c_along", self.dirt_along),
                    ("c_beside", by_dirt),
                    ("b", state.breaks_by_heat),
                ),
                source=law.sources["relative_rate"],
            ),
            *self._unslowed_reason(state),
            Reason(
                quantity="breaks_beside",
                value=state.breaks_beside,
                formula="b_beside c_beside"
                if state.meets_edge
                else "that of the whole cut: no place of it is beside the edge of the stock",
                inputs=(("b_beside", beside.breaks), ("c_beside", by_dirt)),
                source=law.sources["relative_rate"],
            ),
        )

    def _unslowed_reason(self, state: FlushingState) -> tuple[Reason, ...]:
        """Say what would come of open nozzles at the feed of closed ones."""
        if self.nozzles is Flushing.SEALED:
            return ()
        law = self.scene.physics.breaking
        nominal = self.choice.passes[0].feed_mm_per_min
        return (
            Reason(
                quantity="breaks_closed",
                value=state.breaks_closed,
                formula="curve over the share of the break current that closed nozzles have at "
                "their feed, held to the margin",
                inputs=(("I_break_a", self.closed_a), ("feed_mm_per_min", nominal)),
                source=law.sources["relative_rate"],
            ),
            Reason(
                quantity="breaks_unslowed",
                value=state.breaks_unslowed,
                formula="b c at the feed of closed nozzles; why the feed is taken back",
                inputs=(
                    ("b", state.breaks_unslowed / self.dirt_unslowed),
                    ("c", self.dirt_unslowed),
                    ("utilisation", self.used(self.nozzles, nominal)),
                    ("feed_mm_per_min", nominal),
                ),
                source=law.sources["relative_rate"],
            ),
        )

    def worst(self, contours: Sequence[ContourPlan]) -> tuple[Flushing, float]:
        """Return nozzles and feed where the wire of the rough pass is nearest to a break."""
        nominal = self.choice.passes[0].feed_mm_per_min
        places = [
            (self.nozzles, nominal * c.flushing.along_factor * c.lean.rough_factor)
            for c in contours
            if c.flushing.edge_share < 1
        ] + [
            (Flushing.BOTH_OPEN, nominal * c.flushing.beside_factor * c.lean.rough_factor)
            for c in contours
            if c.flushing.meets_edge
        ]
        return max(places or [(self.nozzles, nominal)], key=lambda place: self.used(*place))


@dataclass(frozen=True, slots=True, kw_only=True)
class At:
    """The wire in one place of a rough cut.

    Attributes
    ----------
    state : Flushing
    used : float
        Share of the break current at the feed of the rate law.
    factor : float
        On that feed, to keep the margin.
    feed_mm_per_min : float
        The feed so held.
    breaks : float
        An hour against a usual rough pass, by heat, at the feed held.
    is_own : bool
        Whether the shop's own cuts bore more than the model allows.
    counted : Range or None
        Breaks an hour by the shop's counts and the model together, where there are jobs enough.
    is_open : bool
        Whether the feed is slow for a nozzle that does not close.
    """

    state: Flushing
    used: float
    factor: float
    feed_mm_per_min: float
    breaks: float
    is_own: bool = False
    counted: Range | None = None
    is_open: bool = False


def _basis(along: At, beside: At) -> str:
    """Say what breaks by heat follow from."""
    if along.counted is not None:
        return "by the shop's counts and the model together"
    said = "by the share of the break current"
    if along.is_open or beside.is_open:
        said += (
            " over K^(1-m), of the feed lost in dirt the power m being current; no less than with "
            "closed nozzles"
        )
    return said


def _at_least_one(found: Derating | None, *, slowed: bool) -> float:
    if found is None:
        return 1.0
    return max(1.0, found.break_term if slowed else found.worst_ratio)


def _stand_by_numbers(rules: PlanningRules) -> bool:
    """Return whether gaps are given that count, or mouths lean."""
    return any(rules.nozzles_off_mm) or rules.mouths is not None


def _physics_at(
    physics: WirePhysics, rules: PlanningRules, law: FlushingLaw, *, by_edge: bool
) -> WirePhysics:
    """Return the constants for nozzles that stand so; a gap given takes its part of the film.

    Beside the edge of the stock neither nozzle closes, whatever the gaps.
    """
    off = physics.with_nozzles_off(rules.nozzles_off_mm)
    state = rules.nozzles
    if not _stand_by_numbers(rules) or state is Flushing.SEALED:
        return off
    if by_edge and state is Flushing.BOTH_OPEN:
        return off
    film, mouths = off.heat.film, rules.mouths
    gaps = rules.nozzles_off_mm
    if mouths is not None:
        upper, lower = (
            face_gap_mm(gap, lean_deg=mouths.lean_deg, law=law)
            for gap in (mouths.upper_gap_mm, mouths.lower_gap_mm)
        )
        gaps = upper, lower
    part = by_openness(
        gaps,
        one_open=film[Flushing.ONE_OPEN],
        both_open=film[Flushing.BOTH_OPEN],
        law=law,
    )
    return replace(off, heat=replace(off.heat, film={**film, state: part}))


def _times(reason: Reason, factor: float) -> Reason:
    """Return the reason of a factor on the feed with what the wire takes off it."""
    if factor == 1:
        return reason
    return replace(
        reason,
        value=reason.value * factor,
        range=None if reason.range is None else reason.range * factor,
        formula=f"{reason.formula} x margin factor",
        inputs=(*reason.inputs, ("margin_factor", factor)),
    )


def _ends(counted: Range | None) -> tuple[float, float]:
    """Return low and high of a range over its likely value."""
    if counted is None:
        return 1.0, 1.0
    return counted.low / counted.likely, counted.high / counted.likely
