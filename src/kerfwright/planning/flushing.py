"""How the water reaches each contour's rough cut, and what that does to feed and risk."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_feeds
from kerfwright.geometry.contour import Contour
from kerfwright.planning.beside_edge import COARSE_MM, Stretch, stretches_beside
from kerfwright.planning.flushing_reasons import flushing_reasons
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.plan import ContourPlan, StartKind
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Site, Walls
from kerfwright.process.flushing import (
    Bath,
    BreakRisk,
    Derating,
    NozzleSetting,
    by_openness,
    derate,
    rough_advice,
    setting_of,
    state_share,
)
from kerfwright.process.nozzles import NozzleRate, nozzle_rate
from kerfwright.process.technology import Flushing, PassChoice, Technology
from kerfwright.process.wire_break import PUBLISHED_FROM_MM, is_below_published
from kerfwright.trade.material import Wire
from kerfwright.trade.requirement import Requirement

BESIDE_EDGE_CODE: Final = "cut-beside-stock-edge"


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
    by_numbers = rules.upper_gap_mm is not None or rules.lower_gap_mm is not None
    if state is not None and by_numbers:
        model = dirt(state, requirement, choice, technology, rules).rate_factor
        share = state_share(requirement.height_mm, law=law)
        if not share:
            return model
        # Where the model does not hold, no faster than the table has it for such nozzles.
        named_alone = replace(rules, upper_gap_mm=None, lower_gap_mm=None)
        one, both = (
            nozzle_factor(s, requirement, choice, technology, named_alone)
            for s in (Flushing.ONE_OPEN, Flushing.BOTH_OPEN)
        )
        stands = setting_at(state, rules=rules, technology=technology)
        bound = by_openness(
            (stands.top_gap_mm, stands.bottom_gap_mm),
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


def _breaks(found: Derating, states: Sequence[FlushingState], wire: Wire) -> str:
    """Say what the wire risks at the usual feed and at that of the program.

    Where the wire was worked out, the factors are those that the estimate counts with; before
    them stands what would come of the feed of closed nozzles, after them what closed ones have.
    """
    if not any(state.has_wire for state in states):
        return _by_dirt(found)
    unslowed = times_as_often([state.breaks_unslowed for state in states])
    closed = times_as_often([state.breaks_closed for state in states])
    return (
        f"{_at_usual_feed(found)}: {unslowed} an hour as in a usual rough cut. That is why the "
        "feed is taken back. At the feed of this program it breaks "
        f"{how_often([state.breaks for state in states], wire)}, {_COUNTED}; with closed nozzles, "
        f"by heat alone, {closed}."
    )


_COUNTED = (
    "which the breaks in the estimate have in them. Only the slower feed keeps it at that: an "
    "open nozzle makes no cut safer"
)


def _by_dirt(found: Derating) -> str:
    """Say what the wire risks where only the dirt was worked out."""
    return f"{_would(found)}; at the feed of this program {_AT_REDUCED_FEED[found.risk]}."


def _at_usual_feed(found: Derating) -> str:
    """Say what would come of nozzles and gaps at one and the same feed."""
    return f"{_would(found)}, in up to {found.worst_ratio:.2g} times the dirt of closed nozzles"


def _would(found: Derating) -> str:
    return f"At the usual feed the wire would {_AT_USUAL_FEED[found.risk_at_usual_feed]}"


def how_often(factors: Sequence[float], wire: Wire) -> str:
    """Return how often the wire breaks against a usual rough cut, as in *about 2 times as often*.

    Of a wire too thin for anything to be published on its breaks, that is said.

    Parameters
    ----------
    factors : sequence of float
        On the breaks an hour of a usual rough cut.
    wire : Wire
    """
    said = f"{times_as_often(factors)} an hour as in a usual rough cut"
    if not is_below_published(wire):
        return said
    return (
        f"{said} (a guess: nothing is published on breaks of wire below {PUBLISHED_FROM_MM:g} mm, "
        "which may break oftener)"
    )


def times_as_often(factors: Sequence[float]) -> str:
    """Return the least and the most of some factors on the breaks an hour in words.

    Parameters
    ----------
    factors : sequence of float

    Examples
    --------
    >>> times_as_often([1.632]), times_as_often([0.87, 1.4]), times_as_often([1.0, 1.004])
    ('about 1.6 times as often', '0.87 to 1.4 times as often', 'as often')
    """
    least, most = (_two_digits(pick(factors)) for pick in (min, max))
    if least != most:
        return f"{least} to {most} times as often"
    return "as often" if float(least) == 1 else f"about {least} times as often"


def _two_digits(value: float) -> str:
    return f"{value:.2g}" if value < _ALL_DIGITS_FROM else f"{value:.0f}"


_ALL_DIGITS_FROM = 99.5
"""From here on two digits would be written with an exponent."""


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
    beside_edge = [c for c in contours if c.flushing.beside]
    if beside_edge:
        beside = dirt(None, requirement, choice, technology, rules)
        found += [edge_finding(c, beside) for c in beside_edge]
    return found


def _nozzle_finding(
    contours: Sequence[ContourPlan],
    requirement: Requirement,
    choice: PassChoice,
    technology: Technology,
    rules: PlanningRules,
) -> Finding:
    factor = known_rate(rules.nozzles, requirement, choice, technology, rules).factor
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
        f"{factor:.0%} of the usual. "
        f"{_breaks(along, [c.flushing for c in contours], choice.wire)}",
        remedy=rough_advice(
            rules.nozzles,
            law=technology.flushing,
            height_mm=requirement.height_mm,
            wire_mm=choice.wire.diameter_mm,
            family=requirement.material.family,
        ),
        data={"rate_factor": factor, "risk": along.risk.value},
    )


def _beyond_machine(requirement: Requirement, rules: PlanningRules) -> list[Finding]:
    machine, height = requirement.machine, requirement.height_mm
    needed, limit = height + sum(rules.nozzles_off_mm), machine.max_height_mm
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


def edge_finding(contour: ContourPlan, beside: Derating) -> Finding:
    """Return the warning of a contour of which a part runs beside the edge of the stock.

    Parameters
    ----------
    contour : ContourPlan
    beside : Derating
        There, by :func:`dirt`.
    """
    state, contour_id = contour.flushing, contour.target.id
    count = len(state.beside)
    feed = contour.edge_feed_mm_per_min
    longest = max(state.beside, key=lambda stretch: stretch.length_mm)
    middle = (longest.begin_mm + longest.end_mm) / 2
    ((x, y),) = contour.loops[0].contour.points_at(np.array([middle])).tolist()
    return Finding(
        code=BESIDE_EDGE_CODE,
        severity=Severity.WARNING,
        message=f"{state.edge_share:.0%} of the rough cut of {contour_id}, in "
        f"{'one stretch' if count == 1 else f'{count} stretches'}, runs within "
        f"{state.edge_reach_mm:g} mm of the edge of the stock, where neither nozzle closes: its "
        f"feed is taken to {state.beside_factor:.0%} there, "
        f"{both_feeds(feed)}. {_breaks_beside(beside, state, contour.choice.wire)}",
        where=Place(contour_id=contour_id, pass_number=1, x_mm=x, y_mm=y),
        remedy="Leave more stock, clamp a strip against the edge, or take the power back "
        "there and submerge.",
        data={
            "edge_share": state.edge_share,
            "beside_factor": state.beside_factor,
            "rate_factor": state.rate_factor,
            "feed_mm_per_min": feed,
        },
    )


def _breaks_beside(found: Derating, state: FlushingState, wire: Wire) -> str:
    """Say what the wire risks beside the edge at the usual feed and at that of the program."""
    if not state.has_wire:
        return _by_dirt(found)
    return (
        f"{_at_usual_feed(found)}; at the feed of this program it breaks there "
        f"{how_often([state.breaks_beside], wire)}, {_COUNTED}."
    )
