"""Composition root: joins the use cases to files and tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.machines import load_machine, shipped_machines
from kerfwright.adapters.own_machines import own_machine_names
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.asked_fits import questioned_fits
from kerfwright.app.asked_otherwise import asked_otherwise
from kerfwright.app.asked_tolerances import questioned_tolerances
from kerfwright.app.drawing_doubts import untaken_demands
from kerfwright.app.drawing_says import Saying, what_drawing_says
from kerfwright.app.drawn_sizes import with_drawn_sizes
from kerfwright.app.hole_counts import contradicted_counts
from kerfwright.app.no_recast import recast_forbidden
from kerfwright.app.off_the_line import sizes_off_the_line
from kerfwright.app.other_stacks import cut_alike, other_stacks_said, with_other_stacks
from kerfwright.app.plan_job import Extent, Progress, is_refused_whole, plan_part, quiet
from kerfwright.app.prove_text import ProofRequest, read_claim
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.app.requirements import read_requirement
from kerfwright.app.set_up import rules_of
from kerfwright.app.solids import with_solid_height, with_solid_walls
from kerfwright.app.texts_not_understood import texts_not_understood
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.planning.guides_off import at_set_up
from kerfwright.planning.memory import Memory
from kerfwright.process.offset_advice import in_shop
from kerfwright.process.technology import Technology
from kerfwright.proof.prove import prove_program
from kerfwright.proof.records import Claim, Proof
from kerfwright.trade.part import Part
from kerfwright.wiring.drawings import check_drawing as check_drawing
from kerfwright.wiring.drawings import part_of, top_of

if TYPE_CHECKING:
    # Learning brings sparse solvers along, which a plan without a shop does not need.
    from kerfwright.adapters.shop_folder import ShopFolder
    from kerfwright.app.hole_records import HoleRequest, HoleResult
    from kerfwright.app.record_cuts import LearningTables, Recorded
    from kerfwright.app.shown_cut import ShownCut
    from kerfwright.app.strip import Strip
    from kerfwright.app.what_if import WhatIf
    from kerfwright.foundation.answers import Answer
    from kerfwright.learning.batch import KeptBatch
    from kerfwright.learning.outcome import PassOutcome


def plan_job(
    request: JobRequest,
    *,
    progress: Progress = quiet,
    part: Part | None = None,
    extent: Extent = Extent.PROVED,
    memory: Memory | None = None,
) -> JobResult:
    """Read the drawing and tables of a request and do the main job.

    Parameters
    ----------
    request : JobRequest
    progress : callable, optional
        Told each step and the share done.
    part : Part, optional
        The drawing of the request with its roles, where it was read before.
    extent : Extent
        Where to end.
    memory : Memory, optional
        What plans of the very same `part` had, where only
        :data:`kerfwright.app.records.VARYING` changed since.

    Raises
    ------
    KerfwrightError
        If the request, a table, the machine definition or the drawing cannot be used.
    """
    tables = load_tables(request.tables_used)
    technology = technology_of(request)
    machine = load_machine(request.machine_used)
    progress("reading the drawing", 0.0)
    if part is None:
        part = part_of(request)
    request = with_solid_height(with_drawn_sizes(request, part, table=load_fits()), part)
    requirement, remarks = read_requirement(
        request, catalogue=tables.catalogue, machine=machine, fits=load_fits()
    )
    requirement, of_solid = with_solid_walls(requirement, part)
    remarks += of_solid
    wanted = [requirement]
    if request.stack is not None or request.covers is not None:
        from kerfwright.wiring.stacks import as_stacked

        memory = memory or Memory()
        wanted[:] = as_stacked(request, requirement, part, memory=memory, progress=progress)
    plan = partial(
        plan_part,
        request,
        part,
        catalogue=tables.catalogue,
        technology=technology,
        rates=tables.rates,
        rules=tables.rules,
        wire_physics=load_wire_physics(request.tables_used),
        top=top_of(request),
        memory=memory,
    )
    says = drawing_says(part, tables=request.tables_used)
    remarks += (
        *questioned_fits(request, part, table=load_fits()),
        *questioned_tolerances(request, part, table=load_fits()),
        *untaken_demands(says, part, requirement),
        *sizes_off_the_line(says, part, requirement, told=remarks),
        *asked_otherwise(says, requirement, catalogue=tables.catalogue),
        *texts_not_understood(says, part),
        *contradicted_counts(says, part),
        *recast_forbidden(says, part, requirement),
    )
    found = with_other_stacks(
        plan(wanted[0], remarks=remarks, progress=progress, extent=extent),
        [plan(one, extent=Extent.PRICED) for one in wanted[1:]],
        quantities=request.quantities,
    )
    return replace(found, findings=_ready_to_type(found.findings, request))


def _ready_to_type(findings: tuple[Finding, ...], request: JobRequest) -> tuple[Finding, ...]:
    """Return findings whose commands name the shop and tables of the request."""
    if request.shop is None:
        return findings
    return in_shop(findings, shop=f"{request.shop}", tables=f"{request.tables or ''}")


def names_known(tables: Path | None = None) -> dict[str, tuple[str, ...]]:
    """Return the materials, wires and machines that a line may name."""
    catalogue = load_tables(tables).catalogue
    return {
        "material": tuple(m.name for m in catalogue.materials),
        "wire": tuple(f"{w.diameter_mm:g} mm {w.name}" for w in catalogue.wires),
        "machine": (*own_machine_names(tables).values(), *shipped_machines()),
    }


def job_strip(result: JobResult) -> Strip | None:
    """Return the time of a job from left to right; None where nothing is cut."""
    from kerfwright.app.strip import strip_of

    if result.path is None or result.estimate is None:
        return None
    rates = load_tables(result.request.tables_used).rates
    return strip_of(result.plan, result.path, minutes=rates.minutes)


def job_costs(result: JobResult, strip: Strip | None) -> dict[str, Decimal]:
    """Return what the machine time of each contour costs, of one piece; empty without a price."""
    from kerfwright.app.contour_costs import costs_by_contour, pieces_per_cut

    if strip is None or result.estimate is None:
        return {}
    rates = load_tables(result.request.tables_used).rates
    return costs_by_contour(strip, rates, pieces=pieces_per_cut(result.requirement))


def shown_cut(result: JobResult) -> ShownCut | None:
    """Return path, pieces and deviations of a job's program; None where none was written."""
    from kerfwright.app.shown_cut import shown_cut as show

    strip = job_strip(result)
    return None if strip is None else show(result, strip)


