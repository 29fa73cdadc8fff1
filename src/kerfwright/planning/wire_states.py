"""The wire in each pass of a plan, and the feed that keeps it from breaking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_feeds
from kerfwright.foundation.sources import Reason
from kerfwright.planning.flushing import dirt
from kerfwright.planning.flushing_reasons import mean_factor_reason
from kerfwright.planning.own_cuts import OwnCuts, own_findings
from kerfwright.planning.plan import ContourPlan, FlushingState, Plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import BreakRisk
from kerfwright.process.technology import Flushing, PassChoice, Technology, read_curve
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_scene import WireScene
from kerfwright.process.wire_state import WireState, wire_states
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Requirement


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """What the wire of a plan can bear.

    Attributes
    ----------
    contours : tuple of ContourPlan
        With the feed of each rough cut held to the margin of the wire.
    states : tuple of WireState
        One for each pass; the rough pass at the worst place that any contour meets.
    findings : tuple of Finding
    """

    contours: tuple[ContourPlan, ...]
    states: tuple[WireState, ...]
    findings: tuple[Finding, ...]


def with_running_wire(
    planned: Sequence[ContourPlan],
    *,
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
    catalogue: Catalogue,
    physics: WirePhysics | None,
) -> Running:
    """Work out the state of the wire in each pass and hold the rough feeds to its margin.

    Where the removal at a feed takes more than ``most_share`` of the current at which the wire
    parts, the feed there is taken back in proportion: by itself beside the edge of the stock,
    where neither nozzle closes, and elsewhere.

    Parameters
    ----------
    planned : sequence of ContourPlan
    requirement, choice, technology, rules, catalogue
    physics : WirePhysics or None
        None leaves the contours as they are.
    """
    if physics is None:
        return Running(contours=tuple(planned), states=(), findings=())
    bearing = _bearing(planned, requirement, choice, technology, rules, physics)
    contours = tuple(
        replace(c, flushing=bearing.held(c.flushing, choice.passes[0].feed_mm_per_min))
        for c in planned
    )
    return _running(bearing, contours, requirement, technology, catalogue)


def with_leaning_wire(
    plan: Plan,
    slowed: Sequence[ContourPlan],
    *,
    technology: Technology,
    catalogue: Catalogue,
    physics: WirePhysics | None,
) -> Plan:
    """Return a plan whose states of the wire, and what is said of them, are at the leaning feeds.

    Feeds held to the margin stay as they are: what the lean takes off them is beside it.

    Parameters
    ----------
    plan : Plan
        With its wire at the feeds of upright walls.
    slowed : sequence of ContourPlan
        Its contours with the factors of their lean; where they run beside the edge still told.
    technology, catalogue
    physics : WirePhysics or None
        None leaves the plan as it is, and so does a plan of no contour.
    """
    if physics is None or not slowed:
        return plan
    bearing = _bearing(slowed, plan.requirement, plan.choice, technology, plan.rules, physics)
    running = _running(bearing, tuple(slowed), plan.requirement, technology, catalogue)
    others = [f for f in plan.findings if f.code not in _CODES]
    return replace(plan, wire_states=running.states, findings=(*others, *running.findings))


_CODES = frozenset({"feed-held-by-wire", "wire-break-margin-thin", "feed-above-wire-model"})


def _bearing(
    planned: Sequence[ContourPlan],
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
    physics: WirePhysics,
) -> _Bearing:
    scene = WireScene(
        wire=choice.wire,
        material=requirement.material,
        height_mm=requirement.height_mm,
        physics=physics.with_nozzles_off(rules.nozzles_off_mm),
    )
    return _Bearing.of(scene, planned, requirement, choice, technology, rules)


def _running(
    bearing: _Bearing,
    contours: tuple[ContourPlan, ...],
    requirement: Requirement,
    technology: Technology,
    catalogue: Catalogue,
) -> Running:
    scene, choice = bearing.scene, bearing.choice
    worst, feed = bearing.worst(contours)
    states = wire_states(
        choice.passes,
        scene=scene,
        spark=technology.spark,
        flushing=worst,
        rough_feed_mm_per_min=feed,
        lean_factor=max((c.taper_factor for c in contours), default=1.0),
        thresholds_a=bearing.thresholds_a,
    )
    findings = [*_held_findings(contours, bearing)]
    borne = own_findings(states[0], bearing.own, scene.physics)
    findings += borne or _thin_findings(states[0], scene, catalogue, requirement)
    return Running(contours=contours, states=states, findings=tuple(findings))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bearing:
    """Break current and dirt in each state of the nozzles that a plan meets."""

    scene: WireScene
    choice: PassChoice
    nozzles: Flushing
    thresholds_a: Mapping[Flushing, float]
    dirt_along: float
    dirt_beside: float
    own: OwnCuts | None

    @classmethod
    def of(
        cls,
        scene: WireScene,
        planned: Sequence[ContourPlan],
        requirement: Requirement,
        choice: PassChoice,
        technology: Technology,
        rules: PlanningRules,
    ) -> _Bearing:
        by_edge = any(c.flushing.meets_edge for c in planned)
        met = {Flushing.SEALED, rules.nozzles} | ({Flushing.BOTH_OPEN} if by_edge else set())
        along = beside = 1.0
        if rules.nozzles is not Flushing.SEALED:
            along = dirt(rules.nozzles, requirement, choice, technology, rules).break_term
        if by_edge:
            beside = dirt(None, requirement, choice, technology, rules).break_term
        return cls(
            scene=scene,
            choice=choice,
            nozzles=rules.nozzles,
            thresholds_a={state: scene.break_current_a(state) for state in sorted(met)},
            dirt_along=along,
            dirt_beside=beside,
            own=OwnCuts.of(choice.passes[0], rules, scene.physics),
        )

    def used(self, state: Flushing, feed_mm_per_min: float) -> float:
        """Return the share of the break current that a rough feed takes."""
        current = self.scene.mean_current_a(self.choice.passes[0], feed_mm_per_min=feed_mm_per_min)
        threshold = self.thresholds_a[state]
        return current / threshold if threshold > 0 else float("inf")

    def _at(self, state: Flushing, feed_mm_per_min: float) -> _At:
        """Return how the wire bears a rough feed under a state of the nozzles."""
        law = self.scene.physics.breaking
        used = self.used(state, feed_mm_per_min)
        # A wire that parts cold is no matter of the feed; the finding on the margin says so.
        factor = min(1.0, law.most_share / used) if used < float("inf") else 1.0
        own = self.own.factor(feed_mm_per_min) if self.own and state is Flushing.SEALED else 0.0
        is_own = own > factor
        # What the shop's cuts bore is no likelier to break than what the model is held to.
        held = law.most_share if is_own else self.used(state, feed_mm_per_min * factor)
        return _At(
            state=state,
            used=used,
            factor=max(own, factor),
            breaks=read_curve(law.relative_rate, held),
            is_own=is_own,
        )

    def held(self, flushing: FlushingState, nominal_mm_per_min: float) -> FlushingState:
        """Return the state of one contour with its feeds held to the margin."""
        along = self._at(self.nozzles, nominal_mm_per_min * flushing.along_factor)
        beside = along
        if flushing.meets_edge:
            beside = self._at(Flushing.BOTH_OPEN, nominal_mm_per_min * flushing.beside_factor)
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
        found = replace(
            with_feeds,
            breaks_by_heat=heat,
            breaks_by_dirt=breaks / heat,
            breaks_beside=beside.breaks * by_dirt,
        )
        return replace(found, reasons=self._reasons(found, along, beside))

    def _reasons(self, state: FlushingState, along: _At, beside: _At) -> tuple[Reason, ...]:
        law = self.scene.physics.breaking
        held = {"along_factor": along.factor, "beside_factor": beside.factor}
        edge = state.edge_time_share
        by_dirt = self.dirt_beside if state.meets_edge else self.dirt_along
        return (
            *(
                mean_factor_reason(state, source=r.source)
                if r.quantity == "rate_factor"
                else _times(r, held.get(r.quantity, 1.0))
                for r in state.reasons
            ),
            *(
                self.own.reason(name, at.factor)
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
            Reason(
                quantity="breaks_by_heat",
                value=state.breaks_by_heat,
                formula="(1 - s) b_along + s b_beside, s by time, b by the share of the break "
                "current",
                inputs=(("s", edge), ("b_along", along.breaks), ("b_beside", beside.breaks)),
                source=law.sources["relative_rate"],
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

    def worst(self, contours: Sequence[ContourPlan]) -> tuple[Flushing, float]:
        """Return nozzles and feed where the wire of the rough pass is nearest to a break."""
        nominal = self.choice.passes[0].feed_mm_per_min
        places = [
            (self.nozzles, nominal * c.flushing.along_factor * c.taper_factor)
            for c in contours
            if c.flushing.edge_share < 1
        ] + [
            (Flushing.BOTH_OPEN, nominal * c.flushing.beside_factor * c.taper_factor)
            for c in contours
            if c.flushing.meets_edge
        ]
        return max(places or [(self.nozzles, nominal)], key=lambda place: self.used(*place))


@dataclass(frozen=True, slots=True, kw_only=True)
class _At:
    """The wire in one place of a rough cut.

    Attributes
    ----------
    state : Flushing
    used : float
        Share of the break current at the feed of the rate law.
    factor : float
        On that feed, to keep the margin.
    breaks : float
        An hour against a usual rough pass, by heat, at the feed held.
    is_own : bool
        Whether the shop's own cuts bore more than the model allows.
    """

    state: Flushing
    used: float
    factor: float
    breaks: float
    is_own: bool


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


def _held_findings(contours: Sequence[ContourPlan], bearing: _Bearing) -> list[Finding]:
    held = [c for c in contours if c.flushing.least_margin_factor < 1]
    if not held:
        return []
    least = min(held, key=lambda c: c.flushing.least_margin_factor)
    names = ", ".join(c.target.id for c in held[:_NAMED])
    names += f" and {len(held) - _NAMED} more" if len(held) > _NAMED else ""
    feed, physics = _held_feed(least), bearing.scene.physics
    more = ""
    if bearing.own and not _is_beside(least):
        more = bearing.own.wanting_words(feed)
    return [
        Finding(
            code="feed-held-by-wire",
            severity=Severity.NOTE,
            message=f"The rate asked would take more than {physics.breaking.most_share:.0%} of the "
            f"current at which the wire parts: the rough feed of {names} is taken back, at most to "
            f"{least.flushing.least_margin_factor:.0%}, {both_feeds(feed)}.{more}",
            where=Place(contour_id=least.target.id, pass_number=1),
            remedy="A thicker or stronger wire, closer nozzles or less height would let it run "
            "faster.",
            data={"margin_factor": least.flushing.least_margin_factor},
        )
    ]


def _held_feed(contour: ContourPlan) -> float:
    """Return the rough feed that the program has where it is taken back most, mm/min."""
    if _is_beside(contour):
        return contour.edge_feed_mm_per_min
    return contour.feed_mm_per_min(contour.passes[0])


def _is_beside(contour: ContourPlan) -> bool:
    """Return whether a feed is taken back most beside the edge of the stock."""
    state = contour.flushing
    return state.meets_edge and state.beside_margin_factor < state.margin_factor


_NAMED = 4
"""Contours named in a sentence before it says how many more there are."""


def _thin_findings(
    rough: WireState, scene: WireScene, catalogue: Catalogue, requirement: Requirement
) -> list[Finding]:
    """Return a warning where a break is more likely by heat, with what would help by how much."""
    if rough.risk is BreakRisk.USUAL and rough.break_current_a > 0:
        return []
    share = f"{rough.utilisation:.0%} of" if rough.break_current_a > 0 else "more than"
    helps = _levers(rough, scene, catalogue, requirement)
    return [
        Finding(
            code="wire-break-margin-thin",
            severity=Severity.WARNING,
            message=f"The rough pass takes {share} the mean current at which the wire of "
            f"{scene.wire.diameter_mm:g} mm parts at {scene.height_mm:g} mm of height "
            f"({rough.mean_current_a:.1f} of {rough.break_current_a:.1f} A, hottest place "
            f"{rough.hottest_c:.0f} °C): breaks are more likely. What is behind the figure is a "
            "rank, not a count.",
            where=Place(pass_number=1),
            remedy="; ".join(helps) + ". Watch the first hour, and keep to the machine's manual.",
            data={"utilisation": rough.utilisation, "rank": rough.rank},
        )
    ]


def _levers(
    rough: WireState, scene: WireScene, catalogue: Catalogue, requirement: Requirement
) -> list[str]:
    """Say what would take the wire off its limit, the strongest first."""
    found: list[tuple[float, str]] = []
    if rough.flushing is not Flushing.SEALED:
        near = replace(scene, physics=scene.physics.with_nozzles_off((0.0, 0.0)))
        closed = rough.mean_current_a / near.break_current_a(Flushing.SEALED)
        found.append((closed, f"close the nozzles on the work ({closed:.0%} at this feed)"))
    for wire in _others(catalogue, scene.wire, requirement):
        current = rough.mean_current_a * wire.diameter_mm / scene.wire.diameter_mm
        threshold = replace(scene, wire=wire).break_current_a(rough.flushing)
        if threshold > 0 and current / threshold < rough.utilisation:
            used = current / threshold
            name = f"{wire.diameter_mm:g} mm {wire.name}"
            found.append((used, f"take {name} ({used:.0%} at this feed)"))
    found.sort(key=lambda one: one[0])
    less = rough.utilisation * _LESS_FEED
    words = [text for _, text in found[:_LEVERS]]
    return [*words, f"take the power and feed back by a tenth ({less:.0%})"]


_LESS_FEED = 0.9
_LEVERS = 2
"""Remedies beyond less power that are worth reading out."""


def _others(catalogue: Catalogue, wire: Wire, requirement: Requirement) -> list[Wire]:
    """Return the next thicker wire of the kind, and kinds as strong of the same diameter.

    A softer wire would run slacker and bow more: cooler only because it is pulled less.
    """
    guided = requirement.machine.wire_diameters_mm
    thicker = [
        w
        for w in catalogue.wires
        if w.kind == wire.kind and w.diameter_mm > wire.diameter_mm and w.diameter_mm in guided
    ]
    same = [
        w
        for w in catalogue.wires
        if w.kind != wire.kind
        and w.diameter_mm == wire.diameter_mm
        and w.tensile_n_per_mm2 >= wire.tensile_n_per_mm2
    ]
    return [*sorted(thicker, key=lambda w: w.diameter_mm)[:1], *same]
