"""Openings whose rough pass is to leave nothing inside: no slug, and no piece of one.

The kerf is drawn too narrow where it is asked whether something is left, and too wide where it is
asked whether something came free, by chords within :data:`FLAT_MM`.  Start holes do not count for
the first: a hole may have wandered.  They count as open for the second.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Flags, Indices
from kerfwright.nc.timeline import CutHeader, Timeline
from kerfwright.proof.pieces import FLAT_MM, contour_polygon, grown, polyline
from kerfwright.proof.records import Claim
from kerfwright.proof.track import Track
from kerfwright.trade.part import PartContour

_BAND_MM = 0.02
"""Of the kerf's edge along the wall, which the comparison with the wall judges exactly."""
_ROUND_CHORDS = 32
"""Chords per quarter of a disc, drawn in it: 0.06 % of its radius too narrow."""
_NOTHING_MM2 = 1e-6
"""A square of a micrometre: rounding of the areas."""
_LOOK_KERFS = 3.0
"""After so many kerf widths of way it is asked anew what came free."""


def check_eroded(timeline: Timeline, track: Track, claim: Claim) -> Iterator[Finding]:
    """Yield refusals where something is left inside such an opening, or came free in it.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    """
    for part in claim.contours:
        if part.id not in claim.coreless_ids & claim.cut_ids:
            continue
        rows, cut = _rough_rows(timeline, track, claim, part.id)
        if cut is None:
            # A missing pass has a refusal of its own.
            continue
        yield from _left(track, claim, part, rows, cut)
        yield from _scraps(track, claim, part, rows, cut)


def _rough_rows(
    timeline: Timeline, track: Track, claim: Claim, contour_id: str
) -> tuple[Indices, CutHeader | None]:
    """Return what the first pass of a contour cuts, in order, and its first header."""
    first = min(claim.passes_of(contour_id))
    numbers = [
        k
        for k, cut in enumerate(timeline.headers)
        if cut.contour_id == contour_id and cut.pass_number == first
    ]
    rows = np.flatnonzero(np.isin(track.header, numbers))
    return rows, timeline.headers[numbers[0]] if len(rows) else None


def kerf_within(track: Track, rows: Indices) -> shapely.Geometry:
    """Return an area that lies within what some rows of the track take away."""
    radius = track.radius_mm[rows] - FLAT_MM
    runs = track.run[rows]
    begins = np.flatnonzero((np.diff(runs, prepend=-1) != 0) | (np.diff(radius, prepend=-1) != 0))
    ends = np.append(begins[1:], len(rows))
    swept = [
        shapely.buffer(
            shapely.LineString(polyline(track.segments, rows[a:b])),
            float(radius[a]),
            quad_segs=_ROUND_CHORDS,
        )
        for a, b in zip(begins, ends, strict=True)
    ]
    return shapely.union_all(swept)


def _left(
    track: Track, claim: Claim, part: PartContour, rows: Indices, cut: CutHeader
) -> Iterator[Finding]:
    """Yield a refusal if the kerf does not cover all that a wire along the wall could take."""
    radius = float(track.radius_mm[rows[0]])
    offset = claim.offset_mm.get((part.id, cut.pass_number), cut.offset_mm)
    within = shapely.buffer(contour_polygon(part.contour), -offset, quad_segs=_ROUND_CHORDS)
    wanted = shapely.buffer(within, radius - _BAND_MM, quad_segs=_ROUND_CHORDS)
    left = shapely.difference(wanted, kerf_within(track, rows))
    if left.area <= _NOTHING_MM2:
        return
    pieces = [p for p in shapely.get_parts(left) if isinstance(p, shapely.Polygon)]
    worst = max(pieces, key=lambda p: p.area)
    x, y = shapely.get_coordinates(shapely.point_on_surface(worst))[0]
    yield Finding(
        code="inside-not-cut-away",
        severity=Severity.REFUSAL,
        message=f"the rough pass leaves {left.area:.4f} mm² inside contour {part.id} in "
        f"{counted(len(pieces), 'place')}, the largest {worst.area:.4f} "
        "mm²; its inside is to be cut away whole",
        where=Place(
            contour_id=part.id,
            x_mm=float(x),
            y_mm=float(y),
            line=cut.line,
            pass_number=cut.pass_number,
        ),
        remedy="close the loops up, or add the one that is missing",
        data={"left_mm2": float(left.area), "places": float(len(pieces))},
    )


