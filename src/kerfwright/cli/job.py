"""Do the main job for a request and write its folder, for every command that needs it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from kerfwright import __version__
from kerfwright.adapters import job_folder, json_shapes
from kerfwright.adapters.job_folder import Wanted, Written
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.cli import report
from kerfwright.cli.output import Page, progress
from kerfwright.cli.words import Show
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import LayerUse, LengthUnit
from kerfwright.wiring import plan_job

_TEXTS = ("tolerance", "finish", "recast", "wire", "stock_margin", "machine")


def request_from(options: Mapping[str, Any]) -> JobRequest:
    """Return a request from options named as its fields."""
    return JobRequest(**{name: value for name, value in options.items() if value is not None})


def wanted_of(request: JobRequest, *, drawing_sha256: str, folder: Path) -> Wanted:
    """Return the request as ``job.toml`` keeps it, paths as seen from the job folder."""
    texts = {name: getattr(request, name) or "" for name in _TEXTS}
    machine = Path(texts["machine"])
    if texts["machine"] and machine.is_file():
        texts["machine"] = _seen_from(folder, machine)
    return Wanted(
        drawing=_seen_from(folder, request.drawing),
        drawing_sha256=drawing_sha256,
        material=request.material,
        height=request.height,
        quantities=request.quantities,
        units=request.units.value if request.units else "",
        offset_form=request.offset_form.value if request.offset_form else "",
        tables=_seen_from(folder, request.tables) if request.tables else "",
        layers={name: use.value for name, use in request.layer_uses.items()},
        **texts,
    )


def request_of(folder: Path, wanted: Wanted) -> JobRequest:
    """Return the request that a job folder keeps; its drawing must be unchanged."""
    options: dict[str, Any] = {name: getattr(wanted, name) or None for name in _TEXTS}
    machine = wanted.machine and folder / wanted.machine
    if machine and machine.is_file():
        options["machine"] = str(machine)
    return request_from(
        options
        | {
            "drawing": job_folder.drawing_of(folder, wanted),
            "material": wanted.material,
            "height": wanted.height,
            "quantities": wanted.quantities,
            "units": LengthUnit(wanted.units) if wanted.units else None,
            "offset_form": OffsetForm(wanted.offset_form) if wanted.offset_form else None,
            "tables": folder / wanted.tables if wanted.tables else None,
            "layer_uses": {name: LayerUse(use) for name, use in wanted.layers.items()},
        }
    )


def _seen_from(folder: Path, target: Path) -> str:
    """Return a path relative to the job folder, or absolute where there is none (another drive)."""
    try:
        return Path(os.path.relpath(target.resolve(), folder.resolve())).as_posix()
    except ValueError:
        return str(target.resolve())


def compute(request: JobRequest) -> JobResult:
    """Do the job, telling a terminal how far it is."""
    return plan_job(request, progress=progress())


def write(result: JobResult, folder: Path) -> Written:
    """Write the job folder of a result."""
    request = result.request
    wanted = wanted_of(request, drawing_sha256=result.part.sha256, folder=folder)
    contents = job_folder.job_contents(
        wanted,
        result.plan,
        path=result.path,
        program=result.program,
        claim=result.claim,
        proof=result.proof,
        estimate=result.estimate,
        version=__version__,
    )
    return job_folder.write_job(folder, contents, refused=result.program is None)


def document(result: JobResult, written: Written | None = None) -> dict[str, Any]:
    """Return everything computed as one JSON document."""
    return {
        "format": "kerfwright-result",
        "version": 1,
        "refused": result.is_refused,
        "plan": json_shapes.plan_shape(result.plan, claim=result.claim),
        "proof": json_shapes.proof_shape(result.proof) if result.proof else None,
        "estimate": json_shapes.estimate_shape(result.estimate) if result.estimate else None,
        "findings": [json_shapes.finding_shape(f) for f in result.findings],
        "written": None
        if written is None
        else {
            "folder": str(written.folder),
            "files": list(written.files),
            "kept_earlier": written.kept_earlier,
        },
    }


def show(result: JobResult, written: Written, *, unit: LengthUnit | None, explain: bool) -> None:
    """Print the readable summary."""
    page = Page()
    words = Show(unit=unit or result.part.drawing_unit)
    wanted = result.requirement
    report.show_drawing(page, result.part, words)
    page.line(
        f"{wanted.material.name}, {words.size(wanted.height_mm)} high, on {wanted.machine.name}",
        indent=2,
    )
    report.show_passes(page, result.plan.choice, words)
    report.show_starts(page, result.plan, words)
    if result.estimate:
        report.show_estimate(page, result.estimate, explain=explain)
    if explain:
        report.show_reasons(page, result.plan.choice)
    report.show_findings(page, result.findings)
    report.show_proof(page, result.proof, words)
    report.show_cautions(page)
    if written.kept_earlier:
        page.heading("Nothing written")
        page.line(
            f"{written.folder} keeps its earlier results, program included; they are not of this"
            " call.",
            indent=2,
            style="bold red",
        )
        return
    report.show_written(page, str(written.folder), written.files)
    if written.removed:
        page.line(f"earlier files taken away: {', '.join(written.removed)}", indent=2)
    if result.program is None:
        page.line("No program: see the findings.", indent=2, style="bold red")
