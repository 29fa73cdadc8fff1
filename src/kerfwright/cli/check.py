"""``kerfwright check``: the drawing only."""

from __future__ import annotations

from pathlib import Path

import click

from kerfwright.adapters import json_shapes
from kerfwright.cli import report
from kerfwright.cli.options import (
    DRAWING,
    FOLDER,
    contour_options,
    drawing_options,
    layer_uses,
    role_option,
    show_options,
    solid_options,
    together,
)
from kerfwright.cli.output import Page, put_json
from kerfwright.cli.says import show_says
from kerfwright.cli.words import Show
from kerfwright.foundation.findings import Severity
from kerfwright.trade.part import ContourUse, LayerUse, LengthUnit
from kerfwright.wiring import check_drawing, drawing_says


@click.command("check")
@click.argument("drawing", type=DRAWING)
@drawing_options
@role_option
@together(*solid_options)
@click.option("--tables", type=FOLDER, help="Folder with the shop's own tables.")
@show_options
def command(
    drawing: Path,
    units: LengthUnit | None,
    layers: tuple[tuple[str, LayerUse], ...],
    roles: tuple[tuple[str, ContourUse], ...],
    solid: int | None,
    wire_along: str | None,
    tables: Path | None,
    shown: LengthUnit | None,
    as_json: bool,  # noqa: FBT001 a flag of the command line
) -> int:
    """Read DRAWING and say what it holds, what was mended and what is refused.

    What the drawing says about itself (tolerances, finish, material, quantity, notes) is listed
    with the option that would apply it; nothing of it is applied.
    """
    part = check_drawing(
        drawing,
        unit=units,
        layer_uses=layer_uses(layers),
        solid=solid,
        along=wire_along,
        **contour_options({"roles": roles}),
    )
    says = drawing_says(part, tables=tables)
    if as_json:
        put_json(json_shapes.drawing_shape(part, says=says))
    else:
        page, show = Page(), Show(unit=shown or part.drawing_unit)
        report.show_drawing(page, part, show)
        show_says(page, says, show)
        report.show_findings(page, part.findings, show=show)
    return int(any(f.severity is Severity.REFUSAL for f in part.findings))
