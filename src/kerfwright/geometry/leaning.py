"""The path of a leaning wire along a ruled wall: the offset in space.

A wire of radius r with its spark gap takes a cylinder.  It makes the wall right at every height
where its axis runs parallel to a ruling at the distance r + gap along the wall's normal in space.
On planes, cylinders and cones that is exact.  On a warped piece no straight wire can touch a
ruling along its whole length: the axis is then set off by the normals at both chains, and what
that leaves or takes in between is second order in the warp (see :func:`warp_depth_mm`).

Every edge is gone round at the same distance; where the way is blocked by another part of the
wall, the axis goes as far as it can touch without cutting in anywhere, and on from the next place
where it can touch again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.places import place_words
from kerfwright.geometry.clearance import WallSections
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Flags, Floats, Indices
from kerfwright.geometry.wire_corners import SLACK_MM, Kept, joined
from kerfwright.geometry.wire_line import WireLoop

_TURN_RAD = 1e-9
"""Normals that differ by less at a joint need no way round it."""
_BISECTIONS = 24
"""Of a part of a piece, to a few nanometres; the corner itself is where two ways cross."""
_FLATTEST = 1e-3
"""Cosine of an axis that would lie down: no machine comes near it."""
_SHORT = 1e-5
"""Share of a piece over which the direction of travel is taken."""


def axis_through(
    low: Floats, up: Floats, normal_low: Floats, normal_up: Floats, *, distance_mm: float,
    height_mm: float,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Return where axes set off from rulings pass the heights of the rulings' own ends.

    Parameters
    ----------
    low, up : (m, 2) float
        Ends of the rulings, mm.
    normal_low, normal_up : (m, 3) float
        Unit normals there.
    distance_mm : float
        Wire radius and gap.
    height_mm : float
        Height of the upper ends above the lower.

    Returns
    -------
    (m, 2) float, (m, 2) float
        In the lower and in the upper plane, mm.

    Examples
    --------
    A wall that leans 30° outwards along x: in the plane the wire stands off by d / cos 30°.

    >>> low, up = np.zeros((1, 2)), np.array([[10.0 * math.tan(math.pi / 6), 0.0]])
    >>> n = np.array([[math.cos(math.pi / 6), 0.0, -math.sin(math.pi / 6)]])
    >>> a, b = axis_through(low, up, n, n, distance_mm=0.1, height_mm=10.0)
    >>> round(float(a[0, 0] * math.cos(math.pi / 6)), 12)
    0.1
    """
    first = np.column_stack([low, np.zeros(len(low))]) + distance_mm * normal_low
    last = np.column_stack([up, np.full(len(up), height_mm)]) + distance_mm * normal_up
    way = last - first
    per_mm = way[:, :2] / way[:, 2:]
    return (
        first[:, :2] - per_mm * first[:, 2:],
        last[:, :2] + per_mm * (height_mm - last[:, 2:]),
    )


def warp_depth_mm(warp_rad: float, *, distance_mm: float) -> float:
    """Return how far a wire set off at both ends of a warped ruling comes too near in the middle.

    ``d (1 − cos(ω / 2))``: the middle of two vectors of length d at an angle ω.

    Parameters
    ----------
    warp_rad : float
        Turn of the normal along the ruling.
    distance_mm : float
        Wire radius and gap.

    Examples
    --------
    >>> round(warp_depth_mm(math.radians(10.0), distance_mm=0.15) * 1000, 3)
    0.571
    """
    return distance_mm * (1.0 - math.cos(warp_rad / 2))


def planar_error_mm(lean_rad: float, *, distance_mm: float) -> float:
    """Return how far too near a wire would run that is set off in the plane as if upright.

    ``d (1 − cos α)`` normal to a wall that leans by α, which it cuts too deep by that much.

    Parameters
    ----------
    lean_rad : float
    distance_mm : float
        Wire radius and gap.

    Examples
    --------
    >>> round(planar_error_mm(math.radians(15.0), distance_mm=0.15) * 1000, 2)
    5.11
    """
    return distance_mm * (1.0 - math.cos(lean_rad))


