"""Papers of a job folder, and of a job as it is asked now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from kerfwright.adapters import job_folder
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.job_result import contents_of, read_request, write_job
from kerfwright.adapters.owned_files import Written, add_files
from kerfwright.adapters.papers.make import EVERY_NAME, Desk, Order, Papers, papers_of
from kerfwright.adapters.papers.rules import load_paper_rules
from kerfwright.adapters.papers.typeset import typeset
from kerfwright.adapters.papers.wanted import PaperWords
from kerfwright.adapters.papers.words import Units
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.versions import write_versioned
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.app.papers.common import Digests, PaperKind, no_program, zones_off_the_line
from kerfwright.app.papers.size_limits import limiter_of
from kerfwright.app.plan_job import Progress, quiet
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.process.wire import tension_n
from kerfwright.trade.part import Part
from kerfwright.wiring import drawing_says, drill_holes, plan_job, what_if

_PLANNED = 0.6
"""Share of the time after which the papers are set."""


def papers_of_job(
    folder: Path, order: Order, *, out: Path | None = None, progress: Progress = quiet
) -> Written:
    """Make the papers of a job folder and write them into it, or elsewhere.

    The job is computed anew and must come out as the folder holds it: a paper goes with the
    program beside it, or there is none.

    Parameters
    ----------
    folder : Path
        A job folder made by :func:`kerfwright.wiring.plan_job` and ``write_job``.
    order : Order
        Which papers, on which paper, in which unit.
    out : Path or None
        Another folder to write to.

    Raises
    ------
    StaleError
        Code ``job-changed``: drawing, tables or files differ from those of the plan.
    MissingPackageError
        Code ``papers-need-typst``.
    KerfwrightError
        If the job cannot be read or the files cannot be written.
    """
    result = plan_job(read_request(folder), progress=progress)
    digests = job_folder.unchanged_digests(folder, contents_of(result, folder))
    made = _set(result, order, digests, words=PaperWords(), progress=progress)
    return _write(out or folder, made, order)


def paper_of_hole_job(
    folder: Path, order: Order, *, out: Path | None = None, progress: Progress = quiet
) -> Written:
    """Make the hole sheet of a folder of small holes, which must come out as the folder holds it.

    Raises
    ------
    StaleError
        Code ``job-changed``.
    MissingPackageError
        Code ``papers-need-typst``.
    KerfwrightError
        If the job cannot be read or the file cannot be written.
    """
    from kerfwright.adapters.hole_folder import read_hole_request, same_digests
    from kerfwright.adapters.papers.for_driller import FILE, TEMPLATE, hole_job_shape

    result = drill_holes(read_hole_request(folder), progress=progress)
    digests = same_digests(folder, result)
    units = Units(unit=order.unit or result.plan.work.source.unit)
    data = hole_job_shape(result, digests=digests, units=units, paper=order.paper)
    made = typeset(TEMPLATE, data, paper=order.paper, made_on=order.made_on)
    progress("done", 1.0)
    return add_files(out or folder, {FILE: made.pdf})


def papers_as_asked(
    request: JobRequest,
    folder: Path,
    order: Order,
    *,
    words: PaperWords,
    part: Part | None = None,
    asked: Mapping[str, str] | None = None,
    progress: Progress = quiet,
) -> Papers:
    """Plan and prove a job as it is asked now, write its folder, and make the papers of that.

    Parameters
    ----------
    request : JobRequest
    folder : Path
        Of the job; its papers are written beside the program.
    order : Order
    words : PaperWords
        What this job's papers say in place of the shop's usual words.
    part : Part or None
        The drawing, where it was read before.
    asked : mapping of str to str, optional
        Lines of the enquiry that the papers answer, for the version of the job.
    progress : callable, optional

    Raises
    ------
    InputError
        Code ``not-proved``: there is no program that passed its proof, so there is no paper.
    KerfwrightError
        As :func:`papers_of_job`.
    """
    result = plan_job(
        request, part=part, progress=lambda step, share: progress(step, share * _PLANNED)
    )
    if result.program is None:
        raise no_program(result)
    write_job(result, folder, asked=asked)
    digests = job_folder.unchanged_digests(folder, contents_of(result, folder))
    made = _set(
        result,
        order,
        digests,
        words=words,
        progress=lambda step, share: progress(step, _PLANNED + share * (1 - _PLANNED)),
    )
    _write(folder, made, order, asked=asked)
    return made


def _set(
    result: JobResult, order: Order, digests: Digests, *, words: PaperWords, progress: Progress
) -> Papers:
    request = result.request
    if order.asks_what_if:
        progress("pricing what each demand costs", 0.0)
    tables = load_tables(request.tables_used)
    desk = Desk(
        rules=words.over(load_paper_rules(request.tables)),
        rates=tables.rates,
        allowed_miss=tables.technology.limits.allowed_miss,
        digests=digests,
        program=job_folder.PROGRAM,
        wire_tension_n=tension_n(
            result.plan.choice.wire, share=load_wire_physics(request.tables_used).tension.share
        ),
        found=what_if(result) if order.asks_what_if else None,
        limiter=limiter_of(
            request,
            drawing_says(result.part, tables=request.tables_used),
            fits=load_fits(),
            zones=zones_off_the_line(result),
        ),
    )
    if not order.number:
        order = replace(order, number=f"Q-{digests.plan[:8].upper()}")
    made = papers_of(result, order, desk, progress=progress)
    progress("done", 1.0)
    return made


def _write(
    folder: Path, made: Papers, order: Order, *, asked: Mapping[str, str] | None = None
) -> Written:
    """Write papers; beside the results that they are of they are a version of the job."""
    every = set(order.kinds) >= set(PaperKind)
    gone = EVERY_NAME if every else frozenset()
    if not (folder / job_folder.PLAN).exists():
        return add_files(folder, made.files, instead_of=gone)
    return write_versioned(
        folder,
        lambda keep: add_files(folder, made.files, instead_of=gone, keep=keep),
        asked=asked,
    )
