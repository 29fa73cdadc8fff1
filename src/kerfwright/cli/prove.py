"""``kerfwright prove``: a program against a drawing or a job."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters import job_folder, json_shapes, plan_claims
from kerfwright.adapters.hole_folder import is_hole_job
from kerfwright.adapters.job_result import read_request
from kerfwright.app.prove_text import ProofRequest
from kerfwright.cli import report
from kerfwright.cli.options import (
    DRAWING,
    Gap,
    PassCount,
    StartText,
    contour_options,
    drawing_options,
    layer_uses,
    role_option,
    shop_options,
    show_options,
)
from kerfwright.cli.output import Page, put_json
from kerfwright.cli.report_proof import show_proof
from kerfwright.cli.words import Show
from kerfwright.foundation.errors import InputError
from kerfwright.proof.records import Claim
from kerfwright.trade.part import LayerUse, LengthUnit
from kerfwright.wiring import claim_of, prove_text
from kerfwright.wiring.drawings import part_of

_NEEDED = ("material", "height", "wire")
_ONLY_WITH_DRAWING = (
    *_NEEDED, "gaps", "starts", "cut_ids", "pass_counts", "machine", "tables", "units", "layers",
    "roles",
)  # fmt: skip


@click.command("prove")
@click.argument("program", type=DRAWING)
@click.option("--drawing", type=DRAWING, help="Drawing to check against.")
@click.option(
    "--job",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Job folder, instead.",
)
@click.option("--material", help="Work material, for the weight of freed pieces.")
@click.option("--height", help="Height of the work.")
@click.option("--wire", help="Wire, such as 0.25mm.")
@click.option(
    "--gap", "gaps", type=Gap(), multiple=True, help="Spark gap of a pass: 1=35um. Repeat for each."
)
@click.option(
    "--start",
    "starts",
    type=StartText(),
    multiple=True,
    help="Start hole: X,Y,diameter with units.",
)
@click.option("--contour", "cut_ids", multiple=True, help="Contour the program cuts; default all.")
@click.option(
    "--passes",
    "pass_counts",
    type=PassCount(),
    multiple=True,
    help="How many of the passes a contour has, where not all: H1=2. Repeat for each.",
)
@shop_options
@drawing_options
@role_option
@show_options
def command(
    program: Path,
    drawing: Path | None,
    job: Path | None,
    shown: LengthUnit | None,
    as_json: bool,  # noqa: FBT001 a flag of the command line
    **options: Any,
) -> int:
    """Read PROGRAM as a control would, sweep its kerf and compare it with the drawing.

    Nothing of how the program was made is used: a program from any source can be checked.
    """
    if (drawing is None) == (job is None):
        raise click.UsageError("give either --drawing or --job.")
    text = _read(program)
    if job is not None and is_hole_job(job):
        from kerfwright.cli import hole_report

        _refuse_beside_job(options)
        return hole_report.prove(text, program.name, job, unit=shown, as_json=as_json)
    claim = _job_claim(job, options) if job else _drawing_claim(drawing, options)
    proof = prove_text(text, claim=claim)
    if job is not None:
        edited = job_folder.edited_findings(job)
        proof = replace(
            proof, passed=proof.passed and not edited, findings=(*edited, *proof.findings)
        )
    if as_json:
        put_json(json_shapes.proof_shape(proof))
    else:
        page, show = Page(), Show(unit=shown or claim.machine.dialect.unit)
        page.heading(f"Program {program.name}")
        page.line(f"sha256 {proof.program_sha256[:16]}", indent=2)
        report.show_findings(page, proof.findings, show=show)
        show_proof(page, proof, show)
    return int(not proof.passed)


def _job_claim(folder: Path, options: dict[str, Any]) -> Claim:
    _refuse_beside_job(options)
    plan = job_folder.read_plan(folder)
    claim = plan_claims.claim_from(plan)
    if "solid" not in plan:
        return claim
    # Points of the solid come from the solid, not from a document.
    solid = part_of(read_request(folder)).solid
    assert solid is not None
    return replace(claim, solid=solid.spots, solid_slack_um=solid.slack_um)


def _refuse_beside_job(options: dict[str, Any]) -> None:
    if any(options.get(name) for name in _ONLY_WITH_DRAWING):
        raise click.UsageError("with --job everything is known from its plan.json.")


def _drawing_claim(drawing: Path | None, options: dict[str, Any]) -> Claim:
    missing = [f"--{name}" for name in _NEEDED if not options[name]]
    missing += [] if options["gaps"] else ["--gap"]
    if missing or drawing is None:
        raise click.UsageError(f"with --drawing also give {', '.join(missing)}.")
    layers: tuple[tuple[str, LayerUse], ...] = options.pop("layers")
    own = {"roles": contour_options({"roles": options.pop("roles")}).get("roles", {})}
    given = {name: dict(options.pop(name)) for name in ("gaps", "pass_counts")}
    return claim_of(
        ProofRequest(drawing=drawing, layer_uses=layer_uses(layers), **(options | given | own))
    )


def _read(program: Path) -> str:
    try:
        return program.read_text(encoding="utf-8")
    except UnicodeDecodeError as fault:
        raise InputError(
            f"not UTF-8 text: byte {fault.start}",
            code="not-text",
            where=str(program),
            remedy="Is this the program? A control reads plain ASCII.",
        ) from fault
