"""The rooms that parts leave which were cut off and taken out: open, whatever is drawn there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Timeline, WordEvent
from kerfwright.proof.pieces import Freed, contour_polygon
from kerfwright.proof.records import Claim
from kerfwright.proof.track import Track

_WHOLE_SHARE = 0.5
"""A freed piece of this share of the contour's area is the part, not a crumb."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Room:
    """Where a part was.

    Attributes
    ----------
    contour_ids : frozenset of str
        The part's outline and what lies inside it.
    area : Polygon
        Where the wire centre runs in the open: the part and its rough kerf.
    after_move : int
        The stop at which it was taken out comes before this move.
    stop_line : int
        Line of that stop.
    """

    contour_ids: frozenset[str]
    area: shapely.Polygon
    after_move: int
    stop_line: int


def rooms_of(timeline: Timeline, claim: Claim, freed: Sequence[Freed]) -> tuple[Room, ...]:
    """Return the rooms of parts of strings that a stop follows, in which they are taken out."""
    strung = {name for one in claim.strings for name in one}
    return tuple(_rooms(timeline, claim, [f for f in freed if f.contour.id in strung]))


def _rooms(timeline: Timeline, claim: Claim, freed: Sequence[Freed]) -> Iterator[Room]:
    stops = [h for h in timeline.happenings if h.kind is WordEvent.STOP]
    for one in freed:
        if one.piece.area < _WHOLE_SHARE * abs(one.contour.contour.area_mm2):
            continue
        # The cuts that follow under the part's own headers are those of its tab's face.
        own = [h.end_move for h in timeline.headers if h.contour_id == one.contour.id]
        last = max(own, default=one.move + 1)
        stop = next((s for s in stops if s.before_move >= last), None)
        if stop is None:
            continue
        inside = contour_polygon(one.contour.contour)
        ids = {
            c.id for c in claim.contours if inside.covers(shapely.Point(c.contour.vertices[0, :2]))
        }
        offset = claim.offset_mm.get(
            (one.contour.id, min(claim.kerf_radius_mm)), min(claim.kerf_radius_mm.values())
        )
        yield Room(
            contour_ids=frozenset(ids | {one.contour.id}),
            area=inside.buffer(offset),
            after_move=stop.before_move,
            stop_line=stop.line,
        )


def in_rooms(rooms: Sequence[Room], points: Floats, *, move: Indices) -> Flags:
    """Return which points of moves lie in a room that was there by then, (m,) bool."""
    found = np.zeros(len(points), dtype=bool)
    for room in rooms:
        later = np.flatnonzero((move >= room.after_move) & ~found)
        if len(later):
            found[later] = shapely.contains_xy(room.area, points[later])
    return found


def samples_in_rooms(rooms: Sequence[Room], track: Track, rows: Indices, *, looks: int) -> Flags:
    """Return, for each of `looks` places of path segments, whether it lies in a room."""
    if not rooms or not len(rows):
        return np.zeros(len(rows) * looks, dtype=bool)
    owner = np.repeat(rows, looks)
    points = track.segments.points_at(owner, np.tile(np.linspace(0.0, 1.0, looks), len(rows)))
    return in_rooms(rooms, points, move=track.move[owner])


def has_room(rooms: Sequence[Room], here: Floats, *, line: int, wire_mm: float) -> bool:
    """Return whether the wire can be threaded at a place where a part was taken out."""
    return any(
        line > room.stop_line
        and room.area.contains(shapely.Point(here))
        and room.area.exterior.distance(shapely.Point(here)) >= 2 * wire_mm
        for room in rooms
    )
