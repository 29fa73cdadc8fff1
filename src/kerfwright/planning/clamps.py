"""Clamps in a plan: which walls and starts the nozzles reach beside them, and what would help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.affinity import translate

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.planning.beside_clamps import solid_of
from kerfwright.planning.feasibility import chords
from kerfwright.planning.limits import Ground
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.wires import Paths
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.part import Part
from kerfwright.trade.requirement import Requirement

CODE = "clamp-in-the-way"
_SLACK_MM = 1e-3
"""Chords lie within this of what is drawn."""
_WAYS = {"+X": (1.0, 0.0), "-X": (-1.0, 0.0), "+Y": (0.0, 1.0), "-Y": (0.0, -1.0)}
_STEPS = 64
_HALVINGS = 20
_STEP_MM = 0.1
"""What to move a clamp by is said to a tenth, rounded up."""


def clamps_of(part: Part, requirement: Requirement, rules: PlanningRules) -> Clamps | None:
    """Return the clamps of the drawing and of the job with the room beside them; None for none."""
    zones = (*part.clamps, *requirement.clamps)
    return Clamps(zones=zones, reach_mm=rules.clamp_reach_mm) if zones else None


def clear_of_clamps(paths: Sequence[Paths], clamps: Clamps | None) -> list[Paths]:
    """Return the paths, with a refusal on each whose rough pass brings a nozzle to a clamp."""
    if clamps is None:
        return list(paths)
    found: list[Paths] = []
    rings = [_ring(p) for p in paths]
    for path, ring in zip(paths, rings, strict=True):
        near = np.inf if ring is None else float(ring.distance(solid_of(clamps)))
        if path.refusal is None and ring is not None and near < clamps.reach_mm - _SLACK_MM:
            every = shapely.MultiLineString([r for r in rings if r is not None])
            found.append(replace(path, refusal=_refusal(path, ring, clamps, every)))
        else:
            found.append(path)
    return found


def _ring(path: Paths) -> shapely.LinearRing | None:
    return shapely.LinearRing(chords(path.loops[0].contour)) if path.loops else None


def _refusal(
    path: Paths, ring: shapely.LinearRing, clamps: Clamps, every: shapely.Geometry
) -> Finding:
    at, _ = shapely.shortest_line(ring, solid_of(clamps)).coords
    near = float(ring.distance(solid_of(clamps)))
    return clamp_refusal(
        path.target.id,
        "the rough pass",
        at=(at[0], at[1]),
        near_mm=near,
        clamps=clamps,
        move=way_to_move(clamps, every, ring),
    )


def way_to_move(
    clamps: Clamps, paths: shapely.Geometry, which: shapely.Geometry
) -> tuple[str, float] | None:
    """Return the direction and the shortest way by which the clamp beside a path leaves it alone.

    Parameters
    ----------
    clamps : Clamps
    paths : Geometry
        Every path that it has to clear then.
    which : Geometry
        The path it stands beside: the clamp nearest to it is moved.

    Returns
    -------
    str, float
        An axis with its sign, and mm, rounded up; None where no way along an axis helps.
    """
    bodies = [shapely.make_valid(shapely.Polygon(chords(z))) for z in clamps.zones]
    body = min(bodies, key=which.distance)
    x0, y0, x1, y1 = shapely.union(paths, body).bounds
    furthest = max(x1 - x0, y1 - y0) + clamps.reach_mm

    def is_clear(way: tuple[float, float], mm: float) -> bool:
        moved = translate(body, way[0] * mm, way[1] * mm)
        return bool(moved.distance(paths) >= clamps.reach_mm)

    best: tuple[str, float] | None = None
    for name, way in _WAYS.items():
        steps = np.linspace(0.0, furthest, _STEPS + 1)[1:]
        high = next((float(mm) for mm in steps if is_clear(way, float(mm))), None)
        if high is None or (best is not None and high - furthest / _STEPS >= best[1]):
            continue
        low = high - furthest / _STEPS
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (low, middle) if is_clear(way, middle) else (middle, high)
        high = float(np.ceil(round(high / _STEP_MM, 3))) * _STEP_MM
        if is_clear(way, high) and (best is None or high < best[1]):
            best = name, high
    return best


def blocked_start(ground: Ground) -> Finding | None:
    """Return the refusal of a contour that only clamps keep from having a start."""
    clamps = ground.walls.clamps
    if clamps is None:
        return None
    site = replace(ground, walls=replace(ground.walls, clamps=None)).planners_site()
    if site is None:
        return None
    start = site.start
    station = np.array([site.lead_station_mm])
    foot = ground.target.contour.points_at(station)[0]
    way = np.array([[start.x_mm, start.y_mm], foot])
    line = shapely.LineString(way)
    return clamp_refusal(
        ground.target.id,
        "every start hole, entry from the edge and lead-in that would do",
        at=(start.x_mm, start.y_mm),
        near_mm=float(line.distance(solid_of(clamps))),
        clamps=clamps,
        move=way_to_move(clamps, line, line),
    )


def clamp_refusal(
    contour_id: str,
    what: str,
    *,
    at: tuple[float, float],
    near_mm: float,
    clamps: Clamps,
    move: tuple[str, float] | None,
) -> Finding:
    """Return the refusal of a contour beside which a clamp stands in the way of the nozzle.

    Parameters
    ----------
    contour_id : str
    what : str
        What brings the nozzle there.
    at : (float, float)
        Where, mm.
    near_mm : float
        How near the wire centre comes to the clamp.
    clamps : Clamps
    move : (str, float) or None
        Axis and way by which to move the clamp.
    """
    said = (
        "Move the clamp"
        if move is None
        else f"Move the clamp by at least {both_sizes(move[1])} in {move[0]}"
    )
    under = "runs under the clamp" if near_mm <= 0 else f"comes {both_sizes(near_mm)} to a clamp"
    return Finding(
        code=CODE,
        severity=Severity.REFUSAL,
        message=f"A clamp is in the way of {contour_id}: the wire of {what} {under}; "
        f"{both_sizes(clamps.reach_mm)}, half a nozzle and the clearance beside it, are needed.",
        where=Place(contour_id=contour_id, x_mm=at[0], y_mm=at[1]),
        remedy=f"{said}, hold the work elsewhere, or put it into two set-ups.",
        data={
            "near_mm": near_mm,
            "needed_mm": clamps.reach_mm,
            **({"move_mm": move[1]} if move else {}),
        },
    )
