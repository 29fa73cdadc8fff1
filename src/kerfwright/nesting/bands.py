"""A clear rectangle of a sheet as a band for a packing engine, and back."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
import shapely

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.regions import flattened
from kerfwright.nesting.records import (
    Item,
    Packed,
    Packer,
    Packing,
    Placement,
    Problem,
    Room,
    Sheet,
    Stop,
    Tell,
    Turns,
)
from kerfwright.nesting.units import Unit, envelope_of, grown, shrunk

_MOST_TRIMMED: Final = 5
"""Clamps more than this are left to the grid: each is tried on four sides."""
_SQUARE: Final = 1e-9
"""Share of its box by which a rectangle may miss it: rounding of a drawing in inches."""
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A rectangle in which parts may lie, seen as a band along its longer side.

    Attributes
    ----------
    box_mm : Box
        Where outlines may lie.
    along_y : bool
        Whether the band runs along Y.
    """

    box_mm: Box
    along_y: bool

    @property
    def length_mm(self) -> float:
        """Along the band, mm."""
        x0, y0, x1, y1 = self.box_mm
        return y1 - y0 if self.along_y else x1 - x0

    @property
    def width_mm(self) -> float:
        """Across the band, mm."""
        x0, y0, x1, y1 = self.box_mm
        return x1 - x0 if self.along_y else y1 - y0

    def to_sheet(self, *, turn_deg: float, u_mm: float, v_mm: float) -> tuple[float, float, float]:
        """Return turn and shift in the sheet of what lies in the band.

        A band along Y is turned by a quarter: along it goes to +Y, across it to −X.
        """
        x0, y0, x1, _ = self.box_mm
        if self.along_y:
            return turn_deg + 90.0, x1 - v_mm, y0 + u_mm
        return turn_deg, x0 + u_mm, y0 + v_mm


def clear_band(sheet: Sheet, room: Room) -> Band | None:
    """Return the largest clear band of a rectangular sheet; None where there is none.

    Each clamp is cut off on the side where the most is left.
    """
    box = _box_of(sheet.outline)
    if box is None or sheet.holes or len(sheet.clamps) > _MOST_TRIMMED:
        return None
    edge, clamp = room.edge_mm, room.clamp_mm
    x0, y0, x1, y1 = box[0] + edge, box[1] + edge, box[2] - edge, box[3] - edge
    best: Box | None = None
    for sides in product(range(4), repeat=len(sheet.clamps)):
        u0, v0, u1, v1 = x0, y0, x1, y1
        for side, zone in zip(sides, sheet.clamps, strict=True):
            a0, b0, a1, b1 = zone.bounds_mm
            if side == 0:
                u0 = max(u0, a1 + clamp)
            elif side == 1:
                v0 = max(v0, b1 + clamp)
            elif side == 2:
                u1 = min(u1, a0 - clamp)
            else:
                v1 = min(v1, b0 - clamp)
        if u1 <= u0 or v1 <= v0:
            continue
        if best is None or (u1 - u0) * (v1 - v0) > (best[2] - best[0]) * (best[3] - best[1]):
            best = (u0, v0, u1, v1)
    if best is None:
        return None
    return Band(box_mm=best, along_y=best[3] - best[1] > best[2] - best[0])


def _box_of(outline: Contour) -> Box | None:
    """Return the box of an outline that is a rectangle along the axes."""
    x0, y0, x1, y1 = outline.bounds_mm
    area = (x1 - x0) * (y1 - y0)
    is_rectangle = abs(abs(outline.area_mm2) - area) <= _SQUARE * area
    return (x0, y0, x1, y1) if is_rectangle else None


def pack_band(
    units: Sequence[Unit],
    band: Band,
    *,
    packer: Packer,
    between_mm: float,
    budget_s: float,
    seed: int,
    steps: int | None,
    tell: Tell,
    stop: Stop,
) -> tuple[Packing, list[list[Placement]]]:
    """Have an engine pack units into a band.

    Returns
    -------
    packing : Packing
    nests : list of list of Placement
        Of each band found, on sheet 0; parts may reach past the band's end.

    Notes
    -----
    The engine keeps the distance between parts from the edges of its band too, so that it gets a
    band that is wider and begins earlier by as much.
    """
    groups: defaultdict[str, list[Unit]] = defaultdict(list)
    for unit in units:
        # Parts with guests are told apart, parts without are alike.
        groups[f"{unit.kind.id}/{unit.copy}" if unit.guests else unit.kind.id].append(unit)
    quarter = 90.0 if band.along_y else 0.0
    items = tuple(
        Item(
            id=name,
            points=envelope_of(same[0].kind),
            demand=len(same),
            angles_deg=_angles(same[0].kind.turns, quarter),
        )
        for name, same in sorted(groups.items())
    )
    packing = packer(
        Problem(
            items=items,
            width_mm=band.width_mm + 2 * between_mm,
            between_mm=between_mm,
            budget_s=budget_s,
            seed=seed,
            steps=steps,
        ),
        tell,
        stop,
    )
    return packing, [_laid(p, groups, band, between_mm) for p in packing.bands]


def _angles(turns: Turns, quarter_deg: float) -> tuple[float, ...]:
    return tuple(sorted((angle - quarter_deg) % 360.0 for angle in turns.angles_deg))


def _laid(
    packed: Packed, groups: dict[str, list[Unit]], band: Band, between_mm: float
) -> list[Placement]:
    waiting = {name: list(same) for name, same in groups.items()}
    found: list[Placement] = []
    for spot in packed.spots:
        unit = waiting[spot.item].pop(0)
        turn, x, y = band.to_sheet(
            turn_deg=spot.turn_deg, u_mm=spot.x_mm - between_mm, v_mm=spot.y_mm - between_mm
        )
        found += unit.placements(sheet=0, turn_deg=turn, x_mm=x, y_mm=y)
    return found


def region_of(sheet: Sheet, room: Room) -> shapely.Geometry:
    """Return where outlines may lie in a sheet of any shape: less edges, holes and clamps."""

    def polygon(contour: Contour) -> shapely.Polygon:
        return shapely.Polygon(flattened(contour, chord_error_mm=_CHORD_MM))

    metal = polygon(sheet.outline)
    for hole in sheet.holes:
        metal = metal.difference(polygon(hole))
    region = shrunk(metal, room.edge_mm + _CHORD_MM)
    for clamp in sheet.clamps:
        region = region.difference(grown(polygon(clamp), room.clamp_mm + _CHORD_MM))
    return region


_CHORD_MM: Final = 0.002
"""Chords of a sheet's outline; allowed for, so that a part does not come to lie in them."""


def reach_of(placements: Sequence[Placement], units: dict[tuple[str, int], Unit],
             *, along_y: bool) -> dict[tuple[str, int], float]:  # fmt: skip
    """Return how far each part that is no guest reaches along its band, mm."""
    found = {}
    for p in placements:
        if p.inside is not None:
            continue
        points = envelope_of(units[p.kind, p.copy].kind)
        angle = math.radians(p.turn_deg)
        if along_y:
            reach = points @ np.array([math.sin(angle), math.cos(angle)]) + p.y_mm
        else:
            reach = points @ np.array([math.cos(angle), -math.sin(angle)]) + p.x_mm
        found[p.kind, p.copy] = float(reach.max())
    return found
