"""The job folder: what is wanted and what came out, as files that a person can read.

How its files are written, all or none: :mod:`kerfwright.adapters.owned_files`.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from kerfwright.adapters import json_shapes
from kerfwright.adapters.owned_files import MADE, Written, digest, made, write_files
from kerfwright.adapters.svg import render_plan
from kerfwright.adapters.versions import write_versioned
from kerfwright.app.papers.common import Digests
from kerfwright.costing.records import Estimate
from kerfwright.foundation.errors import FileError, InputError, StaleError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.motion.moves import WirePath
from kerfwright.planning.plan import Plan
from kerfwright.proof.records import Claim, Proof

JOB, PLAN, PROGRAM, PROOF, ESTIMATE, PICTURE, TABLES = (
    "job.toml",
    "plan.json",
    "program.nc",
    "proof.json",
    "estimate.json",
    "plan.svg",
    "tables.json",
)
_JOB_FORMAT, _JOB_VERSION = "kerfwright-job", 1
HOLE_JOB_FORMAT = "kerfwright-hole-job"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a job asks for, in the words of the person, as kept in ``job.toml``.

    Attributes
    ----------
    drawing : str
        Path from the job folder, or an absolute one.
    drawing_sha256 : str
    material, height : str
    tolerance, finish, recast, wire, stock_margin, machine, units, offset_form, outside_corners,
    nozzles, upper_gap, lower_gap, bath, stack, holding, covers, strings, clamps, tables, shop : str
        Empty where nothing was said.
    experience : str
        Hash of what the shop had learned, so that the job can be computed as it was.
    tables_sha256 : str
        Digest of the file of the figures used; empty in a job that kept none.
    kerfwright : str
        Version that made the job.
    customer, reference, revision, due : str
        For the papers; empty where nothing was said.
    quantities : tuple of int
    layers : mapping of str to str
        Use of each layer that was named.
    contours : mapping of str to str
        What is asked of single contours, by their ids.
    tapers : mapping of str to str
        Walls that lean, by contour.
    solid, wire_along : str
        Which solid of a STEP file, and the way of the wire through it; empty where nobody said.
    top, top_sha256 : str
        Drawing of the top and its digest; empty where there is none.
    roles, starts, lead_ins, tabs, tab_widths, coreless : mapping of str to str
        What single contours are, where their start holes, lead-ins and tabs stand, and what
        becomes of their inside, where a person said so.
    stacks_found : mapping of str to str
        By quantity, the number in a stack that ``auto`` found.
    """

    drawing: str
    drawing_sha256: str
    material: str
    height: str
    tolerance: str = ""
    finish: str = ""
    recast: str = ""
    wire: str = ""
    stock_margin: str = ""
    machine: str = ""
    units: str = ""
    offset_form: str = ""
    outside_corners: str = ""
    nozzles: str = ""
    upper_gap: str = ""
    lower_gap: str = ""
    bath: str = ""
    stack: str = ""
    holding: str = ""
    covers: str = ""
    strings: str = ""
    clamps: str = ""
    tables: str = ""
    shop: str = ""
    experience: str = ""
    tables_sha256: str = ""
    kerfwright: str = ""
    customer: str = ""
    reference: str = ""
    revision: str = ""
    due: str = ""
    quantities: tuple[int, ...] = (1,)
    layers: Mapping[str, str] = field(default_factory=dict)
    contours: Mapping[str, str] = field(default_factory=dict)
    tapers: Mapping[str, str] = field(default_factory=dict)
    top: str = ""
    top_sha256: str = ""
    solid: str = ""
    wire_along: str = ""
    roles: Mapping[str, str] = field(default_factory=dict)
    starts: Mapping[str, str] = field(default_factory=dict)
    lead_ins: Mapping[str, str] = field(default_factory=dict)
    tabs: Mapping[str, str] = field(default_factory=dict)
    tab_widths: Mapping[str, str] = field(default_factory=dict)
    coreless: Mapping[str, str] = field(default_factory=dict)
    stacks_found: Mapping[str, str] = field(default_factory=dict)


def write_job(
    folder: Path,
    contents: Mapping[str, str],
    *,
    refused: bool = False,
    asked: Mapping[str, str] | None = None,
) -> Written:
    """Write the files of one run, all or none, and keep them as a version of the job.

    Parameters
    ----------
    folder : Path
        Made if absent, for its owner only.
    contents : mapping of str to str
        Text by file name.
    refused : bool
        Whether the run ended in a refusal.  Such a run never holds a program, and never
        replaces results that do: a new plan beside an old program would be a trap.
    asked : mapping of str to str, optional
        Lines of the enquiry that the run answers.

    Raises
    ------
    FileError
        If the folder or a file cannot be written, or a file of the same name is not ours.
    """
    if refused and PROGRAM in contents:
        raise AssertionError("a refused run must not hand over a program")
    unless_there = PROGRAM if refused else None
    return write_versioned(
        folder,
        lambda keep: write_files(folder, contents, unless_there=unless_there, keep=keep),
        asked=asked,
    )


