"""How deep the kerf cuts into the part.

The gouge of a path segment clear of the wall is exact (radius minus clearance).  Where the wire
centre crosses the wall or runs inside the part the depth is sampled every eighth of the kerf
radius: by then it is far above any tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.findings import Finding
from kerfwright.geometry.segments import Floats, Indices
from kerfwright.proof.passes import SEEN_MM, UM_PER_MM, PassRun, Worst, wall_finding, wall_place
from kerfwright.proof.records import Claim
from kerfwright.proof.rooms import Room
from kerfwright.proof.track import Track
from kerfwright.proof.wall import Wall

_STEPS = 8
"""Samples for each kerf radius of a path inside the part."""


def find_gouges(
    track: Track,
    wall: Wall,
    claim: Claim,
    runs: tuple[PassRun, ...],
    worst: Worst,
    *,
    rooms: tuple[Room, ...] = (),
) -> list[Finding]:
    """Measure how deep each pass cuts into each contour, and refuse what is too deep.

    A part that was taken out is not there any more.
    """
    findings: list[Finding] = []
    for run in runs:
        cuts_of_run = _pair_cuts(wall, claim, run) + _inner_cuts(track, wall, run)
        for k, every in _by_contour(wall, cuts_of_run):
            out = _taken_out(wall.contours[k].id, rooms)
            cuts = [c for c in every if track.move[run.elements[c.element]] < out]
            if not cuts:
                continue
            deepest = max(cuts, key=lambda c: c.depth_mm)
            place = deepest.place_mm
            if place is None:
                place = wall_place(wall, run, deepest.element, deepest.wall_segment)
            worst.note("gouge", k, deepest.depth_mm, place)
            depth_um = deepest.depth_mm * UM_PER_MM
            if depth_um <= claim.tolerance_um:
                continue
            too_deep = {c.element for c in cuts if c.depth_mm * UM_PER_MM > claim.tolerance_um}
            findings.append(
                wall_finding(
                    "gouge",
                    f"pass {run.number} cuts {depth_um:.1f} µm into contour {wall.contours[k].id} "
                    f"({len(too_deep)} moves above the {claim.tolerance_um:.2f} µm that pass)",
                    wall,
                    k,
                    run.number,
                    place,
                    line=int(track.line[run.elements[deepest.element]]),
                    remedy="correct the path or its offset",
                    depth_um=depth_um,
                )
            )
    return findings


def _taken_out(contour_id: str, rooms: tuple[Room, ...]) -> float:
    """Return the move before which the part with a contour is taken out; infinite for never."""
    moves = [room.after_move for room in rooms if contour_id in room.contour_ids]
    return min(moves, default=np.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """One path segment that cuts into one wall segment."""

    depth_mm: float
    element: int
    wall_segment: int
    place_mm: Floats | None


def _by_contour(wall: Wall, cuts: list[_Cut]) -> Iterator[tuple[int, list[_Cut]]]:
    """Yield the contours that are cut into, each with its cuts."""
    groups: dict[int, list[_Cut]] = {}
    for cut in cuts:
        groups.setdefault(int(wall.contour_of[cut.wall_segment]), []).append(cut)
    yield from sorted(groups.items())


def _pair_cuts(wall: Wall, claim: Claim, run: PassRun) -> list[_Cut]:
    """Return what comes nearer to a wall than the kerf radius: by exact clearance.

    Of what is within the tolerance only the deepest on each contour is returned: rounding makes
    half of all moves come too near by nanometres.
    """
    path, near = run.sweep.pairs
    depth = run.radius_mm - run.sweep.clearances
    rows = np.flatnonzero(depth > 0)
    contour = wall.contour_of[near[rows]]
    order = np.lexsort((depth[rows], contour))
    is_deepest = np.diff(contour[order], append=-1) != 0
    keep = depth[rows] * UM_PER_MM > claim.tolerance_um
    keep[order[is_deepest]] = True
    rows = rows[keep]
    return [
        _Cut(depth_mm=d, element=e, wall_segment=w, place_mm=None)
        for d, e, w in zip(
            depth[rows].tolist(), path[rows].tolist(), near[rows].tolist(), strict=True
        )
    ]


def _inner_cuts(track: Track, wall: Wall, run: PassRun) -> list[_Cut]:
    """Return what crosses the wall or lies in the part: by sampled signed distance."""
    gap, _ = run.sweep.path_clearances
    inside = _inside(track, wall, run, gap)
    if not len(inside):
        return []
    path = run.sweep.path
    count = np.clip(np.ceil(path.length[inside] / run.radius_mm * _STEPS), 4, 256).astype(np.intp)
    which = np.repeat(np.arange(len(inside)), count + 1)
    first = np.cumsum(count + 1) - (count + 1)
    fraction = (np.arange(len(which)) - first[which]) / count[which]
    points = path.points_at(inside[which], fraction)
    signed, index = wall.signed_distances(points)
    order = np.lexsort((signed, which))
    least = order[np.searchsorted(which[order], np.arange(len(inside)))]
    places = wall.index.closest_points(points[least], index[least])[0]
    return [
        _Cut(
            depth_mm=float(run.radius_mm - signed[row]),
            element=int(element),
            wall_segment=int(index[row]),
            place_mm=place,
        )
        for element, row, place in zip(inside, least, places, strict=True)
    ]


def _inside(track: Track, wall: Wall, run: PassRun, gap: Floats) -> Indices:
    """Return path segments that cross the wall or lie in the part's material.

    The side is asked once where each run of the wire begins, and again at the segments that come
    within the kerf radius by more than a reported step; between them the side cannot change
    without a crossing, whose clearance is 0.
    """
    number = track.run[run.elements]
    begins = np.flatnonzero(np.diff(number, prepend=-1))
    near = np.flatnonzero(gap < run.radius_mm - SEEN_MM)
    # Where every segment is too near (an offset on the wrong side keeps its distance) sides are
    # asked at the middles of all of them.
    chosen = np.zeros(len(gap), dtype=bool)
    chosen[begins] = chosen[near] = True
    asked = np.flatnonzero(chosen)
    middle = run.sweep.path.points_at(asked, np.full(len(asked), 0.5))
    signed, _ = wall.signed_distances(middle)
    wrong = np.zeros(len(gap), dtype=bool)
    wrong[asked[signed < 0]] = True
    wrong[gap == 0] = True
    if wrong.any():
        suspect = np.isin(number, np.unique(number[wrong]))
        rest = np.flatnonzero(suspect & ~wrong)
        middle = run.sweep.path.points_at(rest, np.full(len(rest), 0.5))
        signed, _ = wall.signed_distances(middle)
        wrong[rest[signed < 0]] = True
    return np.flatnonzero(wrong)
