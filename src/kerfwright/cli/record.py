"""``kerfwright record``: measured cuts into the shop's folder, and what they moved."""

from __future__ import annotations

from pathlib import Path
from typing import TextIO

import click

from kerfwright.adapters import json_shapes
from kerfwright.cli import report
from kerfwright.cli.options import FOLDER
from kerfwright.cli.output import Page, put_json
from kerfwright.foundation.units import both, both_roughness
from kerfwright.learning.moved import Moved, Sight
from kerfwright.wiring import record_cuts


@click.command("record")
@click.argument("table", type=click.File("r", encoding="utf-8-sig"), metavar="CSV|-")
@click.option("--shop", type=FOLDER, required=True, help="Folder of the shop's cuts; made if new.")
@click.option("--job", type=FOLDER, help="Folder of the job that was cut; fills what rows lack.")
@click.option("--tables", type=FOLDER, help="Folder with the shop's own tables.")
@click.option("--machine", help="Machine of rows that name none.")
@click.option("--material", help="Material of rows that name none.")
@click.option("--wire", help="Wire of rows that name none.")
@click.option("--height", help="Height of rows that give none.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    table: TextIO,
    shop: Path,
    job: Path | None,
    tables: Path | None,
    as_json: bool,  # noqa: FBT001 a flag of the command line
    **usual: str | None,
) -> int:
    """Record a table of measured cuts and show what they moved.

    The first line names the columns: job, machine, material, wire, height, pass, length, time and,
    where measured, finish, size_error, wire_used, breaks, flushing.  Texts carry units; a unit in
    the column's name (length_mm, time_min, ra_um, size_error_um) makes its cells plain numbers.
    """
    done = record_cuts(
        table.read(),
        shop=shop,
        name=Path(table.name).name,
        job=job,
        tables=tables,
        usual={name: value for name, value in usual.items() if value is not None},
    )
    experience = done.after.sha256 if done.after else ""
    if as_json:
        put_json(
            {
                "format": "kerfwright-recorded",
                "version": 1,
                "taken": len(done.batch.cuts),
                "refused": len(done.batch.refused),
                "total": done.total,
                "experience": experience,
                "moved": [json_shapes.plain(row) for row in done.moved],
                "findings": [json_shapes.finding_shape(f) for f in done.findings],
            }
        )
        return int(bool(done.batch.refused))
    page = Page()
    page.heading("Measured cuts")
    page.line(
        f"{len(done.batch.cuts)} taken, {len(done.batch.refused)} refused; the shop has "
        f"{done.total}. Experience {experience[:12] or 'none'}.",
        indent=2,
    )
    show_moved(page, done.moved)
    report.show_findings(page, done.findings)
    return int(bool(done.batch.refused))


def show_moved(page: Page, moved: tuple[Moved, ...]) -> None:
    """Show before and after of each pass, with 10–90 % ranges."""
    if not moved:
        return
    page.heading("What moved (10–90 %)")
    page.table(
        ("pass", "cuts", "measured", "feed before", "feed after", "finish", "holds"),
        [
            (
                _name(row),
                f"{row.cuts}",
                f"{row.measured_feed_mm_per_min:.2f}",
                _feed(row.before),
                _feed(row.after),
                " → ".join(both_roughness(s.ra_um.likely) for s in (row.before, row.after)),
                " → ".join(f"±{both(s.tolerance_um)}" for s in (row.before, row.after)),
            )
            for row in moved
        ],
    )
    page.line("Feeds in mm/min.", indent=2)


def _name(row: Moved) -> str:
    what = f"{row.material}, {row.wire}, {row.machine}"
    return f"{what}, {row.height_mm:g} mm, pass {row.pass_number}"


def _feed(sight: Sight) -> str:
    feed = sight.feed_mm_per_min
    return f"{feed.likely:.2f} ({feed.low:.2f}–{feed.high:.2f})"
