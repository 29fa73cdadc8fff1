"""``kerfwright jobs``: what is taken off the list, brought back, or deleted for good."""

from __future__ import annotations

from pathlib import Path

import click

from kerfwright.cli.store_options import store_of, store_options
from kerfwright.foundation.errors import InputError

_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")


@click.command("remove")
@click.argument("names", nargs=-1, required=True)
@store_options
def remove(names: tuple[str, ...], jobs: Path | None, index_url: str | None) -> int:
    """Take jobs off the list; they are kept whole, see removed and bring-back."""
    store = store_of(jobs, index_url)
    for name in names:
        store.remove(name)
        click.echo(f"{name} is off the list; kerfwright jobs bring-back {name} undoes it")
    return 0


@click.command("removed")
@store_options
@_json
def removed(jobs: Path | None, index_url: str | None, as_json: bool) -> int:  # noqa: FBT001
    """List the jobs that were taken off the list."""
    from kerfwright.adapters.removed_jobs import removed_jobs

    found = list(removed_jobs(store_of(jobs, index_url).folder))
    if as_json:
        from kerfwright.cli.output import put_json

        shown = [
            {
                "name": one.name,
                "id": one.id,
                "title": one.title,
                "customer": one.customer,
                "added": one.added,
                "removed": one.removed,
            }
            for one in found
        ]
        put_json({"format": "kerfwright-removed", "version": 1, "jobs": shown})
        return 0
    from kerfwright.cli.output import Page

    page = Page()
    page.heading("Taken off the list")
    page.table(
        ("job", "drawing", "customer", "removed"),
        [(one.name, one.title, one.customer, one.removed.replace("T", " ")[:16]) for one in found],
        left=(0, 1, 2, 3),
    )
    if not found:
        page.line("none", indent=2)
    return 0


@click.command("bring-back")
@click.argument("names", nargs=-1, required=True)
@store_options
def bring_back(names: tuple[str, ...], jobs: Path | None, index_url: str | None) -> int:
    """Put jobs back on the list, whole: drawing, versions, papers, steps that can be undone."""
    store = store_of(jobs, index_url)
    for name in names:
        click.echo(f"{store.bring_back(name)} is on the list again")
    return 0


@click.command("delete")
@click.argument("names", nargs=-1)
@click.option("--all", "every", is_flag=True, help="Every job that was taken off the list.")
@click.option("--for-good", is_flag=True, help="Needed: nothing brings them back after this.")
@store_options
def delete(
    names: tuple[str, ...],
    every: bool,  # noqa: FBT001 a flag of the command line
    for_good: bool,  # noqa: FBT001
    jobs: Path | None,
    index_url: str | None,
) -> int:
    """Delete jobs for good that were taken off the list before.

    Their names are never given to other jobs: measured cuts still name them.
    """
    from kerfwright.adapters.removed_jobs import delete_for_good, removed_jobs

    if bool(names) == every:
        raise click.UsageError("Name the jobs, or give --all.")
    store = store_of(jobs, index_url)
    there = [one.name for one in removed_jobs(store.folder)]
    chosen = there if every else list(names)
    if not for_good:
        raise InputError(
            f"this would delete for good: {', '.join(chosen) or 'nothing'}",
            code="not-on-purpose",
            remedy="Say --for-good if that is meant; a backup made before still has them.",
        )
    for name in chosen:
        delete_for_good(store.folder, name)
        click.echo(f"{name} is deleted")
    return 0