def since_planned(folder: Path, result: JobResult) -> tuple[Finding, ...]:
    """Say what changed since the job of a folder was planned, and whether its price did.

    Parameters
    ----------
    folder : Path
        Of the job.
    result : JobResult
        What was computed for its request: as it was, or with figures of today.

    Raises
    ------
    KerfwrightError
        If the job folder or the shop's cannot be read.
    """
    from kerfwright.adapters import since_planned as since

    request = result.request
    experience = technology_of(request).experience
    found = since.quote_findings(folder, result, now=experience.sha256 if experience else "")
    if request.kept_tables is None:
        return found + since.not_kept_findings(folder)
    found += since.figures_findings(request)
    if request.shop is not None and request.experience is not None:
        current = shop_of(request.shop, request.tables_used).current_sha256()
        found += since.learned_findings(request, current=current)
    return found


def what_if(
    result: JobResult, *, memory: Memory | None = None, progress: Progress = quiet
) -> WhatIf | None:
    """Return what each requirement of a job costs.

    Of a job that is refused as a whole only what lifts every refusal; None where nothing does, for
    which :func:`why_no_what_if` has the reason.

    Parameters
    ----------
    result : JobResult
    memory : Memory, optional
        With which the job was planned, so that it is not worked out again as asked.
    progress : callable, optional
        Told what is priced and the share done.
    """
    from kerfwright.app.kept_zones import with_zones_kept
    from kerfwright.app.what_if import what_if as ask

    is_whole = is_refused_whole(result)
    if is_whole and _refused_beyond_plan(result):
        return None
    tables = load_tables(result.request.tables_used)
    alike = cut_alike(result)
    found = ask(
        result.part,
        alike,
        catalogue=tables.catalogue,
        technology=technology_of(result.request),
        rates=tables.rates,
        wire_physics=load_wire_physics(result.request.tables_used),
        rules=result.plan.rules,
        lean=result.lean,
        memory=memory,
        progress=progress,
        lifts_only=is_whole,
    )
    if found is None:
        return None
    found = with_zones_kept(found, result.findings)
    if alike is result.requirement:
        return found
    return replace(found, front_remarks=(*found.front_remarks, other_stacks_said(result)))


