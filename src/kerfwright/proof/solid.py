"""One solid for cuts whose kerfs meet, or that reach the edge of the stock.

What is free is seen contour by contour in :mod:`kerfwright.proof.pieces`.  Where kerfs of
different contours meet, waste between them comes free too, and a kerf may take a neighbour's tab;
where a kerf reaches the edge of the stock, it may take the frame that holds a tab.  There the
solid is the stock less all kerf so far, and what hangs together with the clamped frame stays.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Indices
from kerfwright.nc.timeline import CutHeader, Timeline, WordEvent
from kerfwright.proof.pieces import (
    Freed,
    contour_polygon,
    crumb_mm2,
    first_true,
    grown,
    is_attended,
    polyline,
)
from kerfwright.proof.records import Claim, Event, EventKind
from kerfwright.proof.track import Track
from kerfwright.trade.part import PartContour, Role

MM3_PER_M3 = 1e9
_FRAME_MM = 0.5
"""A frame of the stock narrower than this holds no part (common practice, no source)."""
_HELD_S = 1800.0
"""Longest time from a stop for which somebody watches a part that only its fastening holds: the
tab's face takes minutes, all round takes hours (common practice, no source)."""
_AROUND_MM = 5.0
"""Solid drawn about the kerf where the stock is unknown."""


def joint_pieces(
    timeline: Timeline, track: Track, claim: Claim, *, freed: tuple[Freed, ...]
) -> tuple[Freed, ...]:
    """Return the pieces that only the kerfs of several cuts, or the edge of the stock, free.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    freed : tuple of Freed
        What is free contour by contour; not told again.
    """
    rows = [track.rows_of(k) for k in range(len(timeline.headers))]
    lone = _lone(timeline, track, claim, rows)
    kerfs: dict[str, shapely.Geometry] = {}
    for number, header in enumerate(timeline.headers):
        if len(rows[number]) and header.contour_id not in lone:
            so_far = kerfs.get(header.contour_id, shapely.Polygon())
            kerfs[header.contour_id] = grown(so_far, track, rows[number])
    found: list[Freed] = []
    for group in _neighbourhoods(kerfs, claim):
        found += _of_group(timeline, track, claim, freed=freed, group=group)
    return tuple(sorted(found, key=lambda f: f.move))


def _lone(timeline: Timeline, track: Track, claim: Claim, rows: list[Indices]) -> frozenset[str]:
    """Return contours whose kerf meets no other and stays inside the stock: no solid to judge."""
    reach = 2.1 * max(claim.kerf_radius_mm.values())
    names = list(dict.fromkeys(h.contour_id for h in timeline.headers))
    if not names:
        return frozenset()
    lines = []
    for name in names:
        mine = [r for r, h in zip(rows, timeline.headers, strict=True) if h.contour_id == name]
        every = np.concatenate([r for r in mine if len(r)] or [np.zeros(0, dtype=np.intp)])
        runs = np.flatnonzero(np.diff(track.run[every], prepend=-1, append=-1))
        lines.append(
            shapely.MultiLineString(
                [polyline(track.segments, every[a:b]) for a, b in pairwise(runs) if b > a]
            )
        )
    first, second = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=reach)
    met = {int(a) for a, b in zip(first, second, strict=True) if a != b}
    if claim.stock is not None:
        inner = contour_polygon(claim.stock).buffer(-reach)
        met |= {k for k, line in enumerate(lines) if not inner.covers(line)}
    return frozenset(name for k, name in enumerate(names) if k not in met)


def _neighbourhoods(kerfs: dict[str, shapely.Geometry], claim: Claim) -> list[frozenset[str]]:
    """Return groups of contours whose kerfs meet, and single ones that reach the stock's edge."""
    names = list(kerfs)
    if not names:
        return []
    tree = shapely.STRtree([kerfs[n] for n in names])
    group = {n: frozenset([n]) for n in names}
    for a, b in tree.query([kerfs[n] for n in names], predicate="intersects").T:
        if a != b and group[names[a]] is not group[names[b]]:
            joined = group[names[a]] | group[names[b]]
            group.update(dict.fromkeys(joined, joined))
    stock = None if claim.stock is None else contour_polygon(claim.stock)
    return [
        g
        for g in dict.fromkeys(group.values())
        if len(g) > 1 or (stock is not None and not all(shapely.covers(stock, kerfs[n]) for n in g))
    ]


