"""``kerfwright plan``: the main job."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.job_result import write_job
from kerfwright.adapters.what_if_shape import what_if_shape
from kerfwright.cli import job
from kerfwright.cli.options import (
    DRAWING,
    FOLDER,
    Quantities,
    customer_options,
    drawing_options,
    experience_option,
    explain_option,
    job_options,
    role_option,
    shop_options,
    show_options,
    stack_options,
)
from kerfwright.cli.output import Page, put_json
from kerfwright.planning.memory import Memory
from kerfwright.trade.part import LayerUse, LengthUnit
from kerfwright.wiring import what_if


@click.command("plan")
@click.argument("drawing", type=DRAWING)
@click.option(
    "--material", required=True, help="Work material, such as D2; see `tables materials`."
)
@click.option("--height", help="Height of the work, such as 25mm or 1in; a solid has its own.")
@job_options
@stack_options
@click.option(
    "--quantity", "quantities", type=Quantities(), default="1", help="Quantities to price: 1,5,25."
)
@shop_options
@experience_option
@customer_options
@drawing_options
@role_option
@click.option("-o", "--out", type=FOLDER, help="Job folder; default: DRAWING's name with -job.")
@click.option(
    "--what-if",
    "asks_what_if",
    is_flag=True,
    help="Price each demand a step looser and tighter too; takes some seconds.",
)
@explain_option
@show_options
def command(
    drawing: Path,
    layers: tuple[tuple[str, LayerUse], ...],
    contours: tuple[tuple[str, str], ...],
    tapers: tuple[tuple[str, str], ...],
    out: Path | None,
    shown: LengthUnit | None,
    asks_what_if: bool,  # noqa: FBT001 a flag of the command line
    explain: bool,  # noqa: FBT001
    as_json: bool,  # noqa: FBT001
    **options: Any,
) -> int:
    """From DRAWING to a proved program and a price, in a job folder.

    Exit code 1 means that something was refused: the findings say what, where and what would
    help.  No program is written that did not pass its proof.

    10–90 %: one job in ten comes out below, one above.  Likely is every cause at its middle, so
    that lines add up; it lies a little below the median of the total.
    """
    given = job.given_of(options, layers, contours, tapers)
    request = job.request_of_drawing(drawing, given)
    memory = Memory() if asks_what_if else None
    result = job.compute(request, memory=memory)
    written = write_job(result, out if out is not None else Path(f"{drawing.stem}-job"))
    alternatives = what_if(result, memory=memory) if asks_what_if else None
    if as_json:
        document = job.document(result, written, explain=explain)
        if asks_what_if:
            document["what_if"] = what_if_shape(alternatives) if alternatives else None
            document["what_if_not_given"] = "" if alternatives else job.no_what_if(result)
        put_json(document)
    else:
        job.show(result, written, unit=shown, explain=explain, alternatives=alternatives)
        if asks_what_if and alternatives is None:
            Page().line(job.no_what_if(result))
    return int(result.is_refused)
