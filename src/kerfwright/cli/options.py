"""Options that several commands share, and their way into a request."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from kerfwright.app.requirements import ALL_CONTOURS, CONTOUR_FORM, CORELESS_FORM
from kerfwright.app.tapers import TAPER_FORM
from kerfwright.foundation.places import PLACE_FORMS
from kerfwright.planning.rules import CornerStyle
from kerfwright.process.flushing import Bath
from kerfwright.process.technology import Flushing
from kerfwright.trade.coreless import CorelessWish
from kerfwright.trade.machine import OffsetForm
from kerfwright.trade.part import ContourUse, LayerUse, LengthUnit
from kerfwright.trade.stack import Holding
from kerfwright.trade.strings import StringWish

if TYPE_CHECKING:
    _Kind = click.ParamType[Any]
else:
    # Not generic at run time in every release of click that will do.
    _Kind = click.ParamType

_Command = TypeVar("_Command", bound=Callable[..., Any])

DRAWING = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)
FOLDER = click.Path(file_okay=False, path_type=Path)
TABLES = click.Path(path_type=Path)


class Quantities(_Kind):
    """Whole numbers with commas: ``1,5,25``."""

    name = "N,N…"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, ...]:
        """Return the quantities, ascending, each once."""
        if isinstance(value, tuple):
            return value
        try:
            numbers = sorted({int(word) for word in str(value).split(",")})
        except ValueError:
            self.fail(f"{value!r} is not whole numbers with commas, such as 1,5,25.", param, ctx)
        if numbers[0] < 1:
            self.fail(f"a quantity is 1 or more, got {numbers[0]}.", param, ctx)
        return tuple(numbers)


class Layer(_Kind):
    """A layer and its use: ``NAME=opening``."""

    name = "NAME=USE"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, LayerUse]:
        """Return name and use."""
        if isinstance(value, tuple):
            return value[0], value[1]
        layer, sign, use = str(value).rpartition("=")
        uses = [u.value for u in LayerUse]
        if not sign or not layer or use not in uses:
            self.fail(f"{value!r} is not NAME=USE with a use of {', '.join(uses)}.", param, ctx)
        return layer, LayerUse(use)


class Gap(_Kind):
    """The spark gap of a pass: ``1=35um``."""

    name = "PASS=GAP"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[int, str]:
        """Return pass number and text."""
        if isinstance(value, tuple):
            return value[0], value[1]
        number, sign, gap = str(value).partition("=")
        if not (sign and number.isascii() and number.isdigit() and int(number) > 0 and gap):
            self.fail(f"{value!r} is not PASS=GAP, such as 1=35um.", param, ctx)
        return int(number), gap


class ContourText(_Kind):
    """Demands on contours: ``H7: tolerance=±0.0025mm, finish=Ra0.4um``."""

    name = "ID,…: NAME=VALUE,…"

    def __init__(self, form: str = CONTOUR_FORM) -> None:
        self._form = form

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, str]:
        """Return ids and demands."""
        if isinstance(value, tuple):
            return value[0], value[1]
        ids, sign, demands = str(value).partition(":")
        if not sign or not ids.strip() or not demands.strip():
            self.fail(f"{value!r} is not written as {self._form!r}.", param, ctx)
        return ids.strip(), demands.strip()


class RoleText(_Kind):
    """What contours are: ``P2,P3: not-cut``."""

    name = "ID,…: ROLE"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, ContourUse]:
        """Return ids and role."""
        if isinstance(value, tuple):
            return value[0], value[1]
        ids, _, said = str(value).partition(":")
        uses = [u.value for u in ContourUse]
        if not ids.strip() or said.strip() not in uses:
            self.fail(f"{value!r} is not ID: ROLE with a role of {', '.join(uses)}.", param, ctx)
        return ids.strip(), ContourUse(said.strip())


class PlaceText(_Kind):
    """A place of a contour: ``H7: 12.5mm, 3mm``."""

    name = "ID: X, Y"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, str]:
        """Return id and place."""
        if isinstance(value, tuple):
            return value[0], value[1]
        name, _, place = str(value).partition(":")
        if not name.strip() or not place.strip():
            self.fail(f"{value!r} is not written as 'H7: {PLACE_FORMS}'.", param, ctx)
        return name.strip().upper(), place.strip()


class CorelessText(_Kind):
    """What becomes of the inside of openings: ``unattended``, or ``H1,H2: always``."""

    name = "[ID,…:] WISH"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, str]:
        """Return ids, or the word for all, and wish."""
        if isinstance(value, tuple):
            return value[0], value[1]
        ids, sign, said = str(value).rpartition(":")
        wish = said.strip().casefold()
        if wish not in list(CorelessWish) or (sign and not ids.strip()):
            self.fail(
                f"{value!r} is not written as {CORELESS_FORM!r}, with one of "
                f"{', '.join(CorelessWish)}.",
                param,
                ctx,
            )
        return ids.strip() or ALL_CONTOURS, wish


class PassCount(_Kind):
    """How many passes a contour has: ``H1=2``."""

    name = "ID=PASSES"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, int]:
        """Return contour and count."""
        if isinstance(value, tuple):
            return value[0], value[1]
        name, _, count = str(value).rpartition("=")
        if not (name and count.isascii() and count.isdigit() and int(count) > 0):
            self.fail(f"{value!r} is not ID=PASSES, such as H1=2.", param, ctx)
        return name, int(count)


class StartText(_Kind):
    """A start hole: ``10mm,-4mm,2mm``."""

    name = "X,Y,D"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, str, str]:
        """Return three texts."""
        if isinstance(value, tuple):
            return value[0], value[1], value[2]
        words = str(value).split(",")
        if len(words) != 3 or not all(words):
            self.fail(f"{value!r} is not X,Y,diameter with units: 10mm,-4mm,2mm.", param, ctx)
        return words[0], words[1], words[2]


class Day(_Kind):
    """A date of the calendar: ``2026-03-31`` (ISO 8601)."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the date as it is written."""
        try:
            return date.fromisoformat(str(value)).isoformat()
        except ValueError:
            self.fail(f"{value!r} is not a date such as 2026-03-31.", param, ctx)