def why_no_what_if(result: JobResult) -> str:
    """Return why nothing can be asked instead of a job, for which :func:`what_if` has None."""
    from kerfwright.app.why_none import why_none

    beyond = _refused_beyond_plan(result)
    said = why_none(beyond or result.findings, is_tried=not beyond)
    return said or "Nothing of this job can be cut, so nothing of it has a price."


def _refused_beyond_plan(result: JobResult) -> tuple[Finding, ...]:
    """Return refusals of path, program or proof: no plan of another demand is known to lift them.

    Parameters
    ----------
    result : JobResult
    """
    planned = {(f.code, f.where) for f in result.plan.findings}
    return tuple(
        f
        for f in result.findings
        if f.severity is Severity.REFUSAL and (f.code, f.where) not in planned
    )


def answers(result: JobResult) -> tuple[Answer, ...]:
    """Return why every number of a job has its value: formula, inputs, source, range, shares."""
    from kerfwright.adapters.learning_rules import load_learning_rules
    from kerfwright.app.explain import answers_of
    from kerfwright.learning.records import Measure

    request = result.request
    tables = request.tables_used
    shares = load_learning_rules(tables).shares[Measure.FEED]
    return answers_of(
        result,
        technology=technology_of(request),
        rates=load_tables(tables).rates,
        physics=load_wire_physics(tables),
        feed_shares=tuple((who.value, share) for who, share in shares.items()),
    )


def what_if_answers(result: JobResult) -> tuple[Answer, ...]:
    """Return why each step of a what-if, and each way of the front, costs what it does."""
    from kerfwright.app.savings_answers import savings_answers

    found = what_if(result)
    return () if found is None else tuple(savings_answers(found))


def drawing_says(part: Part, *, tables: Path | None = None) -> tuple[Saying, ...]:
    """Return what a drawing says about itself, to be offered; nothing of it is applied.

    Parameters
    ----------
    part : Part
    tables : Path or None
        Folder with the shop's own tables, for the names of its materials.
    """
    return what_drawing_says(part, catalogue=load_tables(tables).catalogue, fits=load_fits())


def claim_of(request: ProofRequest) -> Claim:
    """Read a drawing and what else a program is to be checked against."""
    part = check_drawing(
        request.drawing, unit=request.units, layer_uses=request.layer_uses, roles=request.roles
    )
    tables = load_tables(request.tables)
    return read_claim(
        request,
        part,
        catalogue=tables.catalogue,
        machine=load_machine(request.machine),
        clamp_reach_mm=tables.rules.clamp_reach_mm,
    )


def drill_holes(request: HoleRequest, *, progress: Progress = quiet) -> HoleResult:
    """Read the holes and tables of a request and do the job of small holes.

    Parameters
    ----------
    request : HoleRequest
    progress : callable, optional
        Told each step and the share done.

    Raises
    ------
    KerfwrightError
        If the request, a table, the machine definition or the source cannot be used.
    """
    from kerfwright.adapters.hole_sources import read_work
    from kerfwright.adapters.hole_tables import load_hole_tables
    from kerfwright.app.drill_job import drill_job

    tables = load_tables(request.tables_used)
    rules, hole_rates = load_hole_tables(request.tables_used)
    progress("reading the holes", 0.0)
    return drill_job(
        request,
        read_work(request, catalogue=tables.catalogue),
        law=tables.technology.small_hole,
        rules=rules,
        rates=tables.rates,
        hole_rates=hole_rates,
        progress=progress,
    )


def prove_text(text: str, *, claim: Claim) -> Proof:
    """Prove the text of a program, whoever made it."""
    return prove_program(text, claim)


def shop_of(folder: Path, tables: Path | None) -> ShopFolder:
    """Return the store of a shop's measured cuts."""
    from kerfwright.adapters.learning_rules import load_learning_rules
    from kerfwright.adapters.shop_folder import ShopFolder

    catalogue = load_tables(tables).catalogue
    return ShopFolder(folder=folder, catalogue=catalogue, rules=load_learning_rules(tables))


