"""Strings: outlines roughed with the wire threaded once, through channels in the waste.

Looked at is the program's own path.  That nothing comes free unattended, that no wall is gouged
or left, that skims stay in open kerf, is judged as for any program; here is what a string can do
wrong beyond that: a channel that takes stock left for skims, undercuts a tab or opens the frame;
roughs out of order or threaded anew; a part let go while others are still to be cut on it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Indices, Segments
from kerfwright.nc.timeline import CutHeader, Timeline, WordEvent
from kerfwright.proof.pieces import FLAT_MM, Freed, contour_polygon, grown, polyline
from kerfwright.proof.records import Claim
from kerfwright.proof.tabs import longest_open
from kerfwright.proof.track import Track
from kerfwright.trade.part import PartContour, Role

_SLACK_MM = 2 * FLAT_MM
"""Chords of path and wall are off by so much."""
_SHARE = 0.95
"""Of a neck or a frame that is claimed, what has to be found: kerfs are drawn a trifle wide."""
_WHOLE_SHARE = 0.5
_BESIDE_MM = 0.05


def check_strings(
    timeline: Timeline, track: Track, claim: Claim, *, freed: Sequence[Freed]
) -> Iterator[Finding]:
    """Yield refusals of what a string does wrong.

    Parameters
    ----------
    timeline : Timeline
    track : Track
    claim : Claim
    freed : sequence of Freed
    """
    for string in claim.strings:
        roughs = _roughs(timeline, track, string)
        yield from _order(timeline, string, roughs)
        yield from _freed_once(timeline, string, freed)
        yield from _channels(track, claim, roughs, timeline)
        yield from _frame(track, claim, roughs, timeline)
    if claim.strings:
        yield from _tabs(timeline, track, claim, freed)


def _roughs(timeline: Timeline, track: Track, string: Sequence[str]) -> dict[str, int]:
    """Return the first cut of each contour of a string, in the order of the program."""
    found: dict[str, int] = {}
    for number, cut in enumerate(timeline.headers):
        if cut.contour_id in string and len(track.rows_of(number)):
            found.setdefault(cut.contour_id, number)
    return found


def _order(timeline: Timeline, string: Sequence[str], roughs: dict[str, int]) -> Iterator[Finding]:
    if list(roughs) != [name for name in string if name in roughs]:
        first = next(a for a, b in zip(roughs, string, strict=False) if a != b)
        yield _refusal(
            "string-order",
            f"contour {first} is roughed out of the order of its string {'-'.join(string)}",
            timeline.headers[roughs[first]],
            remedy="rough the parts of a string one after the other as they were planned",
        )
    later = sorted(roughs.values())[1:]
    if not later:
        return
    begin, end = timeline.headers[later[0]].line, timeline.headers[later[-1]].end_move
    again = [
        h
        for h in timeline.happenings
        if h.kind is WordEvent.THREAD and h.line > begin and h.before_move < end
    ]
    if again:
        yield Finding(
            code="string-threaded-again",
            severity=Severity.REFUSAL,
            message=f"the wire is threaded anew while the string {'-'.join(string)} is roughed; "
            "one threading is to do",
            where=Place(line=again[0].line),
            remedy="go on from part to part with the wire threaded, or plan without strings",
        )


def _freed_once(
    timeline: Timeline, string: Sequence[str], freed: Sequence[Freed]
) -> Iterator[Finding]:
    """Yield refusals of parts that never come free, or while others are still to be cut."""
    whole: dict[str, Freed] = {}
    for one in freed:
        is_part = one.piece.area > _WHOLE_SHARE * abs(one.contour.contour.area_mm2)
        if one.contour.id in string and is_part:
            whole.setdefault(one.contour.id, one)
    for name in string:
        if name not in whole:
            yield Finding(
                code="string-part-not-freed",
                severity=Severity.REFUSAL,
                message=f"the part of contour {name}, in a string, never comes free",
                where=Place(contour_id=name),
                remedy="cut its tab off",
            )
    # What is cut on a part before the cut that frees it: its rough pass and its skims.
    last = {name: one.header for name, one in whole.items()}
    uncut = [
        (number, cut)
        for number, cut in enumerate(timeline.headers)
        if cut.contour_id in string and number < last.get(cut.contour_id, len(timeline.headers))
    ]
    for name, one in whole.items():
        late = [cut for number, cut in uncut if number > one.header and cut.contour_id != name]
        if late:
            yield _refusal(
                "string-part-freed-early",
                f"pass {late[0].pass_number} of contour {late[0].contour_id} comes after the part "
                f"of contour {name}, in the same string, was cut off",
                late[0],
                remedy="rough and skim all parts of a string before the first is cut off",
            )


def _rough_line(track: Track, rows: Indices) -> shapely.LineString:
    return shapely.LineString(polyline(track.segments, rows))


def _channels(
    track: Track, claim: Claim, roughs: dict[str, int], timeline: Timeline
) -> Iterator[Finding]:
    """Yield refusals of rough paths, channels and all, that come too near to a wall."""
    first = min(claim.kerf_radius_mm)
    for name, number in roughs.items():
        line = _rough_line(track, track.rows_of(number))
        for part in claim.contours:
            least = claim.offset_mm.get((part.id, first), claim.kerf_radius_mm[first])
            ring = contour_polygon(part.contour).exterior
            away = float(line.distance(ring))
            if away < least - _SLACK_MM:
                spot = shapely.shortest_line(ring, line).coords[0]
                yield _refusal(
                    "channel-too-near",
                    f"the rough pass of contour {name} comes within {away:.3f} mm of contour "
                    f"{part.id}; {least:.3f} mm keep its wall and the stock for its skims",
                    timeline.headers[number],
                    remedy="lead the channel through the waste, off every wall",
                    at=(spot[0], spot[1]),
                )


def _frame(
    track: Track, claim: Claim, roughs: dict[str, int], timeline: Timeline
) -> Iterator[Finding]:
    """Yield refusals of strings that leave no closed frame to the edge of the stock."""
    if claim.stock is None:
        return
    edge = contour_polygon(claim.stock).exterior
    radius = claim.kerf_radius_mm[min(claim.kerf_radius_mm)]
    for name, number in roughs.items():
        line = _rough_line(track, track.rows_of(number))
        left = float(line.distance(edge)) - radius
        if left < claim.string_frame_mm * _SHARE:
            yield _refusal(
                "string-opens-frame",
                f"the rough pass of contour {name} leaves {max(left, 0.0):.2f} mm of frame to the "
                f"edge of the stock; {claim.string_frame_mm:.2f} mm keep it closed",
                timeline.headers[number],
                remedy="keep the string inside the frame: a frame that is cut open springs",
            )


def _tabs(
    timeline: Timeline, track: Track, claim: Claim, freed: Sequence[Freed]
) -> Iterator[Finding]:
    """Yield refusals of tabs that hang on too little metal when all roughs are done."""
    if claim.stock is None or claim.string_neck_mm <= 0:
        return
    strung = {name for one in claim.strings for name in one}
    first = min((f.header for f in freed if f.contour.id in strung), default=None)
    until = len(timeline.headers) if first is None else first
    kerf: shapely.Geometry = shapely.Polygon()
    for number in range(until):
        rows = track.rows_of(number)
        if len(rows) and timeline.headers[number].pass_number == min(claim.kerf_radius_mm):
            kerf = grown(kerf, track, rows)
    parts = [contour_polygon(c.contour) for c in claim.contours if _is_outer(c)]
    neck = claim.string_neck_mm * _SHARE
    waste = contour_polygon(claim.stock).difference(shapely.union_all([kerf, *parts]))
    held = shapely.get_parts(waste.buffer(-neck / 2))
    frame = max(held, key=lambda p: p.area, default=None)
    for string in claim.strings:
        for name, number in _roughs(timeline, track, string).items():
            part = next(c for c in claim.contours if c.id == name)
            root = _root(track, claim, part, track.rows_of(number), neck)
            if frame is not None and frame.distance(root) <= _BESIDE_MM:
                continue
            yield _refusal(
                "tab-hangs-loose",
                f"the tab of contour {name} hangs on less than {claim.string_neck_mm:.2f} mm of "
                "metal between kerfs and channels",
                timeline.headers[number],
                remedy="lead the channel away from the tab, or lay the parts further apart",
                at=(root.x, root.y),
            )


def _is_outer(part: PartContour) -> bool:
    return part.role is Role.OUTLINE and part.parent_id is None


def _root(
    track: Track, claim: Claim, part: PartContour, rows: Indices, neck_mm: float
) -> shapely.Point:
    """Return the middle of the root of a tab in the waste, beyond the rough kerf."""
    number = int(track.pass_number[rows[0]])
    radius = claim.kerf_radius_mm.get(number, min(claim.kerf_radius_mm.values()))
    offset = claim.offset_mm.get((part.id, number), float(track.offset_mm[rows[0]]))
    path = Segments.from_ends(
        track.segments.start[rows], track.segments.end[rows], track.segments.bulge[rows]
    )
    _, at = longest_open(part.contour, path, offset)
    inside = contour_polygon(part.contour)
    ring = inside.exterior
    here = ring.project(shapely.Point(at))
    a, b = (np.array(ring.interpolate(s).coords[0]) for s in (here - _BESIDE_MM, here + _BESIDE_MM))
    along = (b - a) / max(float(np.hypot(*(b - a))), FLAT_MM)
    normal = np.array([along[1], -along[0]])
    if inside.contains(shapely.Point(at + normal * _BESIDE_MM * 2)):
        normal = -normal
    return shapely.Point(at + normal * (offset + radius + neck_mm / 2))


def _refusal(
    code: str,
    message: str,
    cut: CutHeader,
    *,
    remedy: str,
    at: tuple[float, float] | None = None,
) -> Finding:
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=message,
        where=Place(
            contour_id=cut.contour_id,
            pass_number=cut.pass_number,
            line=cut.line,
            x_mm=None if at is None else at[0],
            y_mm=None if at is None else at[1],
        ),
        remedy=remedy,
    )
