"""What leaning walls add to a job between its plan and its proof."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import replace
from functools import partial

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_feeds
from kerfwright.foundation.sources import Reason
from kerfwright.geometry.leaning import warp_depth_mm
from kerfwright.motion.moves import WirePath
from kerfwright.planning.flushing import dirt
from kerfwright.planning.flushing_findings import BESIDE_EDGE_CODE, edge_finding
from kerfwright.planning.flushing_reasons import mean_factor_reason
from kerfwright.planning.flushing_state import FlushingState
from kerfwright.planning.leaning import LeaningWalls, spatial_findings
from kerfwright.planning.leaning_water import LeaningWater
from kerfwright.planning.memory import Memory
from kerfwright.planning.plan import ContourPlan, Operation, Plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.second_cuts import with_second_cuts
from kerfwright.planning.taper_effects import taper_effect, taper_findings
from kerfwright.planning.wire_bearing import Bearing
from kerfwright.planning.wire_states import with_leaning_wire
from kerfwright.process.technology import Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.proof.records import Claim
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.machine import Machine, OffsetForm
from kerfwright.wirepath.builder import build_path
from kerfwright.wirepath.leaning_cuts import Leaning

_UM = 1000.0


def with_taper_effects(
    plan: Plan,
    lean: LeaningWalls | None,
    *,
    rules: PlanningRules,
    technology: Technology,
    catalogue: Catalogue,
    physics: WirePhysics | None = None,
) -> Plan:
    """Return a plan with the slower feeds and more frequent breaks of its leaning contours.

    Parameters
    ----------
    plan : Plan
        Made on the sections of least room.
    lean : LeaningWalls or None
        None where all walls are upright: the plan as it is.
    rules : PlanningRules
    technology : Technology
    catalogue : Catalogue
    physics : WirePhysics or None
        Of the running wire; None as in the plan.
    """
    if lean is None:
        return plan
    contours, slow = [], []
    water = LeaningWater(
        requirement=plan.requirement, technology=technology, rules=rules, physics=physics
    )
    bearings: dict[str, Bearing] = {}
    said: dict[str, tuple[str, str]] = {}
    # What is said of feeds beside the edge of the stock is said again, at the feeds of the angle.
    findings = [*lean.findings, *(f for f in plan.findings if not _is_of_edge(f, lean))]
    plan = _without(plan, lean.refused)
    for c in plan.contours:
        wall = lean.walls.get(c.target.id)
        if wall is None:
            contours.append(c)
            slow.append(c)
            continue
        effect = taper_effect(wall.lean_deg, height_mm=plan.height_mm, rules=rules)
        leaning = water.leaning(c, wall.lean_deg)
        said[c.target.id] = c.flushing.advice, leaning.flushing.advice
        bearing = water.bearing(c, wall.lean_deg)
        if bearing is not None:
            bearings[c.target.id] = bearing
        one_feed = _one_feed(leaning.flushing)
        contours.append(replace(leaning, flushing=one_feed))
        # The wire still runs beside the edge there, at that one feed.
        there = replace(
            one_feed,
            beside=c.flushing.beside,
            edge_share=c.flushing.edge_share,
            beside_factor=one_feed.along_factor,
        )
        slow.append(replace(leaning, flushing=there))
        if c.flushing.beside:
            open_ = dirt(None, plan.requirement, plan.choice, technology, rules)
            findings += [edge_finding(slow[-1], open_), _slow_throughout(contours[-1])]
        elif (lifted := water.lifted_finding(leaning)) is not None:
            findings.append(lifted)
        findings += taper_findings(c.target.id, wall.lean_deg, effect, plan, rules=rules)
    offsets = {
        c.target.id: c.passes[-1].offset_mm for c in plan.contours if c.target.id in lean.walls
    }
    spatial = spatial_findings(lean.walls, offsets, plan.requirement)
    refused = {f.where.contour_id for f in spatial if f.severity is Severity.REFUSAL}
    findings += spatial
    findings += _controller_form(plan.requirement.machine, offsets)
    plan = replace(
        plan,
        contours=tuple(contours),
        findings=tuple(findings),
        operations=tuple(_advised(o, said) for o in plan.operations),
    )
    plan = with_leaning_wire(
        plan, slow, leaning=bearings, technology=technology, catalogue=catalogue, physics=physics
    )
    plan = _without(plan, refused)
    return with_second_cuts(plan, lean, technology=technology, water=water)


def _one_feed(state: FlushingState) -> FlushingState:
    """Return the state with the feed beside the edge everywhere, where any of the path lies there.

    A leaning cut has one feed: that of its worst place holds for all of it.
    """
    if not state.beside:
        return state
    one = replace(
        state,
        edge_share=0.0,
        beside=(),
        along_factor=min(state.along_factor, state.beside_factor),
        along_loadings=state.along_loadings
        if state.along_factor <= state.beside_factor
        else state.beside_loadings,
        margin_factor=min(state.margin_factor, state.beside_margin_factor),
    )
    return replace(one, reasons=tuple(_all_the_way(r, one) for r in state.reasons))


def _all_the_way(reason: Reason, one: FlushingState) -> Reason:
    """Return the reason of a factor as it is where the worst place sets the feed of all."""
    factors = {
        "along_factor": (one.along_factor, one.beside_factor),
        "margin_factor": (one.margin_factor, one.beside_margin_factor),
    }
    if reason.quantity == "rate_factor":
        return mean_factor_reason(one, source=reason.source)
    if reason.quantity not in factors:
        return reason
    value, beside = factors[reason.quantity]
    return replace(
        reason,
        value=value,
        formula="the lesser of that away from the edge of the stock and that beside it: a leaning "
        "wire has one feed",
        inputs=(("away", reason.value), ("beside", beside)),
    )


def _is_of_edge(finding: Finding, lean: LeaningWalls) -> bool:
    return finding.code == BESIDE_EDGE_CODE and finding.where.contour_id in lean.walls


def _slow_throughout(contour: ContourPlan) -> Finding:
    feed = contour.feed_mm_per_min(contour.passes[0])
    name = contour.target.id
    return Finding(
        code="leaning-slow-throughout",
        severity=Severity.WARNING,
        message=f"Part of {name} runs beside the edge of the stock, where no nozzle closes. A "
        f"leaning wire has one feed: the whole rough pass runs at {both_feeds(feed)}.",
        where=Place(contour_id=name),
        remedy="Take stock with more metal around the contour, and it runs at the usual feed.",
        data={"feed_mm_per_min": feed},
    )


def _advised(operation: Operation, said: Mapping[str, tuple[str, str]]) -> Operation:
    """Return an operation with the instruction for the lean in place of that for upright walls."""
    upright, leaning = said.get(operation.contour_id, ("", ""))
    if not upright or operation.flushing != upright:
        return operation
    return replace(operation, flushing=leaning)


def _without(plan: Plan, refused: AbstractSet[str | None]) -> Plan:
    """Return a plan without the cuts of some contours."""
    kept = [o for o in plan.operations if o.contour_id not in refused]
    return replace(
        plan,
        contours=tuple(c for c in plan.contours if c.target.id not in refused),
        operations=tuple(replace(o, number=k) for k, o in enumerate(kept, start=1)),
    )


def _controller_form(machine: Machine, leaning: Mapping[str, float]) -> tuple[Finding, ...]:
    if machine.dialect.offset_form is not OffsetForm.CONTROLLER or not leaning:
        return ()
    return (
        Finding(
            code="controller-form-impossible",
            severity=Severity.REFUSAL,
            message="a control sets off in its program plane by one distance; a leaning wire "
            f"stands off by another at every angle (contour {', '.join(leaning)})",
            remedy="let the program hold the path of the wire: --offset-form wire-centre",
        ),
    )


def path_of(
    plan: Plan,
    lean: LeaningWalls | None,
    *,
    rules: PlanningRules,
    physics: WirePhysics | None,
    memory: Memory | None,
    programs_wall: bool,
) -> WirePath:
    """Return the wire path of a plan, upright or leaning.

    Parameters
    ----------
    plan : Plan
    lean : LeaningWalls or None
    rules : PlanningRules
    physics : WirePhysics or None
    memory : Memory or None
        Of plans with the very same leaning walls, where any lean.
    programs_wall : bool
        Whether a path in upright walls is the wall's and the control sets it off.

    Raises
    ------
    InputError
        If a leaning wire finds no way.
    """
    if lean is None:
        return build_path(plan, physics=physics, memory=memory, programs_wall=programs_wall)
    cut = {c.target.id for c in plan.walls}
    make = partial(
        leanings, lean, machine=plan.requirement.machine, height_mm=plan.height_mm, rules=rules
    )
    drawn = make() if memory is None else memory.once(make, "leaning", *lean.walls.values())
    mine = {name: one for name, one in drawn.items() if name in cut}
    return build_path(plan, physics=physics, memory=memory, leaning=mine)


def leanings(
    lean: LeaningWalls, *, machine: Machine, height_mm: float, rules: PlanningRules
) -> dict[str, Leaning]:
    """Return how each leaning contour is to be drawn.

    Parameters
    ----------
    lean : LeaningWalls
    machine : Machine
    height_mm : float
    rules : PlanningRules
    """
    tilt = machine.tilt
    assert tilt is not None or not lean.walls
    found = {}
    for name, wall in lean.walls.items():
        assert tilt is not None
        beyond = tilt.pivot_shift_mm(wall.lean_rad)
        found[name] = Leaning(
            wall=wall.ruled,
            section_mm=wall.section_mm,
            chord_mm=rules.taper_chord_um / _UM,
            guides_mm=(
                -tilt.lower_guide_mm - beyond,
                height_mm + tilt.upper_guide_mm + beyond,
            ),
        )
    return found


def with_walls(claim: Claim, lean: LeaningWalls, plan: Plan, *, rules: PlanningRules) -> Claim:
    """Return a claim that holds the drawn contours and the walls that lean.

    Parameters
    ----------
    claim : Claim
        Of the plan, with its sections for contours.
    lean : LeaningWalls
    plan : Plan
    rules : PlanningRules
    """
    allowance = {}
    for c in plan.walls:
        wall = lean.walls.get(c.target.id)
        if wall is not None:
            warp = warp_depth_mm(wall.warp_rad, distance_mm=c.passes[0].offset_mm)
            allowance[c.target.id] = rules.taper_chord_um + warp * _UM
    # One feed all the way is that beside the edge of the stock, where any of the path runs there.
    edge = dict(claim.edge_feed_mm_per_min)
    for c in plan.walls:
        if c.target.id in lean.walls:
            edge[c.target.id, c.passes[0].number] = c.edge_feed_mm_per_min
    cut = claim.cut_ids
    shapes = {name: wall.shape for name, wall in lean.walls.items() if name in cut}
    return replace(
        claim,
        contours=(*claim.contours, *(c.target for c in plan.seconds)),
        walls=shapes,
        splits=tuple(c.follows.wall for c in plan.seconds if c.follows is not None),
        lean_allowance_um=allowance,
        edge_feed_mm_per_min=edge,
    )
