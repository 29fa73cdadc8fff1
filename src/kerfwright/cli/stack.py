"""``kerfwright stack``: what a piece costs by how many sheets are cut at once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.job_result import read_request
from kerfwright.adapters.stack_shape import curve_shape
from kerfwright.adapters.svg.curve import render_curve
from kerfwright.app.stacks import StackCurve, StackPoint, shape_text, sheets_told
from kerfwright.cli import job
from kerfwright.cli.options import (
    Quantities,
    drawing_options,
    experience_option,
    job_options,
    role_option,
    shop_options,
    show_options,
    stack_options,
)
from kerfwright.cli.output import Page, progress, put_json
from kerfwright.cli.words import Show
from kerfwright.foundation.units import minutes_text
from kerfwright.trade.part import LayerUse, LengthUnit
from kerfwright.wiring.stacks import stack_curve

_WHOLE_FROM = 9.95
"""Rate in mm²/min from which a tenth tells nothing."""
_WIDE = 18


@click.command("stack")
@click.argument("source", type=click.Path(exists=True, path_type=Path), metavar="DRAWING|JOB")
@click.option("--material", help="Work material; needed with a drawing.")
@click.option("--height", help="Thickness of one sheet; needed with a drawing.")
@job_options
@stack_options
@click.option("--quantity", "quantities", type=Quantities(), help="Pieces; the first counts.")
@shop_options
@experience_option
@drawing_options
@role_option
@click.option(
    "--svg", type=click.Path(dir_okay=False, path_type=Path), help="Draw the curve into a file."
)
@show_options
def command(
    source: Path,
    layers: tuple[tuple[str, LayerUse], ...],
    contours: tuple[tuple[str, str], ...],
    tapers: tuple[tuple[str, str], ...],
    svg: Path | None,
    shown: LengthUnit | None,
    as_json: bool,  # noqa: FBT001 a flag of the command line
    **options: Any,
) -> int:
    """Price a DRAWING, or a JOB folder, cut singly and in stacks of every sensible number.

    Shown are the price of a piece, what limits a stack, which is cheapest and why, and how each
    sheet of it comes out.  Exit code 1 means that no number can be cut as asked.
    """
    given = job.given_of(options, layers, contours, tapers)
    if source.is_dir():
        request = replace(read_request(source), **given)
    else:
        request = job.request_of_drawing(source, given)
    curve = stack_curve(request, progress=progress())
    if svg is not None:
        svg.write_text(render_curve(curve), encoding="utf-8")
    if as_json:
        put_json(curve_shape(curve))
    else:
        _show(curve, Show(unit=shown or LengthUnit.MILLIMETRE))
    return int(curve.best is None)


def _show(curve: StackCurve, show: Show) -> None:
    page = Page()
    page.heading(f"A piece in {curve.currency}, for {curve.quantity}")
    dearest = max((float(p.offer.each) for p in curve.points), default=1.0)
    page.table(
        (
            "pieces", "scrap", f"high {show.unit.value}", "stacks", "each", "machine time",
            "passes", "rate mm²/min", "±", "",
        ),
        [
            _row(point, show, dearest, is_best=number == curve.best)
            for number, point in enumerate(curve.points)
        ],
        left=(9,),
    )  # fmt: skip
    for sentence in curve.why:
        page.line(sentence, indent=2)
    if curve.best is None:
        page.line("No number can be cut as asked.", indent=2, style="bold red")
    if curve.sheets:
        page.heading("Sheets of that stack after the last pass")
        for name, shape in sheets_told(curve.sheets):
            page.line(f"{name}: {shape_text(shape)}", indent=2)
    page.line(
        "Sheet metal is in no price. A stack is dearer to get wrong: cut one sheet first.", indent=2
    )


def rate_text(mm2_per_min: float) -> str:
    """Return an area rate in whole numbers, below 10 to two digits.

    >>> rate_text(143.7), rate_text(0.414)
    ('144', '0.41')
    """
    return f"{mm2_per_min:.0f}" if mm2_per_min >= _WHOLE_FROM else f"{mm2_per_min:.2g}"


def _row(point: StackPoint, show: Show, dearest: float, *, is_best: bool) -> tuple[str, ...]:
    bar = "█" * max(1, round(_WIDE * float(point.offer.each) / dearest))
    said = point.blocks or bar + (" ◄ cheapest" if is_best else "")
    return (
        str(point.stack.pieces), str(point.stack.covers), show.length(point.stack.height_mm),
        str(point.loads), f"{point.offer.each:.2f}", minutes_text(point.offer.machine_minutes_each),
        str(point.offer.passes), rate_text(point.area_rate_mm2_per_min),
        show.held(point.holds_um), said,
    )  # fmt: skip
