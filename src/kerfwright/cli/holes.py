"""``kerfwright holes``: small holes as a job of their own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.hole_folder import write_hole_job
from kerfwright.adapters.hole_sources import source_name
from kerfwright.app.hole_records import HoleRequest
from kerfwright.cli import hole_report
from kerfwright.cli.options import (
    FOLDER,
    Choice,
    Quantities,
    customer_options,
    explain_option,
    shop_options,
    show_options,
)
from kerfwright.cli.output import progress, put_json
from kerfwright.trade.part import LengthUnit
from kerfwright.wiring import drill_holes


@click.command("holes")
@click.argument(
    "source", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path)
)
@click.option(
    "--from-job",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder of a wire job: drill its start holes.",
)
@click.option("--material", help="Work material, such as D2; a wire job gives its own.")
@click.option("--height", help="Height of a plate with level faces, for holes without a depth.")
@click.option("--tolerance", help="Of the diameter, such as ±0.05mm; rows may give their own.")
@click.option("--position", help="Of the mouth's place, such as ±0.05mm.")
@click.option("--recast", help="Deepest recast layer allowed, such as 25um.")
@click.option("--layer", "layers", multiple=True, help="Layer whose circles are holes. Repeat.")
@click.option("--diameters", help="Sizes of circles that are holes: 0.3mm..3mm.")
@click.option("--centre", help="Where the axes that turn the work cross: 0mm,0mm,40mm.")
@click.option("--clear", help="Height of the tube above the work between holes, such as 20mm.")
@click.option(
    "--quantity", "quantities", type=Quantities(), default="1", help="Quantities to price: 1,5,25."
)
@click.option("--units", type=Choice(LengthUnit), help="Unit of a drawing that does not say.")
@shop_options
@customer_options
@click.option("-o", "--out", type=FOLDER, help="Job folder; default: SOURCE's name with -holes.")
@explain_option
@show_options
def command(
    source: Path | None,
    from_job: Path | None,
    out: Path | None,
    shown: LengthUnit | None,
    explain: bool,  # noqa: FBT001 a flag of the command line
    as_json: bool,  # noqa: FBT001
    **options: Any,
) -> int:
    """Drill the small holes of SOURCE by tube: proved program, price and sheet in a job folder.

    SOURCE is a drawing (.dxf), a table with units in its header (.csv), or a pattern on cylinders
    (.toml). Exit code 1 means that something was refused: rows or holes that are named, or the
    program.
    """
    if (source is None) == (from_job is None):
        raise click.UsageError("give either SOURCE or --from-job.")
    place = source or from_job
    assert place is not None
    given = {name: value for name, value in options.items() if value is not None}
    result = drill_holes(HoleRequest(source=place, **given), progress=progress())
    folder = out if out is not None else Path(f"{source_name(place)}-holes")
    written = write_hole_job(result, folder)
    if as_json:
        put_json(hole_report.document(result, written, explain=explain))
    else:
        hole_report.show(result, written, unit=shown, explain=explain)
    return int(result.is_refused)