def job_contents(
    wanted: Wanted,
    plan: Plan,
    *,
    path: WirePath | None,
    program: str | None,
    claim: Claim | None,
    proof: Proof | None,
    estimate: Estimate | None,
    version: str,
) -> dict[str, str]:
    """Return the text of every file of a job by its name.

    A program that has no proof, or failed it, is left out.
    """
    proved = program if proof is not None and proof.passed else None
    contents = {
        JOB: job_toml(wanted),
        PLAN: json_shapes.to_text(
            json_shapes.plan_shape(
                plan,
                claim=claim,
                program=PROGRAM if proved is not None else None,
                program_sha256=digest(proved) if proved is not None else None,
            )
        ),
    }
    if proved is not None:
        contents[PROGRAM] = proved
    if proof is not None:
        contents[PROOF] = json_shapes.to_text(json_shapes.proof_shape(proof))
    if estimate is not None:
        contents[ESTIMATE] = json_shapes.to_text(json_shapes.estimate_shape(estimate))
    contents[PICTURE] = render_plan(plan, path=path, proof=proof, version=version)
    return contents


_MAPPINGS = (
    "layers", "contours", "tapers", "roles", "starts", "lead_ins", "tabs", "tab_widths", "coreless",
    "stacks_found",
)  # fmt: skip
"""Entries of ``job.toml`` that are tables."""


def job_toml(wanted: Wanted) -> str:
    """Return ``job.toml``: what is wanted, to read, keep and run again."""
    lines = [
        "# What this job asks for, as kerfwright was told; `kerfwright price` reads it again.",
        f"format = {quoted(_JOB_FORMAT)}",
        f"version = {_JOB_VERSION}",
        "",
    ]
    for one in fields(Wanted):
        value = getattr(wanted, one.name)
        if one.name in _MAPPINGS or value in ("", ()):
            continue
        shown = json.dumps(list(value)) if isinstance(value, tuple) else quoted(value)
        lines.append(f"{one.name} = {shown}")
    for name in _MAPPINGS:
        mapping: Mapping[str, str] = getattr(wanted, name)
        if mapping:
            lines += ["", f"[{name}]"]
            lines += [f"{quoted(key)} = {quoted(text)}" for key, text in mapping.items()]
    return "\n".join(lines) + "\n"


