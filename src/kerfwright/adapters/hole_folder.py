"""The folder of a job of small holes: what is wanted and what came of it."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters import hole_shapes, job_folder, json_shapes
from kerfwright.adapters.drills import drill_tables
from kerfwright.adapters.job_result import seen_from
from kerfwright.adapters.kept_tables import kept_text, unchanged
from kerfwright.adapters.owned_files import Written, digest, made
from kerfwright.adapters.svg.hole_sheet import render_holes
from kerfwright.adapters.table_files import every_table
from kerfwright.adapters.tables import load_tables
from kerfwright.app.hole_answers import hole_answers
from kerfwright.app.hole_records import HoleRequest, HoleResult
from kerfwright.app.papers.common import Digests
from kerfwright.foundation.answers import Answer
from kerfwright.foundation.errors import InputError, StaleError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.version import __version__
from kerfwright.proof.hole_records import HoleClaim
from kerfwright.trade.part import LengthUnit

_FORMAT, _VERSION = job_folder.HOLE_JOB_FORMAT, 1
_TEXTS: Final = (
    "material", "height", "tolerance", "position", "recast", "diameters", "centre", "clear",
    "customer", "reference", "revision", "due",
)  # fmt: skip
_PLACES: Final = ("machine", "tables")
_OURS: Final = ("source", "source_sha256", "tables_sha256", "units", "kerfwright")


def is_hole_job(folder: Path) -> bool:
    """Return whether a folder holds a job of small holes."""
    try:
        document = tomllib.loads((folder / job_folder.JOB).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return document.get("format") == _FORMAT


def write_hole_job(result: HoleResult, folder: Path | str) -> Written:
    """Write the job folder of a result: all its files or none.

    Parameters
    ----------
    result : HoleResult
    folder : Path or str
        Made if absent.

    Raises
    ------
    FileError
        If the folder cannot be written, or holds a file of the same name that is not ours.
    """
    folder = Path(folder)
    contents = contents_of(result, folder)
    return job_folder.write_job(folder, contents, refused=result.program is None)


def contents_of(result: HoleResult, folder: Path) -> dict[str, str]:
    """Return the text of every file of a result's folder by its name."""
    request = result.request
    kept = kept_text(every_table(request.tables_used), drill_tables(request.machine_used))
    proved = result.program if result.proof is not None and result.proof.passed else None
    plan = hole_shapes.plan_shape(
        result.plan,
        claim=result.claim,
        program=job_folder.PROGRAM if proved is not None else None,
        program_sha256=digest(proved) if proved is not None else None,
    )
    contents = {
        job_folder.JOB: _job_toml(result, folder, tables_sha256=digest(kept)),
        job_folder.PLAN: json_shapes.to_text(plan),
    }
    if proved is not None:
        contents[job_folder.PROGRAM] = proved
    if result.proof is not None:
        contents[job_folder.PROOF] = json_shapes.to_text(hole_shapes.proof_shape(result.proof))
    if result.estimate is not None:
        shape = json_shapes.estimate_shape(result.estimate)
        contents[job_folder.ESTIMATE] = json_shapes.to_text(shape)
    contents[job_folder.PICTURE] = render_holes(
        result.plan, proof=result.proof, version=__version__
    )
    contents[job_folder.TABLES] = kept
    return contents


def _job_toml(result: HoleResult, folder: Path, *, tables_sha256: str) -> str:
    request = result.request
    said: dict[str, str] = {
        "source": seen_from(folder, request.source),
        "source_sha256": result.plan.work.source.sha256,
    }
    said |= {name: getattr(request, name) or "" for name in _TEXTS}
    machine = request.machine or ""
    said["machine"] = seen_from(folder, Path(machine)) if Path(machine).is_file() else machine
    said["tables"] = seen_from(folder, request.tables) if request.tables else ""
    said["units"] = request.units.value if request.units else ""
    said |= {"tables_sha256": tables_sha256, "kerfwright": __version__}
    lines = [
        "# What this job of small holes asks for, as kerfwright was told.",
        f"format = {job_folder.quoted(_FORMAT)}",
        f"version = {_VERSION}",
        "",
        *(f"{name} = {job_folder.quoted(text)}" for name, text in said.items() if text),
    ]
    if request.layers:
        lines.append(f"layers = {json.dumps(list(request.layers), ensure_ascii=False)}")
    lines.append(f"quantities = {list(request.quantities)}")
    return "\n".join(lines) + "\n"


