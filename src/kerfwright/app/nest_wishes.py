"""What a person writes of a nest, and its reading."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType
from typing import Final

from kerfwright.app.clamp_zones import rectangle
from kerfwright.foundation.errors import InputError
from kerfwright.foundation.units import length_mm
from kerfwright.geometry.contour import Contour
from kerfwright.nesting.records import Kind, Sheet, Turns, Want
from kerfwright.trade.part import LayerUse, LengthUnit, Part, PartContour, Role

_COUNT: Final = re.compile(r"(.+?)(?:=(\d+|any))?")
_SIZE: Final = re.compile(r"(.+?)\s*[x×*]\s*(.+)")
SHEET_FORMS: Final = "300x200mm, 12x8in or remnant.dxf; =3 behind it for three of them"
_UNSAFE: Final = re.compile(r"[^\w.+-]+")


class Engine(StrEnum):
    """What places the parts."""

    AUTO = "auto"
    """The packing engine where it is installed and the sheet is a rectangle, else the grid."""
    GRID = "grid"
    """The grid alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NestRequest:
    """A nest as a person writes it; texts carry their units.

    Attributes
    ----------
    parts : tuple of (Path, int)
        Drawings and quantities.
    sheets : tuple of str
        Sizes or drawings, with ``=`` and how many there are; without, as many as it takes.
    thickness, material : str
    wire, web, spacing, frame : str or None
        ``spacing`` is from part to part and takes the place of kerf and web.
    clamps : tuple of str
        Zones of every sheet that stay free.
    turns : Turns
    part_turns : mapping of str to Turns
        By name of the part, where it differs.
    want : Want
    engine : Engine
    budget_s : float
    seed : int
    steps : int or None
        Of the engine, in place of time.
    fills_openings : bool
    units : LengthUnit or None
        Of drawings that do not say it.
    layer_uses : mapping of str to LayerUse
    tables : Path or None
    machine : str or None
    remnants : Path or None
        Folder of remnants that are offered first.
    """

    parts: tuple[tuple[Path, int], ...]
    sheets: tuple[str, ...]
    thickness: str
    material: str
    wire: str | None = None
    web: str | None = None
    spacing: str | None = None
    frame: str | None = None
    clamps: tuple[str, ...] = ()
    turns: Turns = Turns.QUARTER
    part_turns: Mapping[str, Turns] = field(default_factory=lambda: MappingProxyType({}))
    want: Want = Want.MATERIAL
    engine: Engine = Engine.AUTO
    budget_s: float = 20.0
    seed: int = 0
    steps: int | None = None
    fills_openings: bool = True
    units: LengthUnit | None = None
    layer_uses: Mapping[str, LayerUse] = field(default_factory=lambda: MappingProxyType({}))
    tables: Path | None = None
    machine: str | None = None
    remnants: Path | None = None


def with_count(text: str, *, what: str) -> tuple[str, int | None]:
    """Return a text and the count behind its ``=``; None for any, 1 must be written.

    >>> with_count("300x200mm=3", what="sheet"), with_count("300x200mm", what="sheet")
    (('300x200mm', 3), ('300x200mm', None))
    """
    match = _COUNT.fullmatch(text.strip())
    if match is None:
        raise InputError(f"{what} {text!r} cannot be read", code="nest-count-text")
    name, count = match.groups()
    if count in (None, "any"):
        return name, None
    if int(count) < 1:
        raise InputError(
            f"{what} {text!r}: a count is 1 or more",
            code="nest-count-text",
            remedy="Leave the part out.",
        )
    return name, int(count)


def sheet_size(text: str) -> Contour:
    """Return the outline of a sheet of a size, its lower left corner at the zero point.

    >>> sheet_size("12x8in").bounds_mm
    (0.0, 0.0, 304.8, 203.2)
    """
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        raise InputError(
            f"sheet {text!r} cannot be read",
            code="nest-sheet-text",
            remedy=f"Write it as {SHEET_FORMS}.",
        )
    first, second = match.groups()
    unit = re.sub(r"[\d.,/\s-]", "", second) or None
    width = length_mm(first, what="width of the sheet", bare_unit=unit)
    height = length_mm(second, what="height of the sheet")
    if not (width > 0 and height > 0):
        raise InputError(
            f"sheet {text!r} has no area", code="nest-sheet-text", remedy="Give both sides."
        )
    return rectangle(0.0, 0.0, width, height)


def sheet_of(part: Part, *, name: str, count: int | None, clamps: Sequence[Contour]) -> Sheet:
    """Return a drawing as a sheet: its stock, or its one outermost outline; openings are gone.

    Raises
    ------
    InputError
        Code ``nest-sheet-outline`` if it has no outline, or several.
    """
    outer = [c for c in part.contours if c.role is Role.OUTLINE and c.parent_id is None]
    if part.stock is None and len(outer) != 1:
        raise InputError(
            f"the drawing of a sheet has one outline, {part.name} has {len(outer)}",
            code="nest-sheet-outline",
            where=part.name,
            remedy="Draw the edge of the metal as one closed contour; holes in it as contours "
            "inside.",
        )
    edge = part.stock if part.stock is not None else outer[0].contour
    holes = [c.contour for c in part.contours if part.stock is not None or c is not outer[0]]
    return Sheet(id=name, outline=edge, holes=tuple(holes), count=count, clamps=tuple(clamps))


def kinds_of(part: Part, *, name: str, quantity: int, turns: Turns) -> list[Kind]:
    """Return each outermost outline of a drawing, with what is in it, as a kind of part.

    Raises
    ------
    InputError
        Code ``nest-no-outline`` if the drawing has openings only.
    """
    outer = [c for c in part.contours if c.role is Role.OUTLINE and c.parent_id is None]
    if not outer:
        raise InputError(
            f"{part.name} has no outline of a part: there is nothing to lay in a sheet",
            code="nest-no-outline",
            where=part.name,
            remedy="Name the layer of its outline with --layer NAME=outline, or plan it as a "
            "plate of its own.",
        )
    by_parent: dict[str | None, list[PartContour]] = {}
    for c in part.contours:
        by_parent.setdefault(c.parent_id, []).append(c)
    kinds = []
    for number, top in enumerate(outer, start=1):
        within = _all_within(top.id, by_parent)
        own = name if len(outer) == 1 else f"{name}-{number}"
        kinds.append(
            Kind(
                id=_UNSAFE.sub("-", own),
                outline=top.contour,
                openings=tuple(c.contour for c in within if c.role is Role.OPENING),
                islands=tuple(c.contour for c in within if c.role is Role.OUTLINE),
                quantity=quantity,
                turns=turns,
            )
        )
    return kinds


def _all_within(
    name: str, by_parent: Mapping[str | None, Sequence[PartContour]]
) -> list[PartContour]:
    found = []
    for c in by_parent.get(name, ()):
        found += [c, *_all_within(c.id, by_parent)]
    return found
