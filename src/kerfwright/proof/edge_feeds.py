"""The rough feed where the wire runs beside the open edge of the stock."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.claimed import FASTEST_SHARE
from kerfwright.proof.passes import UM_PER_MM, PassRun
from kerfwright.proof.pieces import contour_polygon
from kerfwright.proof.records import Claim
from kerfwright.proof.track import Track

_LOOKS: Final = 17
"""Places of a move that stand for it: chords of a 10 mm quarter turn are then 12 µm off."""
_SLACK_MM: Final = 0.25
"""Nearer than the reach by more than this counts: tips of corners that are run past reach out."""


def check_edge_feeds(
    timeline: Timeline, track: Track, claim: Claim, runs: tuple[PassRun, ...]
) -> Iterator[Finding]:
    """Yield a refusal for each pass that runs along the wall too fast beside the stock's edge.

    Where the edge is, is worked out from the outline of the stock and the path of the program.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    runs : tuple of PassRun
    """
    if claim.stock is None or not claim.edge_feed_mm_per_min:
        return
    planned = [(cut.contour_id, cut.pass_number) for cut in timeline.headers]
    # The last entry stands for moves under no header, whose number is −1.
    own = np.array([*(claim.edge_feed_mm_per_min.get(p, np.nan) for p in planned), np.nan])
    offsets = np.array([*(claim.offset_mm.get(p, 0.0) for p in planned), 0.0])
    for run in runs:
        header = track.header[run.elements]
        claimed = own[header]
        if np.isnan(claimed).all():
            continue
        gap, _ = run.sweep.path_clearances
        reach = np.maximum(run.radius_mm, offsets[header]) + claim.tolerance_um / UM_PER_MM
        feed = timeline.feed_mm_per_min[track.move[run.elements]]
        is_fast = (feed > FASTEST_SHARE * claimed) & (feed <= claim.machine.idle_speed_mm_per_min)
        fast = np.flatnonzero(is_fast & (gap <= reach) & ~run.sweep.leaves_wall)
        found = fast[_beside(track, claim, run.elements[fast])]
        if len(found):
            row = run.elements[found[0]]
            at = track.segments.points_at(np.array([row]), np.array([0.5]))[0]
            yield _finding(timeline, track, row, at, float(claimed[found[0]]))


def _beside(track: Track, claim: Claim, rows: Indices) -> Flags:
    """Return which segments of the path come within the reach of the stock's edge, inside it."""
    if not len(rows):
        return np.zeros(0, dtype=bool)
    assert claim.stock is not None
    stock = contour_polygon(claim.stock)
    share = np.tile(np.linspace(0.0, 1.0, _LOOKS), len(rows))
    points = track.segments.points_at(np.repeat(rows, _LOOKS), share)
    lines = shapely.linestrings(points.reshape(len(rows), _LOOKS, 2))
    near = shapely.distance(stock.exterior, lines) < claim.edge_reach_mm - _SLACK_MM
    beside: Flags = near & shapely.intersects(stock, lines)
    return beside


def _finding(timeline: Timeline, track: Track, row: int, at: Floats, claimed: float) -> Finding:
    move = int(track.move[row])
    feed, limit = float(timeline.feed_mm_per_min[move]), claimed * FASTEST_SHARE
    number = int(track.pass_number[row])
    x, y = (float(v) for v in at)
    return Finding(
        code="feed-above-edge",
        severity=Severity.REFUSAL,
        message=f"a move of pass {number} beside the edge of the stock has {feed:.4g} mm/min; "
        f"planned there are {claimed:.4g} mm/min, the limit is {limit:.4g} mm/min",
        where=Place(pass_number=number, line=int(timeline.line[move]), x_mm=x, y_mm=y),
        remedy="cut with the feed of the plan beside the edge, where the water escapes, or plan "
        "again",
        data={"feed_mm_per_min": feed, "limit_mm_per_min": limit},
    )
