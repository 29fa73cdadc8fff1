"""The job of small holes: holes wanted in; plan, program, proof and price out."""

from __future__ import annotations

from collections.abc import Callable
from types import MappingProxyType
from typing import Final

from kerfwright.app.hole_records import HoleRequest, HoleResult
from kerfwright.costing.hole_estimate import estimate_holes
from kerfwright.costing.hole_rates import HoleRates
from kerfwright.costing.rates import RateTable
from kerfwright.foundation.counts import counted
from kerfwright.nc.hole_writer import write_hole_program
from kerfwright.planning.hole_plan import HolePlan
from kerfwright.planning.hole_planner import plan_holes
from kerfwright.planning.hole_rules import HoleRules
from kerfwright.planning.hole_tubes import wear_range
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.proof.hole_records import ClaimedHole, HoleClaim
from kerfwright.proof.holes import prove_holes
from kerfwright.trade.hole_work import HoleWork

Progress = Callable[[str, float], None]

_WHOLE_JOB: Final = frozenset({"travel-exceeded", "height-beyond-machine"})
"""Refusals that leave nothing to drill; others concern single holes."""


def drill_job(
    request: HoleRequest,
    work: HoleWork,
    *,
    law: SmallHoleLaw,
    rules: HoleRules,
    rates: RateTable,
    hole_rates: HoleRates,
    progress: Progress = lambda _step, _share: None,
) -> HoleResult:
    """Plan, write, prove and price small holes.

    A program leaves this function only with its proof passed.  Where a refusal concerns single
    holes or rows, the others are planned all the same, the program says so in its head, and the
    refusal stands among the findings.

    Parameters
    ----------
    request : HoleRequest
    work : HoleWork
    law, rules, rates, hole_rates
        The shop's tables.
    progress : callable
        Told each step and the share done.
    """
    progress("planning", 0.2)
    pause = hole_rates.touch_min + hole_rates.retract_min
    plan = plan_holes(work, law=law, rules=rules, pause_min=pause)
    estimate = (
        estimate_holes(plan, rates=rates, hole_rates=hole_rates, law=law) if plan.holes else None
    )
    if not plan.holes or any(f.code in _WHOLE_JOB for f in plan.findings):
        return HoleResult(
            request=request, plan=plan, program=None, withheld_program=None, claim=None,
            proof=None, estimate=estimate, findings=plan.findings,
        )  # fmt: skip
    progress("writing the program", 0.5)
    text = write_hole_program(plan, title=work.source.name, remarks=_remarks(plan))
    claim = claim_of(plan, law=law)
    progress("proving it", 0.6)
    proof = prove_holes(text, claim)
    progress("done", 1.0)
    return HoleResult(
        request=request,
        plan=plan,
        program=text if proof.passed else None,
        withheld_program=None if proof.passed else text,
        claim=claim,
        proof=proof,
        estimate=estimate,
        findings=(*plan.findings, *proof.findings),
    )


def _remarks(plan: HolePlan) -> list[str]:
    work = plan.work
    holes, tubes = counted(len(plan.holes), "hole"), counted(len(plan.changes), "tube")
    said = [
        f"{work.material.name}; {holes}, {tubes}",
        f"machine {work.machine.name}; source sha256 {work.source.sha256[:16]}",
    ]
    out = len(plan.left_out) + len(work.source.unused)
    if out:
        names = ", ".join(h.id for h in plan.left_out[:8])
        said.append(
            f"LEFT OUT: {counted(out, 'hole or row', 'holes or rows')} {names}; see the findings"
        )
    if work.machine.axes:
        centre = " ".join(f"{c:g}" for c in work.centre_mm)
        said.append(f"zero: where the axes turn, at {centre} mm of the drawing")
    return said


def claim_of(plan: HolePlan, *, law: SmallHoleLaw) -> HoleClaim:
    """Return what a program of a plan is checked against: the holes as wanted, not the strokes."""
    wear = wear_range(plan.work.material, law)
    rules = plan.rules
    clearance = plan.work.clearance_mm
    between = rules.between_mm if clearance is None else clearance
    return HoleClaim(
        holes=tuple(
            ClaimedHole(
                id=p.hole.id,
                mouth_mm=p.hole.mouth_mm,
                into=p.hole.into,
                diameter_mm=p.hole.diameter_mm,
                depth_mm=p.hole.depth_mm,
                is_through=p.hole.is_through,
                tolerance_um=law.tolerance_um
                if p.hole.tolerance_um is None
                else p.hole.tolerance_um,
                slope_deg=p.hole.slope_deg,
                room_mm=p.hole.room_mm,
                condition=p.electrode.condition,
                feed_mm_per_min=p.stroke.feed_mm_per_min,
            )
            for p in sorted(plan.holes, key=lambda p: p.number)
        ),
        machine=plan.work.machine,
        centre_mm=plan.work.centre_mm,
        box_low_mm=plan.box_mm[0],
        box_high_mm=plan.box_mm[1],
        tube_mm=MappingProxyType({e.tube: e.diameter_mm for e in plan.electrodes}),
        overcut_mm=MappingProxyType({e.condition: e.overcut_mm for e in plan.electrodes}),
        wear_low=wear.low,
        wear_likely=wear.likely,
        wear_high=wear.high,
        breakthrough_diameters=law.breakthrough_diameters,
        between_mm=between,
        turning_mm=max(rules.turning_mm, between),
        guide_spare_mm=rules.guide_spare_mm,
        dress_diameters=rules.dress_diameters,
    )