def learning_tables_of(store: ShopFolder, tables: Path | None) -> LearningTables:
    """Return what the cuts of a shop are weighed against."""
    from kerfwright.app.record_cuts import LearningTables

    return LearningTables(
        technology=load_tables(tables).technology, catalogue=store.catalogue, rules=store.rules
    )


def technology_of(request: JobRequest) -> Technology:
    """Return the tables of a request and its set-up, moved by what its shop knows, or knew."""
    tables, technology = load_tables(request.tables_used), _figures_of(request)
    rules = rules_of(request, tables.rules, law=technology.flushing)
    return at_set_up(technology, rules=rules, physics=load_wire_physics(request.tables_used))


def _figures_of(request: JobRequest) -> Technology:
    tables = request.tables_used
    if request.shop is None:
        return load_tables(tables).technology
    from kerfwright.app.record_cuts import with_experience

    shop = shop_of(request.shop, tables)
    return with_experience(
        store=shop, tables=learning_tables_of(shop, tables), sha256=request.experience
    )


def record_cuts(
    said: str | Sequence[Mapping[str, str]],
    *,
    shop: Path,
    name: str = "",
    job: Path | None = None,
    tables: Path | None = None,
    usual: Mapping[str, str] | None = None,
) -> Recorded:
    """Record measured cuts in the shop's folder, and in the job's if there is one.

    Parameters
    ----------
    said : str or sequence of mapping of str to str
        A CSV table, see :func:`kerfwright.adapters.measured_cuts.read_cuts`, or typed cuts as
        texts by the same names.
    shop : Path
        Folder of the shop's cuts; made if absent.
    name : str
        Name of the table for messages.
    job : Path or None
        Folder of the job that was cut: gives machine, material, wire, height and the length of a
        pass where nothing else does, and keeps a copy.
    tables : Path or None
        Folder with the shop's own tables.
    usual : mapping of str to str, optional
        Values for columns that the table lacks.

    Raises
    ------
    KerfwrightError
        If the header of the table, a folder or a shop table cannot be used.
    """
    from kerfwright.adapters.cut_files import keep_with_job
    from kerfwright.adapters.job_measured import keep_forecast, read_job
    from kerfwright.adapters.learning_rules import load_cut_limits
    from kerfwright.adapters.measured_cuts import read_cuts, read_typed
    from kerfwright.app.record_cuts import record_cuts as record

    store = shop_of(shop, tables)
    against = learning_tables_of(store, tables)
    of_job = read_job(job) if job is not None else None
    how: dict[str, Any] = {
        "catalogue": store.catalogue,
        "passes": len(against.technology.passes),
        "usual": usual,
        "job": of_job,
        "limits": load_cut_limits(tables),
    }
    batch = read_cuts(said, name=name, **how) if isinstance(said, str) else read_typed(said, **how)
    if job is not None:
        keep_forecast(job)
        keep_with_job(job, batch)
    return record(batch, store=store, tables=against)


def withdraw_cuts(
    *names: str, shop: Path, reason: str = "", tables: Path | None = None
) -> Recorded:
    """Take batches of a shop back by their hashes, and learn from the cuts that are left.

    Raises
    ------
    KerfwrightError
        If one is not there, so that none is taken back, or a folder or table cannot be used.
    """
    from kerfwright.app.record_cuts import withdraw_cuts as withdraw

    store = shop_of(shop, tables)
    return withdraw(*names, reason=reason, store=store, tables=learning_tables_of(store, tables))


def cut_batches(shop: Path) -> tuple[KeptBatch, ...]:
    """Return the batches of a shop, also those taken back."""
    return shop_of(shop, None).batches()


def job_outcomes(job: Path, *, shop: Path, tables: Path | None = None) -> tuple[PassOutcome, ...]:
    """Return each measured pass of a job beside what was predicted of it.

    Cuts that the shop took back are left out.

    Raises
    ------
    KerfwrightError
        If the folder is no job, or holds a damaged file.
    """
    from kerfwright.adapters.job_measured import outcomes_of

    store = shop_of(shop, tables)
    return outcomes_of(job, catalogue=store.catalogue, known=store.known())
