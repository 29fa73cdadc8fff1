"""What a program must keep of the plan beside the wall: offsets, feeds, and sound start holes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from scipy.spatial import cKDTree

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.places import place_words
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.eroded import runs_in_eroded
from kerfwright.proof.passes import UM_PER_MM, PassRun
from kerfwright.proof.pieces import contour_polygon
from kerfwright.proof.records import Claim
from kerfwright.proof.rooms import Room, samples_in_rooms
from kerfwright.proof.track import Track
from kerfwright.proof.wall import Wall

FASTEST_SHARE = 1.25
"""A cutting move may have this share of the claimed feed: above it the wire short-circuits and
breaks (common practice, no source for the figure)."""
SLOWEST_SHARE = 0.05
"""Below this share a feed is a slip of the decimal point: corners are taken back to a fifth or
more, open nozzles to a third (data of the process tables)."""

_LOOKS = 17
"""Places of a fast move that are compared with the kerf that is open."""
_OPEN_MM = 0.005
"""Metal of this width beside an open kerf is what rounding leaves; it slows no wire."""


def check_starts(wall: Wall, claim: Claim) -> Iterator[Finding]:
    """Yield refusals for start places that reach into the finished part or out of the stock."""
    if not claim.starts:
        return
    yield from _starts_outside(claim)
    points = np.array([[s.x_mm, s.y_mm] for s in claim.starts])
    signed, index = wall.signed_distances(points)
    for start, away, segment in zip(claim.starts, signed, index, strict=True):
        depth = start.diameter_mm / 2 - float(away)
        if depth * UM_PER_MM <= claim.tolerance_um:
            continue
        part = wall.contours[int(wall.contour_of[segment])]
        yield Finding(
            code="start-in-part",
            severity=Severity.REFUSAL,
            message=f"the start of {start.diameter_mm:.3f} mm at "
            f"{place_words(start.x_mm, start.y_mm)} reaches {depth:.4f} mm into the part "
            f"at contour {part.id}",
            where=Place(contour_id=part.id, x_mm=start.x_mm, y_mm=start.y_mm),
            remedy="drill the hole in the waste, clear of the wall, or drill it smaller",
            data={"depth_mm": depth, "diameter_mm": start.diameter_mm},
        )


def _starts_outside(claim: Claim) -> Iterator[Finding]:
    """Yield refusals for holes that are not wholly in the stock; an edge start has no diameter."""
    if claim.stock is None:
        return
    stock = contour_polygon(claim.stock)
    for start in claim.starts:
        if start.diameter_mm == 0:
            continue
        centre = shapely.Point(start.x_mm, start.y_mm)
        edge = float(shapely.distance(stock.exterior, centre))
        out_mm = start.diameter_mm / 2 - (edge if stock.contains(centre) else -edge)
        if out_mm * UM_PER_MM <= claim.tolerance_um:
            continue
        yield Finding(
            code="start-outside-stock",
            severity=Severity.REFUSAL,
            message=f"the start of {start.diameter_mm:.3f} mm at "
            f"{place_words(start.x_mm, start.y_mm)} reaches {out_mm:.4f} mm out of the stock",
            where=Place(x_mm=start.x_mm, y_mm=start.y_mm),
            remedy="place the hole wholly inside the stock, or thread at the edge without one",
            data={"outside_mm": out_mm, "diameter_mm": start.diameter_mm},
        )


def check_stated_offsets(timeline: Timeline, claim: Claim) -> Iterator[Finding]:
    """Yield refusals for headers whose offset is not that of the claim, or not always the same."""
    slack_mm = claim.tolerance_um / UM_PER_MM
    first: dict[tuple[str, int], float] = {}
    for cut in timeline.headers:
        claimed = claim.offset_mm.get((cut.contour_id, cut.pass_number))
        if claimed is None:
            expected = first.setdefault((cut.contour_id, cut.pass_number), cut.offset_mm)
            code, whose = "offset-differs", "another header of the same pass states"
        else:
            expected, code, whose = claimed, "offset-not-planned", "planned are"
        if abs(cut.offset_mm - expected) <= slack_mm:
            continue
        off_um = (cut.offset_mm - expected) * UM_PER_MM
        yield Finding(
            code=code,
            severity=Severity.REFUSAL,
            message=f"pass {cut.pass_number} of contour {cut.contour_id} is headed with an offset "
            f"of {cut.offset_mm:.4f} mm; {whose} {expected:.4f} mm "
            f"({abs(off_um):.1f} µm {'more' if off_um > 0 else 'less'} stock is left)",
            where=Place(contour_id=cut.contour_id, pass_number=cut.pass_number, line=cut.line),
            remedy="cut with the offset of the plan, or plan again",
            data={"stated_mm": cut.offset_mm, "expected_mm": expected},
        )


def check_feeds(
    timeline: Timeline,
    track: Track,
    claim: Claim,
    runs: tuple[PassRun, ...],
    *,
    rooms: tuple[Room, ...] = (),
) -> Iterator[Finding]:
    """Yield refusals for moves along the wall that are far faster or slower than their pass.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    runs : tuple of PassRun
    rooms : tuple of Room
        Where parts were that have been taken out.
    """
    slack_mm = claim.tolerance_um / UM_PER_MM
    planned = [(cut.contour_id, cut.pass_number) for cut in timeline.headers]
    # The last entry stands for moves under no header, whose number is −1.
    feeds = np.array([*(claim.feed_mm_per_min.get(p, np.nan) for p in planned), np.nan])
    slowest = np.array([*(_slowest(claim, p) for p in planned), np.nan])
    offsets = np.array([*(claim.offset_mm.get(p, 0.0) for p in planned), 0.0])
    for run in runs:
        header = track.header[run.elements]
        claimed, least = feeds[header], slowest[header]
        if np.isnan(claimed).all():
            continue
        gap, _ = run.sweep.path_clearances
        reach = np.maximum(run.radius_mm, offsets[header]) + slack_mm
        # Moves that come to the wall or leave it only touch this strip with their ends.
        along = (gap <= reach) & ~run.sweep.leaves_wall
        if run.number == min(claim.kerf_radius_mm):
            # The first pass cuts its way to the wall through solid metal.
            along = np.ones(len(along), dtype=bool)
        feed = timeline.feed_mm_per_min[track.move[run.elements]]
        # No feed at all, and one above what the machine does, have findings of their own.
        is_fast = (feed > FASTEST_SHARE * claimed) & (feed <= claim.machine.idle_speed_mm_per_min)
        fast = np.flatnonzero(along & is_fast)
        closed = fast[~_is_open(track, claim, run.elements[fast], rooms)]
        if len(closed) and claim.coreless_ids:
            closed = closed[~runs_in_eroded(timeline, track, claim, run.elements[closed])]
        slow = np.flatnonzero((feed > 0) & (feed < SLOWEST_SHARE * least))
        for rows, of, code in (
            (closed, claimed, "feed-above-pass"),
            (slow, least, "feed-below-pass"),
        ):
            if len(rows):
                move = int(track.move[run.elements[rows[0]]])
                yield _feed(timeline, run, move, float(of[rows[0]]), code=code)


def _slowest(claim: Claim, planned: tuple[str, int]) -> float:
    """Return the lower of the feeds claimed for a pass: along the wall and beside the edge."""
    along = claim.feed_mm_per_min.get(planned, np.nan)
    return min(along, claim.edge_feed_mm_per_min.get(planned, along))


def _is_open(track: Track, claim: Claim, rows: Indices, rooms: tuple[Room, ...] = ()) -> Flags:
    """Return whether path segments run where earlier ones, or a start, left nothing to take.

    A way home or back through the open kerf may be as fast as the machine goes.
    """
    if not len(rows):
        return np.ones(0, dtype=bool)
    done = track.segments
    owner = np.repeat(rows, _LOOKS)
    points = done.points_at(owner, np.tile(np.linspace(0.0, 1.0, _LOOKS), len(rows)))
    radius = track.radius_mm[owner]
    is_open: Flags = samples_in_rooms(rooms, track, rows, looks=_LOOKS)
    for size in sorted({s.diameter_mm for s in claim.starts}):
        holes = [(s.x_mm, s.y_mm) for s in claim.starts if s.diameter_mm == size]
        away, _ = cKDTree(holes).query(points)
        is_open[away + radius <= size / 2 + _OPEN_MM] = True
    if claim.stock is not None:
        gap = np.asarray(shapely.distance(contour_polygon(claim.stock), shapely.points(points)))
        is_open |= gap >= radius - _OPEN_MM
    shut = np.flatnonzero(~is_open)
    is_open[shut] = _in_earlier_kerf(track, points[shut], owner[shut])
    every: Flags = np.logical_and.reduce(is_open.reshape(len(rows), _LOOKS), axis=1)
    return every


def _in_earlier_kerf(track: Track, points: Floats, owner: Indices) -> Flags:
    """Return which points of path segments lie where an earlier kerf as wide has been."""
    done = track.segments
    widest = float(track.radius_mm.max()) - float(track.radius_mm[owner].min(initial=np.inf))
    found = np.zeros(len(points), dtype=bool)
    if not len(points):
        return found
    tree = shapely.STRtree(shapely.box(*done.boxes(widest + _OPEN_MM)))
    place, earlier = tree.query(shapely.points(points))
    spare = track.radius_mm[earlier] - track.radius_mm[owner[place]]
    counts = (track.move[earlier] < track.move[owner[place]]) & (spare >= 0)
    place, earlier, spare = place[counts], earlier[counts], spare[counts]
    near = done.distances(earlier, points[place]) <= spare + _OPEN_MM
    found[place[near]] = True
    return found


def _feed(timeline: Timeline, run: PassRun, move: int, claimed: float, *, code: str) -> Finding:
    found = float(timeline.feed_mm_per_min[move])
    limit = claimed * (FASTEST_SHARE if code == "feed-above-pass" else SLOWEST_SHARE)
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=f"a cutting move in pass {run.number} has {found:.4g} mm/min; the pass has "
        f"{claimed:.4g} mm/min along the wall, the limit is {limit:.4g} mm/min",
        where=Place(pass_number=run.number, line=int(timeline.line[move])),
        remedy="cut with the feed of the pass, or plan again",
        data={"feed_mm_per_min": found, "limit_mm_per_min": limit},
    )
