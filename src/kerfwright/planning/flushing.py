"""How the water reaches each contour's rough cut, and what that does to feed and risk."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.planning.beside_edge import COARSE_MM, Stretch, stretches_beside
from kerfwright.planning.flushing_reasons import flushing_reasons
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.plan import StartKind
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Site, Walls
from kerfwright.process.flushing import (
    Bath,
    BreakRisk,
    Derating,
    NozzleSetting,
    by_openness,
    derate,
    face_gap_mm,
    rough_advice,
    setting_of,
    state_share,
)
from kerfwright.process.flushing_law import FlushingLaw
from kerfwright.process.nozzles import NozzleRate, nozzle_rate
from kerfwright.process.technology import Flushing, PassChoice, Technology
from kerfwright.trade.requirement import Requirement


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
    open: those stretches have a feed of their own, which an entry across the edge does not exceed.
    The factors are those of the rough law; the
    flow model gives the risk.

    Parameters
    ----------
    path : Contour
        Of the wire centre in the rough pass.
    site : Site
    requirement, choice, walls, technology, rules
    """
    law, reach_mm = technology.rough, technology.flushing.nozzle.mouth_radius_mm
    beside = _beside(path, walls, reach_mm=reach_mm, rules=rules)
    along = known_rate(rules.nozzles, requirement, choice, technology, rules)
    from_edge = site.start.kind is StartKind.EDGE
    slow = along
    if beside or from_edge:
        opened = known_rate(None, requirement, choice, technology, rules)
        slow = min(along, opened, key=lambda rate: rate.factor)
    worst = None if beside else rules.nozzles
    risk = BreakRisk.USUAL
    # Closed nozzles are what the others are measured against: nothing to compute.
    if worst is not Flushing.SEALED:
        risk = dirt(worst, requirement, choice, technology, rules).risk
    entry_mm = _entry_mm(site, walls, rules) if from_edge else 0.0
    state = FlushingState(
        nozzles=rules.nozzles,
        edge_share=min(1.0, math.fsum(s.length_mm for s in beside) / path.length_mm),
        enters_from_edge=from_edge,
        slow_entry_mm=entry_mm,
        along_factor=along.factor,
        beside_factor=slow.factor,
        along_loadings=along.loadings,
        beside_loadings=slow.loadings,
        tables_factor=law.flushing[rules.nozzles] / law.flushing[Flushing.SEALED],
        learned_factor=along.learned_factor,
        beside=beside,
        edge_reach_mm=reach_mm,
        risk=risk,
        advice=rough_advice(
            rules.nozzles,
            law=technology.flushing,
            height_mm=requirement.height_mm,
            wire_mm=choice.wire.diameter_mm,
            enters_from_edge=from_edge,
            entry_mm=rules.slow_entry_mm,
            entry_share=min(slow.factor, along.factor * rules.lead_feed_factor),
            runs_beside_edge=bool(beside),
            family=requirement.material.family,
        ),
    )
    return replace(
        state, reasons=flushing_reasons(state, rules, technology, height_mm=requirement.height_mm)
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
    if (mouths := rules.mouths) is not None:
        return NozzleSetting(
            top_gap_mm=mouths.upper_gap_mm,
            bottom_gap_mm=mouths.lower_gap_mm,
            lean_deg=mouths.lean_deg,
            bath=rules.bath,
        )
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


def known_rate(
    state: Flushing | None,
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> NozzleRate:
    """Return :func:`nozzle_factor` moved by what the shop's cuts told, with its spread."""
    return nozzle_rate(
        state or Flushing.BOTH_OPEN,
        law=technology.rough,
        learned=choice.passes[0].learned,
        factor=nozzle_factor(state, requirement, choice, technology, rules),
    )


def nozzle_factor(
    state: Flushing | None,
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> float:
    """Return the factor on the rough feed: of the flow model for gaps given, else of the table.

    Below the heights at which that model holds the table bounds it, see
    :func:`kerfwright.process.flushing.state_share`.  Work above the bath takes off what the flow
    model says of that.

    Parameters
    ----------
    state : Flushing or None
        As in :func:`setting_at`; with gaps given, what they amount to.
    requirement, choice, technology, rules
    """
    law = technology.flushing
    by_numbers = is_by_numbers(rules)
    if state is not None and by_numbers:
        model = dirt(state, requirement, choice, technology, rules).rate_factor
        share = state_share(requirement.height_mm, law=law)
        if not share:
            return model
        # Where the model does not hold, no faster than the table has it for such nozzles.
        named_alone = replace(rules, upper_gap_mm=None, lower_gap_mm=None, mouths=None)
        one, both = (
            nozzle_factor(s, requirement, choice, technology, named_alone)
            for s in (Flushing.ONE_OPEN, Flushing.BOTH_OPEN)
        )
        stands = setting_at(state, rules=rules, technology=technology)
        bound = by_openness(
            mean_gaps_mm(stands, law=law),
            one_open=one,
            both_open=min(one, both),
            law=law,
        )
        return model - share * max(0.0, model - bound)
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


def is_by_numbers(rules: PlanningRules) -> bool:
    """Return whether the nozzles stand at gaps given, or at the mean of mouths that lean."""
    given = (rules.upper_gap_mm, rules.lower_gap_mm, rules.mouths)
    return any(one is not None for one in given)


def mean_gaps_mm(stands: NozzleSetting, *, law: FlushingLaw) -> tuple[float, float]:
    """Return the mean gaps round the upper and the lower mouth."""
    upper, lower = (
        face_gap_mm(gap, lean_deg=stands.lean_deg, law=law)
        for gap in (stands.top_gap_mm, stands.bottom_gap_mm)
    )
    return upper, lower


def _beside(
    path: Contour, walls: Walls, *, reach_mm: float, rules: PlanningRules
) -> tuple[Stretch, ...]:
    if walls.stock is None or walls.is_deep_in_stock(path, reach_mm + COARSE_MM):
        return ()
    return stretches_beside(
        path,
        clearance_mm=walls.stock_clearance_mm,
        reach_mm=reach_mm,
        shortest_mm=rules.shortest_feed_stretch_mm,
    )