def _of_group(
    timeline: Timeline,
    track: Track,
    claim: Claim,
    *,
    freed: tuple[Freed, ...],
    group: frozenset[str],
) -> list[Freed]:
    parts = {p.id: p for p in claim.contours}
    crumb = crumb_mm2(claim)
    mine = [k for k, h in enumerate(timeline.headers) if h.contour_id in group & parts.keys()]
    body = _body(track, claim, mine)
    outlines = shapely.union_all(
        [contour_polygon(parts[n].contour) for n in group if _is_outline(parts, n)]
    )
    kerf: shapely.Geometry = shapely.Polygon()
    known: list[shapely.Polygon] = []
    found: list[Freed] = []
    for number in mine:
        rows = track.rows_of(number)
        before = kerf
        kerf = grown(before, track, rows)
        told = [f.piece for f in freed if f.header <= number]
        for piece in _loose(body, kerf, outlines, crumb):
            inner = shapely.point_on_surface(piece)
            if any(p.covers(inner) for p in (*known, *told)):
                continue

            def is_free(count: int, inner: shapely.Point = inner) -> bool:
                so_far = grown(before, track, rows[:count])  # noqa: B023 - called at once
                return any(p.covers(inner) for p in _loose(body, so_far, outlines, crumb))

            row = int(rows[first_true(is_free, len(rows)) - 1])
            move = int(track.move[row])
            x, y = track.segments.end[row]
            mass = piece.area * claim.height_mm * claim.density_kg_per_m3 / MM3_PER_M3
            name = timeline.headers[number].contour_id
            event = Event(
                kind=EventKind.PIECE_FREE,
                line=int(track.line[row]),
                time_s=float(track.clock_s[move + 1]),
                x_mm=float(x),
                y_mm=float(y),
                contour_id=name,
                mass_kg=float(mass),
                is_attended=is_attended(timeline, track, number, move),
                message=f"a piece beside contour {name}, {mass:.3f} kg, comes free where kerfs or "
                "the edge of the stock meet",
            )
            found.append(
                Freed(event=event, contour=parts[name], header=number, move=move, piece=piece)
            )
            known.append(piece)
    return found


def _is_outline(parts: dict[str, PartContour], name: str) -> bool:
    return name in parts and parts[name].role is Role.OUTLINE


def _body(track: Track, claim: Claim, headers: list[int]) -> shapely.Geometry:
    """Return the stock, or solid all about the cuts where it is unknown."""
    if claim.stock is not None:
        return contour_polygon(claim.stock)
    x0, y0, x1, y1 = track.segments.boxes(_AROUND_MM)
    rows = np.isin(track.header, headers)
    return shapely.box(x0[rows].min(), y0[rows].min(), x1[rows].max(), y1[rows].max())


def _loose(
    body: shapely.Geometry, kerf: shapely.Geometry, outlines: shapely.Geometry, crumb: float
) -> list[shapely.Polygon]:
    """Return what no longer hangs together with the clamped frame.

    The frame is the largest piece at the edge of the stock that, the parts themselves taken away,
    is wider than :data:`_FRAME_MM` somewhere: a part cannot hold itself.
    """
    solid = [p for p in shapely.get_parts(shapely.difference(body, kerf)) if p.area > crumb]
    edge = body.boundary
    frames = [
        p
        for p in solid
        if shapely.intersects(p, edge)
        and not shapely.difference(p, outlines).buffer(-_FRAME_MM / 2).is_empty
    ]
    clamped = max(frames, key=lambda p: shapely.difference(p, outlines).area, default=None)
    return [p for p in solid if p is not clamped]


def check_free_pieces(
    timeline: Timeline, track: Track, claim: Claim, *, freed: tuple[Freed, ...]
) -> Iterator[Finding]:
    """Yield refusals of cuts that lie inside a piece that is free already.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    freed : tuple of Freed
    """
    outlines = {p.id for p in claim.contours if p.role is Role.OUTLINE}
    walls = {p.id: shapely.Point(p.contour.vertices[0, :2]) for p in claim.contours}
    pieces = np.array([one.piece for one in freed], dtype=object)
    covered = {name: shapely.covers(pieces, wall).tolist() for name, wall in walls.items()}
    for number, cut in enumerate(timeline.headers):
        wall = walls.get(cut.contour_id)
        if wall is None or not len(track.rows_of(number)):
            continue
        for one, is_within in zip(freed, covered[cut.contour_id], strict=True):
            if one.header >= number:
                continue
            if one.contour.id == cut.contour_id:
                if cut.contour_id in outlines and _is_alone(timeline, track, number):
                    yield _cut_alone(cut, one)
                    break
                continue
            if is_within:
                yield Finding(
                    code="cut-in-free-piece",
                    severity=Severity.REFUSAL,
                    message=f"contour {cut.contour_id} lies in a piece that line "
                    f"{one.event.line} has freed",
                    where=Place(
                        contour_id=cut.contour_id,
                        line=cut.line,
                        pass_number=cut.pass_number,
                        x_mm=wall.x,
                        y_mm=wall.y,
                    ),
                    remedy="cut what lies inside a part before the part is cut off",
                )
                break


def _is_alone(timeline: Timeline, track: Track, number: int) -> bool:
    """Return whether a cut ends later after the last programmed stop than anybody would stay."""
    last = int(track.move[track.rows_of(number)].max())
    stops = [
        h.before_move
        for h in timeline.happenings
        if h.kind is WordEvent.STOP and h.before_move <= last
    ]
    since = track.clock_s[last + 1] - (track.clock_s[max(stops)] if stops else 0.0)
    return bool(since > _HELD_S)


def _cut_alone(cut: CutHeader, one: Freed) -> Finding:
    return Finding(
        code="free-part-cut-alone",
        severity=Severity.REFUSAL,
        message=f"pass {cut.pass_number} goes on along contour {cut.contour_id}, whose part line "
        f"{one.event.line} has freed, more than {_HELD_S / 60:.0f} min after the last stop",
        where=Place(contour_id=cut.contour_id, line=cut.line, pass_number=cut.pass_number),
        remedy="skim all but the tab's span before the part is cut off, and the tab's face with "
        "somebody there",
    )
