"""Between a job's request and result and the files of its folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from kerfwright.adapters import job_folder
from kerfwright.adapters.job_folder import Wanted
from kerfwright.adapters.kept_tables import kept_text, unchanged
from kerfwright.adapters.machines import machine_tables
from kerfwright.adapters.owned_files import Written, digest
from kerfwright.adapters.table_files import every_table
from kerfwright.app.records import JobRequest, JobResult
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.version import __version__
from kerfwright.planning.rules import CornerStyle
from kerfwright.process.flushing import Bath
from kerfwright.process.technology import Flushing
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import ContourUse, LayerUse, LengthUnit
from kerfwright.trade.stack import MOST_SHEETS, Holding
from kerfwright.trade.strings import StringWish

_TEXTS = (
    "tolerance", "finish", "recast", "wire", "stock_margin", "machine", "upper_gap", "lower_gap",
    "stack", "covers", "clamps", "customer", "reference", "revision", "due", "wire_along",
)  # fmt: skip


def write_job(
    result: JobResult, folder: Path | str, *, asked: Mapping[str, str] | None = None
) -> Written:
    """Write the job folder of a result: all its files or none.

    Parameters
    ----------
    result : JobResult
    folder : Path or str
        Made if absent.
    asked : mapping of str to str, optional
        Lines of the enquiry that the result answers, for its version.

    Returns
    -------
    Written
        The files; a result without a program leaves earlier results with one untouched.

    Raises
    ------
    FileError
        If the folder cannot be written, or holds a file of the same name that is not ours.
    """
    folder = Path(folder)
    contents = contents_of(result, folder)
    return job_folder.write_job(folder, contents, refused=result.program is None, asked=asked)


def contents_of(result: JobResult, folder: Path) -> dict[str, str]:
    """Return the text of every file of a result's folder by its name."""
    wanted = wanted_of(result.request, drawing_sha256=result.part.sha256, folder=folder)
    if result.estimate is not None:
        wanted = replace(wanted, experience=result.estimate.experience)
    wanted = replace(wanted, stacks_found=_texts(result.stacks_found))
    kept = kept_tables_of(result.request)
    wanted = replace(wanted, tables_sha256=digest(kept), kerfwright=__version__)
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
    contents[job_folder.TABLES] = kept
    return contents


def kept_tables_of(request: JobRequest) -> str:
    """Return the text that keeps the figures a request is computed with."""
    return kept_text(every_table(request.tables_used), machine_tables(request.machine_used))


def wanted_of(request: JobRequest, *, drawing_sha256: str, folder: Path) -> Wanted:
    """Return the request as ``job.toml`` keeps it, paths as seen from the job folder."""
    texts = {name: getattr(request, name) or "" for name in _TEXTS}
    machine = Path(texts["machine"])
    if texts["machine"] and machine.is_file():
        texts["machine"] = seen_from(folder, machine)
    return Wanted(
        drawing=seen_from(folder, request.drawing),
        drawing_sha256=drawing_sha256,
        material=request.material,
        height=request.height,
        quantities=request.quantities,
        units=request.units.value if request.units else "",
        offset_form=request.offset_form.value if request.offset_form else "",
        outside_corners=_unless(request.outside_corners, CornerStyle.ROLL),
        nozzles=_unless(request.nozzles, Flushing.SEALED),
        bath=_unless(request.bath, Bath.SUBMERGED),
        holding=_unless(request.holding, Holding.CLAMPED),
        strings=_unless(request.strings, StringWish.NEVER),
        tables=seen_from(folder, request.tables) if request.tables else "",
        shop=seen_from(folder, request.shop) if request.shop else "",
        experience=request.experience or "",
        layers={name: LayerUse(use).value for name, use in request.layer_uses.items()},
        contours=dict(request.contours),
        tapers=dict(request.tapers),
        top=seen_from(folder, request.top) if request.top else "",
        top_sha256=job_folder.digest_of(request.top) if request.top else "",
        solid=str(request.solid or ""),
        roles={name: ContourUse(use).value for name, use in request.roles.items()},
        starts=dict(request.starts),
        lead_ins=dict(request.lead_ins),
        tabs=dict(request.tabs),
        tab_widths=dict(request.tab_widths),
        coreless=dict(request.coreless),
        stacks_found=_texts(request.stacks_found),
        **texts,
    )


