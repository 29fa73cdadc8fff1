"""``kerfwright why``: where a number of a job comes from and how sure it is."""

from __future__ import annotations

from pathlib import Path

import click

from kerfwright.adapters.hole_folder import is_hole_job
from kerfwright.adapters.job_result import read_request
from kerfwright.app.explain import asks_what_if
from kerfwright.cli import job
from kerfwright.cli.reasons import tell
from kerfwright.wiring import answers, what_if_answers

_MORE = (
    "    Priced when asked for, as plan --what-if does: 'what-if', 'saving 1', 'front', 'way 1'."
)


@click.command("why")
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.argument("quantity", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON document only.")
def command(folder: Path, quantity: tuple[str, ...], as_json: bool) -> int:  # noqa: FBT001 a flag
    """Say why a QUANTITY of the job in FOLDER has its value, and how sure it is.

    \b
    kerfwright why wheel-job                 what can be asked
    kerfwright why wheel-job pass 2 feed     one number
    kerfwright why wheel-job H7              all about a contour
    kerfwright why wheel-job price 25        all that have these words
    kerfwright why wheel-job what-if         what each requirement costs
    kerfwright why wheel-job front           each number of passes and wire

    The job is computed anew from its folder, with what the shop knew then.
    """  # noqa: D301 click reads the backspace
    if is_hole_job(folder):
        from kerfwright.cli import hole_report

        return hole_report.why(folder, quantity, as_json=as_json)
    result = job.compute(read_request(folder))
    every = answers(result)
    if asks_what_if(every, " ".join(quantity)):
        every += what_if_answers(result)
    tell(every, folder, quantity, as_json=as_json, more=_MORE)
    return 0
