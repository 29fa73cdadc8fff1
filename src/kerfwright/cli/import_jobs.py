"""``kerfwright import``: jobs of an archive taken into a shop."""

from __future__ import annotations

from pathlib import Path

import click

from kerfwright.cli.store_options import FOLDER, usual_jobs


@click.command("import")
@click.argument("archive", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--jobs", type=FOLDER, help="Folder of the jobs; default: as serve keeps them.")
@click.option("--only", multiple=True, metavar="JOB", help="Only this job. May be repeated.")
@click.option("--check", is_flag=True, help="Only say what would come in.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    archive: Path,
    jobs: Path | None,
    only: tuple[str, ...],
    check: bool,  # noqa: FBT001 a flag of the command line
    as_json: bool,  # noqa: FBT001
) -> int:
    """Take the jobs of ARCHIVE into a shop that has jobs of its own.

    ARCHIVE is what `backup` writes, of this shop or of another: it is the form in which a shop is
    handed over.  Every file is held to its digest first.  Nothing is replaced: a job of whose name
    another is there stays out, and the exit code is 1.
    """
    from kerfwright.adapters.backup.merging import Fate, import_archive
    from kerfwright.cli.output import progress, put_json

    folder = usual_jobs() if jobs is None else jobs
    done = import_archive(archive, folder, only=only, is_look=check, progress=progress())
    stays_out = done.named(Fate.OTHER) + done.named(Fate.REMOVED)
    if as_json:
        put_json(
            {
                "format": "kerfwright-imported",
                "version": 1,
                "folder": str(folder),
                "is_look": check,
                "made": done.note.made,
                "kerfwright": done.note.kerfwright,
                "jobs": {name: fate.value for name, fate in done.fates.items()},
            }
        )
        return int(bool(stays_out))
    words = {
        Fate.NEW: "would come in" if check else "came in",
        Fate.SAME: "there already, the very same",
        Fate.OTHER: "another one of this name is there, and stays",
        Fate.REMOVED: "lies among the removed here; jobs bring-back brings it back",
        Fate.NOT_OURS: "of the shop itself, left out",
    }
    for name, fate in done.fates.items():
        click.echo(f"{name}: {words[fate]}")
    if not done.fates:
        click.echo("the archive holds no job")
    return int(bool(stays_out))
