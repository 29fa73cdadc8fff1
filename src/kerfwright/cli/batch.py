"""``kerfwright batch``: many drawings in one go."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import click

from kerfwright.cli import batch_report
from kerfwright.cli.batch_rows import (
    fields_of,
    items_of_folder,
    items_of_table,
    options_of_plan,
)
from kerfwright.cli.interrupt import Interrupt
from kerfwright.cli.options import FOLDER
from kerfwright.cli.output import progress, put_json
from kerfwright.wiring.batch import BatchRequest, batch

_LONGEST_S = 86_400
_STOPPED, _WRONG_CALL = 130, 2
"""Exit codes of what a person stopped and of what cannot be used, as everywhere."""


def _as_plan(command: click.Command) -> click.Command:
    """Add the options of ``plan``; material and height may stand in the table instead."""
    for option in options_of_plan():
        own = click.Option(
            [*option.opts, str(option.name)],
            type=option.type,
            multiple=option.multiple,
            help=option.help,
            default=() if option.multiple else None,
        )
        command.params.append(own)
    return command


@click.command("batch")
@click.argument("source", type=click.Path(exists=True, path_type=Path), metavar="FOLDER|CSV")
@click.option("--deep", is_flag=True, help="Take the drawings of all folders below FOLDER too.")
@click.option(
    "-o", "--out", type=FOLDER, help="Folder for table and journal; default: SOURCE with -batch."
)
@click.option(
    "--jobs",
    type=click.IntRange(1, 1024),
    help="Drawings at a time; default: one for each processor that is free to use.",
)
@click.option(
    "--limit-seconds",
    "limit_s",
    type=click.FloatRange(0.1, _LONGEST_S),
    default=300.0,
    show_default=True,
    help="Time for one drawing; then it is given up.",
)
@click.option("--no-proof", is_flag=True, help="Prices only: no program is written and proved.")
@click.option("--keep-jobs", is_flag=True, help="Keep the job folder of each drawing too.")
@click.option("--parquet", is_flag=True, help="Write the table as Parquet too.")
@click.option("--anew", is_flag=True, help="Plan all of it again, whatever was done before.")
@click.option(
    "--redo-broken",
    is_flag=True,
    help="Plan again what timed out or broke off; else only what changed.",
)
@click.option(
    "--cluster", metavar="ADDRESS", help="Plan on the Dask cluster of this scheduler: tcp://…"
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    source: Path,
    out: Path | None,
    jobs: int | None,
    limit_s: float,
    cluster: str | None,
    deep: bool,  # noqa: FBT001 a flag of the command line
    no_proof: bool,  # noqa: FBT001
    keep_jobs: bool,  # noqa: FBT001
    parquet: bool,  # noqa: FBT001
    anew: bool,  # noqa: FBT001
    redo_broken: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
    **common: Any,
) -> int:
    """Plan and price every drawing of FOLDER, or every row of a CSV table, into one table.

    The columns of a CSV are `drawing`, `remark` and the options of `plan` without their dashes;
    what a row does not say is taken from the command line.  Each drawing is planned apart: one
    that is damaged, hangs or breaks off is a row with the reason.  The same command goes on
    where it was stopped, and plans again only what changed.

    Exit code 1: some rows have no price, or one for a part only.
    """
    if source.is_dir():
        items = items_of_folder(source, common, deep=deep)
    elif deep:
        raise click.UsageError("--deep is for a folder; a table names its drawings.")
    else:
        items = items_of_table(source, common)
    request = BatchRequest(
        items=items,
        common=fields_of(common),
        out=out or Path(f"{source.resolve().stem}-batch"),
        jobs=jobs or _processors(),
        limit_s=limit_s,
        with_proof=not no_proof,
        parquet=parquet,
        keep_jobs=keep_jobs,
        anew=anew,
        redo_broken=redo_broken,
        cluster=cluster,
    )
    with Interrupt() as stop:
        done = batch(request, tell=progress(), stop=stop)
    if as_json:
        put_json(batch_report.shape(done, request.out))
    else:
        batch_report.show(done, request.out)
    if done.fault is not None:
        if as_json:
            # One document only: it names the fault.
            return _WRONG_CALL
        raise done.fault
    if done.is_stopped:
        return _STOPPED
    return int(batch_report.is_refused(done.summary))


_as_plan(command)


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
