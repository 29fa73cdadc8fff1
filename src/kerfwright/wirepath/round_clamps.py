"""The way of the heads from start to start, round clamps that stand between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from scipy.sparse.csgraph import shortest_path

from kerfwright.foundation.counts import counted
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.sizes import both_sizes
from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Cut, Moves, Stop, Way, WirePath
from kerfwright.planning.beside_clamps import clear_ways, solid_of
from kerfwright.planning.clamps import clamp_refusal, way_to_move
from kerfwright.planning.plan import Plan
from kerfwright.trade.clamps import Clamps

_SLACK_MM = 1e-3
"""Chords of clamps and paths lie within this of what they stand for."""
_BEYOND_MM = 0.05
"""Corners of a way stand so much further off than they must."""
_QUARTER: Final = 4
"""Corners to a quarter round a clamp."""
_CHORD_MM = 1e-3
_NO_SWEEP_RAD = 1e-6
_FIRST: Final = Stop(
    instruction="SEE THAT THE WAY OF BOTH HEADS TO THE FIRST START IS CLEAR OF EVERY CLAMP: WHERE "
    "THEY STAND NOW IS NOT KNOWN"
)
_RAISE: Final = Stop(
    instruction="RAISE THE UPPER HEAD ABOVE THE CLAMPS, AND SEE THAT THE LOWER HEAD PASSES UNDER "
    "THEM: THE WAY TO THE NEXT START CROSSES A CLAMP"
)
_LOWER: Final = Stop(instruction="THE HEADS ARE PAST THE CLAMP: BRING THE UPPER HEAD DOWN AGAIN")


def round_clamps(cuts: Sequence[Cut], clamps: Clamps | None) -> tuple[Cut, ...]:
    """Return the cuts with the way of the heads to each start led round the clamps.

    Where no way leads round them, somebody raises the head and sees it over.

    Parameters
    ----------
    cuts : sequence of Cut
    clamps : Clamps or None
    """
    if clamps is None or not cuts:
        return tuple(cuts)
    yard = _Yard(clamps)
    led = [replace(cuts[0], way=Way(stop_before=_FIRST))]
    for before, cut in pairwise(cuts):
        way = yard.way(_end(before), cut.moves.start_mm) if cut.threads else cut.way
        led.append(replace(cut, way=way))
    return tuple(led)


def _end(cut: Cut) -> Floats:
    return cut.moves.end_mm[-1] if len(cut.moves) else cut.moves.start_mm


class _Yard:
    """Clamps grown by what the nozzles need, and the corners at which a way may turn."""

    def __init__(self, clamps: Clamps) -> None:
        self._clamps = clamps
        # Chords between the corners of a grown outline come nearer than its corners.
        reach = (clamps.reach_mm + _BEYOND_MM) / np.cos(np.pi / (4 * _QUARTER))
        grown = shapely.buffer(solid_of(clamps), reach, quad_segs=_QUARTER)
        rings = [ring for p in shapely.get_parts(grown) for ring in (p.exterior, *p.interiors)]
        corners = [np.asarray(ring.coords)[:-1] for ring in rings]
        self._corners: Floats = np.vstack(corners)
        self._lengths: Floats | None = None

    def way(self, begin: Floats, end: Floats) -> Way:
        """Return the shortest way between two places."""
        if self._clear(begin[None, :], end[None, :])[0]:
            return Way()
        corners, n = self._corners, len(self._corners)
        lengths = np.zeros((n + 2, n + 2))
        lengths[:n, :n] = self._between()
        for row, place in ((n, begin), (n + 1, end)):
            lengths[row, :n] = lengths[:n, row] = self._seen(place, corners)
        far, before = shortest_path(lengths, directed=False, indices=n, return_predecessors=True)
        if not np.isfinite(far[n + 1]):
            return Way(stop_before=_RAISE, stop_after=_LOWER)
        via, at = [], int(before[n + 1])
        while at != n:
            via.append((float(corners[at, 0]), float(corners[at, 1])))
            at = int(before[at])
        return Way(via_mm=tuple(reversed(via)))

    def _between(self) -> Floats:
        """Return the length of the straight way between every two corners; 0 where none is."""
        if self._lengths is None:
            corners = self._corners
            self._lengths = np.array([self._seen(place, corners) for place in corners])
        return self._lengths

    def _seen(self, place: Floats, corners: Floats) -> Floats:
        from_here = np.broadcast_to(place, corners.shape)
        away = np.hypot(*(corners - place).T)
        return np.where(self._clear(from_here, corners) & (away > _SLACK_MM), away, 0.0)

    def _clear(self, begin: Floats, end: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        return clear_ways(self._clamps, begin, end, beside_mm=-_SLACK_MM)


def clamp_findings(plan: Plan, path: WirePath) -> tuple[Finding, ...]:
    """Return refusals of cuts that bring a nozzle to a clamp, and what the ways between cost.

    Parameters
    ----------
    plan : Plan
    path : WirePath
    """
    if plan.clamps is None:
        return ()
    return (*_too_near(path, plan.clamps), *_of_ways(path))


def _too_near(path: WirePath, clamps: Clamps) -> list[Finding]:
    """Return one refusal for each contour whose path, leads and channels too, comes too near."""
    found: dict[str, tuple[float, Cut, shapely.Geometry]] = {}
    for cut in path.cuts:
        if not _may_be_near(cut.moves, clamps):
            continue
        lines = [shapely.LineString(line) for line in _lines(cut.moves) if len(line) > 1]
        if not lines:
            continue
        way = shapely.MultiLineString(lines)
        near = float(shapely.distance(way, solid_of(clamps)))
        least = found.get(cut.contour_id, (clamps.reach_mm - 2 * _SLACK_MM,))[0]
        if near < least:
            found[cut.contour_id] = near, cut, way
    refused = []
    for name, (near, cut, way) in found.items():
        at, _ = shapely.shortest_line(way, solid_of(clamps)).coords
        refused.append(
            clamp_refusal(
                name,
                f"pass {cut.pass_number}",
                at=(at[0], at[1]),
                near_mm=near,
                clamps=clamps,
                move=way_to_move(clamps, way, way),
            )
        )
    return refused


def _may_be_near(moves: Moves, clamps: Clamps) -> bool:
    """Return whether a cut may come near to a clamp, by boxes alone."""
    if not len(moves):
        return False
    ends = [moves.start_mm[None, :], moves.end_mm]
    if moves.second_end_mm is not None:
        ends.append(moves.second_end_mm)
    points = np.vstack(ends)
    is_arc = moves.turn != 0
    # An arc goes no further than its diameter beyond its end.
    arcs = np.hypot(*(moves.end_mm - moves.centre_mm)[is_arc].T)
    beyond = 2 * float(arcs.max(initial=0.0)) + clamps.reach_mm
    box = shapely.box(*(points.min(axis=0) - beyond), *(points.max(axis=0) + beyond))
    return bool(box.intersects(solid_of(clamps)))


def _lines(moves: Moves) -> list[Floats]:
    """Return the ways of the wire in each plane as chords."""
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm])[: len(moves)]
    points = [moves.start_mm[None, :], *(_chords(moves, k, begin[k]) for k in range(len(moves)))]
    lines = [np.vstack(points)]
    if moves.second_start_mm is not None and moves.second_end_mm is not None:
        lines.append(np.vstack([moves.second_start_mm[None, :], moves.second_end_mm]))
    return lines


def _chords(moves: Moves, k: int, begin: Floats) -> Floats:
    end, turn = moves.end_mm[k], int(moves.turn[k])
    if turn == 0:
        return moves.end_mm[k : k + 1]
    centre = moves.centre_mm[k]
    a, b = begin - centre, end - centre
    radius = float(np.hypot(*a))
    sweep = np.mod(turn * (np.arctan2(b[1], b[0]) - np.arctan2(a[1], a[0])), 2 * np.pi)
    sweep = 2 * np.pi if np.hypot(*(end - begin)) < _SLACK_MM and sweep < _NO_SWEEP_RAD else sweep
    count = max(2, int(np.ceil(sweep / (2 * np.sqrt(2 * _CHORD_MM / max(radius, _CHORD_MM))))))
    angle = np.arctan2(a[1], a[0]) + turn * sweep * np.arange(1, count + 1) / count
    points: Floats = centre + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return points


def _of_ways(path: WirePath) -> list[Finding]:
    """Return a note on ways that go round clamps, and a warning of those that go over them."""
    ways = path.ways_mm()
    round_ = [k for k, cut in enumerate(path.cuts) if cut.way.via_mm]
    over = [k for k, cut in enumerate(path.cuts) if cut.way.stop_after is not None]
    found = []
    if round_:
        straight = [
            float(np.hypot(*(path.cuts[k].moves.start_mm - _end(path.cuts[k - 1])))) for k in round_
        ]
        more = sum(ways[k] for k in round_) - sum(straight)
        found.append(
            Finding(
                code="clamp-way-round",
                severity=Severity.NOTE,
                message=f"The heads go round clamps on {counted(len(round_), 'way')} from start to "
                f"start, {both_sizes(more)} further than straight.",
                data={"ways": len(round_), "further_mm": more},
            )
        )
    for k in over:
        x, y = (float(v) for v in path.cuts[k].moves.start_mm)
        found.append(
            Finding(
                code="clamp-way-over",
                severity=Severity.WARNING,
                message=f"Clamps shut in the way to the start of {path.cuts[k].contour_id}: the "
                "program stops, and somebody raises the upper head over them and sees the lower "
                "head under them.",
                where=Place(contour_id=path.cuts[k].contour_id, x_mm=x, y_mm=y),
                remedy="Move a clamp so that the heads pass beside it. The lower head of many "
                "machines does not go down: where anything of the clamp stands below the work, "
                "there is no way at all.",
            )
        )
    return found
