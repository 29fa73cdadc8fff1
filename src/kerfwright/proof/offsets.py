"""Whether each cut keeps the distance from the wall that its header states."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from kerfwright.foundation.findings import Finding
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.passes import (
    SEEN_MM,
    UM_PER_MM,
    PassRun,
    Spots,
    base_spots,
    further_spots,
    joined_spots,
    wall_finding,
    wall_place,
)
from kerfwright.proof.reach import find_pockets
from kerfwright.proof.records import Claim
from kerfwright.proof.track import NO_CUT, Track
from kerfwright.proof.wall import Wall

_SKIPPED_SHARE = 0.25
"""A stretch left by more than this share of the kerf radius was not cut in that pass at all."""


def check_offsets(
    timeline: Timeline, track: Track, wall: Wall, runs: tuple[PassRun, ...], tolerance_mm: float
) -> list[Finding]:
    """Compare the distance that the wire keeps with what each header states."""
    position = {part.id: k for k, part in enumerate(wall.contours)}
    findings: list[Finding] = []
    for run in runs:
        gap, _ = run.sweep.path_clearances
        header = track.header[run.elements]
        cut_of = np.array([*(position.get(h.contour_id, -2) for h in timeline.headers), -2])
        own_gap = _own_clearances(wall, run, cut_of[header])
        bounds = np.flatnonzero(np.diff(header, prepend=-2, append=-2))
        for begin, end in pairwise(bounds):
            if header[begin] == NO_CUT:
                continue
            cut = timeline.headers[header[begin]]
            k = position.get(cut.contour_id)
            if k is None:
                continue
            own = own_gap[begin:end]
            weight = run.sweep.path.length[begin:end]
            kept = _usual_distance(wall, run, int(begin), own, weight)
            if abs(kept - cut.offset_mm) > tolerance_mm:
                findings.append(
                    wall_finding(
                        "offset-mismatch",
                        f"the header states an offset of {cut.offset_mm:.4f} mm but the wire "
                        f"keeps {kept:.4f} mm from the wall",
                        wall,
                        k,
                        run.number,
                        None,
                        line=cut.line,
                        remedy="make header, offset table and path agree",
                        stated_mm=cut.offset_mm,
                        measured_mm=kept,
                    )
                )
                continue
            short = cut.offset_mm - own
            element = int(begin) + int(np.argmax(short))
            if (
                short.max() > max(tolerance_mm, SEEN_MM)
                and gap[element] > run.radius_mm - tolerance_mm
            ):
                findings.append(
                    wall_finding(
                        "stock-taken",
                        f"pass {run.number} comes {short.max() * UM_PER_MM:.1f} µm nearer to the "
                        "wall than its header states: stock that later passes need is gone",
                        wall,
                        k,
                        run.number,
                        wall_place(wall, run, element),
                        line=int(track.line[run.elements[element]]),
                        remedy="correct the path of this pass",
                        depth_um=float(short.max() * UM_PER_MM),
                    )
                )
    return findings


def _own_clearances(wall: Wall, run: PassRun, contour: Indices) -> Floats:
    """Return the clearance of each path segment from the contour it is to cut."""
    path, near = run.sweep.pairs
    mine = np.flatnonzero(wall.contour_of[near] == contour[path])
    gap = np.full(len(run.sweep.path), np.inf)
    np.minimum.at(gap, path[mine], run.sweep.clearances[mine])
    return gap


def _usual_distance(wall: Wall, run: PassRun, begin: int, own: Floats, weight: Floats) -> float:
    """Return the median distance from the wall, weighted by length.

    Segments that come to the wall or leave it do not count, unless there are no others: the
    lead-in of a short cut-off is longer than the tab.
    """
    beside = ~run.sweep.leaves_wall[begin : begin + len(own)]
    # What is beyond the limit is another part's neighbour, met on a way past it.
    known = (own <= run.sweep.limit_mm) & beside
    if not known.any():
        # A cut that comes from another part is beside its own wall at its end only.
        known = np.isfinite(own) if np.isfinite(own).any() else np.ones(len(own), dtype=bool)
        which = np.arange(begin, begin + len(own))
        middle = run.sweep.path.points_at(which, np.full(len(own), 0.5))
        own, _ = wall.signed_distances(middle)
    order = np.argsort(own[known])
    total = np.cumsum(weight[known][order])
    return float(own[known][order][np.searchsorted(total, total[-1] / 2)])


def check_passes_along_wall(
    wall: Wall, claim: Claim, runs: tuple[PassRun, ...], tolerance_mm: float
) -> list[Finding]:
    """Check that every pass keeps its stated offset all along each contour."""
    findings: list[Finding] = []
    last = np.array([max(claim.passes_of(part.id)) for part in wall.contours])
    for run in runs:
        if not np.isfinite(run.offset_mm).any():
            continue
        smallest = float(np.nanmin(run.offset_mm))
        spots = joined_spots([base_spots(wall), further_spots(wall, run.sweep, smallest + SEEN_MM)])
        n = 2 * len(wall.segments)
        known = np.concatenate(
            [
                run.sweep.start_distances,
                run.sweep.middle_distances,
                run.sweep.distances(spots.index[n:], spots.points_mm[n:]),
            ]
        )
        offset = run.offset_mm[wall.contour_of[spots.index]]
        off = np.flatnonzero(known - offset > tolerance_mm)
        if not len(off):
            continue
        pockets = find_pockets(
            wall,
            run.sweep,
            index=spots.index[off],
            fraction=spots.fraction[off],
            radius_mm=offset[off],
            tolerance_mm=tolerance_mm,
        )
        excess = np.where(pockets.is_forced, 0.0, pockets.distance_mm - offset[off])
        excess[excess <= tolerance_mm] = 0.0
        full = np.zeros(len(spots))
        full[off] = excess
        findings += _stretches(wall, run, spots, full, is_last=last == run.number)
    return findings


def _stretches(
    wall: Wall, run: PassRun, spots: Spots, excess: Floats, *, is_last: Flags
) -> list[Finding]:
    """Gather places where a pass is too far from the wall, and name the worst of each kind.

    `is_last` says for each contour whether the pass is its last.
    """
    findings: list[Finding] = []
    station = wall.stations_at(spots.index, spots.fraction)
    contour = wall.contour_of[spots.index]
    for k in np.flatnonzero(np.bincount(contour[excess > 0])):
        rows = np.flatnonzero(contour == k)
        rows = rows[np.argsort(station[rows], kind="stable")]
        # Begin at a place that is well, so that no stretch runs over the seam.
        well = np.flatnonzero(excess[rows] == 0)
        rows = np.roll(rows, -int(well[0])) if len(well) else rows
        group = np.cumsum(excess[rows] == 0)
        most = np.zeros(group[-1] + 1)
        np.maximum.at(most, group, excess[rows])
        skipped = most > run.radius_mm * _SKIPPED_SHARE
        for kind in (False, True):
            mine = rows[(excess[rows] > 0) & (skipped[group] == kind)]
            if len(mine):
                findings.append(
                    _off_finding(
                        wall,
                        run,
                        int(k),
                        spots,
                        mine,
                        excess,
                        skipped=kind,
                        is_last=bool(is_last[k]),
                    )
                )
    return findings


def _off_finding(
    wall: Wall,
    run: PassRun,
    contour: int,
    spots: Spots,
    rows: Indices,
    excess: Floats,
    *,
    skipped: bool,
    is_last: bool,
) -> Finding:
    row = rows[np.argmax(excess[rows])]
    if skipped:
        tail = "; there the finish would be that of another pass" if is_last else ""
        return wall_finding(
            "pass-skips-wall",
            f"pass {run.number} leaves out a stretch of contour {wall.contours[contour].id}{tail}",
            wall,
            contour,
            run.number,
            spots.points_mm[row],
            remedy="let the pass run along the whole wall, the tab included",
            excess_um=float(excess[row] * UM_PER_MM),
        )
    return wall_finding(
        "off-path",
        f"pass {run.number} runs {excess[row] * UM_PER_MM:.1f} µm farther from the wall than its "
        "header states",
        wall,
        contour,
        run.number,
        spots.points_mm[row],
        remedy="correct the path of this pass",
        excess_um=float(excess[row] * UM_PER_MM),
    )
