"""The main job: a part and its requirement in; plan, program, proof and price out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from enum import StrEnum
from functools import partial

from kerfwright.app.leaning_job import path_of, with_taper_effects, with_walls
from kerfwright.app.papers.lands import lands_of
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.set_up import rules_of
from kerfwright.app.sheets import sheet_findings
from kerfwright.app.strings import is_unproved_string, strung_or_alone
from kerfwright.costing.coreless import coreless_findings
from kerfwright.costing.rates import RateTable
from kerfwright.costing.stacked import estimate_pieces
from kerfwright.costing.strings import not_proved
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.zones import zone_asked
from kerfwright.motion.moves import WirePath
from kerfwright.nc.writer import write_program
from kerfwright.planning.clamps import clamps_of
from kerfwright.planning.guides_off import at_set_up
from kerfwright.planning.leaning import LeaningWalls, leaning_walls
from kerfwright.planning.memory import Memory
from kerfwright.planning.parted_slugs import parted_slug_findings
from kerfwright.planning.plan import Plan, StartKind
from kerfwright.planning.planner import make_plan
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.stack_tabs import stack_tab_findings
from kerfwright.planning.stacking import stack_findings
from kerfwright.process.technology import Technology
from kerfwright.process.wire_physics import WirePhysics
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim, StartPlace
from kerfwright.proof.slack import last_digit_mm, proof_tolerance_um
from kerfwright.trade.catalogue import Catalogue
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement
from kerfwright.trade.walls import WallPart
from kerfwright.wirepath.controller_form import controller_form_refusals
from kerfwright.wirepath.cut_offs import slow_cut_offs
from kerfwright.wirepath.round_clamps import clamp_findings
from kerfwright.wirepath.trailing import trailing_findings

_UM = 1000.0
TAB_SHARE = 0.9
"""Of a planned tab this share must stand: it is measured along the wall, in steps."""
_WHOLE_JOB = frozenset(
    {
        "clamp-not-closed",
        "controller-form-impossible",
        "wire-blocked",
        "wire-finds-no-way",
        "given-start-outside-stock",
        "height-beyond-machine",
        "nozzles-beyond-machine",
        "travel-beyond-machine",
        "weight-beyond-machine",
        "wire-not-on-machine",
        "poorly-conducting-material",
        "rate-factor-impossible",
    }
)
"""Refusals that leave nothing to cut; others concern one contour.

