"""How wide a bridge the rough pass leaves before a piece is cut off."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.segments import Floats, Segments
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.records import Claim
from kerfwright.proof.track import Track

_STEP_MM = 0.05
"""Step along the wall; the bridge is measured to two of them."""


def check_tabs(timeline: Timeline, track: Track, claim: Claim) -> Iterator[Finding]:
    """Yield refusals of tabs narrower than the claim asks for.

    The tab is the longest stretch of wall that the first rough cut of a contour does not pass at
    its offset; the solid between the two kerf ends is that stretch less a kerf radius at each.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    """
    contours = {c.id: c.contour for c in claim.contours}
    seen: set[str] = set()
    for number, cut in enumerate(timeline.headers):
        asked = claim.min_tab_mm.get(cut.contour_id)
        rows = track.rows_of(number)
        if asked is None or cut.contour_id in seen or not len(rows):
            continue
        seen.add(cut.contour_id)
        radius = claim.kerf_radius_mm.get(cut.pass_number, 0.0)
        path = Segments.from_ends(
            track.segments.start[rows], track.segments.end[rows], track.segments.bulge[rows]
        )
        stretch, at = longest_open(contours[cut.contour_id], path, cut.offset_mm)
        width = stretch - 2 * radius
        if width < asked - 2 * _STEP_MM:
            yield Finding(
                code="tab-too-narrow",
                severity=Severity.REFUSAL,
                message=f"the rough pass leaves a tab of {max(width, 0.0):.2f} mm on contour "
                f"{cut.contour_id}; {asked:.2f} mm is asked",
                where=Place(
                    contour_id=cut.contour_id,
                    pass_number=cut.pass_number,
                    line=cut.line,
                    x_mm=float(at[0]),
                    y_mm=float(at[1]),
                ),
                remedy="end the rough pass earlier, or plan again with the tab that holds",
                data={"width_mm": width, "asked_mm": asked},
            )


def longest_open(wall: Contour, path: Segments, offset_mm: float) -> tuple[float, Floats]:
    """Return the longest stretch of wall that a path leaves out, mm, and its middle."""
    count = max(int(wall.length_mm / _STEP_MM), 8)
    stations = np.arange(count, dtype=np.float64) * (wall.length_mm / count)
    points = wall.points_at(stations)
    distance, _ = NearestIndex(path).query(points)
    is_open = distance > offset_mm + _STEP_MM / 10
    if is_open.all():
        return wall.length_mm, points[0]
    first = int(np.flatnonzero(~is_open)[0])
    turned = np.roll(is_open, -first)
    edges = np.flatnonzero(np.diff(turned.astype(np.int8), prepend=0, append=0))
    if not len(edges):
        return 0.0, points[0]
    begins, ends = edges[::2], edges[1::2]
    longest = int(np.argmax(ends - begins))
    middle = (begins[longest] + ends[longest]) // 2 + first
    stretch = float(ends[longest] - begins[longest]) * wall.length_mm / count
    return stretch, points[middle % count]
