"""``kerfwright nest``: parts in sheets."""

from __future__ import annotations

import math
import os
import shlex
from pathlib import Path
from typing import Any

import click

from kerfwright.adapters.nest_files import nest_shape, stem_of, write_nest
from kerfwright.adapters.nest_work import nest_parts
from kerfwright.adapters.owned_files import Written
from kerfwright.app.nest import NestResult
from kerfwright.app.nest_wishes import Engine, NestRequest, with_count
from kerfwright.cli import report
from kerfwright.cli.interrupt import Interrupt
from kerfwright.cli.options import (
    FOLDER,
    Choice,
    drawing_options,
    layer_uses,
    shop_options,
    show_options,
)
from kerfwright.cli.output import Page, progress, put_json
from kerfwright.cli.words import Show, mass
from kerfwright.foundation.counts import counted
from kerfwright.nesting.records import Turns, Want
from kerfwright.trade.part import LayerUse, LengthUnit
from kerfwright.trade.strings import StringWish

_CM2 = 100.0
_LONGEST_S = 3600
_USUAL_S = 20


@click.command("nest")
@click.argument("parts", nargs=-1, required=True, metavar="DRAWING[=N]...")
@click.option(
    "--sheet",
    "sheets",
    multiple=True,
    help="Size or drawing of a sheet: 300x200mm, 12x8in, plate.dxf; =3 behind it for three. "
    "Without a number, as many as it takes. May be repeated.",
)
@click.option("--thickness", required=True, help="Thickness of the sheet, such as 2mm.")
@click.option("--material", required=True, help="Work material; see `tables materials`.")
@click.option("--wire", help="Wire, such as 0.25mm; default: the usual one.")
@click.option("--web", help="Metal between two kerfs; default: planning.toml.")
@click.option("--spacing", help="From part to part, kerfs and all, in place of --web.")
@click.option("--frame", help="Metal between a kerf and the edge; default: planning.toml.")
@click.option(
    "--clamp",
    "clamps",
    multiple=True,
    help="Zone of every sheet that stays free: X,Y,WIDTH,HEIGHT with units. May be repeated.",
)
@click.option(
    "--turns",
    type=Choice(Turns),
    default=Turns.QUARTER,
    help="How parts may be turned; along keeps the rolling direction. Default: quarter.",
)
@click.option(
    "--part-turns",
    multiple=True,
    metavar="PART=TURNS",
    help="The same for one part, by the name of its drawing. May be repeated.",
)
@click.option("--want", type=Choice(Want), default=Want.MATERIAL, help="Default: least material.")
@click.option("--remnants", type=FOLDER, help="Folder of remnants, which are used first.")
@click.option("--keep-openings", is_flag=True, help="Lay no part in an opening of another.")
@click.option("--engine", type=Choice(Engine), default=Engine.AUTO, help="Default: auto.")
@click.option(
    "--seconds",
    "budget_s",
    type=click.IntRange(1, _LONGEST_S),
    help="Time for the search, 20 unless steps are given; Ctrl-C ends it with what there is.",
)
@click.option(
    "--steps",
    type=click.IntRange(1),
    help="End after so many steps of the engine, some 50 a second: the same nest on any machine.",
)
@click.option(
    "--strings",
    type=Choice(StringWish),
    help="Said on to `plan`: parts cut as a string, the wire threaded once; default: its never.",
)
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True)
@shop_options
@drawing_options
@click.option("-o", "--out", type=FOLDER, default="nest-out", help="Folder to write.")
@show_options
def command(
    parts: tuple[str, ...],
    part_turns: tuple[str, ...],
    layers: tuple[tuple[str, LayerUse], ...],
    keep_openings: bool,  # noqa: FBT001 a flag of the command line
    strings: StringWish | None,
    out: Path,
    shown: LengthUnit | None,
    as_json: bool,  # noqa: FBT001
    **options: Any,
) -> int:
    """Lay parts in sheets, plates or remnants: a drawing of each sheet that `plan` takes.

    Every DRAWING is laid N times.  Distances are measured anew on the true lines and arcs by code
    that placed nothing; a nest that does not hold gives no drawing.  Exit code 1 means that parts
    found no room or the nest does not hold.
    """
    if not options["sheets"] and options["remnants"] is None:
        raise click.UsageError("a nest needs --sheet or --remnants.")
    if options["budget_s"] is None:
        options["budget_s"] = _LONGEST_S if options["steps"] else _USUAL_S
    request = NestRequest(
        parts=tuple(_part(text) for text in parts),
        part_turns=dict(_turns(text) for text in part_turns),
        layer_uses=layer_uses(layers),
        fills_openings=not keep_openings,
        **options,
    )
    with Interrupt() as stop:
        result = nest_parts(request, tell=progress(), stop=stop)
    written = write_nest(result, out)
    if as_json:
        put_json(nest_shape(result) | {"written": {"folder": str(out), "files": written.files}})
    else:
        show = Show(unit=shown or request.units or LengthUnit.MILLIMETRE)
        _show(result, written, show, strings=strings)
    return int(result.is_refused or bool(result.solution.unplaced))


