"""The metal that holds everything: stock around the outlines, waste between kerfs, given holes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.places import place_words
from kerfwright.geometry.contour import Contour
from kerfwright.planning.feasibility import chords, ring_of
from kerfwright.planning.plan import ContourPlan
from kerfwright.planning.rules import PlanningRules
from kerfwright.planning.starts import Walls
from kerfwright.planning.stations import opposite
from kerfwright.process.choice import JobPasses
from kerfwright.trade.part import GivenStart, Part, Role

_STEP_MM = 0.05
"""Step along a rough path; its chords stay within 1 µm on arcs of 0.3 mm and more."""
_SMALLEST_PIECE_MM2 = 0.01
"""Crumbs below this are debris, not pieces."""


def kerf_radius_mm(choice: JobPasses) -> float:
    """Return how far the rough pass takes metal from the wire centre, mm; alike in all contours."""
    return choice.wire.radius_mm + choice.most.passes[0].gap_um / 1000


def stock_refusals(
    part: Part, stock: Contour | None, *, choice: JobPasses, rules: PlanningRules
) -> list[Finding]:
    """Return a refusal for each outline that the stock does not hold all round.

    Beyond the rough kerf a frame must remain, or the tab has nothing to hold on to.
    """
    if stock is None:
        return []
    body = shapely.Polygon(chords(stock))
    found = []
    for c in part.to_cut:
        if c.role is not Role.OUTLINE or c.parent_id is not None:
            continue
        rough = choice.of(c.id).passes[0]
        needed = rough.offset_mm + kerf_radius_mm(choice) + rules.frame_min_mm
        ring = ring_of(c.contour)
        edge, wall = shapely.shortest_line(body.exterior, ring).coords
        room = float(np.hypot(edge[0] - wall[0], edge[1] - wall[1]))
        if not body.contains(ring):
            room = -room
        if room >= needed:
            continue
        found.append(
            Finding(
                code="frame-too-thin",
                severity=Severity.REFUSAL,
                message=f"The stock reaches {max(room, 0.0):.3f} mm beyond {c.id}; the rough kerf "
                f"and a frame that holds need {needed:.3f} mm.",
                where=Place(contour_id=c.id, x_mm=wall[0], y_mm=wall[1]),
                remedy="Take a larger stock or margin (5 to 10 mm is usual), or leave sides that "
                "are finished already out of the contour.",
                data={"room_mm": room, "needed_mm": needed},
            )
        )
    return found


def given_start_findings(part: Part, planned: Sequence[ContourPlan], walls: Walls) -> list[Finding]:
    """Return a finding for each start hole of the drawing that the plan does not use.

    Holes that reach out of the stock are never used: they would be drilled, and the wire threaded,
    in the air.
    """
    used = {(c.start.x_mm, c.start.y_mm) for c in planned}
    return [
        _unused(hole, walls) for hole in part.given_starts if (hole.x_mm, hole.y_mm) not in used
    ]


def _unused(hole: GivenStart, walls: Walls) -> Finding:
    room = float(walls.clearance_mm(np.array([[hole.x_mm, hole.y_mm]]))[0]) - hole.diameter_mm / 2
    place = Place(x_mm=hole.x_mm, y_mm=hole.y_mm)
    if room <= 0:
        return Finding(
            code="given-start-crosses-wall",
            severity=Severity.REFUSAL,
            message=f"The start hole Ø{hole.diameter_mm:.3f} mm of the drawing cuts "
            f"{-room:.3f} mm into a finished wall.",
            where=place,
            remedy="Move it into the waste, make it smaller, or take it off its layer so that the "
            "plan places one.",
            data={"overlap_mm": -room},
        )
    inside = walls.stock_room_mm(hole)
    if inside < 0:
        return _outside(hole, walls, out_mm=-inside)
    return Finding(
        code="given-start-not-used",
        severity=Severity.WARNING,
        message=f"The start hole Ø{hole.diameter_mm:.3f} mm of the drawing is not used: no "
        "contour's lead-in is reached from it in a straight clear run, or another hole is nearer.",
        where=place,
        remedy="Check where it was meant for; a hole that is drilled already stays in the work.",
    )


def _outside(hole: GivenStart, walls: Walls, *, out_mm: float) -> Finding:
    assert walls.stock is not None
    x0, y0, x1, y1 = walls.stock.bounds_mm
    what = f"start hole Ø{hole.diameter_mm:.3f} mm" if hole.diameter_mm > 0 else "start point"
    return Finding(
        code="given-start-outside-stock",
        severity=Severity.REFUSAL,
        message=f"The {what} of the drawing at {place_words(hole.x_mm, hole.y_mm, decimals=3)} "
        f"reaches {out_mm:.3f} mm out of the stock, which spans X {x0:.3f} to {x1:.3f} mm and "
        f"Y {y0:.3f} to {y1:.3f} mm: there is no metal there to drill.",
        where=Place(x_mm=hole.x_mm, y_mm=hole.y_mm),
        remedy="Draw it wholly inside the stock, draw or give the stock larger, or leave it out: "
        "the plan then places a start, or comes in from the edge.",
        data={"outside_mm": out_mm, "diameter_mm": hole.diameter_mm},
    )


def loose_piece_refusals(
    planned: Sequence[ContourPlan], stock: Contour | None, *, choice: JobPasses
) -> list[Finding]:
    """Return refusals of contours whose rough kerf would set a piece free with its neighbours'.

    Where the kerfs of neighbours meet, waste between them, or a part whose tab stood on that
    waste, can come free in a rough pass that nobody watches.  The contour roughed last of those
    around the piece is refused, until nothing comes free.

    Parameters
    ----------
    planned : sequence of ContourPlan
        In order of roughing.
    stock : Contour or None
    choice : JobPasses
    """
    if len(planned) < 2:
        return []
    radius = kerf_radius_mm(choice)
    rings = [ring_of(c.loops[0].contour) for c in planned]
    tree = shapely.STRtree(rings)
    first, second = tree.query(rings, predicate="dwithin", distance=2 * radius)
    near = sorted({int(i) for i, j in zip(first, second, strict=True) if i != j})
    if not near:
        return []
    kerfs = {k: _rough_kerf(planned[k], radius) for k in near}
    box = shapely.total_bounds([*kerfs.values()])
    body = (
        shapely.Polygon(chords(stock))
        if stock is not None
        else shapely.box(*(box + np.array([-1, -1, 1, 1]) * 10 * radius))
    )
    found: list[Finding] = []
    while kerfs:
        loose = _loose(body, [*kerfs.values()])
        if loose is None:
            break
        around = [k for k, kerf in kerfs.items() if kerf.distance(loose) <= radius / 10]
        last = max(around or kerfs)
        found.append(_loose_finding(planned[last], [planned[k] for k in around], loose, radius))
        del kerfs[last]
    return found


def _loose(body: shapely.Polygon, kerfs: Sequence[shapely.Polygon]) -> shapely.Polygon | None:
    """Return the largest piece of the body that its frame no longer holds."""
    pieces = shapely.get_parts(body.difference(shapely.union_all(kerfs)))
    held = [p for p in pieces if p.intersects(body.exterior)]
    frame = max(held or pieces, key=lambda p: p.area)
    loose = [p for p in pieces if p is not frame and p.area > _SMALLEST_PIECE_MM2]
    return max(loose, key=lambda p: p.area) if loose else None


def _rough_kerf(c: ContourPlan, radius_mm: float) -> shapely.Polygon:
    """Return what the rough pass of a contour takes, from its start to its tab."""
    wall, loop, offset = c.target.contour, c.loops[0].contour, c.passes[0].offset_mm
    if c.tab is None:
        return shapely.Polygon(chords(loop)).buffer(radius_mm)
    lead, _ = opposite(wall, loop, station_mm=c.lead_station_mm, offset_mm=offset)
    begin, _ = opposite(wall, loop, station_mm=c.tab.end_station_mm, offset_mm=offset)
    end, _ = opposite(wall, loop, station_mm=c.tab.start_station_mm, offset_mm=offset)
    length = (end - begin) % loop.length_mm
    corners = (loop.stations_mm - begin) % loop.length_mm
    steps = np.linspace(0.0, length, int(length / _STEP_MM) + 2)
    stations = np.sort(np.concatenate([steps, corners[corners < length]]))
    slot = np.vstack([[c.start.x_mm, c.start.y_mm], loop.points_at(np.array([lead]))])
    path = loop.points_at(begin + stations)
    return shapely.MultiLineString([slot, path]).buffer(radius_mm)


def _loose_finding(
    target: ContourPlan,
    around: Sequence[ContourPlan],
    piece: shapely.Polygon,
    radius_mm: float,
) -> Finding:
    x, y = shapely.get_coordinates(shapely.point_on_surface(piece))[0]
    others = ", ".join(c.target.id for c in around if c is not target) or "the edge of the stock"
    rough_mm = max(c.passes[0].offset_mm for c in (target, *around))
    apart = 2 * rough_mm + 2 * radius_mm
    return Finding(
        code="loose-piece-between-contours",
        severity=Severity.REFUSAL,
        message=f"Roughing {target.target.id} beside {others} sets a piece of {piece.area:.2f} mm² "
        "free that no tab holds, with nobody at the machine.",
        where=Place(contour_id=target.target.id, x_mm=float(x), y_mm=float(y)),
        remedy=f"Leave more than {apart:.2f} mm between the contours, or cut "
        f"{target.target.id} in a job of its own after the others are out.",
        data={"area_mm2": float(piece.area), "apart_mm": apart},
    )