def wire_loop(
    wall: RuledWall,
    *,
    distance_mm: float,
    chord_mm: float,
    heights_mm: Sequence[float] = (),
) -> WireLoop:
    """Return the path of the wire along the waste side of a wall.

    Parameters
    ----------
    wall : RuledWall
        Material on the left.
    distance_mm : float
        From the axis of the wire to the wall, above 0.
    chord_mm : float
        Largest distance between the path of straight moves and the true one, at both chains and
        at every one of `heights_mm`.
    heights_mm : sequence of float
        Further heights to keep to it, such as those of the guides.

    Returns
    -------
    WireLoop
        In the sense of the wall.

    Raises
    ------
    InputError
        ``wire-offset`` if the distance is not above 0, ``wire-finds-no-way`` if no position is
        free, ``wire-blocked`` if the free positions do not hang together.
    """
    if not distance_mm > 0:
        raise InputError(
            f"the wire must keep a distance above 0 from the wall, got {distance_mm} mm",
            code="wire-offset",
        )
    ways = _Ways(wall, distance_mm)
    sections = WallSections(wall, chord_mm=SLACK_MM / 2)
    heights = [wall.lower_mm, wall.upper_mm, *heights_mm]
    grid = ways.grid(ways.steps(chord_mm, heights))
    low, up = ways.positions(grid.element, grid.fraction)
    limit = ways.limits(grid.element, grid.fraction)
    free = sections.clearance(low, up, within_mm=distance_mm) >= limit
    if not free.any():
        x, y = low[0]
        raise InputError(
            f"nowhere along this wall is there room for a wire that keeps {distance_mm:.4f} mm",
            code="wire-finds-no-way",
            where=place_words(x, y),
            remedy="Take a thinner wire, or open the contour.",
        )
    kept = _kept(ways, sections, grid, free)
    return joined(wall, sections, kept, distance_mm=distance_mm, chord_mm=chord_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Grid:
    """Places along all elements; those not wanted are tested, and left out of the path."""

    element: Indices
    fraction: Floats
    is_wanted: Flags


class _Ways:
    """Along each piece and round each joint: wire positions by element and fraction.

    Element 2 k is piece k, element 2 k + 1 the joint after it.
    """

    def __init__(self, wall: RuledWall, distance_mm: float) -> None:
        self.wall = wall
        self.distance_mm = distance_mm
        n = len(wall)
        every = np.arange(n)
        last = wall.normals(every, np.ones(n))
        first = wall.normals(np.roll(every, -1), np.zeros(n))
        aside = wall.rulings(every, np.ones(n))
        way = np.column_stack([aside, np.full(n, wall.height_mm)])
        self.axis = way / np.sqrt((way * way).sum(axis=1))[:, None]
        self.from_normal = last
        self.angle = tuple(
            np.arctan2((np.cross(a, b) * self.axis).sum(axis=1), (a * b).sum(axis=1))
            for a, b in zip(last, first, strict=True)
        )
        turn = np.maximum(self.angle[0], self.angle[1])
        # Only an edge, which turns left, is gone round; at an inside corner the ways cross.
        self.is_edge = turn > _TURN_RAD
        is_line = ~(wall.lower.is_arc | wall.upper.is_arc | wall.is_point[0] | wall.is_point[1])
        self.is_plane = is_line & (wall.warp_rad(every, np.zeros(n)) <= _TURN_RAD)

    def steps(self, chord_mm: float, heights: Sequence[float]) -> Indices:
        """Return the parts of each element; 0 for a joint that is not gone round."""
        n = len(self.wall)
        steps = np.zeros(2 * n, dtype=np.intp)
        steps[0::2] = self.wall.steps(chord_mm, heights, beyond_mm=self.distance_mm)
        # Round an edge the path is an ellipse, at worst d / cos² as curved at its ends.
        stretch = 1.0 / np.maximum(self.axis[:, 2], _FLATTEST) ** 2
        turn = np.maximum(self.angle[0], self.angle[1])
        bend = self.distance_mm * stretch * turn**2
        around = np.ceil(np.sqrt(bend / (8.0 * chord_mm))).astype(np.intp)
        steps[1::2] = np.where(self.is_edge, np.maximum(around, 1), 0)
        return steps

    def grid(self, steps: Indices) -> _Grid:
        """Return the ends of all parts, and between them places to be tested only.

        A part of the wall that blocks the way is wider than the wire, so it is not missed.  Between
        two inside corners the way is free though both ends are blocked: there its middle is tested.
        """
        length = np.zeros(len(steps))
        length[0::2] = np.maximum(self.wall.lower.length, self.wall.upper.length)
        finer = np.ceil(length / np.maximum(steps, 1) / self.distance_mm).astype(np.intp)
        finer = np.maximum(finer, 1)
        is_inside = np.minimum(self.angle[0], self.angle[1]) < -_TURN_RAD
        beside = is_inside | np.roll(is_inside, 1)
        finer[0::2] = np.where(beside, np.maximum(finer[0::2], 2), finer[0::2])
        used = np.flatnonzero(steps > 0)
        count = (steps * finer)[used] + 1
        element = np.repeat(used, count)
        part = np.arange(len(element)) - np.repeat(np.cumsum(count) - count, count)
        return _Grid(
            element=element,
            fraction=part / (steps * finer)[element],
            is_wanted=part % finer[element] == 0,
        )

    def positions(self, element: Indices, fraction: Floats) -> tuple[Floats, Floats]:
        """Return where the axis passes both planes, (m, 2) mm each."""
        low, up, normals = self._rulings(element, fraction)
        return axis_through(
            low, up, *normals, distance_mm=self.distance_mm, height_mm=self.wall.height_mm
        )

    def limits(self, element: Indices, fraction: Floats) -> Floats:
        """Return the clearance at which a position is free, (m,) mm.

        On a warped piece the wire cannot but come nearer, see :func:`warp_depth_mm`; twice that
        is let off, for its neighbours cut there too.
        """
        _, _, (first, last) = self._rulings(element, fraction)
        half = np.clip(np.sqrt(((first - last) ** 2).sum(axis=1)) / 2, 0.0, 1.0)
        near = self.distance_mm * (1.0 - np.sqrt(1.0 - half**2))
        result: Floats = self.distance_mm - SLACK_MM - 2 * near
        return result

    def _rulings(
        self, element: Indices, fraction: Floats
    ) -> tuple[Floats, Floats, tuple[Floats, Floats]]:
        """Return both ends of rulings and the normals there, turned round the joints."""
        wall, piece = self.wall, element // 2
        is_joint = element % 2 == 1
        at = np.where(is_joint, 1.0, fraction)
        low = wall.lower.points_at(piece, at)
        up = wall.upper.points_at(piece, at)
        normals = []
        for own, start, angle in zip(
            wall.normals(piece, at), self.from_normal, self.angle, strict=True
        ):
            turned = _turned(start[piece], self.axis[piece], angle[piece] * fraction)
            normals.append(np.where(is_joint[:, None], turned, own))
        return low, up, (normals[0], normals[1])


def _turned(vector: Floats, axis: Floats, angle: Floats) -> Floats:
    """Turn vectors about unit axes square to them (Rodrigues)."""
    cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
    result: Floats = vector * cos + np.cross(axis, vector) * sin
    return result


def _kept(
    ways: _Ways,
    sections: WallSections,
    grid: _Grid,
    free: Flags,
) -> Kept:
    """Return the free positions, with the last free ones before and after each blocked stretch."""
    element, fraction = grid.element, grid.fraction
    changes = np.flatnonzero((element[1:] == element[:-1]) & (free[1:] != free[:-1]))
    first_free = free[changes]
    good = np.where(first_free, fraction[changes], fraction[changes + 1])
    bad = np.where(first_free, fraction[changes + 1], fraction[changes])
    for _ in range(_BISECTIONS if len(changes) else 0):
        middle = (good + bad) / 2
        low, up = ways.positions(element[changes], middle)
        limit = ways.limits(element[changes], middle)
        ok = sections.clearance(low, up, within_mm=ways.distance_mm) >= limit
        good, bad = np.where(ok, middle, good), np.where(ok, bad, middle)
    stay = np.flatnonzero(free & grid.is_wanted)
    rank = np.concatenate([stay.astype(np.float64), changes + 0.5])
    order = np.argsort(rank, kind="stable")
    every = np.concatenate([element[stay], element[changes]])[order]
    at = np.concatenate([fraction[stay], good])[order]
    blocked = np.cumsum(~free)
    ranks = rank[order]
    before = blocked[np.floor(ranks).astype(np.intp)]
    jumps = np.append(before[0] + blocked[-1] > before[-1], before[1:] != before[:-1])
    place = np.stack(ways.positions(every, at), axis=1)
    behind = np.stack(ways.positions(every, at - _SHORT), axis=1)
    ahead = np.stack(ways.positions(every, at + _SHORT), axis=1)
    rows = np.flatnonzero(~free & grid.is_wanted)
    return Kept(
        element=every,
        place=place,
        blocked=np.stack(ways.positions(element[rows], fraction[rows]), axis=1),
        blocked_before=np.searchsorted(rows, ranks),
        way=ahead - behind,
        limit=ways.limits(every, at),
        jumps=jumps,
        is_spare=(order >= len(stay)) & (every % 2 == 0) & ways.is_plane[every // 2],
    )
