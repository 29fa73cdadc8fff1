"""How the water reaches each contour's rough cut, and what that does to feed and risk."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sources import Reason
from kerfwright.geometry.contour import Contour
from kerfwright.planning.plan import ContourPlan, FlushingState, StartKind
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Site, Walls
from kerfwright.process.flushing import (
    Bath,
    BreakRisk,
    Derating,
    NozzleSetting,
    derate,
    rough_advice,
    setting_of,
)
from kerfwright.process.technology import Flushing, PassChoice, Technology
from kerfwright.trade.requirement import Requirement

_STEP_MM = 0.5
"""Spacing of the places at which the edge of the stock is looked for: a sixth of a mouth."""
_MOST_PLACES = 2000


def plan_flushing(
    path: Contour,
    site: Site,
    *,
    requirement: Requirement,
    choice: PassChoice,
    walls: Walls,
    technology: Technology,
    rules: PlanningRules,
) -> FlushingState:
    """Return the flushing of one contour's rough cut.

    Where the path runs nearer to the edge of the stock than the mouth reaches, both nozzles are
    open.  The feed of the contour is taken back so that its time is right:
    ``K = 1 / (sum of share / factor)``.  The factors are those of the rough law; the flow model
    gives the risk.

    Parameters
    ----------
    path : Contour
        Of the wire centre in the rough pass.
    site : Site
    requirement, choice, walls, technology, rules
    """
    share = _edge_share(path, walls, reach_mm=technology.flushing.nozzle.mouth_radius_mm)
    along = _factor(rules.nozzles, requirement, choice, technology, rules)
    beside = _factor(None, requirement, choice, technology, rules) if share > 0 else along
    worst = None if share > 0 else rules.nozzles
    risk = BreakRisk.USUAL
    # Closed nozzles are what the others are measured against: nothing to compute.
    if worst is not Flushing.SEALED:
        risk = dirt(worst, requirement, choice, technology, rules).risk
    from_edge = site.start.kind is StartKind.EDGE
    entry_mm = _entry_mm(site, walls, rules) if from_edge else 0.0
    return FlushingState(
        nozzles=rules.nozzles,
        edge_share=share,
        enters_from_edge=from_edge,
        slow_entry_mm=entry_mm,
        rate_factor=1 / ((1 - share) / along + share / beside),
        risk=risk,
        reasons=_reasons(share, along, beside, rules, technology, entry_mm=entry_mm),
        advice=rough_advice(
            rules.nozzles,
            law=technology.flushing,
            enters_from_edge=from_edge,
            entry_mm=rules.slow_entry_mm,
            runs_beside_edge=share > 0,
            family=requirement.material.family,
        ),
    )


def _reasons(
    share: float,
    along: float,
    beside: float,
    rules: PlanningRules,
    technology: Technology,
    *,
    entry_mm: float,
) -> tuple[Reason, ...]:
    by_model = rules.upper_gap_mm is not None or rules.lower_gap_mm is not None
    law, debris = technology.rough, technology.flushing.debris
    return (
        Reason(
            quantity="rate_factor",
            value=1 / ((1 - share) / along + share / beside),
            formula="K = 1 / ((1 - s)/K_nozzles + s/K_both_open)",
            inputs=(
                ("s", share),
                ("K_nozzles", along),
                ("K_both_open", beside),
                ("bath", rules.bath.value),
            ),
            source=debris.sources["rate_exponent"]
            if by_model
            else law.sources[f"flushing.{rules.nozzles.value}"],
        ),
        Reason(
            quantity="slow_entry_mm",
            value=entry_mm,
            formula="way from the start to the edge of the stock + slow entry"
            if entry_mm
            else "0: the cut begins in a hole",
            inputs=(("slow_entry_mm", rules.slow_entry_mm),) if entry_mm else (),
            source=rules.sources["slow_entry_mm"],
        ),
    )


def _entry_mm(site: Site, walls: Walls, rules: PlanningRules) -> float:
    """Return the way from a start outside the stock until ``slow_entry_mm`` of metal are cut.

    The lead-in from the edge is one straight line onto the wall.
    """
    assert walls.stock is not None
    start = np.array([site.start.x_mm, site.start.y_mm])
    wall = next(c.contour for c in walls.contours if c.id == site.start.contour_id)
    foot = wall.points_at(np.array([site.lead_station_mm]))[0]
    reach = float(np.hypot(*(foot - start)))
    along = np.linspace(0.0, 1.0, max(2, math.ceil(reach / _ENTRY_STEP_MM)) + 1)
    way = start + (foot - start) * along[:, None]
    outside = np.flatnonzero(walls.stock_clearance_mm(way) < 0)
    in_air_mm = float(along[outside[-1]]) * reach if len(outside) else 0.0
    return in_air_mm + rules.slow_entry_mm


_ENTRY_STEP_MM = 0.02
"""The edge is found to this; the zone is on the safe side by no more than that."""


def setting_at(
    state: Flushing | None, *, rules: PlanningRules, technology: Technology
) -> NozzleSetting:
    """Return how the nozzles stand: as the set-up says, or open where ``state`` is None.

    Parameters
    ----------
    state : Flushing or None
        State along the cut; None beside the edge of the stock, where neither nozzle closes.
    rules : PlanningRules
    technology : Technology
    """
    law = technology.flushing
    if state is None:
        return setting_of(Flushing.BOTH_OPEN, law=law, bath=rules.bath)
    named = setting_of(state, law=law, bath=rules.bath)
    if rules.upper_gap_mm is None and rules.lower_gap_mm is None:
        return named
    usual = law.nozzle.usual_gap_mm
    return replace(
        named,
        top_gap_mm=usual if rules.upper_gap_mm is None else rules.upper_gap_mm,
        bottom_gap_mm=usual if rules.lower_gap_mm is None else rules.lower_gap_mm,
    )


def dirt(
    state: Flushing | None,
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> Derating:
    """Return what the flow model says of the rough cut; ``state`` as in :func:`setting_at`."""
    return _derated(
        setting_at(state, rules=rules, technology=technology), requirement, choice, technology
    )


def _derated(
    setting: NozzleSetting, requirement: Requirement, choice: PassChoice, technology: Technology
) -> Derating:
    return derate(
        setting,
        height_mm=requirement.height_mm,
        wire_mm=choice.wire.diameter_mm,
        gap_um=choice.passes[0].gap_um,
        law=technology.flushing,
    )


def _factor(
    state: Flushing | None,
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> float:
    """Return the factor on the rough feed: of the flow model for gaps given, else of the table.

    Work above the bath takes off what the flow model says of that.
    """
    law = technology.flushing
    by_numbers = rules.upper_gap_mm is not None or rules.lower_gap_mm is not None
    if state is not None and by_numbers:
        return dirt(state, requirement, choice, technology, rules).rate_factor
    named = state or Flushing.BOTH_OPEN
    by_state = technology.rough.flushing
    factor = by_state[named] / by_state[Flushing.SEALED]
    if rules.bath is Bath.SUBMERGED or named is Flushing.SEALED:
        return factor
    dry, wet = (
        _derated(setting_of(named, law=law, bath=bath), requirement, choice, technology)
        for bath in (rules.bath, Bath.SUBMERGED)
    )
    return factor * dry.rate_factor / wet.rate_factor


def _edge_share(path: Contour, walls: Walls, *, reach_mm: float) -> float:
    """Return the share of a path that lies nearer to the edge of the stock than a reach."""
    if walls.stock is None:
        return 0.0
    count = int(np.clip(path.length_mm / _STEP_MM, 16, _MOST_PLACES))
    stations = (np.arange(count) + 0.5) / count * path.length_mm
    return float((walls.stock_clearance_mm(path.points_at(stations)) < reach_mm).mean())


_AT_USUAL_FEED = {
    BreakRisk.USUAL: "be at no greater risk",
    BreakRisk.RAISED: "break sooner",
    BreakRisk.HIGH: "be likely to break",
}
_AT_REDUCED_FEED = {
    BreakRisk.USUAL: "it is at no greater risk",
    BreakRisk.RAISED: "it still breaks sooner",
    BreakRisk.HIGH: "it is still likely to break",
}


def _breaks(found: Derating, states: Sequence[FlushingState]) -> str:
    """Say what the wire risks at the usual feed and at that of the program.

    Where the wire was worked out, the factors are those that the estimate counts with.
    """
    usual = f"At the usual feed the wire would {_AT_USUAL_FEED[found.risk_at_usual_feed]}; "
    if not any(state.has_wire for state in states):
        return f"{usual}at the feed of this program {_AT_REDUCED_FEED[found.risk]}."
    return (
        f"{usual}at the feed of this program it breaks {times_usual(states)} as often an hour as "
        "in a usual rough cut, which the breaks in the estimate have in them."
    )


def times_usual(states: Sequence[FlushingState]) -> str:
    """Return how often the wire breaks in rough cuts against usual ones, as in *about 2 times*.

    Parameters
    ----------
    states : sequence of FlushingState
    """
    least, most = (f"{pick(state.breaks for state in states):.2g}" for pick in (min, max))
    return f"about {least} times" if least == most else f"{least} to {most} times"


def _stands(rules: PlanningRules) -> str:
    """Say how the nozzles stand, where numbers or the bath were given."""
    said = [
        f"{name} {gap:g} mm off"
        for name, gap in (("upper", rules.upper_gap_mm), ("lower", rules.lower_gap_mm))
        if gap is not None
    ]
    if rules.bath is Bath.OPEN_AIR:
        said.append("work above the bath")
    return f" ({', '.join(said)})" if said else ""


def water_findings(
    contours: Sequence[ContourPlan],
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> list[Finding]:
    """Return warnings where nozzles do not close: one for the job's set-up, one for each edge.

    And a refusal where work and gaps together are more than the machine has room for.  Its height
    is that of work under closed nozzles, so gaps that close count for nothing.

    Parameters
    ----------
    contours : sequence of ContourPlan
        With what the wire bears worked out, where it is.
    requirement, choice, technology, rules
    """
    found: list[Finding] = []
    if rules.nozzles is not Flushing.SEALED:
        found.append(_nozzle_finding(contours, requirement, choice, technology, rules))
        found += _beyond_machine(requirement, rules)
    if any(c.flushing.edge_share > 0 for c in contours):
        beside = dirt(None, requirement, choice, technology, rules)
        found += [
            _edge_finding(c, beside, technology) for c in contours if c.flushing.edge_share > 0
        ]
    return found


def _nozzle_finding(
    contours: Sequence[ContourPlan],
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> Finding:
    factor = _factor(rules.nozzles, requirement, choice, technology, rules)
    along = dirt(rules.nozzles, requirement, choice, technology, rules)
    which = (
        "One nozzle does not close"
        if rules.nozzles is Flushing.ONE_OPEN
        else "Neither nozzle closes"
    )
    return Finding(
        code="nozzle-not-closed",
        severity=Severity.WARNING,
        message=f"{which} on the work{_stands(rules)}: the rough feed is taken to "
        f"{factor:.0%} of the usual. {_breaks(along, [c.flushing for c in contours])}",
        remedy=rough_advice(
            rules.nozzles, law=technology.flushing, family=requirement.material.family
        ),
        data={"rate_factor": factor, "risk": along.risk.value},
    )


def _beyond_machine(requirement: Requirement, rules: PlanningRules) -> list[Finding]:
    machine, height = requirement.machine, requirement.height_mm
    needed, limit = height + rules.nozzles_off_mm, machine.max_height_mm
    # Work that is too high by itself has a refusal of its own.
    if needed <= limit or height > limit:
        return []
    return [
        Finding(
            code="nozzles-beyond-machine",
            severity=Severity.REFUSAL,
            message=f"Work of {height:.4g} mm{_stands(rules)} needs {needed:.4g} mm between the "
            f"nozzles; {machine.name} takes {limit:.4g} mm.",
            remedy=f"Give gaps of no more than {limit - height:.4g} mm together, bring the nozzles "
            "nearer to the work, or choose a larger machine.",
            data={"value_mm": needed, "limit_mm": limit},
        )
    ]


def _edge_finding(contour: ContourPlan, beside: Derating, technology: Technology) -> Finding:
    state, contour_id = contour.flushing, contour.target.id
    reach = technology.flushing.nozzle.mouth_radius_mm
    return Finding(
        code="cut-beside-stock-edge",
        severity=Severity.WARNING,
        message=f"{state.edge_share:.0%} of the rough cut of {contour_id} runs within "
        f"{reach:g} mm of the edge of the stock, where neither nozzle closes: its feed is "
        f"taken to {state.rate_factor:.0%} on the whole. {_breaks(beside, [state])}",
        where=Place(contour_id=contour_id),
        remedy="Leave more stock, clamp a strip against the edge, or take the power back "
        "there and submerge.",
        data={"edge_share": state.edge_share, "rate_factor": state.rate_factor},
    )
