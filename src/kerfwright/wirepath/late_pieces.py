"""Stops within a rough cut that frees pieces: somebody is there when each comes free.

Where a neck of an opening is narrower than twice the kerf, the kerf closes round what lies behind
it when the wire comes back, long after the stop before the cut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
import shapely

from kerfwright.geometry.segments import Floats
from kerfwright.motion.moves import Cut, Moves, Stop, Turn
from kerfwright.planning.plan import ContourPlan
from kerfwright.planning.rules import PlanningRules

_WAIT_SHARE: Final = 0.9
"""Of the time that somebody waits: the rest is for digits and for the chords of the kerf."""
_CRUMB_KERFS: Final = 2.0
"""Pieces no wider than so many kerf widths are flushed away (common practice, no source)."""
_SAGITTA_MM: Final = 2e-3
_FOUND_MIN: Final = 0.01
_LEAST_WAY: Final = 1e-3
"""Share of the way before which no stop is set."""
_MOST_PIECES: Final = 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Way:
    """Points along moves: places in each plane, way from the start in mm, time in minutes."""

    planes_mm: tuple[Floats, ...]
    way_mm: Floats
    minutes: Floats


def with_stops_within(cut: Cut, target: ContourPlan, *, rules: PlanningRules) -> Cut:
    """Return a rough cut with a stop before each piece that comes free too late after the last.

    The stop comes while as much metal still holds the piece as the least tab has.  A control that
    applies the offset has no such cut: its moves are others.

    Parameters
    ----------
    cut : Cut
        Of a contour that comes in pieces.
    target : ContourPlan
    rules : PlanningRules
    """
    way = _way_of(cut.moves)
    kerf_mm = 2 * (target.choice.wire.radius_mm + target.passes[0].gap_um / 1000)
    wait_min = _WAIT_SHARE * rules.cut_off_wait_min
    if way.minutes[-1] <= wait_min:
        return cut
    last_min, places = 0.0, []
    for freed_min in _releases(way, target, kerf_mm):
        if freed_min - last_min > wait_min:
            freed_mm = np.interp(freed_min, way.minutes, way.way_mm)
            held_mm = max(freed_mm - rules.tab_min_mm, way.way_mm[-1] * _LEAST_WAY)
            last_min = float(np.interp(held_mm, way.way_mm, way.minutes))
            places.append(last_min)
    if not places:
        return cut
    moves = cut.moves
    for place in places:
        moves = _parted(moves, place)
    ends = np.cumsum(moves.lengths_mm() / moves.feed_mm_per_min)
    stop = Stop(
        instruction=f"A PIECE OF SLUG {cut.contour_id} COMES FREE SOON: SUPPORT IT FROM BELOW OR "
        "HOLD IT WITH A MAGNET, HANDS OUT, COVERS SHUT, THEN START; STAND BY AND TAKE IT OUT AT "
        "THE NEXT STOP"
    )
    within = tuple((int(np.argmin(np.abs(ends - place))) + 1, stop) for place in places)
    return replace(cut, moves=moves, nominal=None, stops_within=within)


def _way_of(moves: Moves) -> _Way:
    """Return points along moves, chords close to the arcs."""
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    length = moves.lengths_mm()
    is_arc = moves.turn != Turn.LINE.value
    radius = np.where(is_arc, np.hypot(*(begin - moves.centre_mm).T), np.inf)
    step = np.sqrt(8 * _SAGITTA_MM * radius)
    count = np.where(is_arc, np.ceil(length / step), 1).astype(np.intp).clip(min=1)
    which = np.repeat(np.arange(len(moves)), count)
    share = (np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + 1) / count[which]
    points = begin[which] + (moves.end_mm - begin)[which] * share[:, None]
    arcs = is_arc[which]
    points[arcs] = _on_arcs(moves, begin, which[arcs], share[arcs] * length[which[arcs]])
    planes = [np.vstack([moves.start_mm[None, :], points])]
    if moves.second_start_mm is not None and moves.second_end_mm is not None:
        planes.append(np.vstack([moves.second_start_mm[None, :], moves.second_end_mm]))
    minutes = length / moves.feed_mm_per_min
    before = np.cumsum(length) - length, np.cumsum(minutes) - minutes
    return _Way(
        planes_mm=tuple(planes),
        way_mm=np.append(0.0, before[0][which] + share * length[which]),
        minutes=np.append(0.0, before[1][which] + share * minutes[which]),
    )


def _on_arcs(moves: Moves, begin: Floats, which: np.ndarray, way_mm: Floats) -> Floats:
    """Return the points of arcs so far along them."""
    centre = moves.centre_mm[which]
    spoke = begin[which] - centre
    angle = way_mm / np.hypot(*spoke.T) * moves.turn[which]
    cos, sin = np.cos(angle), np.sin(angle)
    x, y = spoke.T
    found: Floats = centre + np.column_stack([x * cos - y * sin, x * sin + y * cos])
    return found


def _releases(way: _Way, target: ContourPlan, kerf_mm: float) -> list[float]:
    """Return when each piece comes free, minutes, in order; of a leaning wire in either plane."""
    start, crumb = target.start, (_CRUMB_KERFS * kerf_mm) ** 2
    hole = shapely.Point(start.x_mm, start.y_mm).buffer(start.diameter_mm / 2)

    def pieces(upto_min: float) -> int:
        count = int(np.searchsorted(way.minutes, upto_min, side="right"))
        return max(_enclosed(plane, count, upto_min) for plane in way.planes_mm)

    def _enclosed(plane: Floats, count: int, upto_min: float) -> int:
        end = [np.interp(upto_min, way.minutes, axis) for axis in plane.T]
        line = shapely.LineString(np.vstack([plane[:count], end]))
        kerf = shapely.union(line.buffer(kerf_mm / 2), hole)
        parts = [p for p in shapely.get_parts(kerf) if isinstance(p, shapely.Polygon)]
        return sum(shapely.Polygon(ring).area > crumb for p in parts for ring in p.interiors)

    def is_free(number: int, upto_min: float) -> bool:
        return pieces(upto_min) >= number

    whole_min = float(way.minutes[-1])
    every = min(pieces(whole_min), _MOST_PIECES)
    return [_first(partial(is_free, number), whole_min) for number in range(1, every + 1)]


def _first(holds: Callable[[float], bool], most_min: float) -> float:
    """Return the least time at which something holds that holds at the end."""
    low, high = 0.0, most_min
    while high - low > _FOUND_MIN:
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return low


def _parted(moves: Moves, place_min: float) -> Moves:
    """Return moves with one of them parted after so many minutes."""
    length = moves.lengths_mm()
    minutes = length / moves.feed_mm_per_min
    after = np.cumsum(minutes)
    k = int(np.searchsorted(after, place_min, side="left"))
    share = 1.0 - (after[k] - place_min) / minutes[k]
    begin = np.vstack([moves.start_mm[None, :], moves.end_mm[:-1]])
    point = begin[k] + (moves.end_mm[k] - begin[k]) * share
    if moves.turn[k] != Turn.LINE.value:
        point = _on_arcs(moves, begin, np.array([k]), np.array([share * length[k]]))[0]
    second = moves.second_end_mm
    if second is not None and moves.second_start_mm is not None:
        first = moves.second_start_mm if k == 0 else second[k - 1]
        second = np.insert(second, k, first + (second[k] - first) * share, axis=0)
    return replace(
        moves,
        end_mm=np.insert(moves.end_mm, k, point, axis=0),
        centre_mm=np.insert(moves.centre_mm, k, moves.centre_mm[k], axis=0),
        turn=np.insert(moves.turn, k, moves.turn[k]),
        purpose=np.insert(moves.purpose, k, moves.purpose[k]),
        feed_mm_per_min=np.insert(moves.feed_mm_per_min, k, moves.feed_mm_per_min[k]),
        second_end_mm=second,
    )
