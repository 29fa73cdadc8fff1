"""Wire paths for the tests of programs."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np

from kerfwright.adapters.machines import load_machine
from kerfwright.geometry.segments import Segments
from kerfwright.motion.moves import Cut, CutKind, Moves, Purpose, WirePath
from kerfwright.trade.machine import Machine


def machine(name: str = "generic-mm", **dialect: object) -> Machine:
    """Return a shipped machine with some keys of its dialect changed."""
    shipped = load_machine(name)
    return dataclasses.replace(shipped, dialect=dataclasses.replace(shipped.dialect, **dialect))


def moves(rows: Sequence[Sequence[float]], *, feed_mm_per_min: float = 4.0) -> Moves:
    """Return moves through rows (x, y, bulge): the bulge is of the move that leaves the row."""
    table = np.array([(*r, 0.0)[:3] for r in rows], dtype=float)
    segments = Segments.from_ends(table[:-1, :2], table[1:, :2], table[:-1, 2])
    purpose = np.full(len(segments), int(Purpose.WALL), dtype=np.int8)
    purpose[0], purpose[-1] = int(Purpose.LEAD_IN), int(Purpose.RETURN)
    return Moves(
        start_mm=segments.start[0],
        end_mm=segments.end,
        centre_mm=segments.centre,
        turn=np.where(segments.is_arc, np.sign(segments.bulge), 0).astype(np.int8),
        purpose=purpose,
        feed_mm_per_min=np.full(len(segments), feed_mm_per_min),
    )


def cut(run: Moves, *, nominal: Moves | None = None, **changes: object) -> Cut:
    """Return a cut that threads, runs along `run` and cuts the wire."""
    plain = Cut(
        contour_id="H1",
        pass_number=1,
        kind=CutKind.ROUGH,
        offset_mm=0.2,
        condition=1,
        threads=True,
        cuts_wire=True,
        stop_before=None,
        stop_after=None,
        moves=run,
        nominal=nominal,
        offset_on_left=True,
    )
    return dataclasses.replace(plain, **changes)


def path(*cuts: Cut) -> WirePath:
    """Return a wire path."""
    return WirePath(cuts=cuts)


def random_rows(seed: int, *, count: int, step_mm: float) -> list[tuple[float, float, float]]:
    """Return a random walk of lines and arcs, some shallow, some past the half turn."""
    random = np.random.default_rng(seed)
    points = np.cumsum(random.normal(size=(count + 1, 2)) * step_mm, axis=0)
    points += random.uniform(-90.0, 90.0, size=2)
    kind = random.integers(0, 5, size=count + 1)
    bulge = random.normal(size=count + 1) * np.choose(kind, [0.0, 0.01, 0.3, 1.0, 3.0])
    return [(float(x), float(y), float(b)) for (x, y), b in zip(points, bulge, strict=True)]


QUARTER = math.tan(math.pi / 8)
"""Bulge of a quarter turn."""

SLOT = [
    (0.0, -3.0, 0.0), (4.0, 0.0, QUARTER), (6.0, 2.0, 0.0), (6.0, 5.0, 1.0), (-6.0, 5.0, 0.0),
    (-6.0, 2.0, QUARTER), (-4.0, 0.0, 0.0), (4.0, 0.0, QUARTER), (6.0, 2.0, 0.0), (7.0, 2.0, 0.0),
]  # fmt: skip
"""Lead-in, one loop of lines and tangent arcs, counter-clockwise, lead-out."""

TOOTHED = [
    (0.0, -5.0, 0.0), (0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (12.0, 3.0, 0.4), (15.0, 9.0, -0.6),
    (9.0, 12.0, 0.0), (11.0, 20.0, 0.5), (3.0, 20.0, -0.3), (-4.0, 18.0, 0.0), (-9.0, 9.0, 0.2),
    (-11.0, 0.0, 0.0), (4.0, 0.0, 0.0), (5.0, -6.0, 0.0),
]  # fmt: skip
"""Sharp inside and outside corners between lines and arcs of every pairing."""


def _bend_rad(before: np.ndarray, at: np.ndarray, after: np.ndarray) -> float:
    """Return the turn at a vertex; a segment leaves its chord by half its sweep, 2 atan(bulge)."""
    first, second = at - before, after - at
    turn = math.atan2(
        first[0] * second[1] - first[1] * second[0], first[0] * second[0] + first[1] * second[1]
    )
    bend = turn - 2 * math.atan(before[2]) - 2 * math.atan(at[2])
    return math.remainder(bend, 2 * math.pi)


def random_ring(seed: int, *, count: int) -> list[tuple[float, float, float]]:
    """Return lead-in, a counter-clockwise ring of radius 20 of lines and arcs, and lead-out.

    Every corner bends by more than 0.06 rad: below 0.05 rad rs274 takes a corner as smooth (seen).
    """
    random = np.random.default_rng(seed)
    at = np.linspace(-np.pi / 2, 1.5 * np.pi, count, endpoint=False)
    radius = 20.0 + random.uniform(-0.3, 0.3, size=count)
    radius[0] = 20.0
    bulge = random.uniform(-0.5, 0.5, size=count) * (random.random(count) < 0.6)
    ring = np.stack([radius * np.cos(at), radius * np.sin(at), bulge], axis=1)
    for k in range(count):
        before, after = ring[k - 1], ring[(k + 1) % count]
        while abs(_bend_rad(before, ring[k], after)) < 0.06:
            ring[k, 2] += 0.02
    assert abs(_bend_rad(ring[-2], ring[-1], ring[0])) >= 0.06
    rows = [(0.0, -25.0, 0.0), *map(tuple, ring), (*ring[0, :2], 0.0), (1.0, -26.0, 0.0)]
    return [(float(x), float(y), float(b)) for x, y, b in rows]
