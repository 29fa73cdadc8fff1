"""What is laid in a sheet as one: a part, or a part with smaller ones in its openings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
import shapely

from kerfwright.geometry.segments import Floats
from kerfwright.nesting.envelopes import envelope, inscribed
from kerfwright.nesting.raster import Field, Stamp, stamp_of
from kerfwright.nesting.records import Kind, Placement, Stop, Turns

FREE_STEP_DEG: Final = 15.0
"""Where any angle is allowed, a grid tries steps of this."""
_CELLS_ACROSS: Final = 120
"""Cells across an opening that is to be filled."""
_TINY_MM: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unit:
    """One part with what lies in its openings.

    Attributes
    ----------
    kind : Kind
    copy : int
    guests : tuple of (Kind, Placement)
        Placed as if the part lay as drawn; their sheet means nothing yet.
    """

    kind: Kind
    copy: int
    guests: tuple[tuple[Kind, Placement], ...] = ()

    @property
    def area_mm2(self) -> float:
        """Area of the outline with everything in it, mm²."""
        return abs(self.kind.outline.area_mm2)

    def placements(
        self, *, sheet: int, turn_deg: float, x_mm: float, y_mm: float
    ) -> list[Placement]:
        """Return where the part and its guests lie, once the part lies somewhere."""
        mine = Placement(
            kind=self.kind.id, copy=self.copy, sheet=sheet, turn_deg=turn_deg % 360.0,
            x_mm=x_mm, y_mm=y_mm,
        )  # fmt: skip
        angle = math.radians(turn_deg)
        cos, sin = math.cos(angle), math.sin(angle)
        guests = [
            replace(
                place,
                sheet=sheet,
                turn_deg=(place.turn_deg + turn_deg) % 360.0,
                x_mm=cos * place.x_mm - sin * place.y_mm + x_mm,
                y_mm=sin * place.x_mm + cos * place.y_mm + y_mm,
                inside=(self.kind.id, self.copy),
            )
            for _, place in self.guests
        ]
        return [mine, *guests]


@lru_cache(maxsize=512)
def envelope_of(kind: Kind) -> Floats:
    """Return the polygon that stands for a part; each is worked out once."""
    return envelope(kind.outline)


def turned(points: Floats, *, turn_deg: float, x_mm: float, y_mm: float) -> shapely.Polygon:
    """Return a polygon turned about the zero point, then shifted."""
    angle = math.radians(turn_deg)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    return shapely.Polygon(points @ turn + np.array([x_mm, y_mm]))


def angles_of(turns: Turns) -> tuple[float, ...]:
    """Return the angles to try on a grid."""
    if turns is Turns.FREE:
        return tuple(np.arange(0.0, 360.0, FREE_STEP_DEG).tolist())
    return turns.angles_deg


@lru_cache(maxsize=4096)
def stamps_of(kind: Kind, turns: Turns, cell_mm: float) -> tuple[Stamp, ...]:
    """Return the cells of a part for every turn that is tried; of a disc for one."""
    points = envelope_of(kind)
    angles = angles_of(turns)
    if _is_round(points, within_mm=cell_mm / 2):
        angles = angles[:1]
    return tuple(stamp_of(points, turn_deg=angle, cell_mm=cell_mm) for angle in angles)


def _is_round(points: Floats, *, within_mm: float) -> bool:
    """Return whether a polygon lies between two circles about one centre, so near to each other."""
    ring = shapely.LinearRing(points)
    x0, y0, x1, y1 = ring.bounds
    centre = shapely.Point((x0 + x1) / 2, (y0 + y1) / 2)
    farthest = float(np.hypot(*(points - [centre.x, centre.y]).T).max())
    return bool(farthest - ring.distance(centre) <= within_mm)


def grown(shape: shapely.Geometry, by_mm: float) -> shapely.Geometry:
    """Return a shape grown by at least a distance: chords of its round corners lie inside."""
    return shape.buffer(by_mm / math.cos(math.pi / 64) + _TINY_MM, quad_segs=16)


def shrunk(shape: shapely.Geometry, by_mm: float) -> shapely.Geometry:
    """Return a shape taken in by at least a distance."""
    return shape.buffer(-(by_mm / math.cos(math.pi / 64) + _TINY_MM), quad_segs=16)


def units_of(
    kinds: Iterable[Kind], *, between_mm: float, fills_openings: bool, stop: Stop
) -> list[Unit]:
    """Return every part as a unit, the largest first, small ones in openings of larger ones.

    Parameters
    ----------
    kinds : iterable of Kind
    between_mm : float
    fills_openings : bool
    stop : callable
    """
    bare = [Unit(kind=k, copy=n) for k in kinds for n in range(1, k.quantity + 1)]
    bare.sort(key=lambda u: (-u.area_mm2, u.kind.id, u.copy))
    if not fills_openings:
        return bare
    left = list(bare)
    units: list[Unit] = []
    while left:
        host = left.pop(0)
        guests: list[tuple[Kind, Placement]] = []
        if not host.kind.islands and not stop():
            for opening in host.kind.openings:
                guests += _fill(inscribed(opening), host.kind, left, between_mm)
        gone = {(k.id, p.copy) for k, p in guests}
        left = [u for u in left if (u.kind.id, u.copy) not in gone]
        units.append(replace(host, guests=tuple(guests)))
    return units


def _fill(
    opening: Floats | None, host: Kind, pool: Sequence[Unit], between_mm: float
) -> list[tuple[Kind, Placement]]:
    """Put as many units as there is room for into an opening, the largest first."""
    if opening is None:
        return []
    region = shrunk(shapely.Polygon(opening), between_mm)
    taken = {(u.kind.id, u.copy) for u in pool if u.area_mm2 >= region.area}
    if region.is_empty or len(taken) == len(pool):
        return []
    x0, y0, x1, y1 = region.bounds
    cell_mm = max(x1 - x0, y1 - y0) / _CELLS_ACROSS
    field = Field(region, cell_mm=cell_mm)
    found: list[tuple[Kind, Placement]] = []
    hopeless: set[str] = set()
    for unit in pool:
        turns = unit.kind.turns.within(host.turns)
        if (unit.kind.id, unit.copy) in taken or unit.kind.id in hopeless or turns is None:
            continue
        best = field.best(stamps_of(unit.kind, turns, cell_mm))
        if best is None:
            hopeless.add(unit.kind.id)
            continue
        stamp, x, y = best
        place = Placement(
            kind=unit.kind.id, copy=unit.copy, sheet=0, turn_deg=stamp.turn_deg, x_mm=x, y_mm=y
        )
        found.append((unit.kind, place))
        body = turned(envelope_of(unit.kind), turn_deg=stamp.turn_deg, x_mm=x, y_mm=y)
        field.take(grown(body, between_mm))
    return found
