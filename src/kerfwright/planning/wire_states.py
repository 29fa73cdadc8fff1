"""The wire in each pass of a plan, and the feed that keeps it from breaking."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_feeds
from kerfwright.foundation.sources import Shares
from kerfwright.planning.break_ranges import COUNTED
from kerfwright.planning.own_cuts import OwnCuts, own_findings
from kerfwright.planning.plan import ContourPlan, Plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.wire_bearing import Bearing
from kerfwright.process.break_spread import spread_of_factor
from kerfwright.process.flushing import BreakRisk
from kerfwright.process.technology import Flushing, PassChoice, Technology
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
    bearing = Bearing.of(
        planned,
        requirement=requirement,
        choice=choice,
        technology=technology,
        rules=rules,
        physics=physics,
    )
    feed = choice.passes[0].feed_mm_per_min
    # Contours away from the edge of the stock mostly have one flushing in common.
    states = {id(c.flushing): c.flushing for c in planned}
    held = {key: bearing.held(state, feed) for key, state in states.items()}
    contours = tuple(replace(c, flushing=held[id(c.flushing)]) for c in planned)
    return _running(bearing, contours, requirement, technology, catalogue)


def with_leaning_wire(
    plan: Plan,
    slowed: Sequence[ContourPlan],
    *,
    leaning: Mapping[str, Bearing] = MappingProxyType({}),
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
    leaning : mapping of str to Bearing
        What the wire bears at contours whose mouths lift.
    technology, catalogue
    physics : WirePhysics or None
        None leaves the plan as it is, and so does a plan of no contour.
    """
    if physics is None or not slowed:
        return plan
    upright = Bearing.of(
        slowed,
        requirement=plan.requirement,
        choice=plan.choice,
        technology=technology,
        rules=plan.rules,
        physics=physics,
    )
    alike: dict[int, tuple[Bearing, list[ContourPlan]]] = {}
    for c in slowed:
        bearing = leaning.get(c.target.id, upright)
        alike.setdefault(id(bearing), (bearing, []))[1].append(c)
    worst, there = max(alike.values(), key=lambda group: group[0].used(*group[0].worst(group[1])))
    running = _running(worst, tuple(slowed), plan.requirement, technology, catalogue, there=there)
    others = [f for f in plan.findings if f.code not in _CODES]
    return replace(plan, wire_states=running.states, findings=(*others, *running.findings))


_CODES = frozenset({"feed-held-by-wire", "wire-break-margin-thin", "feed-above-wire-model"})


def _running(
    bearing: Bearing,
    contours: tuple[ContourPlan, ...],
    requirement: Requirement,
    technology: Technology,
    catalogue: Catalogue,
    *,
    there: Sequence[ContourPlan] = (),
) -> Running:
    """Return the states at the worst place of all contours, or of those `there`."""
    scene, choice = bearing.scene, bearing.choice
    worst, feed = bearing.worst(there or contours)
    states = wire_states(
        choice.passes,
        scene=scene,
        spark=technology.spark,
        flushing=worst,
        rough_feed_mm_per_min=feed,
        lean_factor=max((c.lean.skim_factor for c in contours), default=1.0),
        thresholds_a=bearing.thresholds_a,
    )
    states = (_with_breaks(states[0], bearing, contours), *states[1:])
    findings = [*_held_findings(contours, bearing)]
    borne = own_findings(states[0], bearing.own, scene.physics)
    findings += borne or _thin_findings(states[0], scene, catalogue, requirement, bearing.own)
    return Running(contours=contours, states=states, findings=tuple(findings))


def _with_breaks(rough: WireState, bearing: Bearing, contours: Sequence[ContourPlan]) -> WireState:
    """Return the state of the rough pass with the breaks that the estimate counts with.

    Those of the shop's own counts and the model where there are counts, and under nozzles that do
    not close no fewer than under closed ones.
    """
    own, closed = bearing.own, rough.flushing is Flushing.SEALED
    shares: Shares = ()
    inputs: Mapping[str, float] = {}
    least = max((c.flushing.breaks_closed for c in contours), default=0.0)
    if own is not None and own.are_settled and closed:
        rate = own.rate_per_h(rough.feed_mm_per_min) * (1 / own.counted.per_h.likely)
        shares = ((COUNTED, 1.0),)
        formula = "breaks an hour by the shop's counts and the model together, over those of a "
        formula += "usual rough cut"
    elif not closed or bearing.is_slowed:
        asked = bearing.choice.passes[0]
        share = rough.feed_mm_per_min / asked.feed_mm_per_min
        # As sure as what it stands for, not as the cooler wire of the slower feed.
        spread = spread_of_factor(
            bearing.scene.physics.breaking,
            bearing.open_breaks(rough.utilisation, share, least=least),
            feed_sigma_log=asked.feed_sigma_log,
            charge_more_log=bearing.scene.charge_more_log,
        )
        rate, shares = spread.range, spread.shares
        inputs = dict(zip(_OF_THE_MODEL, (spread.mean, spread.sigma_log), strict=True))
        formula = "curve over u / K^(1-m): of the feed lost in dirt, K, the power m is current; no "
        formula += "less than with closed nozzles"
    else:
        return rough
    reasons = tuple(
        replace(
            r,
            value=rate.likely,
            formula=formula,
            range=rate,
            shares=shares,
            inputs=tuple(
                (name, inputs.get(name, value))
                for name, value in r.inputs
                if inputs or name not in _OF_THE_MODEL
            ),
            source=own.source if own is not None and closed else r.source,
        )
        if r.quantity == "relative_breaks"
        else r
        for r in rough.reasons
    )
    return replace(
        rough, relative_breaks=rate.likely, breaks_range=rate, is_counted=closed, reasons=reasons
    )


