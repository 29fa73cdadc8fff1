"""``kerfwright versions``: what a job was, plan by plan and quote by quote."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.versions import Version, files_of, finish, read_version, versions_of
from kerfwright.cli.store_options import FOLDER, store_of, store_options
from kerfwright.foundation.errors import InputError, KerfwrightError

_job = click.argument("job", type=click.Path(exists=True, file_okay=False, path_type=Path))
_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
_HASH = 12
"""Digits of a hash that are shown."""


@click.group("versions")
def command() -> None:
    """Show, compare and take back the versions of a job.

    Every plan and quote is kept as it was made, with its papers: versions/0001.zip and on in the
    folder of the job.  JOB is that folder.
    """


@command.command("list")
@_job
@_json
def listing(job: Path, as_json: bool) -> int:  # noqa: FBT001 a flag of the command line
    """List the versions of JOB with their prices."""
    if finish(job):
        click.echo("a run was killed while it wrote; its files are whole now", err=True)
    found = list(versions_of(job))
    kept = [one for one in found if isinstance(one, Version)]
    broken = [one for one in found if isinstance(one, KerfwrightError)]
    if as_json:
        _put(
            "versions",
            versions=[shape(one) for one in kept],
            unreadable=[{"message": one.message, "where": one.where} for one in broken],
        )
    else:
        _table(job, kept, broken)
    return 1 if broken else 0


def _table(job: Path, kept: list[Version], broken: Sequence[KerfwrightError]) -> None:
    from kerfwright.cli.output import Page

    page = Page()
    page.heading(f"Versions of {job.resolve().name}")
    page.table(
        ("version", "made", "with", "price of a piece", "program", "papers", "sha256"),
        [
            (
                str(one.number),
                one.made.replace("T", " ")[:16],
                one.kerfwright,
                ", ".join(f"{quantity}: {each}" for quantity, each in one.prices.items())
                + f" {one.currency}".rstrip(),
                "proved" if one.has_program else "none",
                str(len(one.papers) or ""),
                one.sha256[:_HASH],
            )
            for one in kept
        ],
        left=(1, 2, 3, 4, 6),
        whole=(1,),
    )
    if not kept:
        page.line("none", indent=2)
    for fault in broken:
        page.line(f"{fault.message} ({fault.where}). {fault.remedy}", indent=2)


@command.command("show")
@_job
@click.argument("number", type=click.IntRange(1))
@click.option("-o", "--out", type=FOLDER, help="Write its files into this folder, which is made.")
@_json
def show(job: Path, number: int, out: Path | None, as_json: bool) -> int:  # noqa: FBT001
    """Show version NUMBER of JOB, each file held to its digest; or write it out."""
    version, files = read_version(job, number), files_of(job, number)
    if out is not None:
        from kerfwright.adapters.owned_files import write_files

        if out.exists() and any(out.iterdir()):
            raise InputError(
                "the folder is not empty",
                code="folder-not-empty",
                where=str(out),
                remedy="Name one that is not there yet.",
            )
        write_files(out, files)
    if as_json:
        _put("version", version=shape(version))
        return 0
    from kerfwright.cli.output import Page

    page = Page()
    page.heading(f"Version {number} of {job.resolve().name}, made {version.made}")
    for quantity, each in version.prices.items():
        page.line(f"each of {quantity}: {each} {version.currency}", indent=2)
    page.table(
        ("file", "bytes", "sha256"),
        [(name, str(len(files[name])), version.files[name]) for name in sorted(files)],
        left=(0, 2),
        whole=(0,),
    )
    return 0


@command.command("compare")
@_job
@click.argument("first", type=click.IntRange(1))
@click.argument("second", type=click.IntRange(1))
@_json
def compare(job: Path, first: int, second: int, as_json: bool) -> int:  # noqa: FBT001
    """Say what is other in version SECOND of JOB than in FIRST: wishes, prices, figures, files."""
    from kerfwright.adapters.version_changes import changes

    found = changes(job, first, second)
    if as_json:
        _put(
            "version-changes",
            first=first,
            second=second,
            changes=[
                {"kind": c.kind, "name": c.name, "before": c.before, "after": c.after}
                for c in found
            ],
        )
        return 0
    from kerfwright.cli.output import Page

    page = Page()
    page.heading(f"From version {first} to version {second}")
    page.table(
        ("", "what", "before", "after"),
        [(c.kind, c.name, c.before or "–", c.after or "–") for c in found],
        left=(0, 1, 2, 3),
    )
    if not found:
        page.line("nothing differs", indent=2)
    return 0


@command.command("take-back")
@_job
@click.argument("number", type=click.IntRange(1))
def take_back(job: Path, number: int) -> int:
    """Make version NUMBER the present one of JOB again; the one of now stays among the versions.

    A file that somebody edited since is not replaced.
    """
    from kerfwright.adapters.enquiry_versions import take_back_job

    version = take_back_job(job, number)
    click.echo(f"version {number} is back, as version {version.number}")
    return 0


@command.command("find")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@store_options
@_json
def find(file: Path, jobs: Path | None, index_url: str | None, as_json: bool) -> int:  # noqa: FBT001
    """Say which job and version a FILE belongs to: a program on a stick, a quote in the mail."""
    from kerfwright.adapters.job_folder import digest_of

    store = store_of(jobs, index_url)
    store.index.catch_up()
    found = store.index.holders(digest_of(file))
    if as_json:
        _put(
            "version-holders",
            holders=[{"job": h.job, "version": h.number, "file": h.name} for h in found],
        )
    else:
        for one in found:
            click.echo(f"{one.job}: version {one.number}, {one.name}")
        if not found:
            click.echo("no version of a job holds this file, byte for byte")
    return 0 if found else 1


def shape(version: Version) -> dict[str, Any]:
    """Return a version as JSON."""
    return {
        "number": version.number,
        "made": version.made,
        "kerfwright": version.kerfwright,
        "sha256": version.sha256,
        "asked": None if version.asked is None else dict(version.asked),
        "prices": {str(quantity): each for quantity, each in version.prices.items()},
        "currency": version.currency,
        "taken_from": version.taken_from,
        "files": dict(version.files),
    }


def _put(what: str, **fields: Any) -> None:
    from kerfwright.cli.output import put_json

    put_json({"format": f"kerfwright-{what}", "version": 1, **fields})
