"""How deep the kerf cuts into the part.

The gouge of a path segment clear of the wall is exact (radius minus clearance).  Where the wire
centre crosses the wall or runs inside the part the depth is sampled every eighth of the kerf
radius: by then it is far above any tolerance.
"""

from __future__ import annotations

import numpy as np

from kerfwright.foundation.findings import Finding
from kerfwright.geometry.segments import Floats, Indices
from kerfwright.proof.passes import SEEN_MM, UM_PER_MM, PassRun, Worst, wall_finding, wall_place
from kerfwright.proof.records import Claim
from kerfwright.proof.track import Track
from kerfwright.proof.wall import Wall


def find_gouges(
    track: Track, wall: Wall, claim: Claim, runs: tuple[PassRun, ...], worst: Worst
) -> list[Finding]:
    """Measure how deep each pass cuts into each contour, and refuse what is too deep."""
    findings: list[Finding] = []
    for run in runs:
        gap, near = run.sweep.path_clearances
        inside = _inside(track, wall, run, gap)
        depth = run.radius_mm - gap
        depth[near < 0] = 0.0
        contour = np.where(near >= 0, wall.contour_of[near], 0)
        place = np.full((len(gap), 2), np.nan)
        _crossed_depth(wall, run, inside, depth, contour, place)
        for k in np.flatnonzero(np.bincount(contour[depth > 0])):
            mine = np.flatnonzero((contour == k) & (depth > 0))
            element = mine[np.argmax(depth[mine])]
            if np.isnan(place[element, 0]):
                place[element] = wall_place(wall, run, element)
            worst.note("gouge", int(k), float(depth[element]), place[element])
            if depth[element] * UM_PER_MM > claim.tolerance_um:
                count = int(np.count_nonzero(depth[mine] * UM_PER_MM > claim.tolerance_um))
                findings.append(
                    wall_finding(
                        "gouge",
                        f"pass {run.number} cuts {depth[element] * UM_PER_MM:.1f} µm into contour "
                        f"{wall.contours[k].id} ({count} moves above the "
                        f"{claim.tolerance_um:.2f} µm that pass)",
                        wall,
                        int(k),
                        run.number,
                        place[element],
                        line=int(track.line[run.elements[element]]),
                        remedy="correct the path or its offset",
                        depth_um=float(depth[element] * UM_PER_MM),
                    )
                )
    return findings


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


def _crossed_depth(
    wall: Wall, run: PassRun, inside: Indices, depth: Floats, contour: Indices, place: Floats
) -> None:
    if not len(inside):
        return
    path = run.sweep.path
    step = run.radius_mm / 8
    count = np.clip(np.ceil(path.length[inside] / step), 4, 256).astype(np.intp)
    which = np.repeat(np.arange(len(inside)), count + 1)
    first = np.cumsum(count + 1) - (count + 1)
    fraction = (np.arange(len(which)) - first[which]) / count[which]
    points = path.points_at(inside[which], fraction)
    signed, index = wall.signed_distances(points)
    order = np.lexsort((signed, which))
    least = order[np.searchsorted(which[order], np.arange(len(inside)))]
    depth[inside] = np.maximum(run.radius_mm - signed[least], depth[inside])
    contour[inside] = wall.contour_of[index[least]]
    place[inside] = wall.index.closest_points(points[least], index[least])[0]
