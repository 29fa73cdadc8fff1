"""Do the main job for a request and write its folder, for every command that needs it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters import json_shapes
from kerfwright.adapters.own_machines import machine_called, machine_place
from kerfwright.adapters.owned_files import Written
from kerfwright.adapters.step import is_solid_file
from kerfwright.app.papers.common import left_out_ids
from kerfwright.app.plan_job import is_refused_whole
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.rough_feeds import rough_feeds
from kerfwright.app.what_if import WhatIf
from kerfwright.cli import report, report_stack, report_wire
from kerfwright.cli.options import contour_demands, contour_options, layer_uses, tapers_of
from kerfwright.cli.output import Page, progress
from kerfwright.cli.reasons import show_answers
from kerfwright.cli.report_proof import show_proof
from kerfwright.cli.report_what_if import show_what_if
from kerfwright.cli.words import Show
from kerfwright.foundation.findings import Severity
from kerfwright.foundation.ranges import Range
from kerfwright.planning.memory import Memory
from kerfwright.trade.part import LayerUse, LengthUnit
from kerfwright.wiring import answers, plan_job, why_no_what_if
from kerfwright.wiring.stacks import sheet_groups_of


def no_what_if(result: JobResult) -> str:
    """Return why what each demand costs is not given, where the job is refused as a whole."""
    return (
        "What each demand costs is not given: the job cannot be cut as asked, see the findings. "
        + why_no_what_if(result)
    )


def request_from(options: Mapping[str, Any]) -> JobRequest:
    """Return a request from options named as its fields."""
    return JobRequest(**{name: value for name, value in options.items() if value is not None})


def given_of(
    options: Mapping[str, Any],
    layers: tuple[tuple[str, LayerUse], ...],
    contours: tuple[tuple[str, str], ...],
    tapers: tuple[tuple[str, str], ...] = (),
) -> dict[str, Any]:
    """Return what was said on the command line, by the fields of a request."""
    options = dict(options)
    own = contour_options(options)
    given = {name: value for name, value in options.items() if value is not None} | own
    if "machine" in given:
        # A machine of the shop's is called by the name that people see, as on the page.
        given["machine"] = machine_place(given["machine"], given.get("tables"))
    if layers:
        given["layer_uses"] = layer_uses(layers)
    if contours:
        given["contours"] = contour_demands(contours)
    if tapers:
        given["tapers"] = tapers_of(tapers)
    return given


def request_of_drawing(drawing: Path, given: Mapping[str, Any]) -> JobRequest:
    """Return the request for a drawing, which needs a material and a height, or for a solid.

    Raises
    ------
    click.UsageError
        If one of them was not said.
    UnknownNameError
        If no machine is called so, with those of the shop.
    """
    if is_solid_file(drawing):
        if "material" not in given:
            raise click.UsageError("a solid needs --material.")
        given = {"height": "", **given}
    missing = [f"--{name}" for name in ("material", "height") if name not in given]
    if missing:
        raise click.UsageError(f"a drawing needs {' and '.join(missing)}.")
    if "machine" in given:
        machine_called(given["machine"], given.get("tables"))
    return request_from({**given, "drawing": drawing})


def compute(request: JobRequest, *, memory: Memory | None = None) -> JobResult:
    """Do the job, telling a terminal how far it is."""
    return plan_job(request, progress=progress(), memory=memory)


def reasons(result: JobResult) -> list[dict[str, Any]]:
    """Return why every number has its value, for JSON."""
    return [json_shapes.answer_shape(a) for a in answers(result)]


def document(
    result: JobResult, written: Written | None = None, *, explain: bool = False
) -> dict[str, Any]:
    """Return everything computed as one JSON document, with every reason if asked."""
    return {
        **({"reasons": reasons(result)} if explain else {}),
        "format": "kerfwright-result",
        "version": 1,
        "refused": result.is_refused,
        "plan": json_shapes.plan_shape(result.plan, claim=result.claim),
        "proof": json_shapes.proof_shape(result.proof) if result.proof else None,
        "estimate": json_shapes.estimate_shape(result.estimate) if result.estimate else None,
        "findings": [json_shapes.finding_shape(f) for f in result.findings],
        "written": written_shape(written),
    }


def written_shape(written: Written | None) -> dict[str, Any] | None:
    """Return what was written, for JSON."""
    if written is None:
        return None
    return {
        "folder": str(written.folder),
        "files": list(written.files),
        "kept_earlier": written.kept_earlier,
    }


def not_offered(result: JobResult) -> dict[str, Any]:
    """Return what a price does not cover, for :func:`report.show_estimate`."""
    return {
        "left_out": left_out_ids(result),
        "refused_lines": sum(
            f.severity is Severity.REFUSAL and f.where.contour_id is None
            for f in result.part.findings
        ),
        "is_refused_whole": is_refused_whole(result),
    }


def _sheets_hold(result: JobResult) -> Range | None:
    """Return what the sheet holds that holds least after all passes; None for what is asked."""
    passes = tuple(result.plan.passes)
    worst = (g.worst for g in sheet_groups_of(result) if g.passes == passes and g.beyond)
    least = max(worst, key=lambda sheet: sheet.holds_um, default=None)
    return None if least is None else least.range_um


def show(
    result: JobResult,
    written: Written,
    *,
    unit: LengthUnit | None,
    explain: bool,
    alternatives: WhatIf | None = None,
) -> None:
    """Print the readable summary."""
    page = Page()
    words = Show(unit=unit or result.part.drawing_unit)
    wanted = result.requirement
    report.show_drawing(page, result.part, words)
    page.line(
        f"{wanted.material.name}, {words.size(wanted.height_mm)} high, on {wanted.machine.name}",
        indent=2,
    )
    report_stack.show_stack(page, result.plan, words)
    report.show_passes(
        page,
        result.plan.choice,
        words,
        feeds=rough_feeds(result.plan),
        sheets_hold=_sheets_hold(result),
    )
    report.show_contour_passes(page, result.plan, words)
    report_wire.show_wire(page, result.plan, explain=explain)
    report.show_starts(page, result.plan, words)
    if result.estimate:
        report.show_estimate(
            page, result.estimate, explain=explain, show=words, **not_offered(result)
        )
    if alternatives:
        show_what_if(page, alternatives, words)
    if explain:
        page.heading("Why")
        show_answers(page, answers(result))
    report.show_findings(page, result.findings, show=words)
    show_proof(page, result.proof, words)
    report.show_cautions(page)
    if report.show_outcome(page, written):
        return
    if result.program is None:
        page.line("No program: see the findings.", indent=2, style="bold red")
