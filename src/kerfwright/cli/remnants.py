"""``kerfwright remnants``: what is left of sheets."""

from __future__ import annotations

from pathlib import Path

import click

from kerfwright.adapters.nest_work import book_nest
from kerfwright.adapters.remnant_files import read_remnants
from kerfwright.cli.options import FOLDER, show_options
from kerfwright.cli.output import Page, put_json
from kerfwright.cli.words import Show
from kerfwright.trade.part import LengthUnit

_CM2 = 100.0


@click.command("remnants")
@click.argument("folder", type=FOLDER)
@click.option(
    "--book",
    "nest",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder of a nest that was cut: what it left comes in, what it used goes out.",
)
@click.option("--again", is_flag=True, help="Book a nest once more that was cut once more.")
@show_options
def command(
    folder: Path,
    nest: Path | None,
    again: bool,  # noqa: FBT001 a flag of the command line
    shown: LengthUnit | None,
    as_json: bool,  # noqa: FBT001
) -> int:
    """List the remnants in FOLDER, one readable file each; or book what a nest left."""
    new = () if nest is None else book_nest(nest, remnants=folder, again=again)
    found = read_remnants(folder)
    if as_json:
        put_json(
            {
                "format": "kerfwright-remnants",
                "version": 1,
                "new": list(new),
                "remnants": [
                    {
                        "id": r.id,
                        "material": r.material,
                        "thickness_mm": r.thickness_mm,
                        "area_mm2": r.area_mm2,
                        "bounds_mm": list(r.outline.bounds_mm),
                        "made_from": r.made_from,
                    }
                    for r in found
                ],
            }
        )
        return 0
    page, show = Page(), Show(unit=shown or LengthUnit.MILLIMETRE)
    page.heading(f"Remnants in {folder}")
    rows = []
    for r in found:
        x0, y0, x1, y1 = r.outline.bounds_mm
        rows.append(
            (
                r.id + (" (new)" if r.id in new else ""), r.material, show.length(r.thickness_mm),
                show.length(x1 - x0), show.length(y1 - y0), f"{r.area_mm2 / _CM2:.1f}",
                r.made_from,
            )
        )  # fmt: skip
    unit = show.unit.value
    page.table(
        ("remnant", "material", f"thick {unit}", f"X {unit}", f"Y {unit}", "cm²", "from"),
        rows,
        left=(0, 1, 6),
    )
    if not found:
        page.line("none", indent=2)
    return 0
