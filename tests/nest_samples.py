"""Shapes for tests of nests, and a packing engine that lays parts in a row."""

from __future__ import annotations

import numpy as np
import shapely

from kerfwright.geometry.contour import Contour
from kerfwright.nesting.records import (
    Item,
    Kind,
    Packed,
    Packing,
    Problem,
    Room,
    Sheet,
    Spot,
    Stop,
    Tell,
    Turns,
)

ROOM = Room(between_mm=2.0, edge_mm=3.0, clamp_mm=6.0)


def box(x: float, y: float, width: float, height: float) -> Contour:
    return Contour.from_rows([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def sheet(width: float, height: float, **more: object) -> Sheet:
    return Sheet(id=f"{width:g}x{height:g}", outline=box(0, 0, width, height), **more)  # type: ignore[arg-type]


ANGLE = Contour.from_rows([(0, 0), (30, 0), (30, 9), (9, 9), (9, 22), (0, 22)])
LINK = Contour.from_rows([(0, 0, 0), (24, 0, 1), (24, 12, 0), (0, 12, 1)])
DISC = Contour.circle((0, 0), radius_mm=5.0)
RING = Contour.circle((0, 0), radius_mm=30.0)
RING_HOLE = Contour.circle((0, 0), radius_mm=22.0).reversed()


def ring(quantity: int = 1, turns: Turns = Turns.QUARTER) -> Kind:
    return Kind(id="ring", outline=RING, openings=(RING_HOLE,), quantity=quantity, turns=turns)


def mixed(angles: int = 4, links: int = 4, rings: int = 1, discs: int = 6) -> tuple[Kind, ...]:
    return (
        Kind(id="angle", outline=ANGLE, quantity=angles, turns=Turns.ALONG),
        Kind(id="link", outline=LINK, quantity=links, turns=Turns.FREE),
        ring(rings),
        Kind(id="disc", outline=DISC, quantity=discs, turns=Turns.NONE),
    )


def in_a_row(problem: Problem, tell: Tell, stop: Stop) -> Packing:
    """Pack side by side, as drawn or at the first angle allowed: right, and anything but tight."""
    gap, x, spots = problem.between_mm, problem.between_mm, []
    for item in problem.items:
        for _ in range(item.demand):
            low, high = _box(item)
            angle = item.angles_deg[0] if item.angles_deg else 0.0
            spots.append(Spot(item=item.id, turn_deg=angle, x_mm=x - low[0], y_mm=gap - low[1]))
            x += high[0] - low[0] + gap
    tell("packing", 1.0)
    return Packing(bands=(Packed(length_mm=x, spots=tuple(spots)),), stopped=stop())


def _box(item: Item) -> tuple[np.ndarray, np.ndarray]:
    angle = np.radians(item.angles_deg[0] if item.angles_deg else 0.0)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    points = item.points @ turn
    return points.min(axis=0), points.max(axis=0)


def polygon(kind: Kind, chord_error_mm: float = 1e-4) -> shapely.Polygon:
    """Return the metal of a part for GEOS."""
    from kerfwright.geometry.regions import flattened

    rings = [flattened(c, chord_error_mm=chord_error_mm) for c in (kind.outline, *kind.openings)]
    return shapely.Polygon(rings[0], rings[1:])
