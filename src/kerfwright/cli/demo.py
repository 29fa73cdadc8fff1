"""``kerfwright demo``: the main job on a drawing that comes with kerfwright."""

from __future__ import annotations

from datetime import date
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


_DATE = date(2026, 3, 2)
"""So that the demo gives the same files on any day."""


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
    papers = _papers(out, shown) if result.program is not None else ()
    if as_json:
        shape = job.document(result, written, explain=explain)
        put_json(shape | {"papers": list(papers)})
    else:
        job.show(result, written, unit=shown, explain=explain)
        click.echo(f"\nLook at {out / 'plan.svg'} and read {out / 'program.nc'}.")
        if papers:
            click.echo(f"Papers: {', '.join(papers)}.")
        else:
            click.echo("Papers need Typst: pip install 'kerfwright[papers]'.")
    return int(result.is_refused)


def _papers(folder: Path, unit: LengthUnit | None) -> tuple[str, ...]:
    """Make the papers, where what sets them is installed."""
    from kerfwright.adapters.papers.make import Order
    from kerfwright.adapters.papers.typeset import can_typeset
    from kerfwright.wiring.papers import papers_of_job

    if not can_typeset():
        return ()
    return papers_of_job(folder, Order(made_on=_DATE, unit=unit)).files