def read_request(folder: Path) -> JobRequest:
    """Return the request that a job folder keeps; its drawing must be unchanged.

    Raises
    ------
    FileError
        If ``job.toml`` or the drawing cannot be read.
    InputError
        If ``job.toml`` cannot be used or the drawing changed.
    """
    wanted = job_folder.read_job_toml(folder)
    kept = (
        unchanged(folder / job_folder.TABLES, sha256=wanted.tables_sha256)
        if wanted.tables_sha256
        else None
    )
    options: dict[str, Any] = {name: getattr(wanted, name) or None for name in _TEXTS}
    machine = folder / wanted.machine
    if wanted.machine and machine.is_file():
        options["machine"] = str(machine)
    return JobRequest(
        drawing=job_folder.drawing_of(folder, wanted),
        material=wanted.material,
        height=wanted.height,
        quantities=wanted.quantities,
        units=LengthUnit(wanted.units) if wanted.units else None,
        offset_form=OffsetForm(wanted.offset_form) if wanted.offset_form else None,
        outside_corners=CornerStyle(wanted.outside_corners or CornerStyle.ROLL),
        nozzles=Flushing(wanted.nozzles or Flushing.SEALED),
        bath=Bath(wanted.bath or Bath.SUBMERGED),
        holding=Holding(wanted.holding or Holding.CLAMPED),
        strings=StringWish(wanted.strings or StringWish.NEVER),
        tables=folder / wanted.tables if wanted.tables else None,
        shop=folder / wanted.shop if wanted.shop else None,
        # Empty where the shop knew nothing yet: what it learned later must not enter.
        experience=wanted.experience if wanted.shop else None,
        layer_uses={name: LayerUse(use) for name, use in wanted.layers.items()},
        contours=wanted.contours,
        tapers=wanted.tapers,
        top=job_folder.top_of(folder, wanted),
        solid=int(wanted.solid) if wanted.solid.isdigit() else None,
        roles={name: ContourUse(use) for name, use in wanted.roles.items()},
        starts=wanted.starts,
        lead_ins=wanted.lead_ins,
        tabs=wanted.tabs,
        tab_widths=wanted.tab_widths,
        coreless=wanted.coreless,
        stacks_found=_stacks_found(wanted.stacks_found, folder),
        kept_tables=kept,
        kept_machine=kept,
        **options,
    )


def _texts(stacks: Mapping[int, int]) -> dict[str, str]:
    return {str(quantity): str(pieces) for quantity, pieces in stacks.items()}


def _stacks_found(kept: Mapping[str, str], folder: Path) -> dict[int, int]:
    found = {}
    for quantity, pieces in kept.items():
        if not (quantity.isdecimal() and pieces.isdecimal()) or not (
            1 <= int(pieces) <= min(int(quantity), MOST_SHEETS)
        ):
            raise InputError(
                f"stacks_found has {pieces!r} in a stack for {quantity!r}; a stack has 1 to "
                f"{MOST_SHEETS} pieces, and no more than are asked",
                code="job-broken",
                where=str(folder / job_folder.JOB),
                remedy="Plan the job again.",
            )
        found[int(quantity)] = int(pieces)
    return found


def _unless(choice: StrEnum, usual: StrEnum) -> str:
    """Return a choice's value, empty where it is the usual one."""
    return "" if choice is usual else choice.value


def seen_from(folder: Path, target: Path) -> str:
    """Return a path relative to the job folder, or absolute where there is none (other drive)."""
    try:
        return Path(os.path.relpath(target.resolve(), folder.resolve())).as_posix()
    except ValueError:
        return str(target.resolve())
