"""Drawings as a request names them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.step import is_solid_file, read_solid
from kerfwright.adapters.tables import load_tables
from kerfwright.app.drawing_doubts import with_contradictions
from kerfwright.app.records import JobRequest
from kerfwright.foundation.errors import InputError
from kerfwright.trade.part import ContourUse, Face, LayerUse, LengthUnit, Part
from kerfwright.trade.roles import parted, with_roles


def check_drawing(
    drawing: Path,
    *,
    unit: LengthUnit | None = None,
    layer_uses: Mapping[str, LayerUse],
    roles: Mapping[str, ContourUse] | None = None,
    face: Face | None = None,
    solid: int | None = None,
    along: str | None = None,
) -> Part:
    """Read a drawing or a solid only, its contours taken as a person says.

    Parameters
    ----------
    drawing : Path
        A DXF drawing, or a STEP file by its name.
    unit : LengthUnit, optional
    layer_uses : mapping of str to LayerUse
        Of a drawing.
    roles : mapping of str to ContourUse, optional
    face : Face, optional
        Of a drawing that holds two.
    solid : int, optional
        Which solid of a STEP file, from 1.
    along : str, optional
        Way of the wire through it.

    Raises
    ------
    KerfwrightError
        If it cannot be used; ``not-of-a-solid`` where something is said that only the other kind
        of file has.
    """
    uses, pieces = parted(roles or {})
    part = drawing_as_read(
        drawing,
        unit=unit,
        layer_uses=layer_uses,
        pieces_out=pieces,
        face=face,
        solid=solid,
        along=along,
    )
    return with_roles(part, uses)


def drawing_as_read(
    drawing: Path,
    *,
    unit: LengthUnit | None = None,
    layer_uses: Mapping[str, LayerUse],
    pieces_out: Collection[str] = (),
    face: Face | None = None,
    solid: int | None = None,
    along: str | None = None,
    kept_in: Path | None = None,
) -> Part:
    """Read a drawing or a solid, its contours by depth alone: see :func:`with_roles`.

    Parameters
    ----------
    drawing, unit, layer_uses, face, solid, along
        As in :func:`check_drawing`.
    pieces_out : collection of str
        Entities that are left out.
    kept_in : Path, optional
        Folder in which what was read of a solid is kept for the next time.
    """
    if is_solid_file(drawing):
        _require_none(
            drawing, "a solid has none", layers=layer_uses, pieces=pieces_out, top=face is not None
        )
        found = read_solid(drawing, unit=unit, number=solid, along=along, kept_in=kept_in)
        return _with_contradictions(found)
    _require_none(drawing, "only a solid has it", solid=solid, wire_along=along)
    part = read_drawing(drawing, unit=unit, layer_uses=layer_uses, pieces_out=pieces_out, face=face)
    return _with_contradictions(part)


def _with_contradictions(part: Part) -> Part:
    return with_contradictions(part, catalogue=load_tables().catalogue, fits=load_fits())


def _require_none(drawing: Path, why: str, **given: object) -> None:
    named = [f"--{name.replace('_', '-')}" for name, value in given.items() if value]
    if named:
        raise InputError(
            f"{', '.join(named)} cannot be said of {drawing.name}: {why}",
            code="not-of-a-solid",
            where=str(drawing),
        )


def part_of(request: JobRequest) -> Part:
    """Read the drawing of a job: of its bottom, where it holds the top too."""
    return check_drawing(
        request.drawing,
        unit=request.units,
        layer_uses=request.layer_uses,
        roles=request.roles,
        face=Face.BOTTOM if _holds_top(request) else None,
        solid=request.solid,
        along=request.wire_along,
    )


def top_of(request: JobRequest) -> Part | None:
    """Read the drawing of the top, where there is one: by elevation, where it is the same file."""
    if request.top is None:
        return None
    return check_drawing(
        request.top,
        unit=request.units,
        layer_uses=request.layer_uses,
        face=Face.TOP if _holds_top(request) else None,
    )


def _holds_top(request: JobRequest) -> bool:
    return request.top is not None and request.top.resolve() == request.drawing.resolve()
