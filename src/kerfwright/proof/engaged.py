"""Whether a pass after the first runs where passes before it have cleared the metal.

A skim has the power for a thin layer.  Where its wire centre stands in metal that nothing cleared
before, the wire cuts its full width: a slot that the rough pass does not fit, or was left out of.
What is open is taken from the program alone: kerfs of earlier cuts in the order of time, pieces
that came free, start holes, and the space beside the stock.

The search is coarse first: points on the rough cuts and on the later passes, about a kerf apart.
By the triangle inequality no place is missed that is deeper than allowed.  Where that does not
clear a place, points an eighth of the kerf radius apart are measured exactly from lines and arcs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from scipy.spatial import cKDTree

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Indices
from kerfwright.nc.timeline import CutHeader, Timeline
from kerfwright.proof.passes import PassRun
from kerfwright.proof.pieces import Freed, contour_polygon
from kerfwright.proof.records import Claim
from kerfwright.proof.rooms import Room, in_rooms
from kerfwright.proof.track import NO_CUT, Track
from kerfwright.proof.wall import Wall

_ALLOWED_KERFS: Final = 1.0
"""Widths of the rough kerf that a skim's centre may go beyond what is cleared: tips of sharp
corners ask for up to that every day (common practice, no source)."""
_MADE_KERFS: Final = 1.0
_ASKED_KERFS: Final = 1.5
"""Spacing of the coarse points on the rough cuts and on later passes, in rough kerfs: usual ways
of a later pass beside the rough one are then near enough."""
_FINE_SHARE: Final = 0.125
"""Spacing of the exact points, as a share of the rough kerf's radius."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stations:
    """Points along the track: the row of each and its place."""

    row: Indices
    points_mm: Floats


def check_engaged(
    timeline: Timeline,
    track: Track,
    wall: Wall,
    claim: Claim,
    *,
    runs: Sequence[PassRun],
    freed: Sequence[Freed],
    rooms: Sequence[Room] = (),
) -> Iterator[Finding]:
    """Yield a refusal for each contour and pass that goes too deep into metal left standing.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    wall : Wall
    claim : Claim
    runs : sequence of PassRun
    freed : sequence of Freed
        Pieces that came free.
    rooms : sequence of Room
        Where parts were that have been taken out.
    """
    first = np.array([min(claim.passes_of(cut.contour_id)) for cut in timeline.headers], dtype=int)
    headed = np.flatnonzero(track.header != NO_CUT)
    is_first = track.pass_number[headed] == first[track.header[headed]]
    rough, later = headed[is_first], headed[~is_first]
    if not len(rough) or not len(later):
        # A missing pass has a refusal of its own.
        return
    radius = float(track.radius_mm[rough].max())
    limit_mm = np.zeros(int(track.pass_number.max()) + 1)
    for run in runs:
        limit_mm[run.number] = run.sweep.limit_mm
    kerf_mm = 2 * radius
    doubted = _doubtful(track, rough, later, radius)
    if not doubted:
        return
    boxes = track.segments.boxes()
    for rows in doubted:
        spots = _stations(track, rows, _FINE_SHARE * radius)
        # Away from the wall, ways have a check of their own.
        away, _ = wall.index.query(spots.points_mm)
        beside = away <= limit_mm[track.pass_number[spots.row]]
        spots = _Stations(row=spots.row[beside], points_mm=spots.points_mm[beside])
        if len(spots.row):
            number = int(track.header[rows[0]])
            deep = _depths(
                track, claim, number, spots, boxes, near_mm=kerf_mm, freed=freed, rooms=rooms
            )
            if deep.max() > _ALLOWED_KERFS * kerf_mm:
                yield _too_deep(track, timeline.headers[number], spots, deep, kerf_mm)


def _doubtful(track: Track, rough: Indices, later: Indices, radius_mm: float) -> list[Indices]:
    """Return rows of later passes that may be too far from rough cuts made before, cut by cut."""
    kerf_mm = 2 * radius_mm
    step = _ASKED_KERFS * kerf_mm
    made = _stations(track, rough, _MADE_KERFS * kerf_mm)
    asked = _stations(track, later, step)
    reach = radius_mm + _ALLOWED_KERFS * kerf_mm - step / 2
    tree = cKDTree(made.points_mm, balanced_tree=False)
    distance, which = map(np.asarray, tree.query(asked.points_mm, distance_upper_bound=reach))
    is_near = np.isfinite(distance)
    before = np.zeros(len(distance), dtype=bool)
    before[is_near] = track.move[made.row[which[is_near]]] < track.move[asked.row[is_near]]
    doubted = np.zeros(len(track), dtype=bool)
    marked = np.flatnonzero(~(is_near & before))
    # What lies between two stations belongs to both.
    for beside in (marked - 1, marked, marked + 1):
        doubted[asked.row[np.clip(beside, 0, len(asked.row) - 1)]] = True
    low, high = (asked.row[np.clip(marked + d, 0, len(asked.row) - 1)] for d in (-1, 1))
    doubted[_between(low, high)] = True
    rows = later[doubted[later]]
    ends = np.flatnonzero(np.diff(track.header[rows], append=NO_CUT))
    return [part for part in np.split(rows, ends[:-1] + 1) if len(part)]


