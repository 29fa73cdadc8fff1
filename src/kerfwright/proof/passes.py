"""The path of each pass beside the wall, and what the checks of a pass share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Flags, Floats, Indices, Segments
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.records import Claim, Deviation
from kerfwright.proof.sweep import PassSweep
from kerfwright.proof.track import Track
from kerfwright.proof.wall import Wall

UM_PER_MM = 1e3
SEEN_MM = 5e-5
"""Half of the 0.1 µm to which deviations are reported."""
_LIMIT_SLACK_MM = 5e-4
"""Least distance beyond the offset up to which neighbours are kept: half a micrometre."""
_WIDEST = 3.0
"""A header's offset above this multiple of the largest kerf radius is not followed further."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassRun:
    """Everything of one pass.

    Attributes
    ----------
    number : int
    radius_mm : float
    elements : (k,) int
        Segments of the track.
    sweep : PassSweep
    offset_mm : (contours,) float
        Offset claimed for the pass, on each contour that it cuts; where none is claimed, the
        one its headers state.  nan on other contours.
    """

    number: int
    radius_mm: float
    elements: Indices
    sweep: PassSweep
    offset_mm: Floats


def pass_runs(timeline: Timeline, track: Track, wall: Wall, claim: Claim) -> tuple[PassRun, ...]:
    """Group the track by pass, in order of pass numbers; moves under no header are pass 0."""
    position = {part.id: k for k, part in enumerate(wall.contours)}
    # What is claimed is followed as far as it is claimed.
    known = claim.offset_mm.values()
    widest = max(max(claim.kerf_radius_mm.values()) * _WIDEST, *known, 0.0)
    slack = max(2 * claim.tolerance_um / UM_PER_MM, _LIMIT_SLACK_MM)
    runs = []
    for number in np.flatnonzero(np.bincount(track.pass_number)):
        elements = np.flatnonzero(track.pass_number == number)
        offset = np.full(len(wall.contours), np.nan)
        for header in timeline.headers:
            k = position.get(header.contour_id)
            if header.pass_number == number and k is not None:
                planned = header.contour_id, int(number)
                stated = claim.offset_mm.get(planned, header.offset_mm)
                offset[k] = np.fmax(offset[k], stated)
        radius = float(track.radius_mm[elements[0]])
        reach = min(max(radius, float(np.nanmax(np.append(offset, 0.0)))), widest)
        path = Segments.from_ends(
            track.segments.start[elements],
            track.segments.end[elements],
            track.segments.bulge[elements],
        )
        runs.append(
            PassRun(
                number=int(number),
                radius_mm=radius,
                elements=elements,
                sweep=PassSweep(path, wall.segments, wall.index.tree, reach + slack),
                offset_mm=offset,
            )
        )
    return tuple(runs)


def finished_contours(runs: tuple[PassRun, ...], tolerance_mm: float) -> Flags:
    """Return which contours each pass states to cut to the wall, (runs, contours) bool.

    Where no pass of a contour does, its last counts; for one that is not cut, the last of all.
    """
    if not runs:
        return np.zeros((0, 0), dtype=bool)
    stated = np.array([r.offset_mm for r in runs])
    radius = np.array([r.radius_mm for r in runs])
    named = np.array([r.number > 0 for r in runs])
    found: Flags = named[:, None] & (stated <= radius[:, None] + tolerance_mm)
    own = named[:, None] & np.isfinite(stated)
    own[:, ~own.any(axis=0)] = named[:, None]
    for k in np.flatnonzero(~found.any(axis=0)):
        found[np.flatnonzero(own[:, k])[-1:], k] = True
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Points of the wall: segment, fraction and place."""

    index: Indices
    fraction: Floats
    points_mm: Floats

    def __len__(self) -> int:
        return len(self.index)


def base_spots(wall: Wall) -> Spots:
    """Return the starts and middles of all wall segments."""
    n = len(wall.segments)
    index = np.concatenate([np.arange(n), np.arange(n)])
    fraction = np.repeat([0.0, 0.5], n)
    points = wall.segments.points_at(index, fraction)
    return Spots(index=index, fraction=fraction, points_mm=points)


def further_spots(wall: Wall, sweep: PassSweep, threshold_mm: float) -> Spots:
    """Return the further points at which the distance to a pass may be largest."""
    index, fraction = sweep.further_stations(threshold_mm)
    points = wall.segments.points_at(index, fraction)
    return Spots(index=index, fraction=fraction, points_mm=points)


def joined_spots(spots: list[Spots]) -> Spots:
    """Return all points in one record."""
    return Spots(
        index=np.concatenate([s.index for s in spots]),
        fraction=np.concatenate([s.fraction for s in spots]),
        points_mm=np.concatenate([s.points_mm for s in spots]),
    )


class Worst:
    """Largest gouge and leftover of each contour so far."""

    def __init__(self, wall: Wall) -> None:
        self.wall = wall
        n = len(wall.contours)
        self.depth = {"gouge": np.zeros(n), "leftover": np.zeros(n)}
        self.place: dict[tuple[str, int], tuple[float, float]] = {}

    def note(self, kind: str, contour: int, depth_mm: float, place: Floats) -> None:
        """Keep a depth if it is the largest of its kind on its contour so far."""
        if depth_mm > self.depth[kind][contour]:
            self.depth[kind][contour] = depth_mm
            self.place[kind, contour] = (float(place[0]), float(place[1]))

    def deviations(self, means: Floats) -> tuple[Deviation, ...]:
        """Return the record of each contour, with the mean deviations given."""
        return tuple(
            Deviation(
                contour_id=part.id,
                max_gouge_um=float(self.depth["gouge"][k]) * UM_PER_MM,
                max_leftover_um=float(self.depth["leftover"][k]) * UM_PER_MM,
                gouge_at_mm=self.place.get(("gouge", k)),
                leftover_at_mm=self.place.get(("leftover", k)),
                mean_um=float(means[k]) * UM_PER_MM,
            )
            for k, part in enumerate(self.wall.contours)
        )


def wall_place(wall: Wall, run: PassRun, element: int, segment: int | None = None) -> Floats:
    """Return the point of the wall nearest to a path segment, found among 65 of its points.

    Parameters
    ----------
    wall : Wall
    run : PassRun
    element : int
        Path segment.
    segment : int or None
        Wall segment; None asks for the nearest.
    """
    steps = np.linspace(0.0, 1.0, 65)
    points = run.sweep.path.points_at(np.full(65, element), steps)
    if segment is None:
        distance, index = wall.index.query(points)
    else:
        index = np.full(65, segment)
        distance = wall.segments.distances(index, points)
    k = int(np.argmin(distance))
    place: Floats = wall.index.closest_points(points[k : k + 1], index[k : k + 1])[0][0]
    return place


def wall_finding(
    code: str,
    message: str,
    wall: Wall,
    contour: int,
    pass_number: int | None,
    place: Floats | None,
    *,
    line: int | None = None,
    severity: Severity = Severity.REFUSAL,
    remedy: str = "",
    **data: float,
) -> Finding:
    """Return a finding about a place on a contour."""
    return Finding(
        code=code,
        severity=severity,
        message=message,
        where=Place(
            contour_id=wall.contours[contour].id,
            x_mm=None if place is None else float(place[0]),
            y_mm=None if place is None else float(place[1]),
            line=line,
            pass_number=pass_number or None,
        ),
        remedy=remedy,
        data=data,
    )
