"""How a leaning wire passes the corners that it cannot touch on both sides at once."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.clearance import WallSections
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.geometry.wire_line import WireLoop

SLACK_MM = 2e-5
"""A place is free if the wire clears the wall by all but this, twice the chord error of the
sections against which it is tested: 0.02 µm."""
_JUMP_PARTS = 8
_SAME_MM = 1e-9
_AT_CORNER_MM = 2e-4
"""Ten times what the clearance is let off: the ways may have run past the corner by this."""
_BACK = 0.25
"""How far past the free positions a corner may lie, as a share of their distance and the wire's: a
wire that leans along one wall comes to the next a little sooner or later than one that leans along
both."""
_PARALLEL = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kept:
    """Free positions in order, (n, 2, 2): position, plane, x and y.

    Attributes
    ----------
    element : (n,) int
    place : (n, 2, 2) float
    blocked : (m, 2, 2) float
        Positions that are not free, in order.
    blocked_before : (n,) int
        How many of those lie before each free position.
    way : (n, 2, 2) float
        Direction of travel there in both planes.
    limit : (n,) float
        Clearance at which it is free.
    jumps : (n,) bool
        Whether blocked positions lay before.
    is_spare : (n,) bool
        Last free positions on a plane: a corner beside them makes them needless.
    """

    element: Indices
    place: Floats
    blocked: Floats
    blocked_before: Indices
    way: Floats
    limit: Floats
    jumps: Flags
    is_spare: Flags

    def blocked_at(self, j: int) -> Floats:
        """Return the blocked positions between a free one and that before it, (k, 2, 2) mm."""
        first, last = self.blocked_before[j - 1], self.blocked_before[j]
        if j:
            return self.blocked[first:last]
        return np.concatenate([self.blocked[first:], self.blocked[:last]])


def joined(
    wall: RuledWall,
    sections: WallSections,
    kept: Kept,
    *,
    distance_mm: float,
    chord_mm: float,
) -> WireLoop:
    """Return the loop; each blocked stretch is bridged the first way that clears the wall."""
    n = len(kept.element)
    source = np.where(kept.element % 2 == 0, kept.element // 2, -1 - kept.element // 2)
    places: list[Floats] = []
    sources: list[int] = []
    is_last_needless = False
    for j in range(n):
        bridge: list[Floats] = []
        if kept.jumps[j]:
            bridge = _bridge(sections, kept, j, distance_mm=distance_mm, chord_mm=chord_mm)
        if bridge:
            if _is_needless(kept, j - 1, bridge):
                is_last_needless |= not places
                del places[-1:], sources[-1:]
            places += bridge
            sources += [-1 - int(kept.element[j]) // 2] * len(bridge)
        if not (bridge and _is_needless(kept, j, bridge[::-1])):
            places.append(kept.place[j])
            sources.append(int(source[j]))
    if is_last_needless:
        del places[-1], sources[-1]
    place, source = np.array(places), np.array(sources, dtype=np.intp)
    step = np.hypot(*np.moveaxis(place - np.roll(place, 1, axis=0), 2, 0))
    moved = (step > _SAME_MM).any(axis=1)
    return WireLoop(
        lower=place[moved, 0],
        upper=place[moved, 1],
        lower_mm=wall.lower_mm,
        upper_mm=wall.upper_mm,
        source=source[moved],
    )


def _is_needless(kept: Kept, j: int, bridge: list[Floats]) -> bool:
    """Return whether the bridge that begins beside a position makes it needless.

    The bridge begins there but for what the clearance is let off, or is a corner on the same plane.
    """
    apart = np.hypot(*(kept.place[j] - bridge[0]).T).max()
    return bool((kept.is_spare[j] and len(bridge) == 1) or apart <= _AT_CORNER_MM)


def _bridge(
    sections: WallSections, kept: Kept, j: int, *, distance_mm: float, chord_mm: float
) -> list[Floats]:
    """Return the positions between two free ones with blocked ones between them.

    Where both walls are planes, or are taken by their tangent planes, the two ways cross in one
    line that clears both walls: the corner.  Where only one plane has that corner, for the other is
    rounded wider than the wire, the wire stands in it there and goes round in the other.  Otherwise
    it goes straight across.
    """
    before, after = kept.place[j - 1], kept.place[j]
    corner = [
        _crossing(before[k], kept.way[j - 1, k], after[k], kept.way[j, k], distance_mm=distance_mm)
        for k in range(2)
    ]
    tried: list[list[Floats]] = [[]]
    blocked = kept.blocked_at(j)
    for standing in (1, 0):
        if (stand := corner[standing]) is not None:
            round_it = blocked.copy()
            round_it[:, standing] = stand
            tried.insert(0, list(round_it))
    if corner[0] is not None and corner[1] is not None:
        tried.insert(0, [np.stack([corner[0], corner[1]])])
    best, limit = 0.0, min(kept.limit[j - 1], kept.limit[j]) - SLACK_MM
    for between in tried:
        legs = np.stack([before, *between, after])
        long = float(np.hypot(*np.moveaxis(np.diff(legs, axis=0), 2, 0)).max())
        # So close that no leg slips through a wall between two places.
        parts = max(_JUMP_PARTS, math.ceil(2 * long / distance_mm))
        share = np.linspace(0.0, 1.0, parts + 1)[:, None, None, None]
        looked = (legs[:-1] * (1 - share) + legs[1:] * share).reshape(-1, 2, 2)
        near = sections.clearance(looked[:, 0], looked[:, 1], within_mm=distance_mm).min()
        best = max(best, float(near))
        if near >= limit:
            return between
    if best >= limit - chord_mm:
        return tried[-1]
    raise InputError(
        f"the wire keeps {distance_mm:.4f} mm from the wall and cannot pass here: only "
        f"{best:.4f} mm are free",
        code="wire-blocked",
        where=place_words(before[0, 0], before[0, 1]),
        remedy="Take a thinner wire or a smaller angle, or open the contour.",
    )


def _crossing(a: Floats, u: Floats, b: Floats, v: Floats, *, distance_mm: float) -> Floats | None:
    """Return where two ways cross, ahead of the first and behind the second, None if nowhere.

    Both ways may have run past the crossing by as much as the clearance is let off.
    """
    w = b - a
    lengths = math.hypot(*u) * math.hypot(*v)
    cross = u[0] * v[1] - u[1] * v[0]
    if lengths <= TINY or abs(cross) <= _PARALLEL * lengths:
        return None
    s = (w[0] * v[1] - w[1] * v[0]) / cross * math.hypot(*u)
    t = (w[0] * u[1] - w[1] * u[0]) / cross * math.hypot(*v)
    # At a blunt corner a small let-off is a long way along the walls.
    past = _BACK * (math.hypot(*w) + distance_mm) + SLACK_MM * lengths / abs(cross) * 4
    far = 2 * math.hypot(*w) + past
    if not (-past <= s <= far and -far <= t <= past):
        return None
    result: Floats = a + u / math.hypot(*u) * s
    return result
