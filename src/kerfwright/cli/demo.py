"""``kerfwright demo``: the main job on a drawing that comes with kerfwright."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import date
from enum import StrEnum
from importlib import resources
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.job_result import write_job
from kerfwright.cli import job
from kerfwright.cli.options import FOLDER, Choice, explain_option, show_options
from kerfwright.cli.output import put_json
from kerfwright.trade.part import LengthUnit
from kerfwright.trade.stack import Holding

SAMPLE = "escape_wheel.dxf"
WANTED = {
    "material": "C270 brass",
    "height": "6 mm",
    "tolerance": "±0.005 mm",
    "finish": "Ra 0.8 µm",
    "quantities": (1, 5, 25),
}
"""A pair of escape wheels is a usual order: one for the clock, one to keep."""


MOVEMENT = {"movement_plate": 2, "back_cock": 4, "rack_lever": 6, "click": 12, "spacer": 16}
"""Parts of one movement, twice over, and spares of what wears."""
_NEST_S = 8.0
_WANTED: dict[str, dict[str, Any]] = {
    "wheel": WANTED,
    "stack": WANTED | {"height": "2 mm", "quantities": (40,), "tolerance": "±0.01 mm",
                       "finish": None, "stack": "auto", "holding": Holding.BOLTED},
    "nest": {"material": "C270 brass", "height": "2.5 mm"},
}  # fmt: skip

_DATE = date(2026, 3, 2)
"""So that the demo gives the same files on any day."""


class Sample(StrEnum):
    """What the demo shows."""

    WHEEL = "wheel"
    STACK = "stack"
    NEST = "nest"
    WEEK = "week"


@click.command("demo")
@click.argument("sample", type=Choice(Sample), default=Sample.WHEEL)
@click.option("-o", "--out", type=FOLDER, default="demo-out", help="Job folder to write.")
@explain_option
@show_options
def command(
    sample: Sample,
    out: Path,
    shown: LengthUnit | None,
    explain: bool,  # noqa: FBT001 a flag of the command line
    as_json: bool,  # noqa: FBT001
) -> int:
    """Plan a sample job of a workshop that restores tower clocks, and write its folder.

    wheel: a pair of escape wheels of 6 mm brass.  stack: forty of 2 mm, cut as one stack.  nest:
    forty plates, cocks, levers, clicks and spacers of one movement in one sheet.  week: eight jobs
    on three machines, around the hours of one attendant.
    """
    if sample is Sample.WEEK:
        return _week(out, shown, as_json=as_json)
    with ExitStack() as files:
        drawing = _nested(files, out) if sample is Sample.NEST else _sample(files, SAMPLE)
        request = job.request_from(_WANTED[sample] | {"drawing": drawing})
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


def _week(out: Path, shown: LengthUnit | None, *, as_json: bool) -> int:
    """Plan the jobs of a week and show it."""
    from kerfwright.adapters.week_file import keep_week, week_shape
    from kerfwright.cli import week_report
    from kerfwright.cli.demo_week import make_week
    from kerfwright.cli.words import Show

    result = make_week(out)
    kept = keep_week(result, out)
    if as_json:
        put_json(week_shape(result))
    else:
        show = Show(unit=shown or LengthUnit.MILLIMETRE)
        week_report.show(result, show=show, kept=kept, days=2)
        click.echo(
            f"\nTry: kerfwright schedule {out} --from '2026-03-03 07:30' "
            "--down 'M1: 2026-03-03 07:30 to 2026-03-04 12:00, spindle'"
        )
    return int(result.is_refused)


def _sample(files: ExitStack, name: str) -> Path:
    shipped = resources.files("kerfwright") / "data" / "samples" / name
    return files.enter_context(resources.as_file(shipped))


def _nested(files: ExitStack, out: Path) -> Path:
    """Lay the parts of a movement in a sheet; return the drawing of the sheet."""
    from kerfwright.adapters.nest_files import write_nest
    from kerfwright.adapters.nest_work import nest_parts
    from kerfwright.app.nest_wishes import NestRequest
    from kerfwright.cli.output import progress
    from kerfwright.nesting.records import Turns

    nested = nest_parts(
        NestRequest(
            parts=tuple((_sample(files, f"{name}.dxf"), n) for name, n in MOVEMENT.items()),
            sheets=("300x200mm=1",),
            thickness=_WANTED[Sample.NEST]["height"],
            material="C270 brass",
            clamps=("0mm,80mm,15mm,40mm",),
            part_turns={"movement_plate": Turns.ALONG},
            budget_s=_NEST_S,
        ),
        tell=progress(),
    )
    folder = out.with_name(f"{out.name}-nest")
    write_nest(nested, folder)
    return folder / "nest.dxf"


def _papers(folder: Path, unit: LengthUnit | None) -> tuple[str, ...]:
    """Make the papers, where what sets them is installed."""
    from kerfwright.adapters.papers.make import Order
    from kerfwright.adapters.papers.typeset import can_typeset
    from kerfwright.wiring.papers import papers_of_job

    if not can_typeset():
        return ()
    return papers_of_job(folder, Order(made_on=_DATE, unit=unit)).files
