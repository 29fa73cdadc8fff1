"""The wire's path against points of the solid itself, height by height.

The points were read from sections of the solid and know nothing of the contours that were made of
it.  Wanted and got are compared normal to the solid's surface: the distance in space of a point
from the nearest position of the axis, less the kerf radius of the pass.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.lean_axis import axis_moves, distances
from kerfwright.proof.lean_rules import upright_arcs
from kerfwright.proof.lean_wall import UM_PER_MM, moves_of
from kerfwright.proof.records import Claim, HeightDeviation, Proof
from kerfwright.trade.solids import SolidSpots

_BEYOND_MM = 0.05
"""How far beyond its kerf a path is followed; stock above that reads as this much."""
_BLOCKED_SHARE = 0.5
_FLAT = 1e-6
_FEWEST_HEIGHTS = 3


def with_solid(proof: Proof, timeline: Timeline, claim: Claim) -> Proof:
    """Return a proof with what the comparison with the solid found.

    Parameters
    ----------
    proof : Proof
        Against the contours.
    timeline : Timeline
    claim : Claim
        With points of the solid.
    """
    findings = [*_cuts_into(timeline, claim)]
    heights: list[HeightDeviation] = []
    for name in sorted(claim.cut_ids):
        mine = [s for s in claim.solid if s.contour_id == name]
        if len({s.height_mm for s in mine}) < _FEWEST_HEIGHTS:
            findings.append(_not_compared(name, len(mine)))
            continue
        worst: tuple[float, Finding] | None = None
        for spots in mine:
            deviation, left = _at_height(timeline, claim, spots, name)
            heights.append(deviation)
            if left is not None and (worst is None or deviation.max_leftover_um > worst[0]):
                worst = deviation.max_leftover_um, left
        findings += [worst[1]] if worst else []
    return replace(
        proof,
        passed=proof.passed and not any(f.severity is Severity.REFUSAL for f in findings),
        max_gouge_um=max([proof.max_gouge_um, *(d.max_gouge_um for d in heights)]),
        max_leftover_um=max([proof.max_leftover_um, *(d.max_leftover_um for d in heights)]),
        findings=(*proof.findings, *findings),
        samples=proof.samples + sum(len(s.points) for s in claim.solid),
        solid=tuple(heights),
    )


def _tolerance_um(claim: Claim, name: str | None) -> float:
    more = claim.lean_allowance_um.get(name or "", 0.0)
    slack = claim.solid_slack_um.get(name or "", max(claim.solid_slack_um.values(), default=0.0))
    return claim.tolerance_um + more + slack


def _away(timeline: Timeline, moves: Indices, spots: SolidSpots, within_mm: float) -> Floats:
    """Return the distance of points from the axis in some moves, mm."""
    cutting = moves[timeline.is_rapid[moves] == 0]
    axis = axis_moves(timeline, cutting[timeline.turn[cutting] == 0])
    near = distances(axis, spots.points, spots.height_mm, within_mm=within_mm)
    arcs = upright_arcs(timeline, cutting[timeline.turn[cutting] != 0])
    return near if arcs is None else np.minimum(near, arcs.query(spots.points)[0])


def _at_height(
    timeline: Timeline, claim: Claim, spots: SolidSpots, name: str
) -> tuple[HeightDeviation, Finding | None]:
    """Return what the last pass of a contour leaves at a height, and the refusal if too much."""
    number = claim.passes_of(name)[-1]
    radius = claim.kerf_radius_mm[number]
    away = _away(timeline, moves_of(timeline, name, number), spots, radius + _BEYOND_MM) - radius
    allowed_mm = _tolerance_um(claim, name) / UM_PER_MM
    rows = np.flatnonzero(away > allowed_mm)
    free = np.ones(len(away), dtype=bool)
    free[rows[_forced(claim, spots, rows, away[rows], radius)]] = False
    left = np.where(free, away, 0.0)
    k = int(np.argmax(left))
    deviation = HeightDeviation(
        contour_id=name,
        height_mm=spots.height_mm,
        max_gouge_um=max(float(-away.min()), 0.0) * UM_PER_MM,
        max_leftover_um=max(float(left[k]), 0.0) * UM_PER_MM,
    )
    if left[k] <= allowed_mm:
        return deviation, None
    more = " or more" if left[k] >= _BEYOND_MM - allowed_mm else ""
    return deviation, Finding(
        code="solid-left",
        severity=Severity.REFUSAL,
        message=f"{spots.height_mm:.3f} mm up, pass {number} of contour {name} leaves "
        f"{left[k] * UM_PER_MM:.1f} µm{more} on the solid, where the wire could reach",
        where=Place(
            contour_id=name,
            pass_number=number,
            x_mm=float(spots.points[k, 0]),
            y_mm=float(spots.points[k, 1]),
        ),
        remedy="the contours are not the solid's, or the planes are not at their heights",
        data={"leftover_um": float(left[k]) * UM_PER_MM, "height_mm": spots.height_mm},
    )


def _forced(
    claim: Claim, spots: SolidSpots, rows: Indices, left_mm: Floats, radius_mm: float
) -> Flags:
    """Return at which points no wire along the surface could stand: it would cut another wall."""
    result = np.zeros(len(rows), dtype=bool)
    if not len(rows):
        return result
    normal = spots.normals[rows]
    through = spots.points[rows] + radius_mm * normal[:, :2]
    height = spots.height_mm + radius_mm * normal[:, 2]
    # Up the surface, normal to it: mm aside per mm up.
    flat = np.maximum(1.0 - normal[:, 2] ** 2, _FLAT)
    aside = -normal[:, :2] * (normal[:, 2] / flat)[:, None]
    steep = float(np.sqrt(1.0 + (aside**2).sum(axis=1).max()))
    for other in claim.solid:
        centre = through + aside * (other.height_mm - height)[:, None]
        tree = shapely.STRtree(shapely.points(other.points))
        who, which = tree.query(
            shapely.points(centre), predicate="dwithin", distance=radius_mm * steep
        )
        w, m = other.points[which] - centre[who], aside[who]
        along = (w * m).sum(axis=1)
        near = np.sqrt(np.maximum((w**2).sum(axis=1) - along**2 / (1.0 + (m**2).sum(axis=1)), 0.0))
        cut = np.zeros(len(rows))
        np.maximum.at(cut, who, radius_mm - near)
        result |= cut > _BLOCKED_SHARE * left_mm
    return result


def _cuts_into(timeline: Timeline, claim: Claim) -> Iterator[Finding]:
    """Yield a refusal for each cut that takes metal of the solid, wherever that lies."""
    seen: set[tuple[str, int]] = set()
    for header in timeline.headers:
        key = header.contour_id, header.pass_number
        radius = claim.kerf_radius_mm.get(header.pass_number)
        if radius is None or key in seen:
            continue
        seen.add(key)
        moves = moves_of(timeline, *key)
        if not len(moves):
            continue
        worst: tuple[float, SolidSpots, int] | None = None
        for spots in claim.solid:
            deep = radius - _away(timeline, moves, spots, radius)
            k = int(np.argmax(deep))
            over = deep[k] - _tolerance_um(claim, spots.contour_id) / UM_PER_MM
            if over > 0 and (worst is None or deep[k] > worst[0]):
                worst = float(deep[k]), spots, k
        if worst is not None:
            depth, spots, k = worst
            yield Finding(
                code="solid-gouged",
                severity=Severity.REFUSAL,
                message=f"{spots.height_mm:.3f} mm up, pass {header.pass_number} of contour "
                f"{header.contour_id} cuts {depth * UM_PER_MM:.1f} µm into the solid",
                where=Place(
                    contour_id=header.contour_id,
                    pass_number=header.pass_number,
                    x_mm=float(spots.points[k, 0]),
                    y_mm=float(spots.points[k, 1]),
                    line=header.line,
                ),
                remedy="the contours are not the solid's, or the planes are not at their heights",
                data={"depth_um": depth * UM_PER_MM, "height_mm": spots.height_mm},
            )


def _not_compared(name: str, count: int) -> Finding:
    return Finding(
        code="solid-not-compared",
        severity=Severity.REFUSAL,
        message=f"contour {name} has points of the solid at {count} heights; at least "
        f"{_FEWEST_HEIGHTS} are needed to compare it with the solid",
        where=Place(contour_id=name),
        remedy="its faces are cut short by others; give a drawing as DXF",
    )