def read_hole_request(folder: Path) -> HoleRequest:
    """Return the request that a job folder keeps; its source must be unchanged.

    Raises
    ------
    FileError
        If a file cannot be read.
    InputError
        Code ``job-broken``, ``job-format``, ``source-changed`` or ``kept-tables-changed``.
    """
    place = folder / job_folder.JOB
    document = _document(place)
    texts: dict[str, Any] = {name: document.get(name) for name in _TEXTS}
    source = folder / document["source"]
    content = source / job_folder.PLAN if source.is_dir() else source
    found = digest(job_folder.read_bytes(content))
    if found != document["source_sha256"]:
        raise InputError(
            f"the holes changed since the job was planned (sha256 {found[:12]}, planned "
            f"{document['source_sha256'][:12]})",
            code="source-changed",
            where=str(source),
            remedy="Plan the holes again from the new source.",
        )
    machine, tables = document.get("machine"), document.get("tables")
    if machine and (folder / machine).is_file():
        machine = str(folder / machine)
    kept = unchanged(folder / job_folder.TABLES, sha256=document["tables_sha256"])
    return HoleRequest(
        source=source,
        layers=tuple(document.get("layers", ())),
        quantities=tuple(document["quantities"]),
        machine=machine,
        units=LengthUnit(document["units"]) if "units" in document else None,
        tables=folder / tables if tables else None,
        kept_tables=kept,
        kept_machine=kept,
        **texts,
    )


def _document(place: Path) -> dict[str, Any]:
    document = job_folder.toml_document(place)
    job_folder.refuse_format(
        document, (_FORMAT, _VERSION), what="a job of small holes", place=place
    )
    lists = {"layers": str, "quantities": int}
    known = {*_TEXTS, *_PLACES, *_OURS, *lists}
    needed = {"source", "source_sha256", "tables_sha256", "quantities"}
    odd = sorted(set(document) - known) + sorted(needed - set(document))
    for name, value in document.items():
        kind = lists.get(name)
        good = (
            isinstance(value, str)
            if kind is None
            else isinstance(value, list) and all(type(v) is kind for v in value)
        )
        if not good and name not in odd:
            odd.append(name)
    if odd:
        raise InputError(
            f"unknown, missing or unusable entries: {', '.join(odd)}",
            code="job-broken",
            where=str(place),
        )
    return document


def edited_findings(folder: Path) -> tuple[Finding, ...]:
    """Return a refusal where plan or source are not those of the run."""
    recorded = made(folder).get(job_folder.PLAN, [])
    if digest(job_folder.read_bytes(folder / job_folder.PLAN)) not in recorded:
        return (_edited("plan.json was changed after kerfwright wrote it"),)
    try:
        read_hole_request(folder)
    except InputError as fault:
        return (_edited(fault.message),)
    return ()


def _edited(message: str) -> Finding:
    return Finding(
        code="plan-edited",
        severity=Severity.REFUSAL,
        message=f"{message}; a proof against it proves nothing",
        remedy="plan the job again: what a program must do follows from the holes as wanted",
    )


def read_hole_plan(folder: Path) -> Mapping[str, Any]:
    """Return the plan document of a job of small holes.

    Raises
    ------
    FileError, InputError
    """
    place = folder / job_folder.PLAN
    try:
        document = json.loads(job_folder.read_text(place))
    except ValueError as fault:
        raise InputError(
            f"not valid JSON: {fault}", code="json-broken", where=str(place)
        ) from fault
    if not isinstance(document, dict) or not hole_shapes.is_hole_plan(document):
        raise InputError("not a plan of small holes", code="json-format", where=str(place))
    return document


def claim_of_job(folder: Path) -> HoleClaim:
    """Return what a program is checked against, from a folder of small holes.

    Raises
    ------
    FileError, InputError
    """
    usual = load_tables(folder / job_folder.TABLES).technology.small_hole.tolerance_um
    return hole_shapes.claim_from(read_hole_plan(folder), usual_tolerance_um=usual)


def reasons_of(result: HoleResult) -> tuple[Answer, ...]:
    """Return why every number of a job of small holes has its value."""
    law = load_tables(result.request.tables_used).technology.small_hole
    return hole_answers(result, law=law)


def same_digests(folder: Path, result: HoleResult) -> Digests:
    """Return the digests of a folder's files, which must be those of a run computed anew.

    Raises
    ------
    StaleError
        Code ``job-changed``.
    """
    contents = contents_of(result, folder)
    names = (job_folder.PLAN, job_folder.PROGRAM, job_folder.PROOF, job_folder.ESTIMATE)
    found = {
        name: digest(job_folder.read_bytes(folder / name)) if (folder / name).exists() else ""
        for name in (*names, job_folder.JOB)
    }
    now = {name: digest(contents[name]) if name in contents else "" for name in names}
    differ = [name for name in names if found[name] != now[name]]
    if differ:
        raise StaleError(
            f"{', '.join(differ)} of the folder {'is' if len(differ) == 1 else 'are'} not what "
            "this job gives now: its wishes, tables, files or kerfwright itself changed",
            code="job-changed",
            where=str(folder),
            remedy="Plan the holes again, then make the paper: it goes with one program only.",
        )
    return Digests(
        drawing=result.plan.work.source.sha256,
        job=found[job_folder.JOB],
        plan=found[job_folder.PLAN],
        program=found[job_folder.PROGRAM],
        proof=found[job_folder.PROOF],
    )


def with_options(request: HoleRequest, given: Mapping[str, Any], *, today: bool) -> HoleRequest:
    """Return a request with options instead of what its folder keeps."""
    request = replace(request, **given)
    if today:
        return replace(request, kept_tables=None, kept_machine=None)
    return replace(
        request,
        kept_tables=None if "tables" in given else request.kept_tables,
        kept_machine=None if "machine" in given else request.kept_machine,
    )
