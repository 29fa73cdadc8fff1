"""The readable summary of small holes, and what the common commands say of their folder."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters import hole_folder, hole_shapes, json_shapes
from kerfwright.adapters.owned_files import Written
from kerfwright.app.hole_answers import refusals_asked
from kerfwright.app.hole_records import HoleResult
from kerfwright.cli import report
from kerfwright.cli.job import written_shape
from kerfwright.cli.output import Page, progress, put_json
from kerfwright.cli.reasons import show_answers, tell
from kerfwright.cli.words import Show
from kerfwright.foundation.counts import counted
from kerfwright.foundation.units import minutes_text
from kerfwright.planning.hole_plan import HolePlan, OrderReason
from kerfwright.process.hole_misses import of_holes
from kerfwright.proof.hole_records import DrillEventKind, HoleProof
from kerfwright.proof.holes import prove_holes
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring import drill_holes

_MOST_ROWS = 24
_NAMED = 8

CAUTIONS = (
    "Figures are starting values, not promises: drill one hole in a sample first.",
    "The machine's manual, your local codes and a licensed electrician outrank everything here.",
    "The turning tube and the water are live and under pressure: guard shut, eye protection on.",
    "Water and sparks come out where the tube breaks through: hands and cloth away.",
    "Titanium, aluminium and magnesium fines burn; wet fines give off hydrogen: air the room.",
)


def document(
    result: HoleResult, written: Written | None = None, *, explain: bool = False
) -> dict[str, Any]:
    """Return everything computed as one JSON document, with every reason if asked."""
    reasons = (
        [json_shapes.answer_shape(a) for a in hole_folder.reasons_of(result)] if explain else []
    )
    return {
        **({"reasons": reasons} if explain else {}),
        "format": "kerfwright-hole-result",
        "version": 1,
        "refused": result.is_refused,
        "plan": hole_shapes.plan_shape(
            result.plan, claim=result.claim, program=None, program_sha256=None
        ),
        "proof": hole_shapes.proof_shape(result.proof) if result.proof else None,
        "estimate": json_shapes.estimate_shape(result.estimate) if result.estimate else None,
        "findings": [json_shapes.finding_shape(f) for f in result.findings],
        "written": written_shape(written),
    }


def show(result: HoleResult, written: Written, *, unit: LengthUnit | None, explain: bool) -> None:
    """Print the readable summary."""
    page = Page()
    plan = result.plan
    words = Show(unit=unit or plan.work.source.unit)
    _show_plan(page, plan, words)
    if result.estimate:
        report.show_estimate(
            page, result.estimate, explain=explain, show=words, left_out=_out(plan),
            is_refused_whole=result.program is None, is_drilled=True,
        )  # fmt: skip
    if explain:
        page.heading("Why")
        show_answers(page, hole_folder.reasons_of(result))
    report.show_findings(page, result.findings, show=words)
    _show_proof(page, result.proof, words)
    page.heading("Before drilling")
    for caution in CAUTIONS:
        page.line(caution, indent=2)
    if report.show_outcome(page, written):
        return
    if result.program is None:
        page.line("No program: see the findings.", indent=2, style="bold red")


def _out(plan: HolePlan) -> list[str]:
    rows = [f"line {row.line}" for row in plan.work.source.unused]
    return [*(hole.id for hole in plan.left_out), *rows]


def _show_left_out(page: Page, plan: HolePlan) -> None:
    out = _out(plan)
    if out:
        named = ", ".join(out[:_NAMED]) + (" …" if len(out) > _NAMED else "")
        page.line(
            f"the price covers the {counted(len(plan.holes), 'hole')} drilled; {len(out)} not in "
            f"it: {named}",
            indent=2,
            style="bold red",
        )


def _show_plan(page: Page, plan: HolePlan, show: Show) -> None:
    work, unit = plan.work, show.unit.value
    page.heading(f"Small holes of {work.source.name}")
    page.line(
        f"{counted(len(plan.holes), 'hole')} in {work.material.name} on {work.machine.name}; "
        f"{counted(len(plan.changes), 'tube')} for a piece",
        indent=2,
    )
    page.heading("Tubes")
    counts = Counter(p.electrode for p in plan.holes)
    page.table(
        (f"tube {unit}", "T", "condition", f"overcut {unit}", f"makes {unit}", "holes"),
        [
            (
                show.length(e.diameter_mm), str(e.tube), str(e.condition),
                show.length(e.overcut_mm), show.length(e.makes_mm), str(counts[e]),
            )
            for e in plan.electrodes
        ],
    )  # fmt: skip
    letters = [axis.letter.value for axis in work.machine.axes]
    page.heading("Holes in order of drilling")
    page.table(
        ("no.", "hole", f"X {unit}", f"Y {unit}", f"Z {unit}", *letters, f"Ø {unit}",
         f"depth {unit}", "kind", f"feed way {unit}", "time"),
        [
            (
                str(p.number), p.hole.id, *(show.length(v) for v in p.at_mm),
                *(f"{a:.3f}" for a in p.angles_deg), show.length(p.hole.diameter_mm),
                show.length(p.hole.depth_mm), "through" if p.hole.is_through else "blind",
                show.length(p.stroke.feed_way_mm), minutes_text(p.stroke.minutes),
            )
            for p in plan.holes
        ],
        left=(1,),
        most=_MOST_ROWS,
        rest="holes in plan.json",
    )  # fmt: skip
    doubtful = Counter(what for p in plan.holes for what in p.not_promised)
    if doubtful:
        said = ", ".join(f"{what} of {counted(n, 'hole')}" for what, n in doubtful.items())
        page.line(f"not promised, see the findings: {said}", indent=2)
    _show_order(page, plan, show)


def _show_order(page: Page, plan: HolePlan, show: Show) -> None:
    order = plan.order
    if order is None:
        return
    unit = show.unit.value
    travel, listed, shortest = (
        f"{show.length(v)} {unit}" for v in (order.travel_mm, order.as_listed_mm, order.shortest_mm)
    )
    listed += f" with {counted(order.as_listed_changes, 'tube')} taken up"
    tubes = f"with {counted(order.changes, 'tube')} taken up"
    way = "the shortest way found" + (", tube by tube" if len(plan.electrodes) > 1 else "")
    limit = f"{plan.rules.rise_limit_k:g} K is the limit"
    if order.reason is OrderReason.TRAVEL:
        page.line(
            f"order: {way}, {travel} of travel {tubes}; as listed {listed}; the warmest "
            f"place begins {order.rise_k:.0f} K warmer, {limit}",
            indent=2,
        )
    else:
        page.line(
            f"order: in {order.rounds} rounds for the heat: the shortest way, {shortest}, would "
            f"begin a hole {order.rise_shortest_k:.0f} K warmer, {limit}; so it is "
            f"{order.rise_k:.0f} K, over {travel} of travel {tubes}; as listed {listed}",
            indent=2,
        )


def _show_proof(page: Page, proof: HoleProof | None, show: Show) -> None:
    page.heading("Proof")
    if proof is None:
        page.line("no program was proved", indent=2, style="bold red")
        return
    unit = show.unit.value
    happens = Counter(e.kind for e in proof.events)
    page.line(
        f"{'passed' if proof.passed else 'FAILED'}: {counted(proof.holes, 'hole')}, at most "
        f"{show.small(proof.most_off_place_um)} off their place and "
        f"{proof.most_off_axis_deg:.5f}° off their axis",
        indent=2,
        style="bold green" if proof.passed else "bold red",
    )
    page.line(
        "at a wear that nine cases in ten stay below, "
        f"{show.length(proof.least_spare_mm)} {unit} of feed and "
        f"{show.length(proof.least_tube_mm)} {unit} of tube to spare; "
        f"{counted(happens[DrillEventKind.TUBE], 'tube')}, "
        f"{counted(happens[DrillEventKind.STOP], 'stop')}",
        indent=2,
    )
    if proof.most_not_through > 0:
        page.line(
            f"at more wear, in {of_holes(proof.most_not_through, one='case')} for the hole with "
            "the least to spare, the tube ends before it comes out: see the findings",
            indent=2,
        )


def price(folder: Path, given: Mapping[str, Any], *, today: bool, explain: bool,
          unit: LengthUnit | None, as_json: bool) -> int:  # fmt: skip
    """Price a folder of small holes at any quantities; return the exit code."""
    odd = sorted(set(given) - {"quantities", "machine", "tables", "material", "height",
                               "tolerance", "recast"})  # fmt: skip
    if odd:
        raise click.UsageError(f"a job of small holes has no --{odd[0].replace('_', '-')}.")
    request = hole_folder.read_hole_request(folder)
    result = drill_holes(hole_folder.with_options(request, given, today=today), progress=progress())
    if as_json:
        shape = document(result, explain=explain)
        names = ("refused", "estimate", "findings", *(("reasons",) if explain else ()))
        put_json(
            {"format": "kerfwright-price", "version": 1, "left_out": _out(result.plan),
             "is_refused_whole": result.program is None, **{name: shape[name] for name in names}}
        )  # fmt: skip
        return int(result.is_refused)
    page, words = Page(), Show(unit=unit or result.plan.work.source.unit)
    if result.estimate:
        report.show_estimate(
            page, result.estimate, explain=explain, show=words, left_out=_out(result.plan),
            is_refused_whole=result.program is None, is_drilled=True,
        )  # fmt: skip
    if explain:
        page.heading("Why")
        show_answers(page, hole_folder.reasons_of(result))
    report.show_findings(page, result.findings, show=words)
    return int(result.is_refused)


def why(folder: Path, quantity: Sequence[str], *, as_json: bool) -> int:
    """Say why a number of a folder of small holes has its value; return the exit code."""
    result = drill_holes(hole_folder.read_hole_request(folder), progress=progress())
    refused = refusals_asked(result.plan, " ".join(quantity))
    out = ", ".join(hole.id for hole in result.plan.left_out)
    tell(
        hole_folder.reasons_of(result),
        folder,
        quantity,
        as_json=as_json,
        more=f"    Refused, and why: {out}; all of them: 'refused'." if out else "",
        refused=refused,
    )
    return 0


def prove(text: str, name: str, folder: Path, *, unit: LengthUnit | None, as_json: bool) -> int:
    """Prove a program against a folder of small holes; return the exit code."""
    claim = hole_folder.claim_of_job(folder)
    proof = prove_holes(text, claim)
    edited = hole_folder.edited_findings(folder)
    proof = replace(proof, passed=proof.passed and not edited, findings=(*edited, *proof.findings))
    if as_json:
        put_json(hole_shapes.proof_shape(proof))
        return int(not proof.passed)
    page, words = Page(), Show(unit=unit or claim.machine.dialect.unit)
    page.heading(f"Program {name}")
    page.line(f"sha256 {proof.program_sha256[:16]}", indent=2)
    report.show_findings(page, proof.findings, show=words)
    _show_proof(page, proof, words)
    return int(not proof.passed)
