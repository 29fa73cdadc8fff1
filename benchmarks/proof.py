"""Time of a proof, and of nearest-segment search, against a GEOS route of like accuracy.

The peer compares wall and path with an STRtree of chords (`query_nearest`), both ways, three
points a segment, as one would with GEOS alone; it has no arcs, no passes and no events.
"""

from __future__ import annotations

import math
import time
from types import MappingProxyType

import numpy as np
import shapely

from kerfwright.adapters.machines import load_machine
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.nearest import NearestIndex
from kerfwright.geometry.offset import offset_passes
from kerfwright.geometry.segments import Segments
from kerfwright.nc.timeline import CutHeader, Happening, Timeline, WordEvent
from kerfwright.proof.prove import prove_timeline
from kerfwright.proof.records import Claim, StartPlace
from kerfwright.trade.part import PartContour, Role

OFFSETS_MM = (0.200, 0.165, 0.152, 0.146, 0.142, 0.140)
RADII_MM = (0.150, 0.150, 0.145, 0.143, 0.141, 0.140)
CHORD_MM = 1e-4
"""Chord error of the peer: the 0.1 µm to which the proof reports."""
TAB_MM = 4.0
SIZES = (2_000, 10_000, 50_000)


def toothed(segments: int) -> Contour:
    """Return a ring of rounded teeth: lines and arcs in turn, pitch about 1.6 mm."""
    teeth = max(segments // 8, 4)
    inner = max(teeth * 1.6 / math.tau, 3.0)
    angle = np.arange(teeth) * math.tau / teeth
    share = np.array([0.0, 0.35, 0.5, 0.85])
    around = (angle[:, None] + share * math.tau / teeth).ravel()
    radius = np.tile([inner, inner, inner + 1.5, inner + 1.5], teeth)
    corner = np.column_stack([radius * np.cos(around), radius * np.sin(around)])
    return _filleted(corner, 0.25)


def wavy(segments: int) -> Contour:
    """Return a smooth ring of very short arcs, as splines become: 40 waves on 100 mm."""
    angle = np.linspace(0.0, math.tau, segments, endpoint=False)
    radius = 50.0 + 2.0 * np.cos(40 * angle)
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    chord = np.roll(points, -1, axis=0) - points
    turn = np.angle(np.exp(1j * np.diff(np.arctan2(*chord[:, ::-1].T), prepend=0.0)))
    turn[0] = turn[1]
    return Contour(np.column_stack([points, np.tan((turn + np.roll(turn, -1)) / 8)]))


def _filleted(corner: np.ndarray, radius: float) -> Contour:
    before, after = np.roll(corner, 1, axis=0), np.roll(corner, -1, axis=0)
    u, v = corner - before, after - corner
    u /= np.hypot(*u.T)[:, None]
    v /= np.hypot(*v.T)[:, None]
    turn = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    cut = (radius * np.tan(np.abs(turn) / 2))[:, None]
    rows = np.empty((2 * len(corner), 3))
    rows[0::2, :2], rows[1::2, :2] = corner - u * cut, corner + v * cut
    rows[0::2, 2], rows[1::2, 2] = np.tan(turn / 4), 0.0
    return Contour(rows)


def job(contour: Contour) -> tuple[Timeline, Claim]:
    """Return a time line of six passes round an outline, rounded to 0.1 µm, and its claim."""
    runs: list[np.ndarray] = []
    headers: list[CutHeader] = []
    happenings: list[Happening] = []
    moves = 0
    offsets = offset_passes(contour, distances_mm=[-o for o in OFFSETS_MM])
    for number, offset in enumerate(offsets, start=1):
        rows = np.array(offset.loops[0].contour.vertices)
        rows[:, :2] = np.round(rows[:, :2], 4)
        rows = np.vstack([rows, rows[:1]])
        length = np.hypot(*np.diff(rows[:, :2], axis=0).T)
        held = int(np.searchsorted(np.cumsum(length[::-1]), TAB_MM)) + 1
        split = len(rows) - held if number == 1 else len(rows)
        for part in (rows[:split], rows[split - 1 :]):
            if len(part) < 2:
                continue
            count = len(part) - 1
            headers.append(
                CutHeader(
                    contour_id="P1",
                    pass_number=number,
                    offset_mm=OFFSETS_MM[number - 1],
                    line=moves + 1,
                    first_move=moves,
                    end_move=moves + count,
                )
            )
            place = {"line": moves + 1, "before_move": moves}
            happenings.append(Happening(kind=WordEvent.CONDITION, number=number, **place))
            happenings.append(Happening(kind=WordEvent.STOP, **place))
            runs.append(np.column_stack([part[:-1], part[1:, :2]]))
            moves += count
    all_rows = np.concatenate(runs)
    path = Segments.from_ends(all_rows[:, :2], all_rows[:, 3:5], all_rows[:, 2])
    start = path.start[0]
    happenings.insert(0, Happening(kind=WordEvent.THREAD, line=1, before_move=0))
    timeline = Timeline(
        start_mm=path.start,
        end_mm=path.end,
        centre_mm=path.centre,
        turn=np.sign(path.bulge).astype(np.int8),
        is_rapid=np.zeros(moves, dtype=np.int8),
        feed_mm_per_min=np.full(moves, 4.0),
        line=np.arange(1, moves + 1),
        headers=tuple(headers),
        happenings=tuple(happenings),
        offsets_mm=MappingProxyType({}),
    )
    return timeline, _claim(contour, (float(start[0]), float(start[1])))


def _claim(contour: Contour, start: tuple[float, float]) -> Claim:
    part = PartContour(id="P1", role=Role.OUTLINE, contour=contour, layer="0", entities=())
    return Claim(
        contours=(part,),
        cut_ids=frozenset({"P1"}),
        kerf_radius_mm=dict(enumerate(RADII_MM, start=1)),
        height_mm=20.0,
        density_kg_per_m3=7800.0,
        starts=(StartPlace(x_mm=start[0], y_mm=start[1], diameter_mm=1.0),),
        stock=None,
        machine=load_machine("generic-mm"),
        wire_diameter_mm=0.25,
        tolerance_um=0.25,
    )


def _edges(segments: Segments) -> np.ndarray:
    step = 2 * np.arccos(1 - CHORD_MM / np.where(segments.is_arc, segments.radius, 1.0))
    count = np.maximum(np.ceil(np.abs(segments.sweep) / step), 1).astype(np.intp)
    which = np.repeat(np.arange(len(segments)), count)
    first = np.cumsum(count) - count
    place = np.arange(len(which)) - first[which]
    begin = segments.points_at(which, place / count[which])
    end = segments.points_at(which, (place + 1) / count[which])
    return np.asarray(shapely.linestrings(np.stack([begin, end], axis=1)))


def _points(segments: Segments) -> np.ndarray:
    n = len(segments)
    return segments.points_at(np.repeat(np.arange(n), 3), np.tile([0.0, 1 / 3, 2 / 3], n))


def peer(contour: Contour, timeline: Timeline) -> float:
    """Return the largest deviation that GEOS finds, mm, over all passes both ways."""
    wall = contour.segments
    wall_tree = shapely.STRtree(_edges(wall))
    wall_points = shapely.points(_points(wall))
    worst = 0.0
    for number, offset in enumerate(OFFSETS_MM, start=1):
        rows = np.concatenate(
            [
                np.arange(h.first_move, h.end_move)
                for h in timeline.headers
                if h.pass_number == number
            ]
        )
        sweep = np.where(timeline.turn[rows] != 0, 1.0, 0.0)
        spoke = timeline.start_mm[rows] - timeline.centre_mm[rows]
        last = timeline.end_mm[rows] - timeline.centre_mm[rows]
        angle = np.arctan2(
            spoke[:, 0] * last[:, 1] - spoke[:, 1] * last[:, 0], (spoke * last).sum(axis=1)
        )
        path = Segments.from_ends(
            timeline.start_mm[rows], timeline.end_mm[rows], np.tan(sweep * angle / 4)
        )
        _, near = wall_tree.query_nearest(
            shapely.points(_points(path)), return_distance=True, all_matches=False
        )
        path_tree = shapely.STRtree(_edges(path))
        _, far = path_tree.query_nearest(wall_points, return_distance=True, all_matches=False)
        worst = max(worst, offset - float(near.min()), float(far.max()) - offset)
    return worst


def _seconds(work: object) -> float:
    begin = time.process_time()
    work()  # type: ignore[operator]
    return time.process_time() - begin


def rows() -> list[dict[str, str | float]]:
    """Return name, our and the peer's CPU seconds, their ratio and a note, row by row."""
    found: list[dict[str, str | float]] = []
    for shape in (toothed, wavy):
        for size in SIZES:
            contour = shape(size)
            timeline, claim = job(contour)
            ours = _seconds(lambda t=timeline, c=claim: prove_timeline(t, c, program_sha256=""))
            theirs = _seconds(lambda k=contour, t=timeline: peer(k, t))
            found.append(
                {
                    "name": f"proof, {shape.__name__}, {len(contour)} segments x 6 passes",
                    "ours_s": ours,
                    "peer_s": theirs,
                    "ratio": theirs / ours,
                    "note": "peer: STRtree of chords at 0.1 um, distances only",
                }
            )
    found.append(_nearest_row())
    return found


def _nearest_row() -> dict[str, str | float]:
    contour = toothed(20_000)
    points = contour.points_at(np.linspace(0.0, contour.length_mm, 100_000)) + 0.1
    index = NearestIndex(contour.segments)
    ours = _seconds(lambda: index.query(points))
    tree = shapely.STRtree(_edges(contour.segments))
    places = shapely.points(points)
    theirs = _seconds(lambda: tree.query_nearest(places, return_distance=True, all_matches=False))
    return {
        "name": "nearest segment, 100 000 points, 20 000 segments",
        "ours_s": ours,
        "peer_s": theirs,
        "ratio": theirs / ours,
        "note": "peer: STRtree of chords at 0.1 um",
    }


if __name__ == "__main__":
    for row in rows():
        print(
            f"{row['name']:58} {row['ours_s']:8.3f} s {row['peer_s']:8.3f} s "
            f"{row['ratio']:6.1f}x  {row['note']}"
        )
