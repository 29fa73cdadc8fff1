"""What the last pass leaves of every leaning wall, spot by spot and height by height.

The verdict keeps the worst of each height; this keeps everything that was measured there, for
looking at: the same spots, distances and heights.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.geometry.segments import Flags, Floats
from kerfwright.nc.timeline import Timeline
from kerfwright.proof.lean_axis import axis_moves
from kerfwright.proof.lean_prove import wanted_contours
from kerfwright.proof.lean_wall import (
    UM_PER_MM,
    HeightLook,
    LeaningContour,
    look_at,
    moves_of,
    offset_of,
)
from kerfwright.proof.records import Claim

_SEEN_UM: Final = 0.05
"""A worst place that is off by less is none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WallBand:
    """A leaning wall at one height, standing for the heights nearer to it than to others.

    Attributes
    ----------
    contour_id : str
    height_mm, lower_mm, upper_mm : float
        Where it was measured, and between which heights it stands for the wall.
    points : (m, 2) float
        Spots of the wall there, in order of travel, closed.
    aside : (m, 2) float
        Its ruling through each, mm aside per mm up.
    deviation_um : (m,) float
        Normal to the wall: positive where stock is left, negative where it is cut too deep.
    is_out_of_reach : (m,) bool
        Where no wire with the wall's own ruling could take what is left.
    """

    contour_id: str
    height_mm: float
    lower_mm: float
    upper_mm: float
    points: Floats
    aside: Floats
    deviation_um: Floats
    is_out_of_reach: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class WallWorst:
    """One of the places of a leaning wall that are farthest from it.

    Attributes
    ----------
    contour_id : str
    x_mm, y_mm, height_mm : float
    deviation_um : float
        Positive where stock is left; what is left beyond 50 µm is told as that.
    is_out_of_reach : bool
    pass_number : int
    """

    contour_id: str
    x_mm: float
    y_mm: float
    height_mm: float
    deviation_um: float
    is_out_of_reach: bool
    pass_number: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WallMap:
    """All leaning walls after their last pass.

    Attributes
    ----------
    bands : tuple of WallBand
    worst : tuple of WallWorst
        Of each wall the deepest cut, the most stock left and the worst place out of reach; the
        largest first.
    """

    bands: tuple[WallBand, ...]
    worst: tuple[WallWorst, ...]


def wall_map(
    timeline: Timeline, claim: Claim, heights_mm: Mapping[str, Sequence[float]]
) -> WallMap:
    """Measure what the last pass leaves of every leaning wall.

    Parameters
    ----------
    timeline : Timeline
    claim : Claim
    heights_mm : mapping of str to sequence of float
        At which heights each wall is looked at: those of the verdict.
    """
    bands: list[WallBand] = []
    worst: list[WallWorst] = []
    for one in wanted_contours(claim):
        name = one.part.id
        levels = sorted(set(heights_mm.get(name, ())))
        cut = [n for n in claim.passes_of(name) if len(moves_of(timeline, name, n))]
        if name not in claim.walls or not levels or not cut:
            continue
        offset = offset_of(timeline, claim, one, cut[-1])
        axis = axis_moves(timeline, moves_of(timeline, name, cut[-1]))
        looks = [look_at(axis, one, claim, z, offset) for z in levels]
        bands += _bands(one, levels, looks, offset)
        worst += _worst(one, levels, looks, offset, cut[-1])
    return WallMap(
        bands=tuple(bands), worst=tuple(sorted(worst, key=lambda w: -abs(w.deviation_um)))
    )


def _bands(
    one: LeaningContour, levels: Sequence[float], looks: Sequence[HeightLook], offset_mm: float
) -> Iterator[WallBand]:
    middles = (np.array(levels[1:]) + np.array(levels[:-1])) / 2
    edges = [one.stands_mm[0], *middles.tolist(), one.stands_mm[1]]
    for k, (z, look) in enumerate(zip(levels, looks, strict=True)):
        ring = np.append(np.arange(len(look.spots)), 0)
        yield WallBand(
            contour_id=one.part.id,
            height_mm=z,
            lower_mm=edges[k],
            upper_mm=edges[k + 1],
            points=look.spots.points[ring],
            aside=look.spots.aside[ring],
            deviation_um=(look.away_mm[ring] - offset_mm) * UM_PER_MM,
            is_out_of_reach=look.is_forced[ring],
        )


def _worst(
    one: LeaningContour,
    levels: Sequence[float],
    looks: Sequence[HeightLook],
    offset_mm: float,
    number: int,
) -> Iterator[WallWorst]:
    """Yield the deepest cut, the most stock left in reach, and the most out of reach."""
    places = np.concatenate([part for k in looks for part in (k.spots.points, k.beside)])
    away = np.concatenate([part for k in looks for part in (k.away_mm, k.near_mm)])
    # Places beside moves are looked at for gouges only.
    nowhere = [np.zeros(len(k.beside), dtype=bool) for k in looks]
    is_spot = np.concatenate(
        [part for k, none in zip(looks, nowhere, strict=True)
         for part in (np.ones(len(k.spots), dtype=bool), none)]
    )  # fmt: skip
    is_forced = np.concatenate(
        [part for k, none in zip(looks, nowhere, strict=True) for part in (k.is_forced, none)]
    )
    height = np.repeat(levels, [len(k.spots) + len(k.beside) for k in looks])
    off = (away - offset_mm) * UM_PER_MM
    for rows, sign in (
        (np.flatnonzero(off < -_SEEN_UM), -1.0),
        (np.flatnonzero((off > _SEEN_UM) & is_spot & ~is_forced), 1.0),
        (np.flatnonzero(is_forced), 1.0),
    ):
        if not len(rows):
            continue
        k = int(rows[np.argmax(sign * off[rows])])
        yield WallWorst(
            contour_id=one.part.id,
            x_mm=float(places[k, 0]),
            y_mm=float(places[k, 1]),
            height_mm=float(height[k]),
            deviation_um=float(off[k]),
            is_out_of_reach=bool(is_forced[k]),
            pass_number=number,
        )