def quoted(text: str) -> str:
    """Return a TOML basic string; JSON escapes are TOML escapes, except DEL (TOML 1.0)."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def read_job_toml(folder: Path) -> Wanted:
    """Return what the job of a folder asks for.

    Raises
    ------
    FileError
        If ``job.toml`` is absent or unreadable.
    InputError
        If it is not a job of this version or holds a value of another kind.
    """
    place = folder / JOB
    document = toml_document(place)
    if document.get("format") == HOLE_JOB_FORMAT:
        raise InputError(
            "this is a job of small holes, not of a wire",
            code="job-of-holes",
            where=str(place),
            remedy="prove, price, why and papers take it; the rest is for wire jobs.",
        )
    refuse_format(document, (_JOB_FORMAT, _JOB_VERSION), what="a job file", place=place)
    return _wanted(document, place)


def toml_document(place: Path) -> dict[str, Any]:
    """Return what a TOML file of a job folder says.

    Raises
    ------
    FileError
        If the file is absent or unreadable.
    InputError
        Code ``job-broken``.
    """
    try:
        return tomllib.loads(read_text(place))
    except tomllib.TOMLDecodeError as fault:
        raise InputError(f"not valid TOML: {fault}", code="job-broken", where=str(place)) from fault


def refuse_format(
    document: dict[str, Any], known: tuple[str, int], *, what: str, place: Path
) -> None:
    """Take format and version out of a document; raise unless they are the known ones.

    Raises
    ------
    InputError
        Code ``job-format``.
    """
    if (document.pop("format", None), document.pop("version", None)) != known:
        raise InputError(
            f"not {what} of version {known[1]}",
            code="job-format",
            where=str(place),
            remedy="Plan it again with this version of kerfwright.",
        )


def _wanted(document: dict[str, Any], place: Path) -> Wanted:
    known = {f.name for f in fields(Wanted)}
    needed = {"drawing", "drawing_sha256", "material", "height"}
    odd = sorted(set(document) - known) + sorted(needed - set(document))
    if odd:
        raise InputError(
            f"unknown or missing entries: {', '.join(odd)}", code="job-broken", where=str(place)
        )
    for name, value in document.items():
        if name == "quantities":
            good = isinstance(value, list) and all(type(q) is int for q in value)
        elif name in _MAPPINGS:
            good = isinstance(value, dict) and all(isinstance(u, str) for u in value.values())
        else:
            good = isinstance(value, str)
        if not good:
            raise InputError(
                f"{name} has a value of the wrong kind: {value!r}",
                code="job-broken",
                where=str(place),
            )
    if "quantities" in document:
        document["quantities"] = tuple(document["quantities"])
    return Wanted(**document)


def drawing_of(folder: Path, wanted: Wanted) -> Path:
    """Return the drawing of a job, unchanged since the job was planned.

    Raises
    ------
    FileError
        If the drawing is gone.
    InputError
        If it is not the drawing that was planned.
    """
    return _unchanged(folder / wanted.drawing, wanted.drawing_sha256, what="drawing")


def top_of(folder: Path, wanted: Wanted) -> Path | None:
    """Return the drawing of the top of a job, unchanged; None where it has none.

    Raises
    ------
    FileError, InputError
        As for :func:`drawing_of`.
    """
    if not wanted.top:
        return None
    return _unchanged(folder / wanted.top, wanted.top_sha256, what="drawing of the top")


def digest_of(file: Path) -> str:
    """Return the digest of a file's bytes.

    Raises
    ------
    FileError
        If it cannot be read.
    """
    return digest(read_bytes(file))


def _unchanged(drawing: Path, sha256: str, *, what: str) -> Path:
    found = digest_of(drawing)
    if found != sha256:
        raise InputError(
            f"the {what} changed since the job was planned"
            f" (sha256 {found[:12]}, planned {sha256[:12]})",
            code="drawing-changed",
            where=str(drawing),
            remedy="Plan the job again from the new drawing.",
        )
    return drawing


def read_plan(folder: Path) -> dict[str, Any]:
    """Return the plan document of a job folder.

    Raises
    ------
    FileError, InputError
    """
    place = folder / PLAN
    try:
        document = json.loads(read_text(place))
    except ValueError as fault:
        raise InputError(
            f"not valid JSON: {fault}", code="json-broken", where=str(place)
        ) from fault
    if not isinstance(document, dict) or document.get("format") != json_shapes.PLAN_FORMAT:
        raise InputError("not a plan of kerfwright", code="json-format", where=str(place))
    return document


def edited_findings(folder: Path) -> tuple[Finding, ...]:
    """Return a refusal for the plan, and for the drawing, that is not the one of the run.

    The digest of the plan is the one of the list of files made; that of the drawing, where it is
    still at its place, the one in ``job.toml``.

    Raises
    ------
    FileError, InputError
        If the plan or ``job.toml`` cannot be read.
    """
    found = []
    recorded = made(folder).get(PLAN, [])
    if digest(read_bytes(folder / PLAN)) not in recorded:
        why = (
            "was changed after kerfwright wrote it"
            if recorded
            else f"is in no list of files made ({MADE}); nothing says that it is unchanged"
        )
        found.append(_edited(f"{PLAN} {why}"))
    if (folder / JOB).exists():
        wanted = read_job_toml(folder)
        drawing = folder / wanted.drawing
        if drawing.is_file() and digest(read_bytes(drawing)) != wanted.drawing_sha256:
            found.append(_edited(f"the drawing {drawing.name} changed since the job was planned"))
    return tuple(found)


def unchanged_digests(folder: Path, contents: Mapping[str, str]) -> Digests:
    """Return the digests of a folder's files, which must be those of a run computed anew.

    Parameters
    ----------
    folder : Path
    contents : mapping of str to str
        What the run of today gives, by file name.

    Raises
    ------
    StaleError
        Code ``job-changed``, naming the files that differ.
    FileError
        If a file cannot be read.
    """
    found = {
        name: digest(read_bytes(folder / name)) if (folder / name).exists() else ""
        for name in (JOB, PLAN, PROGRAM, PROOF, ESTIMATE)
    }
    now = {name: digest(contents[name]) if name in contents else "" for name in found}
    # What was asked is read from job.toml itself: its words may be put otherwise.
    differ = [name for name in found if name != JOB and found[name] != now[name]]
    if differ:
        raise StaleError(
            f"{', '.join(differ)} of the folder {'is' if len(differ) == 1 else 'are'} not what "
            "this job gives now: its wishes, tables, files or kerfwright itself changed",
            code="job-changed",
            where=str(folder),
            remedy="Plan the job again, then make its papers: they go with one program only.",
        )
    return Digests(
        drawing=read_job_toml(folder).drawing_sha256,
        job=found[JOB],
        plan=found[PLAN],
        program=found[PROGRAM],
        proof=found[PROOF],
    )


def _edited(message: str) -> Finding:
    return Finding(
        code="plan-edited",
        severity=Severity.REFUSAL,
        message=f"{message}; a proof against it proves nothing",
        remedy="plan the job again: what a program must do follows from drawing and requirement",
    )


def read_text(place: Path) -> str:
    """Return the text of a file of a job.

    Raises
    ------
    FileError
        Code ``file-unreadable``.
    InputError
        Code ``not-text``.
    """
    try:
        return read_bytes(place).decode("utf-8")
    except UnicodeDecodeError as fault:
        raise InputError("not UTF-8 text", code="not-text", where=str(place)) from fault


def read_bytes(place: Path) -> bytes:
    """Return the bytes of a file of a job.

    Raises
    ------
    FileError
        Code ``file-unreadable``.
    """
    try:
        return place.read_bytes()
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}",
            code="file-unreadable",
            where=str(place),
            remedy="Check the path.",
        ) from fault
