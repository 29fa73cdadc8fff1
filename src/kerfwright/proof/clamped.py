"""Clamps: in every move, cutting or from start to start, the nozzles keep off each of them.

Looked at is the program's own path, arc by arc, by exact distances from the lines and arcs of each
clamp.  Where the wire leans each head goes with its guide.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Timeline, WordEvent
from kerfwright.proof.pieces import FLAT_MM, contour_polygon
from kerfwright.proof.records import Claim
from kerfwright.proof.track import move_sweeps

_SLACK_MM = 2 * FLAT_MM
"""Chords of clamps and of arcs are off by so much."""
_LEAST_CHORDS = 2


def check_clamps(timeline: Timeline, claim: Claim) -> Iterator[Finding]:
    """Yield refusals of moves that bring a nozzle to a clamp, one for each cut and kind.

    A positioning move over a clamp passes where somebody was called to raise the head right
    before it, and to bring it down before the wire is threaded.  Where the first comes from is
    not in the program: somebody has to be called before it.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    """
    if claim.clamps is None or not len(timeline):
        return
    moves = np.arange(len(timeline))
    least = claim.clamps.reach_mm - _SLACK_MM
    near = _near_mm(timeline, claim.clamps.zones, moves, least_mm=least)
    if timeline.lean is not None:
        near = np.minimum(near, _heads_near_mm(timeline, claim, moves))
    rapid = timeline.is_rapid != 0
    first = int(np.flatnonzero(rapid)[0]) if rapid.any() else None
    if first is not None:
        # Only where it ends is known.
        ends = _points_near_mm(timeline.end_mm[first : first + 1], claim.clamps.zones)
        near[first] = ends[0]
        if not _is_called(timeline, first):
            yield _refusal(
                timeline,
                first,
                "clamp-first-way",
                "nobody is called before the first positioning move: where it comes from is not "
                "known, and a clamp may stand between",
                remedy="stop before it and see that the way is clear",
            )
    told: set[tuple[int, bool]] = set()
    for move in np.flatnonzero(near < least).tolist():
        key = _header(timeline, move), bool(rapid[move])
        if key in told or (rapid[move] and _is_seen_over(timeline, move)):
            continue
        told.add(key)
        what = "a positioning move" if rapid[move] else "a cutting move"
        yield _refusal(
            timeline,
            move,
            "clamp-in-positioning" if rapid[move] else "clamp-in-cut",
            f"{what} brings the wire centre within {max(float(near[move]), 0.0):.3f} mm of a "
            f"clamp; half a nozzle and the clearance need {claim.clamps.reach_mm:.3f} mm",
            remedy="lead the heads round the clamp, or move the clamp",
            near_mm=float(near[move]),
        )


def _is_called(timeline: Timeline, move: int) -> bool:
    """Return whether a stop stands right before a move."""
    return any(h.kind is WordEvent.STOP and h.before_move == move for h in timeline.happenings)


def _is_seen_over(timeline: Timeline, move: int) -> bool:
    """Return whether somebody is called right before a move, and after it before threading."""
    after = next((h.kind for h in timeline.happenings if h.before_move > move), None)
    return _is_called(timeline, move) and after is WordEvent.STOP


def _header(timeline: Timeline, move: int) -> int:
    for number, cut in enumerate(timeline.headers):
        if cut.first_move <= move < cut.end_move:
            return number
    return -1


def _near_mm(
    timeline: Timeline, zones: tuple[Contour, ...], moves: Indices, *, least_mm: float
) -> Floats:
    """Return how near each move comes to any clamp, (n,) mm; 0 within one.

    Of arcs that surely keep the least distance, some value above it.
    """
    solid = shapely.union_all([contour_polygon(z) for z in zones])
    begin, end = timeline.start_mm[moves], timeline.end_mm[moves]
    lines = shapely.linestrings(np.stack([begin, end], axis=1))
    near: Floats = shapely.distance(lines, solid)
    sweep = move_sweeps(timeline)
    radius = np.hypot(*(begin - timeline.centre_mm[moves]).T)
    # No arc comes nearer than its whole circle.
    bound = shapely.distance(shapely.points(timeline.centre_mm[moves]), solid) - radius
    is_arc: Flags = timeline.turn != 0
    near = np.where(is_arc, bound, near)
    for k in np.flatnonzero(is_arc & (bound < least_mm)).tolist():
        near[k] = shapely.distance(_arc(timeline, k, float(sweep[k])), solid)
    return near


def _heads_near_mm(timeline: Timeline, claim: Claim, moves: Indices) -> Floats:
    """Return how near either guide comes to any clamp in each move, (n,) mm.

    In a straight move of both planes a guide goes straight too.
    """
    lean, tilt = timeline.lean, claim.machine.tilt
    assert lean is not None
    assert claim.clamps is not None
    solid = shapely.union_all([contour_polygon(z) for z in claim.clamps.zones])
    below, above = (0.0, 0.0) if tilt is None else (tilt.lower_guide_mm, tilt.upper_guide_mm)
    near = np.full(len(moves), np.inf)
    for height in (-below, claim.height_mm + above):
        share = (height - lean.program_mm) / (lean.second_mm - lean.program_mm)
        a = timeline.start_mm[moves] + share * lean.start_mm[moves]
        b = timeline.end_mm[moves] + share * lean.end_mm[moves]
        way = shapely.linestrings(np.stack([a, b], axis=1))
        near = np.minimum(near, shapely.distance(way, solid))
    return near


def _points_near_mm(points: Floats, zones: tuple[Contour, ...]) -> Floats:
    solid = shapely.union_all([contour_polygon(z) for z in zones])
    found: Floats = np.asarray(shapely.distance(shapely.points(points), solid))
    return found


def _arc(timeline: Timeline, move: int, sweep: float) -> shapely.LineString:
    centre, spoke = timeline.centre_mm[move], timeline.start_mm[move] - timeline.centre_mm[move]
    radius = float(np.hypot(*spoke))
    step = 2 * np.arccos(1 - min(FLAT_MM / max(radius, FLAT_MM), 1.0))
    count = max(_LEAST_CHORDS, int(np.ceil(abs(sweep) / step)))
    angle = np.arctan2(spoke[1], spoke[0]) + sweep * np.linspace(0.0, 1.0, count + 1)
    return shapely.LineString(centre + radius * np.column_stack([np.cos(angle), np.sin(angle)]))


def _refusal(
    timeline: Timeline, move: int, code: str, message: str, *, remedy: str, near_mm: float = 0.0
) -> Finding:
    x, y = (float(v) for v in timeline.end_mm[move])
    header = _header(timeline, move)
    cut = timeline.headers[header] if header >= 0 else None
    return Finding(
        code=code,
        severity=Severity.REFUSAL,
        message=message,
        where=Place(
            contour_id=cut.contour_id if cut else None,
            pass_number=cut.pass_number if cut else None,
            line=int(timeline.line[move]),
            x_mm=x,
            y_mm=y,
        ),
        remedy=remedy,
        data={"near_mm": near_mm},
    )
