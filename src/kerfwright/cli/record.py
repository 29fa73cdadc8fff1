"""``kerfwright record``: measured cuts into the shop's folder, and what they moved."""

from __future__ import annotations

from pathlib import Path
from typing import TextIO

import click

from kerfwright.adapters import json_shapes
from kerfwright.cli import report
from kerfwright.cli.options import FOLDER, show_options
from kerfwright.cli.output import Page, put_json
from kerfwright.cli.words import Show
from kerfwright.foundation.units import both, both_roughness
from kerfwright.learning.moved import Moved, Sight
from kerfwright.trade.part import LengthUnit
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
@show_options
def command(
    table: TextIO,
    shop: Path,
    job: Path | None,
    tables: Path | None,
    shown: LengthUnit | None,
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
    show_moved(page, done.moved, Show(unit=shown or LengthUnit.MILLIMETRE))
    report.show_findings(page, done.findings)
    return int(bool(done.batch.refused))


def show_moved(page: Page, moved: tuple[Moved, ...], words: Show) -> None:
    """Show before and after of each pass, with 10–90 % ranges."""
    if not moved:
        return
    page.heading("What moved (10–90 %)")
    page.table(
        ("pass", "cuts", "measured", "feed before", "feed after", "finish", "holds"),
        [
            (
                _name(row, words),
                f"{row.cuts}",
                words.feed(row.measured_feed_mm_per_min),
                _feed(row.before, words),
                _feed(row.after, words),
                " → ".join(both_roughness(s.ra_um.likely) for s in (row.before, row.after)),
                " → ".join(f"±{both(s.tolerance_um)}" for s in (row.before, row.after)),
            )
            for row in moved
        ],
    )
    page.line(f"Feeds in {'in' if words.unit is LengthUnit.INCH else 'mm'}/min.", indent=2)


def _name(row: Moved, words: Show) -> str:
    what = f"{row.material}, {row.wire}, {row.machine}"
    return f"{what}, {words.size(row.height_mm)}, pass {row.pass_number}"


def _feed(sight: Sight, words: Show) -> str:
    feed = sight.feed_mm_per_min
    return f"{words.feed(feed.likely)} ({words.feed(feed.low)}–{words.feed(feed.high)})"
