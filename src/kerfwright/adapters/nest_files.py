"""The folder of a nest: what was asked and found, a picture, a drawing and what is left."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters import json_shapes
from kerfwright.adapters.dxf.nest_writer import sheet_dxf
from kerfwright.adapters.owned_files import Written, write_files
from kerfwright.adapters.remnant_files import remnant_text
from kerfwright.adapters.svg.nest_sheet import render_nest
from kerfwright.app.nest import NestResult, UsedSheet
from kerfwright.foundation.errors import FileError, InputError
from kerfwright.foundation.version import __version__
from kerfwright.geometry.contour import Contour
from kerfwright.nesting.check import Measured

NEST: Final = "nest.json"
_FORMAT, _VERSION = "kerfwright-nest", 1
Document = dict[str, Any]


def write_nest(result: NestResult, folder: Path) -> Written:
    """Write the folder of a nest, all its files or none.

    A nest that does not hold has no drawing to cut from: only what was found is written.

    Raises
    ------
    FileError
        If the folder cannot be written, or a file of the same name is not ours.
    """
    return write_files(folder, contents_of(result))


def contents_of(result: NestResult) -> dict[str, str]:
    """Return the text of every file by its name."""
    contents = {NEST: json_shapes.to_text(nest_shape(result))}
    for number, used in enumerate(result.sheets, start=1):
        stem = stem_of(result, number)
        contents[f"{stem}.svg"] = render_nest(result, number, version=__version__)
        if result.is_refused:
            continue
        contents[f"{stem}.dxf"] = sheet_dxf(used)
    if not result.is_refused:
        contents |= _remnants(result)
    return contents


def stem_of(result: NestResult, number: int) -> str:
    """Return the name of a sheet's files without the ending; sheets count from 1."""
    return "nest" if len(result.sheets) == 1 else f"nest-{number}"


def _remnants(result: NestResult) -> dict[str, str]:
    found: dict[str, str] = {}
    for number, used in enumerate(result.sheets, start=1):
        for left in used.left:
            name = f"remnant-{len(found) + 1}.toml"
            found[name] = remnant_text(
                left,
                material=result.kerf.material.name,
                thickness_mm=result.kerf.thickness_mm,
                made_from=f"{used.sheet.id}, {stem_of(result, number)} of "
                + ", ".join(k.id for k in result.instance.kinds),
            )
    return found


def nest_shape(result: NestResult) -> Document:
    """Return a nest as a document; lengths in mm, angles in degrees."""
    room, kerf, request = result.instance.room, result.kerf, result.request
    return {
        "format": _FORMAT,
        "version": _VERSION,
        "kerfwright": __version__,
        "refused": result.is_refused,
        "material": kerf.material.name,
        "thickness_mm": kerf.thickness_mm,
        "wire_diameter_mm": kerf.wire.diameter_mm,
        "room": {
            "between_mm": room.between_mm,
            "edge_mm": room.edge_mm,
            "clamp_mm": room.clamp_mm,
            "kerf_side_mm": kerf.side_mm,
        },
        "asked": {
            "want": result.instance.want.value,
            "engine": request.engine.value,
            "budget_s": request.budget_s,
            "seed": request.seed,
            "steps": request.steps,
            "fills_openings": request.fills_openings,
        },
        "method": result.solution.method,
        "stopped": result.solution.stopped,
        "kinds": [
            {
                "id": k.id,
                "quantity": k.quantity,
                "placed": k.quantity - result.solution.unplaced.get(k.id, 0),
                "turns": k.turns.value,
                "area_mm2": k.area_mm2,
            }
            for k in result.instance.kinds
        ],
        "sheets": [_sheet_shape(result, n, used) for n, used in enumerate(result.sheets, start=1)],
        "placements": [
            {
                "sheet": p.sheet + 1,
                "kind": p.kind,
                "copy": p.copy,
                "turn_deg": p.turn_deg,
                "x_mm": p.x_mm,
                "y_mm": p.y_mm,
                **({"inside": f"{p.inside[0]} {p.inside[1]}"} if p.inside else {}),
            }
            for p in result.solution.placements
        ],
        "measured": measured_shape(result.checked.measured),
        "findings": [json_shapes.finding_shape(f) for f in result.findings],
    }


def measured_shape(measured: Measured) -> Document:
    """Return the least distances; None where there was nothing to measure."""
    return {
        name: value if math.isfinite(value) else None
        for name, value in (
            ("between_mm", measured.between_mm),
            ("edge_mm", measured.edge_mm),
            ("clamp_mm", measured.clamp_mm),
        )
    }


def _sheet_shape(result: NestResult, number: int, used: UsedSheet) -> Document:
    return {
        "number": number,
        "id": used.sheet.id,
        "remnant": used.sheet.remnant or None,
        "files": stem_of(result, number),
        "area_mm2": used.sheet.area_mm2,
        "parts": len(used.parts),
        "parts_mm2": used.parts_mm2,
        "used_mm2": used.used_mm2,
        "density": used.density,
        "left_mm2": [one.area_mm2 for one in used.left],
        "outline": rows_of(used.sheet.outline),
    }


def rows_of(contour: Contour) -> list[list[float]]:
    """Return the corners of a contour: x, y, bulge."""
    rows: list[list[float]] = contour.vertices.tolist()
    return rows


def booking_of(folder: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the texts of the remnants that a nest leaves and the names of those it used.

    Raises
    ------
    FileError
        Code ``file-unreadable``.
    InputError
        Code ``nest-broken``, or ``nest-refused`` for a nest that does not hold.
    """
    place = folder / NEST
    try:
        document = json.loads(place.read_text(encoding="utf-8"))
        texts = [p.read_text(encoding="utf-8") for p in sorted(folder.glob("remnant-*.toml"))]
    except OSError as fault:
        raise FileError(
            f"cannot read: {fault.strerror}",
            code="file-unreadable",
            where=str(place),
            remedy="Name a folder that `kerfwright nest` wrote.",
        ) from fault
    except ValueError as fault:
        raise InputError(f"is no JSON: {fault}", code="nest-broken", where=str(place)) from fault
    if not isinstance(document, dict) or document.get("format") != _FORMAT:
        raise InputError("is no nest of kerfwright", code="nest-broken", where=str(place))
    if document.get("refused"):
        raise InputError(
            "the nest does not hold; nothing was cut from it",
            code="nest-refused",
            where=str(place),
            remedy="Nest again.",
        )
    used = [s["remnant"] for s in document["sheets"] if s.get("remnant")]
    return tuple(texts), tuple(used)