def _part(text: str) -> tuple[Path, int]:
    name, count = (text, None) if Path(text).is_file() else with_count(text, what="part")
    if not Path(name).is_file():
        raise click.UsageError(f"there is no drawing {name!r}.")
    return Path(name), 1 if count is None else count


def _turns(text: str) -> tuple[str, Turns]:
    name, sign, turns = text.rpartition("=")
    if not sign or not name:
        raise click.UsageError(f"{text!r} is not PART=TURNS, such as pawl=along.")
    try:
        return name, Turns(turns)
    except ValueError:
        every = ", ".join(Turns)
        raise click.UsageError(f"{turns!r} is not one of {every}.") from None


def _show(result: NestResult, written: Written, show: Show, *, strings: StringWish | None) -> None:
    page = Page()
    kerf, room = result.kerf, result.instance.room
    page.heading(f"Nest in {kerf.material.name}, {show.size(kerf.thickness_mm)}")
    page.line(
        f"{show.size(room.between_mm)} from part to part, {show.size(room.edge_mm)} to the edge; "
        f"the rough kerf of {show.size(kerf.wire.diameter_mm)} wire reaches "
        f"{show.size(kerf.side_mm)} beyond an outline",
        indent=2,
    )
    page.table(
        ("part", "asked", "laid", "turns"),
        [
            (
                k.id, str(k.quantity),
                str(k.quantity - result.solution.unplaced.get(k.id, 0)), k.turns.value,
            )
            for k in result.instance.kinds
        ],
        left=(0, 3),
    )  # fmt: skip
    if result.sheets:
        _show_sheets(page, result)
        _show_distances(page, result, show)
    report.show_findings(page, result.findings, show=show)
    report.show_cautions(page)
    report.show_written(page, str(written.folder), written.files)
    if result.is_refused:
        page.line("No drawing to cut from: see the findings.", indent=2, style="bold red")
        return
    page.heading("Next")
    for number in range(1, len(result.sheets) + 1):
        drawing = os.path.join(written.folder, f"{stem_of(result, number)}.dxf")  # noqa: PTH118
        words = ["kerfwright", "plan", drawing, "--material", kerf.material.id,
                 "--height", result.request.thickness,
                 *(["--strings", strings.value] if strings else [])]  # fmt: skip
        page.line(shlex.join(words), indent=2)
    if any(used.left or used.sheet.remnant for used in result.sheets):
        page.line("When it is cut: " + shlex.join(
            ["kerfwright", "remnants", str(result.request.remnants or "remnants"), "--book",
             str(written.folder)]), indent=2)  # fmt: skip


def _show_sheets(page: Page, result: NestResult) -> None:
    page.heading("Sheets")
    page.table(
        ("sheet", "of", "parts", "parts cm²", "gone cm²", "density", "kept cm²", "weight"),
        [
            (
                str(n), used.sheet.id, str(len(used.parts)), f"{used.parts_mm2 / _CM2:.1f}",
                f"{used.used_mm2 / _CM2:.1f}", f"{100 * used.density:.1f} %",
                f"{sum(o.area_mm2 for o in used.left) / _CM2:.1f}",
                mass(result.mass_kg(used.sheet.area_mm2)),
            )
            for n, used in enumerate(result.sheets, start=1)
        ],
        left=(1,),
    )  # fmt: skip
    page.line(
        "Density: metal of the parts over metal that is gone, remnants worth keeping left out.",
        indent=2,
    )
    guests = sum(p.inside is not None for p in result.solution.placements)
    if guests:
        page.line(f"{counted(guests, 'part')} in openings of others.", indent=2)
    said = f"Placed by {result.solution.method or 'nobody'}, seed {result.request.seed}"
    page.line(said + (", ended before its time." if result.solution.stopped else "."), indent=2)


def _show_distances(page: Page, result: NestResult, show: Show) -> None:
    room = result.instance.room
    page.heading("Distances, measured by other code")
    measured = result.checked.measured
    page.table(
        (f"between, {show.unit.value}", "needed", "least found"),
        [
            (what, show.length(needed), show.length(found))
            for what, needed, found in (
                ("parts", room.between_mm, measured.between_mm),
                ("part and edge", room.edge_mm, measured.edge_mm),
                ("part and clamp", room.clamp_mm, measured.clamp_mm),
            )
            if math.isfinite(found)
        ],
    )
