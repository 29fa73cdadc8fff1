"""How the water reaches each contour's rough cut, and what that does to feed and risk."""

from __future__ import annotations

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.planning.plan import FlushingState, StartKind
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Site, Walls
from kerfwright.process.flushing import BreakRisk, derate, rough_advice, setting_of
from kerfwright.process.rough import rough_feed
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
) -> tuple[FlushingState, list[Finding]]:
    """Return the flushing of one contour's rough cut, and a finding where it runs by an edge.

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
    factors = _factors(requirement, choice, technology)
    along, beside = factors[rules.nozzles], factors[Flushing.BOTH_OPEN]
    risk = _risk(
        Flushing.BOTH_OPEN if share > 0 else rules.nozzles, requirement, choice, technology
    )
    from_edge = site.start.kind is StartKind.EDGE
    state = FlushingState(
        nozzles=rules.nozzles,
        edge_share=share,
        enters_from_edge=from_edge,
        rate_factor=1 / ((1 - share) / along + share / beside),
        risk=risk,
        advice=rough_advice(
            rules.nozzles,
            law=technology.flushing,
            enters_from_edge=from_edge,
            runs_beside_edge=share > 0,
            family=requirement.material.family,
        ),
    )
    return state, _edge_findings(state, site.start.contour_id, technology)


def _risk(
    worst: Flushing, requirement: Requirement, choice: PassChoice, technology: Technology
) -> BreakRisk:
    if worst is Flushing.SEALED:
        # What the others are measured against: nothing to compute.
        return BreakRisk.USUAL
    return derate(
        setting_of(worst, law=technology.flushing),
        height_mm=requirement.height_mm,
        wire_mm=choice.wire.diameter_mm,
        gap_um=choice.passes[0].gap_um,
        law=technology.flushing,
    ).risk


def _factors(
    requirement: Requirement, choice: PassChoice, technology: Technology
) -> dict[Flushing, float]:
    """Return the factor of each state on the rough feed of this job."""
    feeds = {
        state: rough_feed(
            material=requirement.material,
            height_mm=requirement.height_mm,
            wire=choice.wire,
            machine=requirement.machine,
            law=technology.rough,
            flushing=state,
        ).feed_mm_per_min
        for state in Flushing
    }
    return {state: feed / feeds[Flushing.SEALED] for state, feed in feeds.items()}


def _edge_share(path: Contour, walls: Walls, *, reach_mm: float) -> float:
    """Return the share of a path that lies nearer to the edge of the stock than a reach."""
    if walls.stock is None:
        return 0.0
    count = int(np.clip(path.length_mm / _STEP_MM, 16, _MOST_PLACES))
    stations = (np.arange(count) + 0.5) / count * path.length_mm
    return float((walls.stock_clearance_mm(path.points_at(stations)) < reach_mm).mean())


_BREAKS = {
    BreakRisk.USUAL: "the wire is at no greater risk",
    BreakRisk.RAISED: "the wire breaks sooner",
    BreakRisk.HIGH: "the wire is likely to break",
}


def nozzle_findings(
    *,
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> list[Finding]:
    """Return a warning where the set-up keeps a nozzle off the work; one for the whole job."""
    if rules.nozzles is Flushing.SEALED:
        return []
    factor = _factors(requirement, choice, technology)[rules.nozzles]
    risk = _risk(rules.nozzles, requirement, choice, technology)
    which = (
        "One nozzle does not close"
        if rules.nozzles is Flushing.ONE_OPEN
        else "Neither nozzle closes"
    )
    return [
        Finding(
            code="nozzle-not-closed",
            severity=Severity.WARNING,
            message=f"{which} on the work: the rough feed is taken to {factor:.0%} of "
            f"the usual, and {_BREAKS[risk]}.",
            remedy=rough_advice(
                rules.nozzles, law=technology.flushing, family=requirement.material.family
            ),
            data={"rate_factor": factor, "risk": risk.value},
        )
    ]


def _edge_findings(state: FlushingState, contour_id: str, technology: Technology) -> list[Finding]:
    if state.edge_share == 0:
        return []
    reach = technology.flushing.nozzle.mouth_radius_mm
    return [
        Finding(
            code="cut-beside-stock-edge",
            severity=Severity.WARNING,
            message=f"{state.edge_share:.0%} of the rough cut of {contour_id} runs within "
            f"{reach:g} mm of the edge of the stock, where neither nozzle closes: its feed is "
            f"taken to {state.rate_factor:.0%} on the whole, and {_BREAKS[state.risk]} there.",
            where=Place(contour_id=contour_id),
            remedy="Leave more stock, clamp a strip against the edge, or take the power back "
            "there and submerge.",
            data={"edge_share": state.edge_share, "rate_factor": state.rate_factor},
        )
    ]
