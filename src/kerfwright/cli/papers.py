"""``kerfwright papers``: quote, set-up sheet, inspection sheet and hole sheet of a job folder."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.hole_folder import is_hole_job
from kerfwright.adapters.papers.make import Order
from kerfwright.adapters.papers.typeset import Paper
from kerfwright.app.papers.common import PaperKind
from kerfwright.cli import report
from kerfwright.cli.options import FOLDER, Choice, Day
from kerfwright.cli.output import Page, progress, put_json
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring.papers import paper_of_hole_job, papers_of_job


class Kinds(Choice):
    """Papers with commas: ``quote,set-up``."""

    def __init__(self) -> None:
        super().__init__(PaperKind)
        self.name = ",".join(k.value for k in PaperKind)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the kinds, each once, in the order of the papers."""
        if isinstance(value, tuple):
            return value
        named = {super(Kinds, self).convert(w.strip(), param, ctx) for w in str(value).split(",")}
        return tuple(kind for kind in PaperKind if kind in named)


def hole_paper_only(kinds: tuple[PaperKind, ...] | None) -> tuple[PaperKind, ...]:
    """Return the one paper that a job of small holes has; refuse another that is asked for."""
    others = [kind.value for kind in kinds or () if kind is not PaperKind.HOLES]
    if others:
        raise click.UsageError(
            f"a job of small holes has no {' and no '.join(others)}, only its hole sheet."
        )
    return (PaperKind.HOLES,)


@click.command("papers")
@click.argument("job", type=click.Path(exists=True, file_okay=False, path_type=Path), metavar="JOB")
@click.option("--paper", type=Choice(Paper), default=Paper.A4.value, help="Size of the sheets.")
@click.option(
    "--show",
    "shown",
    type=Choice(LengthUnit),
    help="Unit of the papers; default: the drawing's.",
)
@click.option("--only", "kinds", type=Kinds(), help="Which papers; default: all of them.")
@click.option("--number", default="", help="Number of the quote; default: from the job's digest.")
@click.option("--date", "day", type=Day(), help="Date of the papers; default: today.")
@click.option(
    "--what-if",
    "asks_what_if",
    is_flag=True,
    help="Say on the quote what each demand costs; takes some seconds.",
)
@click.option("-o", "--out", type=FOLDER, help="Folder for the papers; default: the job's own.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    job: Path,
    paper: Paper,
    shown: LengthUnit | None,
    kinds: tuple[PaperKind, ...] | None,
    number: str,
    day: str | None,
    asks_what_if: bool,  # noqa: FBT001 a flag of the command line
    out: Path | None,
    as_json: bool,  # noqa: FBT001
) -> int:
    """Print the papers of a JOB folder made by `plan`: PDF, and the wire path as DXF and SVG.

    The customer reads quote and inspection sheet: they hold no rates, hours, feeds or machines.
    Papers go with one program: where the job no longer gives what its folder holds, none is made.
    """
    order = Order(
        kinds=kinds or tuple(PaperKind),
        paper=paper,
        unit=shown,
        number=number,
        made_on=date.fromisoformat(day) if day else date.today(),  # noqa: DTZ011 the shop's own day
        asks_what_if=asks_what_if,
    )
    if is_hole_job(job):
        order = replace(order, kinds=hole_paper_only(kinds))
        written = paper_of_hole_job(job, order, out=out, progress=progress())
    else:
        written = papers_of_job(job, order, out=out, progress=progress())
    if as_json:
        put_json(
            {
                "format": "kerfwright-papers",
                "version": 1,
                "folder": str(written.folder),
                "files": list(written.files),
                "removed": list(written.removed),
            }
        )
    else:
        report.show_written(Page(), str(written.folder), written.files)
    return 0
