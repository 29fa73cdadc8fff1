"""Where the wire is threaded and where it meets the wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.regions import contains_points, nearest_station
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.segments import Flags, Floats, Segments
from kerfwright.planning.beside_clamps import clear_ways
from kerfwright.planning.plan import Start, StartKind
from kerfwright.planning.rules import PlanningRules
from kerfwright.process.small_hole import reach_mm
from kerfwright.process.technology import SmallHoleLaw
from kerfwright.trade.clamps import Clamps
from kerfwright.trade.part import GivenStart, PartContour, Role

_MOST_CANDIDATES = 40
"""Segments tried for a lead-in, longest first; more only costs time on dense contours."""
_MOST_FURTHER = 1000
"""Segments tried where no hole of the usual size fits beside those: the forty longest of a gear
may all lie at the bottom of its tooth spaces."""
_CORNER_RAD = np.radians(5.0)
"""Vertices that turn by less are joints of a curve drawn in pieces."""
_LINE_SAMPLES = 24
"""Points at which a straight run from a given hole is tested for clearance."""
_ROUNDING_MM = 1e-6
"""Slack of a clearance that is met exactly by construction."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A start and the place at which its lead-in meets the wall.

    Attributes
    ----------
    start : Start
    lead_station_mm : float
        Arc length on the contour.
    has_tight_clearance : bool
        Whether the hole's edge is nearer to the wall than the rule likes.
    """

    start: Start
    lead_station_mm: float
    has_tight_clearance: bool


@dataclass(frozen=True, eq=False)
class Walls:
    """All finished walls of a part, the edge of the stock and clamps, with a nearest index.

    Attributes
    ----------
    contours : sequence of PartContour
    stock : Contour or None
    clamps : Clamps or None
    """

    contours: Sequence[PartContour]
    stock: Contour | None
    clamps: Clamps | None = None

    @cached_property
    def index(self) -> NearestIndex:
        """Nearest index over every wall."""
        return NearestIndex(Segments.joined([c.contour.segments for c in self.contours]))

    def clearance_mm(self, points: Floats) -> Floats:
        """Return the distance of each point to the nearest finished wall, (m,) mm."""
        distance, _ = self.index.query(points)
        return distance

    @cached_property
    def _stock_index(self) -> NearestIndex:
        assert self.stock is not None
        return NearestIndex(self.stock.segments)

    def stock_clearance_mm(self, points: Floats) -> Floats:
        """Return the distance to the edge of the stock, (m,) mm; negative outside it."""
        if self.stock is None:
            return np.full(len(points), np.inf)
        distance, _ = self._stock_index.query(points)
        return np.where(contains_points(self.stock, points), distance, -distance)

    def is_deep_in_stock(self, path: Contour, depth_mm: float) -> bool:
        """Return whether a path surely keeps farther than a depth from the edge of the stock.

        By boxes alone: False says nothing.
        """
        assert self.stock is not None
        x0, y0, x1, y1 = self._stock_index.boxes
        u0, v0, u1, v1 = path.bounds_mm
        apart_x = np.maximum(np.maximum(x0 - u1, u0 - x1), 0.0)
        apart_y = np.maximum(np.maximum(y0 - v1, v0 - y1), 0.0)
        if np.hypot(apart_x, apart_y).min() <= depth_mm:
            return False
        # A path that far from every line of the edge lies inside it or outside as a whole.
        return bool(contains_points(self.stock, path.vertices[:1, :2])[0])

    def stock_room_mm(self, hole: GivenStart) -> float:
        """Return how far the edge of a hole stays inside the stock, mm; negative sticking out."""
        centre = np.array([[hole.x_mm, hole.y_mm]])
        room = float(self.stock_clearance_mm(centre)[0]) - hole.diameter_mm / 2
        return 0.0 if abs(room) <= _ROUNDING_MM else room


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Candidates:
    """Places on a wall for a lead-in: station, point, normal into the waste, rank."""

    station_mm: Floats
    point_mm: Floats
    normal: Floats
    rank: Floats


def find_site(
    target: PartContour,
    *,
    walls: Walls,
    given: Sequence[GivenStart],
    tab_span_mm: float,
    rough_offset_mm: float,
    height_mm: float,
    wire_diameter_mm: float,
    smallest_hole_mm: float,
    drilling: SmallHoleLaw,
    rules: PlanningRules,
    lead_station_mm: float | None = None,
) -> Site | None:
    """Return a start for one contour, or None if it fits nowhere.

    A hole that the drawing gives inside the waste of this contour is used first; then a drilled
    hole square off the best span, the usual size before smaller ones and full clearance before
    tight, the usual one beside any span of the wall before those; then, for an outline, a start
    at the edge of the stock.

    Parameters
    ----------
    target : PartContour
    walls : Walls
    given : sequence of GivenStart
        Start holes of the drawing that belong to this contour.
    tab_span_mm : float
        Length along the wall that the tab takes behind the lead-in.
    rough_offset_mm : float
    height_mm, wire_diameter_mm, smallest_hole_mm : float
    drilling : SmallHoleLaw
        How far a drilled hole widens and wanders.
    rules : PlanningRules
    lead_station_mm : float or None
        Where the lead-in has to meet the wall, as an arc length; None leaves it open.
    """
    found = (
        candidates(target.contour, tab_span_mm, rough_offset_mm, rules, given)
        if lead_station_mm is None
        else candidate_at(target.contour, lead_station_mm)
    )
    sizes = hole_sizes_mm(
        height_mm, wire_diameter_mm=wire_diameter_mm, smallest_mm=smallest_hole_mm, rules=rules
    )
    for hole in given:
        drawn = hole.diameter_mm > 0
        # A point on the layer asks for a hole there; the drawing leaves its size open.
        for size in [hole.diameter_mm] if drawn else sizes:
            site = _given_site(
                target, replace(hole, diameter_mm=size), found, walls, rough_offset_mm, rules
            )
            if site is not None:
                kind = StartKind.GIVEN if drawn else StartKind.DRILLED
                return replace(site, start=replace(site.start, kind=kind))
    drills = [
        (diameter, clearance, reach_mm(height_mm, diameter_mm=diameter, law=drilling))
        for clearance in (rules.wall_clearance_mm, rules.tight_wall_clearance_mm)
        for diameter in sizes
    ]
    # The usual hole fits nearly always; the others are asked for in one query.
    site = _drilled_site(target, drills[:1], found, walls, rules) if drills else None
    if site is None and drills and lead_station_mm is None:
        found = candidates(
            target.contour, tab_span_mm, rough_offset_mm, rules, given, most=_MOST_FURTHER
        )
        site = _drilled_site(target, drills[:1], found, walls, rules)
    if site is None and drills[1:]:
        site = _drilled_site(target, drills[1:], found, walls, rules)
    if site is not None:
        return site
    if target.role is Role.OUTLINE and target.parent_id is None and walls.stock is not None:
        return _edge_site(target, found, walls, rough_offset_mm, rules)
    return None


def hole_sizes_mm(
    height_mm: float, *, wire_diameter_mm: float, smallest_mm: float, rules: PlanningRules
) -> list[float]:
    """Return the start holes that may be drilled, the usual one first."""
    least = max(smallest_mm, wire_diameter_mm + rules.threading_clearance_mm)
    usual = rules.preferred_hole_mm(height_mm)
    return [d for d in rules.hole_diameters_mm if least - _ROUNDING_MM <= d <= usual]


def candidate_at(contour: Contour, station_mm: float) -> Candidates:
    """Return one place on a wall as the only one for a lead-in."""
    station = np.array([station_mm % contour.length_mm])
    index, fraction = contour.locate(station)
    tangent = contour.segments.tangents_at(index, fraction)
    return Candidates(
        station_mm=station,
        point_mm=contour.segments.points_at(index, fraction),
        normal=np.stack([tangent[:, 1], -tangent[:, 0]], axis=1),
        rank=np.zeros(1),
    )


def candidates(
    contour: Contour,
    tab_span_mm: float,
    rough_offset_mm: float,
    rules: PlanningRules,
    given: Sequence[GivenStart],
    *,
    most: int = _MOST_CANDIDATES,
) -> Candidates:
    """List lead-in places on the longest segments with their rank.

    Best is the whole tab on a straight span, then on one arc, then on a smooth run of segments;
    last where a corner of the part would carry the tab's scar.
    """
    s = contour.segments
    corner = rules.corner_clearance_mm
    waste_radius = np.where(s.bulge < 0, s.radius, np.inf)
    # Inside a bend hardly wider than the wire there is no room to turn onto the wall.
    usable = np.flatnonzero(waste_radius > 3 * rough_offset_mm)
    longest = usable[np.argsort(-s.length[usable], kind="stable")][:most]
    begin, length = contour.stations_mm[longest], s.length[longest]
    middle = begin + length / 2
    # On a long segment the tab goes in the middle; else the lead-in stands near either end too.
    centred = begin + (length + tab_span_mm) / 2
    holds = length >= tab_span_mm + 2 * corner
    has_ends = length >= 2 * corner
    first = np.where(holds, centred, middle)
    low = np.where(has_ends, begin + corner, middle)
    high = np.where(has_ends, begin + length - corner, middle)
    # Opposite a given hole the lead-in is square and as short as can be.
    feet = np.array([nearest_station(contour, (g.x_mm, g.y_mm))[0] for g in given])
    station = np.concatenate([np.stack([first, high, low], axis=1).ravel(), feet])
    segment = np.concatenate([np.repeat(longest, 3), contour.locate(feet)[0]])
    behind = station - contour.stations_mm[segment]
    on_one = behind >= tab_span_mm + corner - _ROUNDING_MM
    is_smooth = ~has_corner(contour, station - tab_span_mm - corner / 2, station + corner / 2)
    rank = np.where(on_one, 0, np.where(is_smooth, 2, 4)) + s.is_arc[segment]
    index, fraction = contour.locate(station)
    tangent = s.tangents_at(index, fraction)
    return Candidates(
        station_mm=station,
        point_mm=s.points_at(index, fraction),
        normal=np.stack([tangent[:, 1], -tangent[:, 0]], axis=1),
        rank=rank.astype(np.float64),
    )


def has_corner(contour: Contour, low_mm: Floats, high_mm: Floats) -> Flags:
    """Return whether a corner lies between two arc lengths, each (m,), low below high."""
    at = corner_stations_mm(contour)
    around = np.concatenate([at - contour.length_mm, at, at + contour.length_mm])
    inside: Flags = np.searchsorted(around, high_mm) > np.searchsorted(around, low_mm)
    return inside


def corner_stations_mm(contour: Contour) -> Floats:
    """Return the arc lengths of the corners of a wall, ascending."""
    s = contour.segments
    before = rolled(s.end_tangent, 1)
    cross = before[:, 0] * s.start_tangent[:, 1] - before[:, 1] * s.start_tangent[:, 0]
    turn = np.arctan2(cross, (before * s.start_tangent).sum(axis=1))
    return np.sort(contour.stations_mm[np.abs(turn) > _CORNER_RAD])


def _best(rank: Floats, usable: Flags, tie: Floats) -> int | None:
    """Return the usable candidate of lowest rank, the lowest tie value deciding."""
    which = np.flatnonzero(usable)
    if not len(which):
        return None
    return int(which[np.lexsort((tie[which], rank[which]))[0]])


def _drilled_site(
    target: PartContour,
    drills: Sequence[tuple[float, float, float]],
    found: Candidates,
    walls: Walls,
    rules: PlanningRules,
) -> Site | None:
    """Return the best place for the first of several holes that fits anywhere.

    Each is a diameter, the clearance asked and the reach of its grown edge from its centre.
    """
    _, clearance, grown = np.array(drills).T
    reach = (grown + clearance)[:, None]
    points = found.point_mm + found.normal * reach[:, :, None]
    flat = points.reshape(-1, 2)
    # The ball of radius `reach` about the hole touches only the wall it was measured from, so
    # the whole lead-in is clear too.
    clear = walls.clearance_mm(flat).reshape(points.shape[:2]) >= reach - _ROUNDING_MM
    if target.role is Role.OUTLINE and target.parent_id is None:
        room = (grown + rules.stock_edge_clearance_mm)[:, None]
        clear &= walls.stock_clearance_mm(flat).reshape(points.shape[:2]) >= room
    foot = np.broadcast_to(found.point_mm, points.shape).reshape(-1, 2)
    free = clear_ways(walls.clamps, foot, flat, beside_mm=rules.approach_radius_mm)
    clear &= free.reshape(points.shape[:2])
    for k, (size, space, _) in enumerate(drills):
        best = _best(found.rank, clear[k], np.arange(len(found.rank), dtype=np.float64))
        if best is not None:
            return _site(
                target,
                StartKind.DRILLED,
                points[k, best],
                size,
                found.station_mm[best],
                space,
                tight=space < rules.wall_clearance_mm,
            )
    return None


def _given_site(
    target: PartContour,
    hole: GivenStart,
    found: Candidates,
    walls: Walls,
    rough_offset_mm: float,
    rules: PlanningRules,
) -> Site | None:
    """Lead from a given hole to the best wall that a straight run reaches."""
    centre = np.array([hole.x_mm, hole.y_mm])
    clearance = float(walls.clearance_mm(centre[None, :])[0]) - hole.diameter_mm / 2
    # Beside the stock there is nothing to drill; what sticks out of it is refused elsewhere.
    if clearance <= 0 or walls.stock_room_mm(hole) < 0:
        return None
    return led_from(target, hole, found, walls, rough_offset_mm, rules)


def led_from(
    target: PartContour,
    hole: GivenStart,
    found: Candidates,
    walls: Walls,
    rough_offset_mm: float,
    rules: PlanningRules,
) -> Site | None:
    """Return the best of some places on a wall that a straight clear run reaches from a hole."""
    centre = np.array([hole.x_mm, hole.y_mm])
    clearance = float(walls.clearance_mm(centre[None, :])[0]) - hole.diameter_mm / 2
    run = lead_length_mm(rough_offset_mm)
    foot = found.point_mm + found.normal * (rough_offset_mm + run)
    fractions = np.linspace(0.0, 1.0, _LINE_SAMPLES)
    along = centre + (foot - centre)[:, None, :] * fractions[None, :, None]
    distance = walls.clearance_mm(along.reshape(-1, 2)).reshape(len(foot), -1)
    clear = distance.min(axis=1) >= rough_offset_mm
    from_hole = np.broadcast_to(centre, foot.shape)
    clear &= clear_ways(walls.clamps, from_hole, foot, beside_mm=rules.approach_radius_mm)
    length = np.hypot(*(foot - centre).T)
    # A short way counts for more than a better place: three millimetres a rank.
    best = _best(length + 3.0 * np.floor(found.rank / 2), clear, length)
    if best is None:
        return None
    return _site(
        target,
        StartKind.GIVEN,
        centre,
        hole.diameter_mm,
        found.station_mm[best],
        clearance,
        tight=clearance < rules.tight_wall_clearance_mm,
    )


def _edge_site(
    target: PartContour,
    found: Candidates,
    walls: Walls,
    rough_offset_mm: float,
    rules: PlanningRules,
) -> Site | None:
    """Come in square from outside the stock, along the shortest clear run."""
    assert walls.stock is not None
    x0, y0, x1, y1 = walls.stock.bounds_mm
    furthest = float(np.hypot(x1 - x0, y1 - y0))
    steps = np.linspace(0.0, furthest, 400)
    best: tuple[float, int, float] | None = None
    for k in range(len(found.station_mm)):
        ray = found.point_mm[k] + found.normal[k] * steps[:, None]
        outside = np.flatnonzero(walls.stock_clearance_mm(ray) < -rules.stock_edge_clearance_mm)
        if not len(outside):
            continue
        end = int(outside[0])
        beyond = steps[: end + 1] > rough_offset_mm
        clear = walls.clearance_mm(ray[: end + 1][beyond]) >= rough_offset_mm - _ROUNDING_MM
        if not clear.all():
            continue
        way = found.point_mm[k : k + 1], ray[end : end + 1]
        if not clear_ways(walls.clamps, *way, beside_mm=rules.approach_radius_mm).all():
            continue
        score = (float(found.rank[k]), k, float(steps[end]))
        if best is None or (score[0], score[2]) < (best[0], best[2]):
            best = score
    if best is None:
        return None
    point = found.point_mm[best[1]] + found.normal[best[1]] * best[2]
    return _site(
        target,
        StartKind.EDGE,
        point,
        0.0,
        found.station_mm[best[1]],
        best[2],
        tight=False,
    )


def _site(
    target: PartContour,
    kind: StartKind,
    point: Floats,
    diameter_mm: float,
    station_mm: float,
    clearance_mm: float,
    *,
    tight: bool,
) -> Site:
    return Site(
        start=Start(
            id="",
            contour_id=target.id,
            kind=kind,
            x_mm=settled_mm(point[0]),
            y_mm=settled_mm(point[1]),
            diameter_mm=diameter_mm,
            clearance_mm=clearance_mm,
        ),
        lead_station_mm=float(station_mm),
        has_tight_clearance=tight,
    )


def settled_mm(at_mm: float) -> float:
    """Return a coordinate without the noise that would print as -0.000."""
    return 0.0 if abs(at_mm) < _ROUNDING_MM else float(at_mm)


def lead_length_mm(rough_offset_mm: float) -> float:
    """Return the straight run square to the wall at the end of a lead-in, mm."""
    return rough_offset_mm


def share_out_given(
    contours: Sequence[PartContour], given: Sequence[GivenStart]
) -> dict[str, tuple[GivenStart, ...]]:
    """Return the given holes of each contour by id, nearest to its wall first.

    A hole belongs to the opening directly around it, or else to the nearest of the outlines
    that lie in the same waste.
    """
    points = np.array([[g.x_mm, g.y_mm] for g in given]).reshape(-1, 2)
    around: list[PartContour | None] = [None] * len(given)
    for c in sorted(contours, key=lambda c: -abs(c.contour.area_mm2)):
        for k in np.flatnonzero(contains_points(c.contour, points)).tolist():
            around[k] = c
    shares: dict[str, list[tuple[float, GivenStart]]] = {}
    for hole, owner in zip(given, around, strict=True):
        place = (hole.x_mm, hole.y_mm)
        rivals = [
            c
            for c in contours
            if (c is owner and c.role is Role.OPENING)
            or (c.role is Role.OUTLINE and c.parent_id == (owner.id if owner else None))
        ]
        measured = [(nearest_station(c.contour, place)[1], c.id) for c in rivals]
        openings = [m for m, c in zip(measured, rivals, strict=True) if c.role is Role.OPENING]
        if measured:
            distance, name = min(openings or measured)
            shares.setdefault(name, []).append((distance, hole))
    return {
        name: tuple(hole for _, hole in sorted(share, key=lambda pair: pair[0]))
        for name, share in shares.items()
    }
