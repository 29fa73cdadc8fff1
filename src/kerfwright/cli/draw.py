"""``kerfwright draw``: drawings of what customers describe in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.dxf.made_writer import made_dxf
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.job_result import write_job
from kerfwright.adapters.json_shapes import finding_shape
from kerfwright.adapters.owned_files import Written
from kerfwright.adapters.whole_files import write_whole
from kerfwright.app import draw
from kerfwright.app.draw import SHARE_FORMS, SIZE_FORMS, Hub, Made, Size
from kerfwright.app.records import JobResult
from kerfwright.cli import job, report
from kerfwright.cli.options import DRAWING, FOLDER, Quantities, drawing_options, layer_uses
from kerfwright.cli.output import Page, put_json
from kerfwright.cli.words import Show
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import MM_PER_INCH, length_mm, number
from kerfwright.profiles import plain
from kerfwright.profiles.gear_data import Gear
from kerfwright.profiles.mating import scale_for
from kerfwright.trade.part import LayerUse, LengthUnit

_Command = TypeVar("_Command", bound=Callable[..., Any])
_FILE = click.Path(dir_okay=False, path_type=Path)
_JOB = ("material", "height", "tolerance", "finish", "quantities", "machine")


def _made_options(command: _Command) -> _Command:
    """Add where the drawing goes, and what is needed to plan it at once."""
    for option in reversed(
        (
            click.option("-o", "--out", type=_FILE, help="Drawing to write (DXF)."),
            click.option("--material", help="With --height: plan it at once, of this material."),
            click.option("--height", help="Height of the work, such as 25mm."),
            click.option("--tolerance", help="Tolerance of the walls that have no fit."),
            click.option("--finish", help="Finish asked, such as Ra0.8um."),
            click.option("--quantity", "quantities", type=Quantities(), help="Such as 1,5,25."),
            click.option("--machine", help="Name of a machine, or a .toml file."),
            click.option("--job", "folder", type=FOLDER, help="Job folder of that plan."),
            click.option("--json", "as_json", is_flag=True, help="Print one JSON document only."),
        )
    ):
        command = option(command)
    return command


def _hub_options(command: _Command) -> _Command:
    for option in reversed(
        (
            click.option("--key-width", help="Width of a keyway in the bore, such as '3 JS9'."),
            click.option(
                "--key-across",
                help="From its bottom to the wall opposite: bore + depth, such as 9.4mm.",
            ),
        )
    ):
        command = option(command)
    return command


@click.group("draw")
def command() -> None:
    """Draw what a customer describes in words, and plan it at once if wanted.

    A size with a fit or with limits is drawn at the middle of its limits.
    """


@command.command("gear")
@click.option("--module", "module", help="Module, such as 1mm.")
@click.option("--pitch", help="Diametral pitch in place of the module: teeth by inch.")
@click.option("--teeth", type=int, required=True)
@click.option("--angle", type=float, default=20.0, show_default=True, help="Pressure angle, °.")
@click.option("--shift", type=float, default=0.0, help="Profile shift, in modules.")
@click.option("--addendum", type=float, default=1.0, show_default=True, help="In modules.")
@click.option("--dedendum", type=float, default=1.25, show_default=True, help="In modules.")
@click.option(
    "--root-radius",
    type=float,
    help="Radius of the rack's tip, inside of the round at the root, in modules; default: 0.38, or "
    "what fits.",
)
@click.option("--thinner", help="By what a tooth is thinner on the reference circle: 0.02mm.")
@click.option("--inside", is_flag=True, help="Teeth point inwards: an opening, or a ring.")
@click.option("--rim", help="Outside diameter of a ring with inside teeth.")
@click.option("--bore", help=f"Bore, such as {SIZE_FORMS}.")
@_hub_options
@click.option("--span", "span_teeth", type=int, help="Teeth to measure over.")
@click.option("--pin", help="Pins to measure over, such as 1.728mm.")
@_made_options
def gear(
    module: str | None,
    pitch: str | None,
    teeth: int,
    angle: float,
    shift: float,
    addendum: float,
    dedendum: float,
    root_radius: float | None,
    thinner: str | None,
    inside: bool,  # noqa: FBT001 a flag of the command line
    rim: str | None,
    span_teeth: int | None,
    pin: str | None,
    out: Path | None,
    **options: Any,
) -> int:
    """Draw an involute spur gear or spline, with span and size over pins.

    A spline by its basic rack: --angle 30 --addendum 0.5 --dedendum 0.75.
    """
    hub = _hub(options)
    made = draw.gear_drawing(
        Gear(
            module_mm=_module_mm(module, pitch),
            teeth=teeth,
            pressure_angle_deg=angle,
            shift=shift,
            addendum=addendum,
            dedendum=dedendum,
            root_radius=root_radius,
            thinning_mm=length_mm(thinner, what="what teeth are thinner") if thinner else 0.0,
            is_internal=inside,
        ),
        hub=hub,
        rim_mm=length_mm(rim, what="the rim") if rim else None,
        span_teeth=span_teeth,
        pin_mm=length_mm(pin, what="the pin") if pin else None,
        in_inches=pitch is not None,
    )
    return _finish([(made, out or Path(f"gear-{teeth}.dxf"))], options)


def _module_mm(module: str | None, pitch: str | None) -> float:
    if (module is None) == (pitch is None):
        raise click.UsageError("a gear needs --module or --pitch, one of them.")
    if module is not None:
        return length_mm(module, what="the module")
    by_inch = number(str(pitch), what="the diametral pitch")
    if by_inch <= 0:
        raise click.UsageError(f"a diametral pitch is above 0, not {by_inch:g}.")
    return MM_PER_INCH / by_inch


def _hub(options: dict[str, Any]) -> Hub | None:
    """Take the bore and its keyway out of the options."""
    given = {name: options.pop(name, None) for name in ("bore", "key_width", "key_across")}
    if given["bore"] is None:
        if given["key_width"] or given["key_across"]:
            raise click.UsageError("a keyway needs --bore.")
        return None
    return Hub(
        bore=_size(given["bore"], "the bore"),
        key_width=_size(given["key_width"], "the keyway") if given["key_width"] else None,
        across=_size(given["key_across"], "the size across") if given["key_across"] else None,
    )


def _size(text: str, what: str) -> Size:
    return draw.size(text, fits=load_fits(), what=what)


@command.command("bore")
@click.argument("size", metavar="DIAMETER")
@_hub_options
@_made_options
def bore(size: str, out: Path | None, **options: Any) -> int:
    """Draw a bore of DIAMETER, such as '8 H7', with a keyway if wanted."""
    hub = _hub({**options, "bore": size})
    for name in ("key_width", "key_across"):
        options.pop(name)
    if hub is None:
        raise click.UsageError("a bore needs a diameter.")
    return _finish([(draw.bore_drawing(hub), out or Path("bore.dxf"))], options)


_opening = click.option("--opening", is_flag=True, help="An opening in a plate, not a piece.")
_corner = click.option("--corner", help="Radius of the corners, such as 0.2mm.")


@command.command("slot")
@click.argument("length")
@click.argument("width")
@click.option("--square", is_flag=True, help="Square ends: a rectangle.")
@_corner
@_opening
@_made_options
def slot(
    length: str,
    width: str,
    square: bool,  # noqa: FBT001 a flag of the command line
    corner: str | None,
    opening: bool,  # noqa: FBT001
    out: Path | None,
    **options: Any,
) -> int:
    """Draw a slot with round ends by its whole LENGTH and WIDTH, or with --square a rectangle."""
    if corner and not square:
        raise click.UsageError("--corner goes with --square; the ends of a slot are round.")
    long, wide = _size(length, "the length"), _size(width, "the width")
    corner_mm = length_mm(corner, what="the corner") if corner else 0.0
    contour = (
        plain.rectangle(long.mm, wide.mm, corner_mm=corner_mm)
        if square
        else plain.slot(long.mm, wide.mm)
    )
    name = "rectangle" if square else "slot"
    made = draw.shape_drawing(
        name, contour, [("length", long), ("width", wide)], is_opening=opening
    )
    return _finish([(made, out or Path(f"{name}.dxf"))], options)


@command.command("polygon")
@click.argument("sides", type=int)
@click.argument("across", metavar="ACROSS")
@_corner
@_opening
@_made_options
def polygon(
    sides: int,
    across: str,
    corner: str | None,
    opening: bool,  # noqa: FBT001 a flag of the command line
    out: Path | None,
    **options: Any,
) -> int:
    """Draw a regular polygon of so many SIDES by the size ACROSS its flats.

    With an odd number of sides ACROSS is the diameter of the inscribed circle.
    """
    flats = _size(across, "the size across flats")
    corner_mm = length_mm(corner, what="the corner") if corner else 0.0
    contour = plain.polygon(sides, flats.mm, corner_mm=corner_mm)
    name = "across flats" if sides % 2 == 0 else "inscribed circle"
    made = draw.shape_drawing(
        f"polygon of {sides} sides", contour, [(name, flats)], is_opening=opening
    )
    return _finish([(made, out or Path(f"polygon-{sides}.dxf"))], options)


@command.command("pair")
@click.argument("drawing", type=DRAWING)
@click.option("--sheet", required=True, help="Thickness of the sheet that is cut, such as 1mm.")
@click.option("--clearance", required=True, help=f"Of one side, by thickness: {SHARE_FORMS}.")
@drawing_options
@_made_options
def pair(
    drawing: Path,
    sheet: str,
    clearance: str,
    units: LengthUnit | None,
    layers: tuple[tuple[str, LayerUse], ...],
    out: Path | None,
    **options: Any,
) -> int:
    """Draw punches and die openings for the sheet part in DRAWING, as two drawings.

    Outlines are blanked: the die has the drawn size.  Openings are pierced: the punch has it.  -o
    names the two: tool.dxf gives tool-punch.dxf and tool-die.dxf.
    """
    part = read_drawing(drawing, unit=units, layer_uses=layer_uses(layers))
    both = draw.punch_and_die(
        part,
        sheet_mm=length_mm(sheet, what="the sheet"),
        clearance_share=draw.share(clearance, what="the clearance"),
    )
    base = out or Path(f"{drawing.stem}.dxf")
    names = [base.with_name(f"{base.stem}-{kind}.dxf") for kind in ("punch", "die")]
    return _finish(list(zip((both.punch, both.die), names, strict=True)), options)


@command.command("scaled")
@click.argument("drawing", type=DRAWING)
@click.option("--shrinkage", help="By what the part shrinks in the cavity: 1.5%.")
@click.option("--factor", help="The scale itself, such as 1.015.")
@drawing_options
@_made_options
def scaled(
    drawing: Path,
    shrinkage: str | None,
    factor: str | None,
    units: LengthUnit | None,
    layers: tuple[tuple[str, LayerUse], ...],
    out: Path | None,
    **options: Any,
) -> int:
    """Draw the contours of DRAWING larger, so that the part has its size when it has shrunk.

    A shrinkage s makes the cavity larger by 1 / (1 - s); --factor gives the scale itself.
    """
    if (shrinkage is None) == (factor is None):
        raise click.UsageError("give --shrinkage or --factor, one of them.")
    part = read_drawing(drawing, unit=units, layer_uses=layer_uses(layers))
    if shrinkage is not None:
        s = draw.share(shrinkage, what="the shrinkage")
        made = draw.scaled(part, factor=scale_for(s), why=f"1 / (1 - {s:g})")
    else:
        made = draw.scaled(part, factor=number(str(factor), what="the scale"), why="as asked")
    return _finish([(made, out or Path(f"{drawing.stem}-scaled.dxf"))], options)


def _finish(made: Sequence[tuple[Made, Path]], options: dict[str, Any]) -> int:
    """Write the drawings, show what they hold, and plan them if a material is given."""
    as_json, folder = options.pop("as_json"), options.pop("folder")
    given = {name: options[name] for name in _JOB if options.get(name) is not None}
    plans = "material" in given or "height" in given
    if not plans and (given or folder):
        raise click.UsageError("a plan needs --material and --height.")
    if folder is not None and len(made) > 1:
        raise click.UsageError("--job names one folder, and two drawings are made: leave it out.")
    for _, path in made:
        if path.exists():
            raise InputError(
                "is there already; it is not written over.",
                code="drawing-exists",
                where=str(path),
                remedy="Name another file with -o.",
            )
    for one, path in made:
        write_whole(path, made_dxf(one))
    if as_json:
        return _as_json(made, given, folder, plans=plans)
    code = 0
    for one, path in made:
        page = Page()
        page.heading(one.title)
        page.table(("size", ""), one.facts, left=(0, 1))
        report.show_findings(page, one.findings, show=Show(unit=LengthUnit.MILLIMETRE))
        page.line(f"Written to {path}", indent=2)
        if not plans:
            page.line(_plan_line(one, path), indent=2)
            continue
        result, written = _planned(one, path, given, folder)
        job.show(result, written, unit=None, explain=False)
        code |= int(result.is_refused)
    return code


def _plan_line(made: Made, path: Path) -> str:
    own = "".join(f" --contour '{name}: tolerance=±{um:g}um'" for name, um in made.walls_um.items())
    return f"Plan it: kerfwright plan {path} --material … --height …{own}"


def _planned(
    made: Made, path: Path, given: dict[str, Any], folder: Path | None
) -> tuple[JobResult, Written]:
    contours = tuple((name, f"tolerance=±{um:g}um") for name, um in made.walls_um.items())
    result = job.compute(job.request_of_drawing(path, job.given_of(given, (), contours)))
    return result, write_job(result, folder or path.with_name(f"{path.stem}-job"))


def _as_json(
    made: Sequence[tuple[Made, Path]], given: dict[str, Any], folder: Path | None, *, plans: bool
) -> int:
    shapes, code = [], 0
    for one, path in made:
        shape: dict[str, Any] = {
            "title": one.title,
            "drawing": str(path),
            "sizes": dict(one.facts),
            "walls_um": dict(one.walls_um),
            "findings": [finding_shape(f) for f in one.findings],
        }
        if plans:
            result, written = _planned(one, path, given, folder)
            shape["result"] = job.document(result, written)
            code |= int(result.is_refused)
        shapes.append(shape)
    put_json({"format": "kerfwright-drawn", "version": 1, "drawings": shapes})
    return code