class Choice(_Kind):
    """A member of an enumeration by its value."""

    def __init__(self, kind: type[StrEnum]) -> None:
        self._kind = kind
        self.name = "|".join(m.value for m in kind)

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> StrEnum:
        """Return the member."""
        try:
            return self._kind(str(value).casefold())
        except ValueError:
            self.fail(f"{value!r} is not one of {self.name.replace('|', ', ')}.", param, ctx)


def together(*options: Callable[[Any], Any]) -> Callable[[_Command], _Command]:
    """Return one decorator that adds several options in the order given."""

    def add(command: _Command) -> _Command:
        for option in reversed(options):
            command = option(command)
        return command

    return add


solid_options = (
    click.option("--solid", type=int, help="Which solid of a STEP file, counted from 1."),
    click.option(
        "--wire-along",
        help="Way of the wire through a solid, in its own axes: z, -x, or '0 0.5 1'; without it "
        "the one for which most of its surface is.",
    ),
)
"""What is said of a solid; its file takes the place of a drawing."""

drawing_options = together(
    click.option(
        "--units", type=Choice(LengthUnit), help="Unit of the drawing, where it does not say."
    ),
    click.option(
        "--layer",
        "layers",
        type=Layer(),
        multiple=True,
        help="What a layer is for: opening, outline, ignore, start or stock. May be repeated.",
    ),
)

role_option = click.option(
    "--role",
    "roles",
    type=RoleText(),
    multiple=True,
    help=f"What contours are, such as 'P2: not-cut': {', '.join(ContourUse)}. May be repeated.",
)

shop_options = together(
    click.option(
        "--machine",
        help="Name of a shipped machine, or of one in the shop's tables; or a .toml file.",
    ),
    click.option(
        "--tables",
        type=TABLES,
        help="Folder with the shop's own tables, or the tables.json of a job.",
    ),
)

experience_option = click.option(
    "--shop", type=FOLDER, help="Folder with the shop's measured cuts; see record."
)

