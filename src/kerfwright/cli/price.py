"""``kerfwright price``: times and prices of a drawing or of a job folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import click

from kerfwright.adapters import json_shapes
from kerfwright.adapters.hole_folder import is_hole_job
from kerfwright.adapters.job_result import read_request
from kerfwright.adapters.own_machines import machine_place
from kerfwright.app.records import JobRequest
from kerfwright.cli import job, report
from kerfwright.cli.options import (
    Quantities,
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
from kerfwright.cli.reasons import show_answers
from kerfwright.cli.words import Show
from kerfwright.trade.part import LayerUse, LengthUnit
from kerfwright.wiring import answers, since_planned
from kerfwright.wiring.measured import answered_since

_LEAVES_STACKS: Final = frozenset(
    {"quantities", "customer", "reference", "revision", "due", "stack"}
)
"""What may be asked otherwise of a job without its stacks being looked for anew."""


@click.command("price")
@click.argument("source", type=click.Path(exists=True, path_type=Path), metavar="DRAWING|JOB")
@click.option("--material", help="Work material; needed with a drawing.")
@click.option("--height", help="Height of the work; needed with a drawing.")
@job_options
@stack_options
@click.option("--quantity", "quantities", type=Quantities(), help="Quantities to price: 1,5,25.")
@shop_options
@experience_option
@drawing_options
@role_option
@click.option(
    "--today",
    is_flag=True,
    help="Price a JOB with today's figures and what the shop knows now, not as it was.",
)
@explain_option
@show_options
def command(
    source: Path,
    layers: tuple[tuple[str, LayerUse], ...],
    contours: tuple[tuple[str, str], ...],
    tapers: tuple[tuple[str, str], ...],
    shown: LengthUnit | None,
    today: bool,  # noqa: FBT001
    explain: bool,  # noqa: FBT001 a flag of the command line
    as_json: bool,  # noqa: FBT001
    **options: Any,
) -> int:
    """Price a DRAWING, or a JOB folder made by `plan`, at any quantities; writes nothing.

    A JOB is computed as it was: with the figures kept in its folder and what its shop knew then.
    What changed since is among the findings.  Options given with a job folder replace what its
    job.toml says; --tables and --machine then take the place of the kept ones.

    10–90 %: one job in ten comes out below, one above.  Likely is every cause at its middle, so
    that lines add up; it lies a little below the median of the total.
    """
    given = job.given_of(options, layers, contours, tapers)
    if source.is_dir() and is_hole_job(source):
        from kerfwright.cli import hole_report

        return hole_report.price(
            source, given, today=today, explain=explain, unit=shown, as_json=as_json
        )
    if source.is_dir():
        request = _of_job(source, given, today=today)
    else:
        request = job.request_of_drawing(source, given)
    result = job.compute(request)
    if source.is_dir() and not set(given) - {"quantities", "shop"}:
        since = since_planned(source, result)
        result = replace(result, findings=(*answered_since(result), *since))
    if as_json:
        put_json(
            {
                "format": "kerfwright-price",
                "version": 1,
                "refused": result.is_refused,
                **job.not_offered(result),
                "estimate": json_shapes.estimate_shape(result.estimate)
                if result.estimate
                else None,
                "findings": [json_shapes.finding_shape(f) for f in result.findings],
                **({"reasons": job.reasons(result)} if explain else {}),
            }
        )
    else:
        page = Page()
        words = Show(unit=shown or result.part.drawing_unit)
        if result.estimate:
            report.show_estimate(
                page, result.estimate, explain=explain, show=words, **job.not_offered(result)
            )
        if explain:
            page.heading("Why")
            show_answers(page, answers(result))
        report.show_findings(page, result.findings, show=words)
    return int(result.is_refused)


def _of_job(folder: Path, given: dict[str, Any], *, today: bool) -> JobRequest:
    """Return the request of a job folder, its figures kept unless others are asked for."""
    request = replace(read_request(folder), **given)
    if today or set(given) - _LEAVES_STACKS:
        # Numbers in a stack were found by price, and something else may be the cheapest now.
        request = replace(request, stacks_found={})
    if "machine" in given:
        request = replace(request, machine=machine_place(given["machine"], request.tables))
    if today:
        return replace(request, kept_tables=None, kept_machine=None, experience=None)
    return replace(
        request,
        kept_tables=None if "tables" in given else request.kept_tables,
        kept_machine=None if "machine" in given else request.kept_machine,
    )
