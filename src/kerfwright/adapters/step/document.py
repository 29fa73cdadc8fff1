"""Inside the child process: everything a job needs of a solid, as one JSON document."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np

from kerfwright.adapters.step.measured import measured_sections
from kerfwright.adapters.step.opened import open_solid
from kerfwright.adapters.step.regions import mark_partly, regions
from kerfwright.adapters.step.standing import Standing, candidates, stood
from kerfwright.adapters.step.walls import Found, find_walls
from kerfwright.foundation.errors import DrawingError
from kerfwright.foundation.findings import Finding, Severity
from kerfwright.trade.wire_ways import way_asked

_MOST_TRIED: Final = 3
_NAMES: Final = "XYZ"
_SEEN_UM: Final = 0.5
_ALIKE: Final = 1e-6
"""Shares of the surface that differ by less are equal."""
_UM: Final = 1000.0


def solid_document(asked: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a solid gives.

    Parameters
    ----------
    asked : mapping
        ``path``, ``unit``, ``number`` and ``along`` as a person gave them, None where nobody did.

    Raises
    ------
    DrawingError
        If nothing can be made of it.
    """
    opened = open_solid(Path(asked["path"]), unit=asked["unit"], number=asked["number"])
    findings = list(opened.findings)
    if asked["along"] is not None:
        ways = [stood(opened.solid, np.array(way_asked(asked["along"])))]
    else:
        ways = candidates(opened.solid)
    standing, found = _first_with_walls(ways[:_MOST_TRIED])
    mark_partly(standing.faces, found.walls)
    left = regions(standing.faces, found.walls, found.why_not)
    findings.append(_way(standing, ways, asked=asked["along"] is not None))
    findings += _bent(found)
    if not found.is_whole:
        findings.append(_gaps())
    findings += [region.finding for region in left]
    if not found.walls:
        raise _nothing(standing, left)
    return {
        "unit": opened.unit,
        "height_mm": standing.height_mm,
        "volume_mm3": opened.volume_mm3,
        "left_out": opened.left_out,
        "walls": [
            {
                "is_outer": wall.is_outer,
                "lower": wall.lower.tolist(),
                "upper": wall.upper.tolist(),
                "is_upright": wall.is_upright,
                "faces": len(wall.faces),
                "bend_um": wall.bend_mm * _UM,
                "is_fitted": wall.is_fitted,
            }
            for wall in found.walls
        ],
        "sections": measured_sections(standing, found.walls),
        "outlines": [region.outline for region in left if len(region.outline) > 2],
        "findings": [_finding(f) for f in findings],
    }


def _first_with_walls(ways: list[Standing]) -> tuple[Standing, Found]:
    """Return the best way in which there is a wall to cut; the best of all where there is none."""
    first: tuple[Standing, Found] | None = None
    for standing in ways:
        found = find_walls(standing)
        if found.walls:
            return standing, found
        first = first or (standing, found)
    assert first is not None
    return first


def _way(standing: Standing, ways: list[Standing], *, asked: bool) -> Finding:
    why = "as asked" if asked else f"{100 * standing.share:.0f} % of its surface is for such a wire"
    alike = [w for w in ways if w is not standing and abs(w.share - standing.share) < _ALIKE]
    better = [w for w in ways if w.share >= standing.share + _ALIKE]
    if better:
        most = max(w.share for w in better)
        why += f"; in ways that have more, up to {100 * most:.0f} %, no wall goes through"
    elif alike:
        heights = ", ".join(f"{w.height_mm:.4g} mm" for w in alike[:3])
        why += f"; as it is in others, which are as high or higher ({heights})"
    return Finding(
        code="wire-direction",
        severity=Severity.NOTE,
        message=f"The wire runs through {standing.height_mm:.4g} mm: of the program's axes, in the "
        f"solid, {standing.frame}; Z counts up from the underside. {why[0].upper()}{why[1:]}.",
        remedy="" if asked else "Another way: --wire-along x, -y or 0 0.5 1.",
        data={"height_mm": standing.height_mm, "share": standing.share},
    )


def _bent(found: Found) -> list[Finding]:
    worst = max((w.bend_mm * _UM for w in found.walls), default=0.0)
    if worst < _SEEN_UM:
        return []
    return [
        Finding(
            code="wall-not-quite-straight",
            severity=Severity.WARNING,
            message=f"Faces of the solid are straight along the wire only within {worst:.1f} µm; "
            "the wire leaves them by as much.",
            remedy="Compare it with the tolerance; the proof says what it comes to.",
            data={"bend_um": worst},
        )
    ]


def _gaps() -> Finding:
    return Finding(
        code="section-with-gaps",
        severity=Severity.WARNING,
        message="Sections of the solid do not close everywhere: at some height its faces do not "
        "meet. Walls were looked for in those that do.",
        remedy="Look whether every opening is there.",
    )


def _nothing(standing: Standing, left: list[Any]) -> DrawingError:
    told = " ".join(region.finding.message for region in left[:3])
    return DrawingError(
        f"no wall goes through it that a straight wire could make ({standing.frame}). {told}",
        code="nothing-for-wire",
        remedy="Say another way for the wire, --wire-along; or make it otherwise.",
    )


def _finding(one: Finding) -> dict[str, Any]:
    return {
        "code": one.code,
        "severity": one.severity.value,
        "message": one.message,
        "x_mm": one.where.x_mm,
        "y_mm": one.where.y_mm,
        "remedy": one.remedy,
        "data": dict(one.data),
    }
