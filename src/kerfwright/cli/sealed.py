"""``kerfwright jobs``: what is sealed with a passphrase, opened, and sealed again."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from kerfwright.cli.store_options import store_of, store_options

_json = click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
_from_stdin = click.option(
    "--passphrase-stdin", is_flag=True, help="Read the passphrase from the first line of the input."
)


def _passphrase(*, from_stdin: bool, is_new: bool) -> str:
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    found: str = click.prompt(
        "Passphrase", hide_input=True, confirmation_prompt="Once more" if is_new else False
    )
    return found


@click.command("seal")
@click.argument("name")
@_from_stdin
@store_options
def seal(
    name: str,
    passphrase_stdin: bool,  # noqa: FBT001 a flag of the command line
    jobs: Path | None,
    index_url: str | None,
) -> int:
    """Encrypt a job where it lies; a job that is open is sealed again without a passphrase.

    A passphrase that is lost is lost: nobody can open the job without it.  What a backup, a copy
    or the disk itself held before is not reached.
    """
    from kerfwright.adapters.sealed_jobs import is_opened

    store = store_of(jobs, index_url)
    place = store.place_of(name)
    passphrase = None
    if not is_opened(place):
        click.echo("A passphrase that is lost is lost: nobody can open the job without it.")
        passphrase = _passphrase(from_stdin=passphrase_stdin, is_new=True)
    store.seal(name, passphrase)
    click.echo(f"{name} is sealed; kerfwright jobs unseal {name} opens it")
    return 0


@click.command("unseal")
@click.argument("name")
@click.option("--for-good", is_flag=True, help="Let it be as any other job from now on.")
@_from_stdin
@store_options
def unseal(
    name: str,
    for_good: bool,  # noqa: FBT001 a flag of the command line
    passphrase_stdin: bool,  # noqa: FBT001
    jobs: Path | None,
    index_url: str | None,
) -> int:
    """Open a sealed job in its folder, until it is sealed again.

    While it is open it lies on the disk in clear, and is in no list and no backup.
    """
    store = store_of(jobs, index_url)
    passphrase = _passphrase(from_stdin=passphrase_stdin, is_new=False)
    store.unseal(name, passphrase, for_good=for_good)
    rest = "for good" if for_good else f"until kerfwright jobs seal {name}"
    click.echo(f"{name} is open {rest}")
    return 0


@click.command("sealed")
@store_options
@_json
def sealed(jobs: Path | None, index_url: str | None, as_json: bool) -> int:  # noqa: FBT001
    """List the jobs that are sealed, and which of them are open."""
    from kerfwright.adapters.sealed_jobs import sealed_jobs

    found = list(sealed_jobs(store_of(jobs, index_url).folder))
    if as_json:
        from kerfwright.cli.output import put_json

        shown = [{"id": one.id, "is_open": one.is_open} for one in found]
        put_json({"format": "kerfwright-sealed", "version": 1, "jobs": shown})
        return 0
    from kerfwright.cli.output import Page

    page = Page()
    page.heading("Sealed")
    page.table(
        ("job", "now"),
        [(one.id, "open" if one.is_open else "sealed") for one in found],
        left=(0, 1),
    )
    if not found:
        page.line("none", indent=2)
    return 0
