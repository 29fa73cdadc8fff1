"""``kerfwright numbers``: quoted against marked, use of machines, orders won."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.numbers_shape import TABLES, csv_text, numbers_shape
from kerfwright.adapters.whole_files import write_whole
from kerfwright.cli import report
from kerfwright.cli.moments import Moment
from kerfwright.cli.output import Page, progress, put_json
from kerfwright.cli.store_options import FOLDER, usual_jobs
from kerfwright.cli.words import Show
from kerfwright.foundation.errors import FileError
from kerfwright.foundation.units import minutes_text
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring.shop_numbers import shop_numbers


@click.command("numbers")
@click.option("--jobs", type=FOLDER, help="Folder of the jobs; default: as serve keeps them.")
@click.option("--tables", type=FOLDER, help="The shop's own tables, where not among the jobs.")
@click.option("--shop", type=FOLDER, help="The shop's measured cuts, where not among the jobs.")
@click.option("--from", "begin", type=Moment(), help="Use of machines from then; default: always.")
@click.option("--to", "end", type=Moment(), help="Use of machines up to then; default: now.")
@click.option("--csv", "folder", type=click.Path(file_okay=False, path_type=Path),
              help="Write jobs.csv, machines.csv and won.csv into this folder.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(
    jobs: Path | None,
    tables: Path | None,
    shop: Path | None,
    begin: datetime | None,
    end: datetime | None,
    folder: Path | None,
    as_json: bool,  # noqa: FBT001 a flag of the command line
) -> int:
    """Say how quotes compare with what was marked, how machines were used, and what was won.

    What nobody marked is missing, not guessed.  Shares of counts come with the interval in which
    they lie at 95 % (Wilson); each number names its jobs in --json and CSV.
    """
    place = usual_jobs() if jobs is None else jobs
    if not place.is_dir():
        raise FileError(
            "there is no such folder", code="jobs-none", where=str(place),
            remedy="Name the folder of the jobs with --jobs.",
        )  # fmt: skip
    found, remarks = shop_numbers(
        place,
        begin=begin,
        end=end or datetime.now().replace(second=0, microsecond=0),  # noqa: DTZ005 the wall
        tables=tables,
        shop=shop,
        progress=progress(),
    )
    document = numbers_shape(found, remarks)
    for table in TABLES if folder is not None else ():
        assert folder is not None
        write_whole(folder / f"{table}.csv", csv_text(document, table))
    if as_json:
        put_json(document)
        return 0
    page = Page()
    _show_jobs(page, document)
    _show_machines(page, document)
    _show_won(page, document)
    report.show_findings(page, remarks, show=Show(unit=LengthUnit.MILLIMETRE))
    return 0


def _show_jobs(page: Page, document: dict[str, Any]) -> None:
    page.heading("Quoted against marked")
    if not document["jobs"]:
        page.line("No job was ordered yet.", indent=2)
        return
    page.table(
        ("job", "pieces", "with you, quoted", "marked", "alone, quoted", "marked",
         "price", "with those hours", "wire kg", "used", "breaks"),
        [
            (
                one["job"], "" if one["quantity"] is None else str(one["quantity"]),
                _quoted(one["attended_quoted_min"]), _marked(one["attended"]),
                _quoted(one["alone_quoted_min"]), _marked(one["alone"]),
                one["price"] or "", one["price_at_marked"] or "",
                "" if one["wire_quoted_kg"] is None else f"{one['wire_quoted_kg'][1]:.2f}",
                "" if one["wire_used_kg"] is None else f"{one['wire_used_kg']:.2f}",
                str(one["breaks"]),
            )
            for one in document["jobs"]
        ],
        left=(0,),
    )  # fmt: skip
    for one in document["against"]:
        if not one["jobs"]:
            page.line(f"{one['what']}: no job of which every minute was said.", indent=2)
            continue
        page.line(
            f"{one['what']}: {minutes_text(one['marked_min'])} marked for "
            f"{minutes_text(one['quoted_min'])} quoted; within the range that was said, of which 8 "
            f"in 10 should be: {_share(one['inside'])}.",
            indent=2,
        )


def _quoted(minutes: list[float] | None) -> str:
    return "" if minutes is None else f"{minutes[1] / 60:.1f} h"


def _marked(said: dict[str, Any]) -> str:
    if not said["count"]:
        return ""
    part = "" if said["whole"] else f" ({said['count']} of {said['of'] or '?'})"
    return f"{said['minutes'] / 60:.1f} h{part}"


def _show_machines(page: Page, document: dict[str, Any]) -> None:
    page.heading(f"Machines from {document['begin']} to {document['end']}")
    if not document["machines"]:
        page.line("Nothing was marked on a machine.", indent=2)
        return
    page.table(
        ("machine", "with a job on it", "of", "jobs", "wire breaks"),
        [
            (
                one["machine"], f"{one['hours']:.1f} h", f"{one['of_hours']:.1f} h",
                str(len(one["jobs"])), str(one["breaks"]),
            )
            for one in document["machines"]
        ],
        left=(0,),
    )  # fmt: skip


def _show_won(page: Page, document: dict[str, Any]) -> None:
    page.heading("Quotes that became orders")
    if not document["won"]:
        page.line("Nothing was quoted yet.", indent=2)
        return
    page.table(
        ("by", "group", "won", "waiting"),
        [
            (one["way"], one["group"], _share(one["share"]), str(len(one["waiting"])))
            for one in document["won"]
        ],
        left=(0, 1, 2),
    )


def _share(share: dict[str, Any]) -> str:
    if not share["of"]:
        return "none decided"
    low, high = (f"{100 * share[name]:.0f}" for name in ("low", "high"))
    return f"{share['count']} of {share['of']} ({low} to {high} %)"
