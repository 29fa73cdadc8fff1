"""``kerfwright demo``: the main job on a drawing that comes with kerfwright."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import click

from kerfwright.adapters.job_result import write_job
from kerfwright.cli import job
from kerfwright.cli.options import FOLDER, explain_option, show_options
from kerfwright.cli.output import put_json
from kerfwright.trade.part import LengthUnit

SAMPLE = "escape_wheel.dxf"
WANTED = {
    "material": "C270 brass",
    "height": "6 mm",
    "tolerance": "±0.005 mm",
    "finish": "Ra 0.8 µm",
    "quantities": (1, 5, 25),
}
"""A pair of escape wheels is a usual order: one for the clock, one to keep."""


@click.command("demo")
@click.option("-o", "--out", type=FOLDER, default="demo-out", help="Job folder to write.")
@explain_option
@show_options
def command(
    out: Path,
    shown: LengthUnit | None,
    explain: bool,  # noqa: FBT001 a flag of the command line
    as_json: bool,  # noqa: FBT001
) -> int:
    """Plan the escape wheel of a tower clock, 6 mm brass, and write its job folder."""
    with resources.as_file(resources.files("kerfwright") / "data" / "samples" / SAMPLE) as drawing:
        request = job.request_from(WANTED | {"drawing": drawing})
        result = job.compute(request)
        written = write_job(result, out)
    if as_json:
        put_json(job.document(result, written, explain=explain))
    else:
        job.show(result, written, unit=shown, explain=explain)
        click.echo(f"\nLook at {out / 'plan.svg'} and read {out / 'program.nc'}.")
    return int(result.is_refused)