def _between(low: Indices, high: Indices) -> Indices:
    """Return every whole number from each low to its high."""
    count = high - low + 1
    first = np.cumsum(count) - count
    found: Indices = np.arange(int(count.sum())) - np.repeat(first - low, count)
    return found


def _stations(track: Track, rows: Indices, step_mm: float) -> _Stations:
    """Return points along rows of the track, the ends of every unbroken run among them."""
    length = track.segments.length[rows]
    after = np.cumsum(length)
    way = np.arange(0.0, after[-1], step_mm)
    which = np.minimum(np.searchsorted(after, way, side="right"), len(rows) - 1)
    share = (way - (after - length)[which]) / np.maximum(length[which], np.finfo(float).tiny)
    cut = np.flatnonzero((np.diff(track.run[rows]) != 0) | (np.diff(rows) != 1))
    begins, ends = np.append(0, cut + 1), np.append(cut, len(rows) - 1)
    which = np.concatenate([which, begins, ends])
    share = np.concatenate([np.clip(share, 0.0, 1.0), np.zeros(len(begins)), np.ones(len(ends))])
    order = np.lexsort((share, which))
    row = rows[which[order]]
    return _Stations(row=row, points_mm=track.segments.points_at(row, share[order]))


def _depths(
    track: Track,
    claim: Claim,
    number: int,
    spots: _Stations,
    boxes: tuple[Floats, Floats, Floats, Floats],
    *,
    near_mm: float,
    freed: Sequence[Freed],
    rooms: Sequence[Room],
) -> Floats:
    """Return how far each point lies from what is open before a cut, mm; not above 0 in the open.

    Kerfs within `near_mm`, the width of the rough kerf, are asked first; where they decide, the
    value is no more than an upper bound.
    """
    begin = int(track.move[track.rows_of(number)[0]])
    earlier = np.flatnonzero(track.move < begin)
    points = spots.points_mm
    low, high = points.min(axis=0) - 2 * near_mm, points.max(axis=0) + 2 * near_mm
    x0, y0, x1, y1 = (side[earlier] for side in boxes)
    near = (x0 <= high[0]) & (x1 >= low[0]) & (y0 <= high[1]) & (y1 >= low[1])
    deep = _from_kerfs(track, earlier[near], points)
    far = np.flatnonzero(deep > _ALLOWED_KERFS * near_mm)
    if len(far):
        here, there = points[far], spots.row[far]
        solid = np.minimum(_from_kerfs(track, earlier, here), _from_open(claim, here))
        for one in freed:
            if one.header < number:
                solid = np.minimum(solid, shapely.distance(one.piece, shapely.points(here)))
        solid[in_rooms(rooms, here, move=track.move[there])] = 0.0
        deep[far] = solid
    return deep


def _from_kerfs(track: Track, rows: Indices, points: Floats) -> Floats:
    """Return how far points lie from the kerfs of some rows, mm; negative inside."""
    deep = np.full(len(points), np.inf)
    for radius in np.unique(track.radius_mm[rows]):
        path = track.segments.taken(rows[track.radius_mm[rows] == radius])
        distance, _ = NearestIndex(path).query(points)
        deep = np.minimum(deep, distance - radius)
    return deep


def _from_open(claim: Claim, points: Floats) -> Floats:
    """Return how far points lie from start holes and the outside of the stock, mm."""
    deep = np.full(len(points), np.inf)
    for start in claim.starts:
        away = np.hypot(points[:, 0] - start.x_mm, points[:, 1] - start.y_mm)
        deep = np.minimum(deep, away - start.diameter_mm / 2)
    if claim.stock is not None:
        stock = contour_polygon(claim.stock)
        edge = shapely.distance(stock.exterior, shapely.points(points))
        deep = np.minimum(deep, np.where(shapely.contains_xy(stock, points), edge, 0.0))
    return deep


def _too_deep(
    track: Track, cut: CutHeader, spots: _Stations, deep: Floats, kerf_mm: float
) -> Finding:
    worst = int(np.argmax(deep))
    allowed_mm = _ALLOWED_KERFS * kerf_mm
    x, y = spots.points_mm[worst]
    return Finding(
        code="skim-in-solid",
        severity=Severity.REFUSAL,
        message=f"pass {cut.pass_number} of contour {cut.contour_id} runs {deep[worst]:.2f} mm "
        f"into metal that no cut before it cleared; {allowed_mm:.2f} mm, the width of the rough "
        "kerf, is the most: a skim cannot cut it",
        where=Place(
            contour_id=cut.contour_id,
            x_mm=float(x),
            y_mm=float(y),
            line=int(track.line[spots.row[worst]]),
            pass_number=cut.pass_number,
        ),
        remedy="let the rough pass cut there first, or leave it out of the later passes",
        data={"deep_mm": float(deep[worst]), "allowed_mm": allowed_mm},
    )
