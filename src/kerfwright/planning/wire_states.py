"""The wire in each pass of a plan, and the feed that keeps it from breaking."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sources import Reason
from kerfwright.foundation.units import UnitSystem, feed_text
from kerfwright.planning.flushing import dirt
from kerfwright.planning.plan import ContourPlan, FlushingState
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.flushing import BreakRisk
from kerfwright.process.technology import Flushing, PassChoice, Technology, read_curve
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.process.wire_state import WireScene, WireState, wire_states
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
    parts, the feed of that contour is taken back in proportion.  The worst place of a contour
    counts: beside the edge of the stock the program runs at the contour's one feed while neither
    nozzle closes.

    Parameters
    ----------
    planned : sequence of ContourPlan
    requirement, choice, technology, rules, catalogue
    physics : WirePhysics or None
        None leaves the contours as they are.
    """
    if physics is None:
        return Running(contours=tuple(planned), states=(), findings=())
    scene = WireScene(
        wire=choice.wire,
        material=requirement.material,
        height_mm=requirement.height_mm,
        physics=physics.with_nozzles_off(rules.nozzles_off_mm),
    )
    bearing = _Bearing.of(scene, planned, requirement, choice, technology, rules)
    contours = tuple(
        replace(c, flushing=bearing.held(c.flushing, choice.passes[0].feed_mm_per_min))
        for c in planned
    )
    worst, feed = bearing.worst(contours)
    states = wire_states(
        choice.passes,
        scene=scene,
        spark=technology.spark,
        flushing=worst,
        rough_feed_mm_per_min=feed,
        thresholds_a=bearing.thresholds_a,
    )
    findings = [*_held_findings(contours, states[0], physics)]
    findings += _thin_findings(states[0], scene, catalogue, requirement)
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
        by_edge = any(c.flushing.edge_share > 0 for c in planned)
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
        )

    def used(self, state: Flushing, feed_mm_per_min: float) -> float:
        """Return the share of the break current that a rough feed takes."""
        current = self.scene.mean_current_a(self.choice.passes[0], feed_mm_per_min=feed_mm_per_min)
        threshold = self.thresholds_a[state]
        return current / threshold if threshold > 0 else float("inf")

    def worst_state(self, flushing: FlushingState) -> Flushing:
        return Flushing.BOTH_OPEN if flushing.edge_share > 0 else self.nozzles

    def held(self, flushing: FlushingState, nominal_mm_per_min: float) -> FlushingState:
        """Return the state of one contour with its feed held to the margin."""
        law = self.scene.physics.breaking
        state, feed = self.worst_state(flushing), nominal_mm_per_min * flushing.rate_factor
        used = self.used(state, feed)
        # A wire that parts cold is no matter of the feed; the finding on the margin says so.
        factor = min(1.0, law.most_share / used) if used < float("inf") else 1.0
        factor_all = flushing.rate_factor * factor
        edge = flushing.edge_share
        by_heat = law.relative_rate
        feed = nominal_mm_per_min * factor_all
        along = read_curve(by_heat, self.used(self.nozzles, feed))
        beside = 0.0
        if edge > 0:
            beside = read_curve(by_heat, self.used(Flushing.BOTH_OPEN, feed))
        heat = (1 - edge) * along + edge * beside
        breaks = (1 - edge) * along * self.dirt_along + edge * beside * self.dirt_beside
        reasons = (
            *(_times(r, factor) if r.quantity == "rate_factor" else r for r in flushing.reasons),
            Reason(
                quantity="margin_factor",
                value=factor,
                formula="min(1, most share / (I / I_break)) at the feed of the rate law",
                inputs=(
                    ("most_share", law.most_share),
                    ("utilisation", used),
                    ("nozzles", state.value),
                ),
                source=law.sources["most_share"],
            ),
            Reason(
                quantity="breaks_by_heat",
                value=heat,
                formula="(1 - s) b_along + s b_beside, b by the share of the break current",
                inputs=(("s", edge), ("b_along", along), ("b_beside", beside)),
                source=law.sources["relative_rate"],
            ),
            Reason(
                quantity="breaks_by_dirt",
                value=breaks / heat,
                formula="((1 - s) b_along c_along + s b_beside c_beside) / b, c the dirtiest place "
                "after the feed is taken back",
                inputs=(
                    ("s", edge),
                    ("c_along", self.dirt_along),
                    ("c_beside", self.dirt_beside),
                    ("b", heat),
                ),
                source=law.sources["relative_rate"],
            ),
        )
        return replace(
            flushing,
            rate_factor=factor_all,
            margin_factor=factor,
            breaks_by_heat=heat,
            breaks_by_dirt=breaks / heat,
            has_wire=True,
            reasons=reasons,
        )

    def worst(self, contours: Sequence[ContourPlan]) -> tuple[Flushing, float]:
        """Return nozzles and feed where the wire of the rough pass is nearest to a break."""
        nominal = self.choice.passes[0].feed_mm_per_min
        places = [
            (self.worst_state(c.flushing), nominal * c.flushing.rate_factor) for c in contours
        ]
        return max(places or [(self.nozzles, nominal)], key=lambda place: self.used(*place))


def _times(reason: Reason, factor: float) -> Reason:
    """Return the reason of the rate factor with what the wire takes off it."""
    if factor == 1:
        return reason
    return replace(
        reason,
        value=reason.value * factor,
        formula=f"{reason.formula} x margin factor",
        inputs=(*reason.inputs, ("margin_factor", factor)),
    )


def _held_findings(
    contours: Sequence[ContourPlan], rough: WireState, physics: WirePhysics
) -> list[Finding]:
    held = [c for c in contours if c.flushing.margin_factor < 1]
    if not held:
        return []
    least = min(held, key=lambda c: c.flushing.margin_factor)
    names = ", ".join(c.target.id for c in held[:_NAMED])
    names += f" and {len(held) - _NAMED} more" if len(held) > _NAMED else ""
    return [
        Finding(
            code="feed-held-by-wire",
            severity=Severity.NOTE,
            message=f"The rate asked would take more than {physics.breaking.most_share:.0%} of the "
            f"current at which the wire parts: the rough feed of {names} is taken back, at most to "
            f"{least.flushing.margin_factor:.0%}, {_feed(rough.feed_mm_per_min)}.",
            where=Place(contour_id=least.target.id, pass_number=1),
            remedy="A thicker or stronger wire, closer nozzles or less height would let it run "
            "faster.",
            data={"margin_factor": least.flushing.margin_factor},
        )
    ]


def _feed(value_mm_per_min: float) -> str:
    metric = feed_text(value_mm_per_min, system=UnitSystem.METRIC)
    return f"{metric} ({feed_text(value_mm_per_min, system=UnitSystem.INCH)})"


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
        closed = rough.mean_current_a / scene.break_current_a(Flushing.SEALED)
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
