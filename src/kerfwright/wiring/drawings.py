"""Drawings as a request names them."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.fit_tables import load_fits
from kerfwright.adapters.tables import load_tables
from kerfwright.app.drawing_doubts import with_contradictions
from kerfwright.app.records import JobRequest
from kerfwright.trade.part import ContourUse, Face, LayerUse, LengthUnit, Part
from kerfwright.trade.roles import parted, with_roles


def check_drawing(
    drawing: Path,
    *,
    unit: LengthUnit | None = None,
    layer_uses: Mapping[str, LayerUse],
    roles: Mapping[str, ContourUse] | None = None,
    face: Face | None = None,
) -> Part:
    """Read a drawing only, its contours taken as a person says."""
    uses, pieces = parted(roles or {})
    part = drawing_as_read(drawing, unit=unit, layer_uses=layer_uses, pieces_out=pieces, face=face)
    return with_roles(part, uses)


def drawing_as_read(
    drawing: Path,
    *,
    unit: LengthUnit | None = None,
    layer_uses: Mapping[str, LayerUse],
    pieces_out: Collection[str] = (),
    face: Face | None = None,
) -> Part:
    """Read a drawing, its contours by depth alone: :func:`with_roles` takes them as they are."""
    part = read_drawing(drawing, unit=unit, layer_uses=layer_uses, pieces_out=pieces_out, face=face)
    return with_contradictions(part, catalogue=load_tables().catalogue, fits=load_fits())


def part_of(request: JobRequest) -> Part:
    """Read the drawing of a job: of its bottom, where it holds the top too."""
    return check_drawing(
        request.drawing,
        unit=request.units,
        layer_uses=request.layer_uses,
        roles=request.roles,
        face=Face.BOTTOM if _holds_top(request) else None,
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
