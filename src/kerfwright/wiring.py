"""Composition root: joins the use cases to files and tables."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.app.plan_job import Progress, plan_part
from kerfwright.app.prove_text import ProofRequest, read_claim
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.requirements import read_requirement
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim, Proof
from kerfwright.trade.part import LayerUse, LengthUnit, Part


def _quiet(_step: str, _share: float) -> None:
    """Tell nobody."""


def plan_job(request: JobRequest, *, progress: Progress = _quiet) -> JobResult:
    """Read the drawing and tables of a request and do the main job.

    Raises
    ------
    KerfwrightError
        If the request, a table, the machine definition or the drawing cannot be used.
    """
    tables = load_tables(request.tables)
    machine = load_machine(request.machine)
    requirement, remarks = read_requirement(request, catalogue=tables.catalogue, machine=machine)
    progress("reading the drawing", 0.0)
    part = check_drawing(request.drawing, unit=request.units, layer_uses=request.layer_uses)
    return plan_part(
        request,
        part,
        requirement,
        catalogue=tables.catalogue,
        technology=tables.technology,
        rates=tables.rates,
        remarks=remarks,
        progress=progress,
    )


def check_drawing(
    drawing: Path, *, unit: LengthUnit | None = None, layer_uses: Mapping[str, LayerUse]
) -> Part:
    """Read a drawing only."""
    return read_drawing(drawing, unit=unit, layer_uses=layer_uses)


def claim_of(request: ProofRequest) -> Claim:
    """Read a drawing and what else a program is to be checked against."""
    part = check_drawing(request.drawing, unit=request.units, layer_uses=request.layer_uses)
    return read_claim(
        request,
        part,
        catalogue=load_tables(request.tables).catalogue,
        machine=load_machine(request.machine),
    )


def prove_text(text: str, *, claim: Claim) -> Proof:
    """Prove the text of a program, whoever made it."""
    return prove_program(text, claim)
