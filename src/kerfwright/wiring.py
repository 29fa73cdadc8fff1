"""Composition root: joins the use cases to files and tables."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.plan_job import Progress, plan_part
from kerfwright.app.prove_text import ProofRequest, read_claim
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.requirements import read_requirement
from kerfwright.process.technology import Technology
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim, Proof
from kerfwright.trade.part import LayerUse, LengthUnit, Part

if TYPE_CHECKING:
    # Learning brings sparse solvers along, which a plan without a shop does not need.
    from kerfwright.adapters.shop_folder import ShopFolder
    from kerfwright.app.record_cuts import Recorded
    from kerfwright.app.what_if import WhatIf
    from kerfwright.foundation.answers import Answer


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
    technology = _technology(request)
    machine = load_machine(request.machine)
    requirement, remarks = read_requirement(request, catalogue=tables.catalogue, machine=machine)
    progress("reading the drawing", 0.0)
    part = check_drawing(request.drawing, unit=request.units, layer_uses=request.layer_uses)
    return plan_part(
        request,
        part,
        requirement,
        catalogue=tables.catalogue,
        technology=technology,
        rates=tables.rates,
        rules=tables.rules,
        wire_physics=load_wire_physics(request.tables),
        remarks=remarks,
        progress=progress,
    )


def what_if(result: JobResult) -> WhatIf | None:
    """Return what each requirement of a job costs; None where nothing can be cut as asked."""
    from kerfwright.app.what_if import what_if as ask

    tables = load_tables(result.request.tables)
    return ask(
        result.part,
        result.requirement,
        catalogue=tables.catalogue,
        technology=_technology(result.request),
        rates=tables.rates,
        wire_physics=load_wire_physics(result.request.tables),
        rules=result.plan.rules,
    )


def answers(result: JobResult) -> tuple[Answer, ...]:
    """Return why every number of a job has its value: formula, inputs, source, range, shares."""
    from kerfwright.app.explain import answers_of

    request = result.request
    return answers_of(
        result,
        technology=_technology(request),
        rates=load_tables(request.tables).rates,
        physics=load_wire_physics(request.tables),
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


def _shop(folder: Path, tables: Path | None) -> ShopFolder:
    from kerfwright.adapters.learning_rules import load_learning_rules
    from kerfwright.adapters.shop_folder import ShopFolder

    catalogue = load_tables(tables).catalogue
    return ShopFolder(folder=folder, catalogue=catalogue, rules=load_learning_rules(tables))


def _technology(request: JobRequest) -> Technology:
    """Return the tables of a request, moved by what its shop knows, or knew."""
    technology = load_tables(request.tables).technology
    if request.shop is None:
        return technology
    from kerfwright.app.record_cuts import with_experience

    shop = _shop(request.shop, request.tables)
    return with_experience(
        technology,
        store=shop,
        catalogue=shop.catalogue,
        rules=shop.rules,
        sha256=request.experience,
    )


def record_cuts(
    text: str,
    *,
    shop: Path,
    name: str = "",
    job: Path | None = None,
    tables: Path | None = None,
    usual: Mapping[str, str] | None = None,
) -> Recorded:
    """Record a CSV table of measured cuts in the shop's folder, and in the job's if there is one.

    Parameters
    ----------
    text : str
        The table, see :func:`kerfwright.adapters.measured_cuts.read_cuts`.
    shop : Path
        Folder of the shop's cuts; made if absent.
    name : str
        Name of the table for messages.
    job : Path or None
        Folder of the job that was cut: gives machine, material, wire and height where the table
        does not, and keeps a copy.
    tables : Path or None
        Folder with the shop's own tables.
    usual : mapping of str to str, optional
        Values for columns that the table lacks.

    Raises
    ------
    KerfwrightError
        If the header of the table, a folder or a shop table cannot be used.
    """
    from kerfwright.adapters.measured_cuts import read_cuts, usual_of_job
    from kerfwright.adapters.shop_folder import keep_with_job
    from kerfwright.app.record_cuts import record_cuts as record

    values = (usual_of_job(job) if job is not None else {}) | dict(usual or {})
    store = _shop(shop, tables)
    technology = load_tables(tables).technology
    batch = read_cuts(
        text,
        catalogue=store.catalogue,
        passes=len(technology.passes),
        name=name,
        usual=values,
    )
    if job is not None:
        keep_with_job(job, batch)
    return record(
        batch,
        store=store,
        technology=technology,
        catalogue=store.catalogue,
        rules=store.rules,
    )
