"""The arcs of a contour as somebody measures them: by a gauge, by a radius, or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from kerfwright.geometry.contour import Contour

ROUND_MM: Final = 1e-4
"""Arcs whose centres and radii agree within a tenth of a micrometre make one circle: no gauge in
a shop tells them apart."""
TURN_SHARE: Final = 1e-6
"""Part of a turn by which sweeps may miss a whole or a half one: rounding of the drawing."""
HALF_TURN: Final = 0.5
SHORTEST_TURN: Final = 0.2
"""Share of a turn below which no radius is measured.

A radius that is fitted to an arc of the angle ``a`` misses by ``1 / (1 - cos(a/2))`` times what the
middle of the arc lies off its ends: 3.4 times at a quarter turn, 5.2 at a fifth, 13 at an eighth
(arithmetic of the height of an arc over its chord)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """The arcs of a contour about one centre with one radius.

    Attributes
    ----------
    centre_mm : tuple of float
    radius_mm : float
    turns : float
        Share of a turn that they have together.
    is_inside : bool
        Whether the centre lies on the inner side of the contour.
    """

    centre_mm: tuple[float, float]
    radius_mm: float
    turns: float
    is_inside: bool

    @property
    def is_bore(self) -> bool:
        """Whether a pin or a gauge finds it."""
        return self.turns >= HALF_TURN - TURN_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Radii:
    """Arcs of less than half a turn.

    Attributes
    ----------
    distinct : tuple of (Arc, int)
        The longest arc of each radius, and how many there are of it; centres on the inner side
        and on the outer one are told apart.
    too_short : int
        Arcs that turn too little to be measured.
    """

    distinct: tuple[tuple[Arc, int], ...]
    too_short: int


def arcs_of(contour: Contour) -> list[Arc]:
    """Return the arcs of a contour, those about one centre with one radius together."""
    s = contour.segments
    turn_about = 1.0 if contour.area_mm2 >= 0 else -1.0
    found: list[Arc] = []
    left = np.flatnonzero(s.is_arc)
    while len(left):
        first = left[0]
        away = np.abs(s.centre[left] - s.centre[first]).max(axis=1)
        same = (away <= ROUND_MM) & (np.abs(s.radius[left] - s.radius[first]) <= ROUND_MM)
        sweep = float(s.sweep[left[same]].sum())
        x, y = s.centre[first]
        found.append(
            Arc(
                centre_mm=(float(x), float(y)),
                radius_mm=float(s.radius[first]),
                turns=abs(sweep) / (2 * np.pi),
                is_inside=sweep * turn_about > 0,
            )
        )
        left = left[~same]
    return found


def radii_of(arcs: list[Arc]) -> Radii:
    """Return which radii of arcs are measured."""
    short = [one for one in arcs if not one.is_bore]
    alike: dict[tuple[float, bool], list[Arc]] = {}
    for one in short:
        if one.turns >= SHORTEST_TURN - TURN_SHARE:
            alike.setdefault((round(one.radius_mm, 3), one.is_inside), []).append(one)
    return Radii(
        distinct=tuple(
            (max(same, key=lambda one: one.turns), len(same)) for same in alike.values()
        ),
        too_short=sum(one.turns < SHORTEST_TURN - TURN_SHARE for one in short),
    )
