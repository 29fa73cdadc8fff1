"""Which piece comes free, at which line, and whether somebody stands by.

The kerf of one contour is the union of discs along its cuts, as polygons of chords; a piece is
free when the kerf closes round it (or round it and the edge of the stock).  Chords are within
:data:`FLAT_MM` of the path: plenty for a bridge of tenths of a millimetre, and independent of the
exact comparison with the wall.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Floats, Indices, Segments
from kerfwright.nc.timeline import Timeline, WordEvent
from kerfwright.proof.records import Claim, Event, EventKind
from kerfwright.proof.track import Track
from kerfwright.trade.part import PartContour, Role

FLAT_MM = 0.005
"""Largest distance of a chord from the path: a bridge that thin holds nothing."""
_QUARTER_CHORDS = 4
"""Chords per quarter of a disc, drawn round it: at most 2 % wider, so a piece counts as free a
trifle early, never late."""
_DRAWN_ROUND = 1.0 / math.cos(math.pi / (4 * _QUARTER_CHORDS))
_CRUMB_WIDTHS = 2.0
"""Pieces no wider than this many kerf widths each way are flushed away (common practice, no
source)."""
ATTENDED_S = 900.0
"""Longest time at programmed feeds from a stop to the release for which somebody stays: a tab
takes minutes, a whole contour hours (common practice, no source)."""
_WHOLE_SHARE = 0.5
"""Once a piece of this share of a contour's area is free, the contour is separated."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Freed:
    """A piece that came free.

    Attributes
    ----------
    event : Event
    contour : PartContour
    header : int
        Cut that freed it.
    move : int
        Move of the time line that freed it.
    piece : Polygon
        What came free.
    """

    event: Event
    contour: PartContour
    header: int
    move: int
    piece: shapely.Polygon


def pieces_freed(timeline: Timeline, track: Track, claim: Claim) -> tuple[Freed, ...]:
    """Return the pieces that come free, in order of time.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    """
    found: list[Freed] = []
    for part in claim.contours:
        if part.id in claim.cut_ids:
            found += _of_contour(timeline, track, claim, part)
    return tuple(sorted(found, key=lambda f: f.move))


def _of_contour(timeline: Timeline, track: Track, claim: Claim, part: PartContour) -> list[Freed]:
    outside = _outside(claim.stock)
    crumb = crumb_mm2(claim)
    whole = _WHOLE_SHARE * abs(part.contour.area_mm2)
    kerf: shapely.Geometry = shapely.Polygon()
    found: list[Freed] = []
    free: list[shapely.Polygon] = []
    for number, header in enumerate(timeline.headers):
        if header.contour_id != part.id:
            continue
        rows = track.rows_of(number)
        if not len(rows):
            continue
        before = kerf
        kerf = grown(before, track, rows)
        new = [p for p in _islands(kerf, outside, part, crumb) if not _known(p, free)]
        for piece in sorted(new, key=lambda p: p.area):
            inner = shapely.point_on_surface(piece)

            def is_free(count: int, inner: shapely.Point = inner) -> bool:
                part_kerf = grown(before, track, rows[:count])  # noqa: B023 - called at once
                return any(p.covers(inner) for p in _islands(part_kerf, outside, part, crumb))

            count = first_true(is_free, len(rows))
            row = int(rows[count - 1])
            event = _event(timeline, track, claim, part, piece, row, number)
            move = int(track.move[row])
            found.append(Freed(event=event, contour=part, header=number, move=move, piece=piece))
            free.append(piece)
        if sum(p.area for p in free) > whole:
            break
    return found


def crumb_mm2(claim: Claim) -> float:
    """Return the area below which a piece is flushed away, mm²."""
    return (_CRUMB_WIDTHS * 2 * max(claim.kerf_radius_mm.values())) ** 2


def _known(piece: shapely.Polygon, free: list[shapely.Polygon]) -> bool:
    """Return whether a piece was free before: a later cut trims it but leaves it in place."""
    return any(p.intersects(shapely.point_on_surface(piece)) for p in free)


def first_true(holds: Callable[[int], bool], count: int) -> int:
    """Return the least number of moves for which `holds`, known to be true for all of them.

    Steps back from the end in doubling strides first: a kerf usually closes in its last moves.
    """
    high, stride = count, 1
    low = max(high - stride, 0)
    while low > 0 and holds(low):
        high, stride = low, stride * 2
        low = max(high - stride, 0)
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle
    return high


def grown(kerf: shapely.Geometry, track: Track, rows: Indices) -> shapely.Geometry:
    """Return a kerf with what some rows of the track take away added."""
    if not len(rows):
        return kerf
    radius = float(track.radius_mm[rows[0]])
    runs = np.flatnonzero(np.diff(track.run[rows], prepend=-1, append=-1))
    lines = [
        shapely.LineString(polyline(track.segments, rows[begin:end]))
        for begin, end in pairwise(runs)
    ]
    swept = shapely.buffer(
        shapely.simplify(shapely.MultiLineString(lines), FLAT_MM),
        radius * _DRAWN_ROUND,
        quad_segs=_QUARTER_CHORDS,
    )
    return shapely.union(kerf, swept)