def _scraps(
    track: Track, claim: Claim, part: PartContour, rows: Indices, cut: CutHeader
) -> Iterator[Finding]:
    """Yield a refusal for the first piece that comes free and is too wide for the water."""
    inside = contour_polygon(part.contour)
    places = [s for s in claim.starts if s.diameter_mm > 0]
    within = shapely.contains_xy(
        inside, np.array([(s.x_mm, s.y_mm) for s in places]).reshape(-1, 2)
    )
    opened = shapely.union_all(
        [
            shapely.Point(s.x_mm, s.y_mm).buffer(s.diameter_mm / 2)
            for s, is_here in zip(places, within, strict=True)
            if is_here
        ]
    )
    step = _LOOK_KERFS * 2 * float(track.radius_mm[rows[0]])
    way = np.cumsum(track.segments.length[rows])
    marks = np.flatnonzero(np.diff(np.floor(way / step), append=np.inf) > 0) + 1
    begin = 0
    for end in marks.tolist():
        # One segment back: the kerf of a piece must meet that before it.
        opened = grown(opened, track, rows[max(begin - 1, 0) : end])
        begin = end
        for piece in _enclosed(opened):
            if shapely.buffer(piece, -claim.scrap_mm / 2).is_empty:
                continue
            x, y = shapely.get_coordinates(shapely.point_on_surface(piece))[0]
            line = int(track.line[rows[end - 1]])
            yield Finding(
                code="scrap-comes-free",
                severity=Severity.REFUSAL,
                message=f"by line {line} a piece of {piece.area:.3f} mm² has come free inside "
                f"contour {part.id}; no piece wider than {claim.scrap_mm:.2f} mm may",
                where=Place(
                    contour_id=part.id,
                    x_mm=float(x),
                    y_mm=float(y),
                    line=line,
                    pass_number=cut.pass_number,
                ),
                remedy="cut the loops from the start hole outward",
                data={"area_mm2": float(piece.area), "limit_mm": claim.scrap_mm},
            )
            return


def _enclosed(opened: shapely.Geometry) -> list[shapely.Polygon]:
    parts = [p for p in shapely.get_parts(opened) if isinstance(p, shapely.Polygon)]
    return [shapely.Polygon(ring) for p in parts for ring in p.interiors]


def runs_in_eroded(timeline: Timeline, track: Track, claim: Claim, rows: Indices) -> Flags:
    """Return which rows of the track run where loops before them, together, left nothing.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    rows : (n,) int
    """
    found = np.zeros(len(rows), dtype=bool)
    names = [cut.contour_id for cut in timeline.headers]
    for name in {names[h] for h in track.header[rows] if h >= 0} & claim.coreless_ids:
        own = np.flatnonzero([h >= 0 and names[h] == name for h in track.header[rows]])
        numbers = np.flatnonzero([n == name for n in names])
        before = np.flatnonzero(np.isin(track.header, numbers))
        # What is open for the first of them is open for the others.
        before = before[track.move[before] < track.move[rows[own]].min()]
        if not len(before):
            continue
        opened = kerf_within(track, before)
        for k in own.tolist():
            row = rows[k : k + 1]
            way = shapely.LineString(polyline(track.segments, row))
            room = float(track.radius_mm[row[0]]) - 2 * FLAT_MM
            found[k] = opened.covers(shapely.buffer(way, room, quad_segs=_ROUND_CHORDS // 2))
    return found