job_options = together(
    click.option(
        "--tolerance",
        help="Tolerance of the wall, such as ±0.005mm or 0.0002in; or a fit, such as '12 H7'.",
    ),
    click.option("--finish", help="Finish asked, such as Ra0.8um, 32uin or N6."),
    click.option("--recast", help="Deepest recast layer allowed, such as 5um."),
    click.option(
        "--contour",
        "contours",
        type=ContourText(),
        multiple=True,
        help=f'What single contours ask instead: "{CONTOUR_FORM}". What is left out is the '
        "job's; a larger value is looser. May be repeated.",
    ),
    click.option(
        "--taper",
        "tapers",
        type=ContourText(TAPER_FORM),
        multiple=True,
        help=f'Walls that lean: "{TAPER_FORM}"; see docs/four-axes.md. May be repeated.',
    ),
    click.option("--top", type=DRAWING, help="Drawing of the top, for --taper 'H1: top=H1'."),
    *solid_options,
    click.option(
        "--start",
        "starts",
        type=PlaceText(),
        multiple=True,
        help="Where the start hole of a contour is, such as 'H7: 12.5mm, 3mm'. May be repeated.",
    ),
    click.option(
        "--lead-in",
        "lead_ins",
        type=PlaceText(),
        multiple=True,
        help="Where its lead-in meets the wall; without --tab the tab stands beside it.",
    ),
    click.option(
        "--tab",
        "tabs",
        type=PlaceText(),
        multiple=True,
        help="Where the middle of its tab stands; without --lead-in that follows.",
    ),
    click.option(
        "--tab-width",
        "tab_widths",
        type=ContourText("H7: 2mm"),
        multiple=True,
        help="How wide its tab is, such as 'H7: 2mm'. May be repeated.",
    ),
    click.option(
        "--coreless",
        "coreless",
        type=CorelessText(),
        multiple=True,
        help="Where the inside of openings is cut away whole, so that no slug is left: small (only "
        "where it could not be caught; default), unattended, always, never; or for single "
        f"contours, such as {CORELESS_FORM.rpartition('or ')[2]!r}. May be repeated.",
    ),
    click.option(
        "--strings",
        type=Choice(StringWish),
        help="Cut outlines that lie side by side as a string, the wire threaded once for all: auto "
        "(where that costs less), always, never (default).",
    ),
    click.option(
        "--clamp",
        "clamps",
        multiple=True,
        callback=lambda _context, _option, given: "; ".join(given) or None,
        help="Place of a clamp, which the nozzles keep away from: X,Y,WIDTH,HEIGHT with units. "
        "May be repeated; those on a layer of the drawing count too.",
    ),
    click.option("--wire", help="Wire to use, such as 0.25mm; without it the plan chooses."),
    click.option("--stock-margin", help="Stock around an outline, where no stock is drawn."),
    click.option(
        "--offset-form",
        type=Choice(OffsetForm),
        help="Who applies the offset: the program or the control. Default: the machine's.",
    ),
    click.option(
        "--corners",
        "outside_corners",
        type=Choice(CornerStyle),
        help="Roll round outside corners (default), or extend past them.",
    ),
    click.option(
        "--nozzles",
        type=Choice(Flushing),
        help="How far the set-up lets the nozzles close on the faces; default: sealed.",
    ),
    click.option(
        "--upper-gap", help="Upper nozzle to the top, or the height of its step, such as 0.5mm."
    ),
    click.option("--lower-gap", help="Lower nozzle to the underside, such as 0.1mm."),
    click.option("--bath", type=Choice(Bath), help="What is around the work; default: submerged."),
)

stack_options = together(
    click.option(
        "--stack",
        help="Sheets that are cut at once, such as 8, or auto; --height is then that of one.",
    ),
    click.option(
        "--holding",
        type=Choice(Holding),
        help="What keeps a stack together; default: clamped.",
    ),
    click.option("--covers", help="Scrap sheets of a stack; default: two around thin sheet."),
)

customer_options = together(
    click.option("--customer", help="Who asks, for the papers."),
    click.option("--reference", help="The customer's number of the enquiry or order."),
    click.option("--revision", help="Revision of the drawing."),
    click.option("--due", type=Day(), help="Day by which the customer wants the parts."),
)

show_options = together(
    click.option(
        "--show",
        "shown",
        type=Choice(LengthUnit),
        help="Unit of the report; default: the drawing's.",
    ),
    click.option("--json", "as_json", is_flag=True, help="Print one JSON document only."),
)

explain_option = click.option(
    "--explain",
    is_flag=True,
    help="Show formula, inputs, source, range and who brings it, of every number; see why.",
)


def tapers_of(tapers: tuple[tuple[str, str], ...]) -> Mapping[str, str]:
    """Return the leaning walls by ids.

    Raises
    ------
    click.UsageError
        If the same ids are given twice.
    """
    found: dict[str, str] = {}
    for ids, text in tapers:
        if ids in found:
            raise click.UsageError(f"the wall of {ids} is given twice.")
        found[ids] = text
    return found


def contour_demands(contours: tuple[tuple[str, str], ...]) -> Mapping[str, str]:
    """Return the demands by contour; what one option gives and another adds is put together."""
    found: dict[str, str] = {}
    for ids, demands in contours:
        found[ids] = f"{found[ids]}, {demands}" if ids in found else demands
    return found


def contour_options(options: dict[str, Any]) -> dict[str, Any]:
    """Take roles and places out of options and return them by contour; those given only.

    Raises
    ------
    click.UsageError
        If one contour is given two of a kind.
    """
    found: dict[str, Any] = {}
    for name in ("roles", "starts", "lead_ins", "tabs", "tab_widths", "coreless"):
        one: dict[str, Any] = {}
        for ids, said in options.pop(name, ()):
            for contour_id in re.split(r"[,;\s]+", ids.upper()):
                if one.setdefault(contour_id, said) != said:
                    what = name if name == "coreless" else name.removesuffix("s").replace("_", "-")
                    raise click.UsageError(f"{contour_id} is given two of --{what}.")
        if one:
            found[name] = one
    return found


def layer_uses(layers: tuple[tuple[str, LayerUse], ...]) -> Mapping[str, LayerUse]:
    """Return the use of each layer.

    Raises
    ------
    click.UsageError
        If a layer is given two uses.
    """
    found: dict[str, LayerUse] = {}
    for name, use in layers:
        if found.setdefault(name, use) is not use:
            raise click.UsageError(f"layer {name!r} is given two uses: {found[name]} and {use}.")
    return found