def polyline(segments: Segments, rows: Indices) -> Floats:
    """Return points along consecutive segments, chords within :data:`FLAT_MM`, (m, 2) mm."""
    radius = np.where(segments.is_arc[rows], segments.radius[rows], 1.0)
    step = 2 * np.arccos(np.clip(1 - FLAT_MM / radius, 0.0, 1.0))
    count = np.maximum(np.ceil(np.abs(segments.sweep[rows]) / step), 1).astype(np.intp)
    which = np.repeat(np.arange(len(rows)), count)
    first = np.cumsum(count) - count
    fraction = (np.arange(len(which)) - first[which]) / count[which]
    points = segments.points_at(rows[which], fraction)
    return np.vstack([points, segments.end[rows[-1:]]])


def contour_polygon(contour: Contour) -> shapely.Polygon:
    """Return the area inside a closed contour as a polygon of chords."""
    return shapely.Polygon(polyline(contour.segments, np.arange(len(contour))))


def _outside(stock: Contour | None) -> shapely.Geometry | None:
    if stock is None:
        return None
    inside = contour_polygon(stock)
    return shapely.difference(inside.envelope.buffer(1.0), inside)


def _islands(
    kerf: shapely.Geometry,
    outside: shapely.Geometry | None,
    part: PartContour,
    crumb_mm2: float,
) -> list[shapely.Polygon]:
    """Return the solid pieces that the kerf, alone or with the stock's edge, goes round."""
    pieces = _holes(kerf)
    if outside is not None and not pieces and shapely.intersects(kerf, outside):
        ring = shapely.union(kerf, outside)
        around = _holes(ring)
        # The stock itself stays clamped; only what lies within the contour has come off.
        inside = contour_polygon(part.contour)
        pieces = [p for p in around if inside.covers(shapely.point_on_surface(p))]
        pieces = pieces if len(around) > 1 else []
    return [p for p in pieces if p.area > crumb_mm2]


def _holes(swept: shapely.Geometry) -> list[shapely.Polygon]:
    """Return what a swept area goes round; unions may also hold bare lines, which hold nothing."""
    parts = [p for p in shapely.get_parts(swept) if isinstance(p, shapely.Polygon)]
    return [shapely.Polygon(ring) for p in parts for ring in p.interiors]


def _event(
    timeline: Timeline,
    track: Track,
    claim: Claim,
    part: PartContour,
    piece: shapely.Polygon,
    row: int,
    header: int,
) -> Event:
    area = piece.area - _missing_area(timeline, claim, part, piece, header)
    mass = area * claim.height_mm * claim.density_kg_per_m3 * 1e-9
    move = int(track.move[row])
    attended = is_attended(timeline, track, header, move)
    what = "part" if part.role is Role.OUTLINE else "slug"
    x, y = track.segments.end[row]
    return Event(
        kind=EventKind.PIECE_FREE,
        line=int(track.line[row]),
        time_s=float(track.clock_s[move + 1]),
        x_mm=float(x),
        y_mm=float(y),
        contour_id=part.id,
        mass_kg=float(mass),
        is_attended=attended,
        message=f"the {what} of contour {part.id}, {mass:.3f} kg, comes free",
    )


def _missing_area(
    timeline: Timeline, claim: Claim, part: PartContour, piece: shapely.Polygon, header: int
) -> float:
    """Return the area inside a piece that was cut out before, and of start holes in it, mm²."""
    total = 0.0
    cut = {h.contour_id for h in timeline.headers[:header]} | (
        {c.id for c in claim.contours} - claim.cut_ids
    )
    for child in claim.contours:
        x, y = child.contour.vertices[0, :2]
        is_inside = child.parent_id == part.id or (
            child.parent_id is None and child.role is not part.role and child.id != part.id
        )
        if is_inside and child.id in cut and piece.contains(shapely.Point(x, y)):
            total += abs(child.contour.area_mm2)
    for start in claim.starts:
        if part.role is Role.OPENING and start.diameter_mm > 0:
            radius = start.diameter_mm / 2
            x0, y0, x1, y1 = piece.bounds
            # Of a hundred openings one holds the hole: no disc is drawn for the others.
            beyond_x = max(x0 - start.x_mm, start.x_mm - x1)
            beyond_y = max(y0 - start.y_mm, start.y_mm - y1)
            if max(beyond_x, beyond_y) <= radius:
                disc = shapely.Point(start.x_mm, start.y_mm).buffer(radius)
                total += piece.intersection(disc).area
    return total


def is_attended(timeline: Timeline, track: Track, header: int, move: int) -> bool:
    """Return whether somebody stands by at a move.

    That is so if a programmed stop comes after the last cutting move of the cut before, not after
    the move itself, and the move ends within :data:`ATTENDED_S` of it.
    """
    earlier = track.move[(track.header != header) & (track.move < move)]
    last = int(earlier.max(initial=-1))
    end_s = track.clock_s[move + 1]
    return any(
        h.kind is WordEvent.STOP
        and last < h.before_move <= move
        and end_s - track.clock_s[h.before_move] <= ATTENDED_S
        for h in timeline.happenings
    )
