"""Holes from a drawing (DXF), and the start holes of a wire job."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Final

import numpy as np

from kerfwright.adapters import job_folder
from kerfwright.adapters.dxf import read_drawing
from kerfwright.adapters.hole_csv import Usual
from kerfwright.adapters.owned_files import digest
from kerfwright.foundation.errors import DrawingError, InputError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.foundation.tolerances import DEFAULT_TOLERANCES
from kerfwright.geometry.contour import Contour
from kerfwright.trade.hole_work import Hole, HoleList
from kerfwright.trade.part import LayerUse, LengthUnit, Part

_DRILLED: Final = "drilled"
_DECIMALS: Final = 9
_NO_CIRCLE: Final = "no-start-hole"
"""What the reader says of other things on a layer of circles."""


def read_hole_drawing(
    path: Path,
    usual: Usual,
    *,
    unit: LengthUnit | None,
    layers: Collection[str],
    diameters_mm: tuple[float, float] | None,
) -> HoleList:
    """Return the circles of a drawing as through holes from the level upper face, Z0.

    Parameters
    ----------
    path : Path
    usual : Usual
        With the height of the plate.
    unit : LengthUnit or None
    layers : collection of str
        Layers whose circles are holes; all where none is named.
    diameters_mm : (least, most) or None
        Circles outside are no holes.

    Raises
    ------
    InputError
        Code ``height-missing``, ``layer-without-circles`` or ``no-holes``.
    KerfwrightError
        If the drawing cannot be read.
    """
    if usual.thickness_mm is None:
        raise InputError(
            "a drawing says nothing of the depth of its holes",
            code="height-missing",
            remedy="Give the height of the plate with --height, such as 12mm.",
        )
    part = _part(path, unit, layers)
    low, high = diameters_mm or (0.0, math.inf)
    circles = _circles(part, next(iter(layers), ""))
    chosen = [c for c in circles if not layers or c[3] in layers]
    empty = sorted(set(layers) - {c[3] for c in circles})
    if empty:
        raise InputError(
            f"layer {empty[0]!r} has no circle", code="layer-without-circles", where=str(path)
        )
    holes = [c for c in chosen if low <= c[2] <= high]
    if not holes:
        raise InputError(
            f"none of its {len(circles)} circles is a hole as asked",
            code="no-holes",
            where=str(path),
            remedy="Name the layer with --layer, or the sizes with --diameters.",
        )
    listed = tuple(
        Hole(
            id=f"D{number}",
            mouth_mm=(x, y, 0.0),
            diameter_mm=d,
            depth_mm=usual.thickness_mm,
            tolerance_um=usual.tolerance_um,
            position_um=usual.position_um,
            max_recast_um=usual.max_recast_um,
            group=layer,
        )
        for number, (x, y, d, layer) in enumerate(holes, start=1)
    )
    others = len(circles) - len(holes)
    return HoleList(
        name=part.name,
        sha256=part.sha256,
        unit=part.drawing_unit,
        holes=listed,
        findings=(*_plain(part), *([_passed_over(others)] if others else [])),
    )


def _part(path: Path, unit: LengthUnit | None, layers: Collection[str]) -> Part:
    """Read a drawing; a layer of circles only is read as such, without the search for contours."""
    if len(layers) == 1:
        with contextlib.suppress(DrawingError):
            part = read_drawing(path, unit=unit, layer_uses=dict.fromkeys(layers, LayerUse.START))
            odd = any(f.code == _NO_CIRCLE for f in part.findings)
            if part.given_starts and all(s.diameter_mm for s in part.given_starts) and not odd:
                return part
    return read_drawing(path, unit=unit, layer_uses=dict.fromkeys(layers, LayerUse.OPENING))


def _plain(part: Part) -> tuple[Finding, ...]:
    """Return what the reader mended or refused; what it says of contours is not about holes."""
    return tuple(f for f in part.findings if f.severity is not Severity.NOTE)


def _passed_over(count: int) -> Finding:
    return Finding(
        code="circles-passed-over",
        severity=Severity.NOTE,
        message=f"{count} more circles of the drawing are not drilled: another layer or size.",
        data={"circles": count},
    )


def _circles(part: Part, layer: str) -> list[tuple[float, float, float, str]]:
    found = [
        (*circle, target.layer)
        for target in part.contours
        if (circle := circle_of(target.contour)) is not None
    ]
    starts = [s for s in part.given_starts if s.diameter_mm]
    found += [(s.x_mm, s.y_mm, round(s.diameter_mm, _DECIMALS), layer) for s in starts]
    return found


def circle_of(contour: Contour) -> tuple[float, float, float] | None:
    """Return centre and diameter of a contour that is a circle."""
    segments = contour.segments
    if not segments.is_arc.all():
        return None
    centre, radius = segments.centre[0], float(segments.radius[0])
    off = np.hypot(*(segments.centre - centre).T)
    slack = DEFAULT_TOLERANCES.fit_mm
    if off.max() > slack or np.abs(segments.radius - radius).max() > slack:
        return None
    # The rounding of arcs from two half turns would make one size many.
    return float(centre[0]), float(centre[1]), round(2 * radius, _DECIMALS)


def holes_of_job(folder: Path, usual: Usual) -> tuple[HoleList, Mapping[str, str]]:
    """Return the start holes that a wire job wants drilled, and what its plan says of the work.

    Returns
    -------
    (HoleList, mapping)
        With the texts ``material`` and ``height``.

    Raises
    ------
    InputError
        Code ``plan-edited`` if the plan is not as kerfwright wrote it, ``no-holes`` if it drills
        none.
    """
    document = job_folder.read_plan(folder)
    edited = job_folder.edited_findings(folder)
    if edited:
        raise InputError(
            edited[0].message, code=edited[0].code, where=str(folder), remedy=edited[0].remedy
        )
    height_mm = float(document["height_mm"])
    starts = [s for s in document["start_holes"] if s["kind"] == _DRILLED]
    if not starts:
        raise InputError(
            "the plan of this job drills no start hole",
            code="no-holes",
            where=str(folder),
            remedy="Its cuts begin at edges or in holes that are there.",
        )
    listed = HoleList(
        name=folder.name,
        sha256=digest((folder / job_folder.PLAN).read_bytes()),
        unit=LengthUnit(document["drawing"]["unit"]),
        holes=tuple(
            Hole(
                id=str(s["id"]),
                mouth_mm=(float(s["x_mm"]), float(s["y_mm"]), 0.0),
                diameter_mm=float(s["diameter_mm"]),
                depth_mm=height_mm,
                tolerance_um=usual.tolerance_um,
                position_um=usual.position_um,
                max_recast_um=usual.max_recast_um,
                group=str(s["contour_id"]),
            )
            for s in starts
        ),
    )
    return listed, {
        "material": str(document["requirement"]["material"]),
        "height": f"{height_mm!r} mm",
    }