A start drawn in the air says that the stock does not lie as somebody thought: nothing is cut."""

_BEYOND = frozenset(
    {
        "clamp-in-the-way",
        "finish-beyond-process",
        "recast-beyond-process",
        "tolerance-beyond-process",
    }
)
"""Refusals of a contour that is left out, or of the whole job where no contour can be held."""

Progress = Callable[[str, float], None]


def quiet(_step: str, _share: float) -> None:
    """Tell nobody how far a job is."""


class Extent(StrEnum):
    """How far a job is taken."""

    PRICED = "priced"
    """Plan, wire path and price: what an estimator needs while asking."""
    PROVED = "proved"
    """The program and its proof too."""


def _leaning(
    part: Part, requirement: Requirement, rules: PlanningRules, top: Part | None
) -> LeaningWalls:
    clamps = clamps_of(part, requirement, rules)
    return leaning_walls(part, requirement, top=top, clamps=clamps)


def plan_part(
    request: JobRequest,
    part: Part,
    requirement: Requirement,
    *,
    catalogue: Catalogue,
    technology: Technology,
    rates: RateTable,
    rules: PlanningRules,
    wire_physics: WirePhysics | None = None,
    remarks: tuple[Finding, ...] = (),
    progress: Progress = lambda _step, _share: None,
    extent: Extent = Extent.PROVED,
    top: Part | None = None,
    memory: Memory | None = None,
) -> JobResult:
    """Plan, write, prove and price one part.

    A program leaves this function only with its proof passed.  Where a refusal concerns single
    contours, the others are planned all the same and the refusal stands among the findings.

    Parameters
    ----------
    request : JobRequest
    part : Part
    requirement : Requirement
    catalogue, technology, rates, rules
        The shop's tables.
    wire_physics : WirePhysics, optional
        Constants by which the feed is taken back at corners and arcs; None for one feed a pass.
    remarks : tuple of Finding
        How texts of the request were understood.
    progress : callable
        Told each step and the share done.
    extent : Extent
        Where to end.
    top : Part or None
        Drawing of the top, for contours that end in another one there.
    memory : Memory, optional
        What earlier plans of the same part by the same material, machine, tables and rules had.
    """
    progress("planning", 0.2)
    memory = Memory() if memory is None else memory
    rules, technology = _set_up(request, rules, technology, wire_physics)
    lean = _leaning(part, requirement, rules, top) if requirement.walls else None
    plan = make_plan(
        part if lean is None else lean.part,
        requirement,
        technology=technology,
        catalogue=catalogue,
        rules=rules,
        physics=wire_physics,
        memory=memory,
    )
    plan = with_taper_effects(
        plan, lean, rules=rules, technology=technology, catalogue=catalogue, physics=wire_physics
    )
    findings = (*remarks, *plan.findings, *_beside_plan(plan, technology, wire_physics))
    blank = JobResult(
        request=request,
        part=part,
        requirement=requirement,
        plan=plan,
        path=None,
        program=None,
        withheld_program=None,
        claim=None,
        proof=None,
        estimate=None,
        findings=findings,
        lean=lean,
    )
    if not plan.contours:
        return blank
    progress("drawing the wire path", 0.4)
    draw = partial(
        path_of,
        lean=lean,
        rules=rules,
        physics=wire_physics,
        memory=memory if lean is None else None,
        programs_wall=requirement.machine.dialect.offset_form is OffsetForm.CONTROLLER,
    )
    try:
        path = draw(plan)
    except InputError as error:
        return replace(blank, findings=(*findings, _no_way(error)))
    finish = partial(
        _finished,
        rules=rules,
        rates=rates,
        physics=wire_physics,
        memory=memory,
        progress=progress,
        extent=extent,
    )
    chosen, way, said = strung_or_alone(plan, path, draw=draw, technology=technology, rates=rates)
    job = finish(_as_planned(blank, plan, chosen, said), way)
    if is_unproved_string(chosen, job.proof):
        return finish(_as_planned(blank, plan, plan, (not_proved(chosen),)), path)
    return job


def _set_up(
    request: JobRequest,
    rules: PlanningRules,
    technology: Technology,
    physics: WirePhysics | None,
) -> tuple[PlanningRules, Technology]:
    """Return the rules and the technology of the set-up that is asked for."""
    rules = rules_of(request, rules, law=technology.flushing)
    return rules, at_set_up(technology, rules=rules, physics=physics)


def _beside_plan(
    plan: Plan, technology: Technology, physics: WirePhysics | None
) -> tuple[Finding, ...]:
    """Return what is to be said of a plan that it does not find itself."""
    coarse = _coarse_findings(plan.requirement)
    return (*coarse, *sheet_findings(plan, technology, physics))


def _as_planned(blank: JobResult, alone: Plan, plan: Plan, said: tuple[Finding, ...]) -> JobResult:
    """Return a job with the plan chosen in place of that with a start for each contour."""
    kept = tuple(f for f in blank.findings if f not in alone.findings or f in plan.findings)
    return replace(blank, plan=plan, findings=(*kept, *said))


def _finished(
    blank: JobResult,
    path: WirePath,
    *,
    rules: PlanningRules,
    rates: RateTable,
    physics: WirePhysics | None,
    memory: Memory | None,
    progress: Progress,
    extent: Extent,
) -> JobResult:
    """Return a planned and drawn job with its price, its program and its proof."""
    plan, findings = blank.plan, blank.findings
    if blank.requirement.machine.dialect.offset_form is OffsetForm.CONTROLLER:
        findings = (*findings, *controller_form_refusals(plan, path))
    if physics is not None:
        findings = (*findings, *trailing_findings(plan, path, physics=physics, memory=memory))
    findings = (
        *findings,
        *clamp_findings(plan, path),
        *slow_cut_offs(plan, path),
        *parted_slug_findings(plan, memory=memory),
        *stack_findings(plan),
        *stack_tab_findings(plan),
        *coreless_findings(plan, path, rates=rates),
    )
    priced = estimate_pieces(plan, path, rates=rates)
    drawn = replace(blank, findings=findings, path=path, estimate=priced)
    if is_refused_whole(drawn) or extent is Extent.PRICED:
        return drawn
    return _proved(drawn, rules=rules, progress=progress)


def _proved(job: JobResult, *, rules: PlanningRules, progress: Progress) -> JobResult:
    """Return a planned job with its program, if that passes its proof."""
    plan, machine = job.plan, job.requirement.machine
    assert job.path is not None
    progress("writing the program", 0.5)
    program = write_program(
        job.path, machine=machine, title=f"KERFWRIGHT {job.part.name}", remarks=_head(plan)
    )
    progress("proving the program", 0.6)
    claim = claim_of(plan)
    if job.lean is not None:
        claim = with_walls(claim, job.lean, plan, rules=rules)
    proof = prove_program(program, claim)
    progress("done", 1.0)
    return replace(
        job,
        program=program if proof.passed else None,
        withheld_program=None if proof.passed else program,
        claim=claim,
        proof=proof,
        findings=(*job.findings, *proof.findings),
    )


def _no_way(error: InputError) -> Finding:
    """Return the refusal of a job in which a leaning wire finds no way."""
    place = f" ({error.where})" if error.where else ""
    return Finding(
        code=error.code,
        severity=Severity.REFUSAL,
        message=f"{error.message}{place}",
        remedy=error.remedy,
    )


def is_refused_whole(result: JobResult) -> bool:
    """Return whether nothing of a job may be cut as asked: no program, and no price to offer."""
    planned = {None, *(c.target.id for c in result.plan.contours)}
    return (result.proof is not None and not result.proof.passed) or any(
        f.code in _WHOLE_JOB or (f.code in _BEYOND and f.where.contour_id in planned)
        for f in result.findings
        if f.severity is Severity.REFUSAL
    )


def claim_of(plan: Plan) -> Claim:
    """Return what a program for this plan must keep to; nothing of the path enters."""
    requirement, wire = plan.requirement, plan.choice.wire
    cuts = [((c.target.id, p.number), c, p) for c in plan.walls for p in c.cut_passes]
    return Claim(
        contours=plan.part.contours,
        cut_ids=frozenset(c.target.id for c in plan.walls),
        kerf_radius_mm={p.number: wire.radius_mm + p.gap_um / _UM for p in plan.passes},
        height_mm=requirement.height_mm,
        density_kg_per_m3=requirement.material.density_kg_per_m3,
        starts=tuple(
            StartPlace(
                x_mm=c.start.x_mm,
                y_mm=c.start.y_mm,
                diameter_mm=0.0 if c.start.kind is StartKind.EDGE else c.start.diameter_mm,
            )
            for c in plan.contours
            # What a channel leads to is reached with the wire threaded.
            if c.start.kind is not StartKind.CHANNEL
        ),
        stock=plan.stock,
        machine=requirement.machine,
        wire_diameter_mm=wire.diameter_mm,
        tolerance_um=proof_tolerance_um(requirement.machine),
        pass_numbers={c.target.id: tuple(p.number for p in c.cut_passes) for c in plan.walls},
        offset_mm={key: p.offset_mm for key, _, p in cuts},
        feed_mm_per_min={key: c.feed_mm_per_min(p) for key, c, p in cuts},
        edge_feed_mm_per_min={
            (c.target.id, c.passes[0].number): c.edge_feed_mm_per_min
            for c in plan.contours
            if c.flushing.beside
        },
        edge_reach_mm=max((c.flushing.edge_reach_mm for c in plan.contours), default=0.0),
        # A pass is cut with the power condition of its own number.
        condition={key: p.number for key, _, p in cuts},
        min_tab_mm={c.target.id: TAB_SHARE * c.tab.width_mm for c in plan.contours if c.tab},
        coreless_ids=frozenset(c.target.id for c in plan.contours if c.coreless),
        scrap_mm=plan.rules.coreless_scrap_mm,
        strings=tuple(s.contour_ids for s in plan.strings),
        string_neck_mm=plan.rules.string_neck_mm if plan.strings else 0.0,
        string_frame_mm=plan.rules.string_frame_mm if plan.strings else 0.0,
        clamps=plan.clamps,
        solid=plan.part.solid.spots if plan.part.solid else (),
        solid_slack_um=plan.part.solid.slack_um if plan.part.solid else {},
    )


def _coarse_findings(requirement: Requirement) -> tuple[Finding, ...]:
    """Return a warning where the digits of the program eat the tightest tolerance asked."""
    machine = requirement.machine
    asked = [requirement.tolerance_um, *(d.tolerance_um for d in requirement.contours.values())]
    asked_um = min((um for um in asked if um is not None), default=None)
    passes_um = proof_tolerance_um(machine)
    if asked_um is None or passes_um <= asked_um:
        return ()
    digit_um = last_digit_mm(machine) * _UM
    return (
        Finding(
            code="program-too-coarse",
            severity=Severity.WARNING,
            message=f"a program of {machine.dialect.decimals} decimals of "
            f"{machine.dialect.unit.value} has steps of {digit_um:.2f} µm; rounding alone may "
            f"move the wall by {passes_um:.2f} µm, and ±{zone_asked(asked_um)} are asked",
            remedy="use more decimals, if the control reads them, or another machine",
            data={"digit_um": digit_um, "rounding_um": passes_um, "asked_um": asked_um},
        ),
    )


def _head(plan: Plan) -> tuple[str, ...]:
    """Return the comment lines at the head of the program."""
    wire, requirement = plan.choice.wire, plan.requirement
    missing = [c.id for c in plan.part.to_cut if c.id not in {p.target.id for p in plan.contours}]
    lines = [
        f"MATERIAL {requirement.material.name}, HEIGHT {requirement.height_mm:.4g} MM",
        *_stack_head(requirement),
        f"WIRE {wire.diameter_mm:.3f} MM {wire.name}",
        f"DRAWING SHA-256 {plan.part.sha256[:16]}",
    ]
    lines += [
        f"PASS {p.number} KERF RADIUS {wire.radius_mm + p.gap_um / _UM:.4f} MM" for p in plan.passes
    ]
    if plan.has_own_passes:
        lines += [
            f"PASSES OF {', '.join(names)}: {count}" for count, names in plan.contours_by_count()
        ]
    eroded = [c.target.id for c in plan.contours if c.coreless is not None]
    if eroded:
        lines.append("INSIDE CUT AWAY, NO SLUG AND NO STOP: " + ", ".join(eroded))
    for one in lands_of(plan):
        land, relief = (f"{a:.4g} TO {b:.4g}" for a, b in (one.land_mm, one.relief_mm))
        name = {one.first: one.first_id, one.second: one.second_id}
        lines.append(
            f"{name[WallPart.LAND]} IS THE LAND, {land} MM UP; {name[WallPart.RELIEF]} THE RELIEF, "
            f"{relief} MM UP; {one.first_id} IS CUT FIRST"
        )
    lines += [
        "STRING, THREADED ONCE FOR ITS ROUGHS: " + "-".join(s.contour_ids) for s in plan.strings
    ]
    if missing:
        lines.append("NOT IN THIS PROGRAM: " + ", ".join(missing))
    refused = sum(f.severity is Severity.REFUSAL for f in plan.findings)
    if refused:
        lines.append(
            f"INCOMPLETE: {refused} REFUSALS, SEE THE FINDINGS; NOT ALL THAT IS DRAWN IS CUT HERE"
        )
    return tuple(lines)


def _stack_head(requirement: Requirement) -> tuple[str, ...]:
    stack = requirement.stack
    if stack is None or stack.sheets == 1:
        return ()
    covers = f", {stack.covers} OF THEM SCRAP" if stack.covers else ""
    return (
        (
            f"STACK OF {stack.sheets} SHEETS OF {stack.sheet_mm:.4g} MM{covers}, "
            f"{stack.holding.value.upper()}"
        ),
    )
