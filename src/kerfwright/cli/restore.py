"""``kerfwright restore``: a backup put back."""

from __future__ import annotations

from pathlib import Path

import click

from kerfwright.cli.store_options import FOLDER


@click.command("restore")
@click.argument("archive", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("folder", type=FOLDER, required=False)
@click.option("--check", is_flag=True, help="Only hold every file to its digest.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(archive: Path, folder: Path | None, check: bool, as_json: bool) -> int:  # noqa: FBT001
    """Put the backup ARCHIVE into FOLDER, which is empty or not there yet: whole, or not at all.

    Then open it: kerfwright serve --jobs FOLDER.  The index is made anew by itself.
    """
    from kerfwright.adapters.backup.restoring import check_backup, restore_backup
    from kerfwright.cli.output import progress, put_json
    from kerfwright.foundation.counts import counted

    if (folder is None) != check:
        raise click.UsageError("Name the folder to restore into, or give --check.")
    if folder is None:
        note = check_backup(archive, progress=progress())
    else:
        note = restore_backup(archive, folder, progress=progress())
    if as_json:
        put_json(
            {
                "format": "kerfwright-backup-restored",
                "version": 1,
                "folder": None if folder is None else str(folder),
                "made": note.made,
                "kerfwright": note.kerfwright,
                "jobs": note.jobs,
                "removed": note.removed,
                "files": len(note.files),
            }
        )
        return 0
    done = "whole and unchanged" if folder is None else f"restored into {folder}"
    click.echo(
        f"backup of {note.made}: {counted(note.jobs, 'job')}, {note.removed} taken off the list,"
        f" {counted(len(note.files), 'file')}, {done}"
    )
    return 0