_OF_THE_MODEL = ("mean over single cuts", "sigma_log")
"""Inputs of the reason of the breaks that are the model's, and not those of counts."""


def _held_findings(contours: Sequence[ContourPlan], bearing: Bearing) -> list[Finding]:
    held = [c for c in contours if c.flushing.least_margin_factor < 1]
    if not held:
        return []
    least = min(held, key=lambda c: c.flushing.least_margin_factor)
    names = ", ".join(c.target.id for c in held[:_NAMED])
    names += f" and {len(held) - _NAMED} more" if len(held) > _NAMED else ""
    feed, physics = _held_feed(least), bearing.scene.physics
    more = ""
    if bearing.own and not _is_beside(least):
        asked = feed / least.flushing.least_margin_factor
        more = bearing.own.wanting_words(feed, asked_mm_per_min=asked)
    return [
        Finding(
            code="feed-held-by-wire",
            severity=Severity.NOTE,
            message=f"The rate asked would take more than {physics.breaking.most_share:.0%} of the "
            f"current at which the wire parts: the rough feed of {names} is taken back, at most to "
            f"{least.flushing.least_margin_factor:.0%}, {both_feeds(feed)}.{more}",
            where=Place(contour_id=least.target.id, pass_number=1),
            remedy="A thicker or stronger wire, wire that is renewed faster, closer nozzles or "
            "less height would let it cut faster.",
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
    rough: WireState,
    scene: WireScene,
    catalogue: Catalogue,
    requirement: Requirement,
    own: OwnCuts | None,
) -> list[Finding]:
    """Return a warning where a break is more likely, with what would help by how much.

    By heat, unless the shop counted breaks enough: then by its counts and the model together.
    """
    if rough.risk is BreakRisk.USUAL and rough.break_current_a > 0:
        return []
    told = "breaks are more likely. What is behind the figure is a rank, not a count."
    if own is not None and rough.is_counted:
        if own.is_usual(rough.feed_mm_per_min):
            return []
        told = "breaks are more likely. " + own.expected_words(rough.feed_mm_per_min)
    share = f"{rough.utilisation:.0%} of" if rough.break_current_a > 0 else "more than"
    helps = _levers(rough, scene, catalogue, requirement)
    return [
        Finding(
            code="wire-break-margin-thin",
            severity=Severity.WARNING,
            message=f"The rough pass takes {share} the mean current at which the wire of "
            f"{scene.wire.diameter_mm:g} mm parts at {scene.height_mm:g} mm of height "
            f"({rough.mean_current_a:.1f} of {rough.break_current_a:.1f} A, hottest place "
            f"{rough.hottest_c:.0f} °C): {told}",
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
        # At the speed at which this one runs: that of its own table is another remedy.
        alike = replace(wire, run_speed_m_per_min=scene.wire.run_speed_m_per_min)
        threshold = replace(scene, wire=alike).break_current_a(rough.flushing)
        if threshold > 0 and current / threshold < rough.utilisation:
            used = current / threshold
            name = f"{wire.diameter_mm:g} mm {wire.name}"
            found.append((used, f"take {name} ({used:.0%} at this feed)"))
    speed = _FASTER * scene.wire.run_speed_m_per_min
    faster = replace(scene, wire=replace(scene.wire, run_speed_m_per_min=speed))
    used = rough.mean_current_a / (faster.break_current_a(rough.flushing) or math.inf)
    if 0 < used * _WORTH < rough.utilisation:
        found.append((used, f"run the wire at {speed:.3g} m/min ({used:.0%} at this feed)"))
    found.sort(key=lambda one: one[0])
    less = rough.utilisation * _LESS_FEED
    words = [text for _, text in found[:_LEVERS]]
    return [*words, f"take the power and feed back by a tenth ({less:.0%})"]


_LESS_FEED = 0.9
_FASTER = 1.5
"""Times as much wire a minute as a shop would try first (common practice, no source)."""
_WORTH = 1.05
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
