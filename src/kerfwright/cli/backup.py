"""``kerfwright backup``: all that a shop keeps, in one file."""

from __future__ import annotations

from pathlib import Path

import click

from kerfwright.cli.store_options import FOLDER, usual_jobs
from kerfwright.foundation.errors import FileError


@click.command("backup")
@click.argument("archive", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--jobs", type=FOLDER, help="Folder of the jobs; default: as serve keeps them.")
@click.option("--tables", type=FOLDER, help="The shop's own tables, where not among the jobs.")
@click.option("--shop", type=FOLDER, help="The shop's measured cuts, where not among the jobs.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    archive: Path,
    jobs: Path | None,
    tables: Path | None,
    shop: Path | None,
    as_json: bool,  # noqa: FBT001 a flag of the command line
) -> int:
    """Write all jobs, versions, papers, tables and cuts of the shop into ARCHIVE, and check it.

    The page may stay open and everybody may work on.  Nothing is replaced.  ARCHIVE is not
    encrypted: keep it where the jobs themselves may lie.
    """
    from kerfwright.adapters.backup.making import make_backup
    from kerfwright.adapters.backup.restoring import check_backup
    from kerfwright.adapters.job_folder import digest_of
    from kerfwright.cli.output import progress, put_json
    from kerfwright.foundation.counts import counted

    folder = usual_jobs() if jobs is None else jobs
    for place in (folder, *(one for one in (tables, shop) if one is not None)):
        if not place.is_dir():
            raise FileError(
                "there is no such folder",
                code="jobs-none",
                where=str(place),
                remedy="Name the folder of the jobs with --jobs.",
            )
    make_backup(folder, archive, tables=tables, shop=shop, progress=progress())
    note = check_backup(archive, progress=progress())
    sha256, size = digest_of(archive), archive.stat().st_size
    if as_json:
        put_json(
            {
                "format": "kerfwright-backup-made",
                "version": 1,
                "archive": str(archive),
                "bytes": size,
                "sha256": sha256,
                "jobs": note.jobs,
                "removed": note.removed,
                "files": len(note.files),
                "left_out": list(note.left_out),
            }
        )
        return 0
    click.echo(
        f"{archive}: {counted(note.jobs, 'job')}, {note.removed} taken off the list,"
        f" {counted(len(note.files), 'file')}, {size / 1e6:.1f} MB, every one checked\n"
        f"sha256 {sha256}"
    )
    for name in note.left_out:
        click.echo(f"left out, no file of its own: {name}")
    return 0
