"""Where the wire goes away from the wall: lead-ins, lead-outs, strays.

The rough pass may cut its way from the start to the wall.  Every later cut has to come and go
through what is open by then: start holes, kerf of earlier cuts of the contour, an opening whose
slug is out, the space outside the stock.  A skim in full material is far too fast and breaks the
wire (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.passes import PassRun
from kerfwright.proof.pieces import Freed, contour_polygon
from kerfwright.proof.records import Claim
from kerfwright.proof.rooms import Room, in_rooms
from kerfwright.proof.track import NO_CUT, Track
from kerfwright.proof.wall import Wall
from kerfwright.trade.part import Role

_STEP_MM = 0.1
"""Spacing of the points looked at: half a usual kerf."""
_MOST_SAMPLES = 200
"""Points on one segment."""
_WAY_SHARE = 1.5
_WAY_SPARE_MM = 1.0
"""A lead-in longer than 1.5 times the way to the wall and 1 mm more is asked about."""
_SOLID_MM = 0.25
"""Solid that a later cut may meet: about what ends of sampled ways add up to."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Samples:
    """Points along stray segments: the track's row and the length each stands for."""

    row: Indices
    points_mm: Floats
    weight_mm: Floats


def check_ways(
    timeline: Timeline,
    track: Track,
    wall: Wall,
    claim: Claim,
    *,
    runs: tuple[PassRun, ...],
    freed: tuple[Freed, ...],
    rooms: tuple[Room, ...] = (),
) -> Iterator[Finding]:
    """Yield findings on cuts through solid away from the wall.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    wall : Wall
    claim : Claim
    runs : tuple of PassRun
    freed : tuple of Freed
        Pieces that came free.
    rooms : tuple of Room
        Where parts were that have been taken out.
    """
    mates = {name: frozenset(one) for one in claim.strings for name in one}
    samples = _stray_samples(track, wall, runs)
    if not len(samples.row):
        return
    is_open = _in_the_open(claim, samples.points_mm)
    header = track.header[samples.row]
    for number, cut in enumerate(timeline.headers):
        mine = np.flatnonzero((header == number) & ~is_open)
        if not len(mine):
            continue
        points = samples.points_mm[mine]
        own = frozenset([cut.contour_id])
        rows = _earlier(timeline, track, number, names=mates.get(cut.contour_id, own))
        solid = ~(
            _in_freed([f for f in freed if f.header < number], points)
            | _in_kerf(track, rows, points)
            | in_rooms(rooms, points, move=track.move[samples.row[mine]])
        )
        length = float(samples.weight_mm[mine[solid]].sum())
        first = mine[np.argmax(solid)]
        is_rough = not len(_earlier(timeline, track, number, names=own))
        if is_rough and cut.contour_id in mates:
            # Its way is a channel, judged by :mod:`kerfwright.proof.strung`.
            continue
        if is_rough and cut.contour_id in claim.coreless_ids:
            # Its loops lie away from the wall; what they leave has findings of its own.
            continue
        allowed = _SOLID_MM
        if is_rough:
            begin = track.segments.start[track.rows_of(number)[:1]]
            away, _ = wall.index.query(begin)
            allowed = float(away[0]) * _WAY_SHARE + _WAY_SPARE_MM
        if length > allowed:
            yield Finding(
                code="long-way-in" if is_rough else "cut-through-solid",
                severity=Severity.WARNING if is_rough else Severity.REFUSAL,
                message=f"pass {cut.pass_number} cuts {length:.2f} mm through solid away from the "
                f"wall; {allowed:.2f} mm is what the way there needs",
                where=Place(
                    contour_id=cut.contour_id,
                    x_mm=float(samples.points_mm[first, 0]),
                    y_mm=float(samples.points_mm[first, 1]),
                    line=int(track.line[samples.row[first]]),
                    pass_number=cut.pass_number,
                ),
                remedy="lead the wire through what is open already",
                data={"length_mm": length},
            )


def _stray_samples(track: Track, wall: Wall, runs: tuple[PassRun, ...]) -> _Samples:
    """Return points of the path that have no wall beside them."""
    found = [run.elements[run.sweep.leaves_wall] for run in runs]
    stray = np.sort(np.concatenate([np.zeros(0, dtype=np.intp), *found]))
    stray = stray[track.header[stray] != NO_CUT]
    length = track.segments.length[stray]
    count = np.clip(np.ceil(length / _STEP_MM), 1, _MOST_SAMPLES).astype(np.intp)
    which = np.repeat(np.arange(len(stray)), count)
    place = np.arange(len(which)) - (np.cumsum(count) - count)[which]
    row = stray[which]
    points = track.segments.points_at(row, (place + 0.5) / count[which])
    limit = np.zeros(int(track.pass_number.max(initial=0)) + 1)
    for run in runs:
        limit[run.number] = run.sweep.limit_mm
    distance, _ = wall.index.query(points)
    away = distance > limit[track.pass_number[row]]
    weight = (length / count)[which]
    return _Samples(row=row[away], points_mm=points[away], weight_mm=weight[away])


def _earlier(timeline: Timeline, track: Track, number: int, *, names: frozenset[str]) -> Indices:
    """Return the rows of the track that cut some contours before."""
    same = [k for k in range(number) if timeline.headers[k].contour_id in names]
    return np.sort(np.concatenate([np.zeros(0, dtype=np.intp), *map(track.rows_of, same)]))


def _in_the_open(claim: Claim, points: Floats) -> Flags:
    is_open = np.zeros(len(points), dtype=bool)
    for start in claim.starts:
        away = np.hypot(points[:, 0] - start.x_mm, points[:, 1] - start.y_mm)
        is_open |= away <= start.diameter_mm / 2
    if claim.stock is not None:
        is_open |= ~shapely.contains_xy(contour_polygon(claim.stock), points)
    return is_open


def _in_freed(freed: list[Freed], points: Floats) -> Flags:
    """Return which points lie in openings whose slug an earlier cut freed."""
    is_open = np.zeros(len(points), dtype=bool)
    low, high = points.min(axis=0), points.max(axis=0)
    for one in freed:
        x0, y0, x1, y1 = one.contour.contour.bounds_mm
        is_apart = x0 > high[0] or x1 < low[0] or y0 > high[1] or y1 < low[1]
        if one.contour.role is Role.OPENING and not is_apart:
            is_open |= shapely.contains_xy(contour_polygon(one.contour.contour), points)
    return is_open


def _in_kerf(track: Track, rows: Indices, points: Floats) -> Flags:
    """Return which points lie in the kerf of the rows of the track."""
    if not len(rows):
        return np.zeros(len(points), dtype=bool)
    widest = float(track.radius_mm[rows].max())
    path = track.segments.taken(rows)
    x0, y0, x1, y1 = path.boxes(widest)
    low, high = points.min(axis=0), points.max(axis=0)
    near = np.flatnonzero((x0 <= high[0]) & (x1 >= low[0]) & (y0 <= high[1]) & (y1 >= low[1]))
    if not len(near):
        return np.zeros(len(points), dtype=bool)
    distance, which = NearestIndex(path.taken(near)).query(points)
    inside: Flags = distance <= track.radius_mm[rows[near[which]]]
    return inside
