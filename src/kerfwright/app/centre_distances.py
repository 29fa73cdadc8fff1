"""Distances of centres in what a drawing says: they tie places, and are no zone of a wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from kerfwright.trade.annotation import Dimensioned, Measures
from kerfwright.trade.part import Part, PartContour
from kerfwright.trade.statements import Asks, Statement

_OF_WALLS: Final = frozenset({"wall_half_um", "limits"})
_ROUND: Final = 1e-3
"""Share by which a circle's two widths, or its area, may miss those of a true circle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StandsAt:
    """The contours at which an annotation stands.

    Attributes
    ----------
    walls, centres : tuple of str
        Those on whose walls its points lie, and those whose centres they are, once a point.
    """

    walls: tuple[str, ...] = ()
    centres: tuple[str, ...] = ()

    @property
    def ids(self) -> tuple[str, ...]:
        """All of them, each once."""
        return tuple(dict.fromkeys((*self.walls, *self.centres)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Centres:
    """Centres of contours.

    Attributes
    ----------
    ids : tuple of str
        Contour of each.
    points_mm : (n, 2) float
    """

    ids: tuple[str, ...]
    points_mm: NDArray[np.float64]

    def near(self, point: tuple[float, float], *, within_mm: float) -> list[str]:
        """Return the contours whose centre a point is, each once."""
        away = np.hypot(*(self.points_mm - np.array(point)).T)
        return list(dict.fromkeys(self.ids[k] for k in np.flatnonzero(away <= within_mm)))


def centres_of(part: Part, *, is_round: bool) -> Centres:
    """Return the centres of the circles of a part, or those of the other contours.

    A contour that is no circle has those of its arcs, as the ends of a slot, and of its box.

    Parameters
    ----------
    part : Part
    is_round : bool
        Whether those of circles are wanted.
    """
    ids: list[str] = []
    points: list[tuple[float, float]] = []
    for one in part.contours:
        if _is_circle(one) is not is_round:
            continue
        x0, y0, x1, y1 = one.contour.bounds_mm
        own = {((x0 + x1) / 2, (y0 + y1) / 2)}
        if not is_round:
            segments = one.contour.segments
            own |= {(float(x), float(y)) for x, y in segments.centre[segments.is_arc]}
        points += own
        ids += [one.id] * len(own)
    return Centres(ids=tuple(ids), points_mm=np.array(points, dtype=np.float64).reshape(-1, 2))


def is_distance(size: Dimensioned | None) -> bool:
    """Tell whether a dimension measures from one point to another."""
    return size is not None and size.measures in {Measures.LENGTH, Measures.ORDINATE}


def as_position(said: Statement, size: Dimensioned | None, at: StandsAt) -> Statement:
    """Return a statement that asks nothing of walls, where a dimension runs to a centre.

    Parameters
    ----------
    said : Statement
    size : Dimensioned or None
        Numbers of the dimension; None where the text is none.
    at : StandsAt
        Where it stands.
    """
    walls = [name for name in at.walls if name not in at.centres]
    # From its own centre to its wall is a radius.
    centres = [name for name in dict.fromkeys(at.centres) if name not in at.walls]
    # Between two centres of one contour, as the ends of a slot, is a size of it.
    is_of_one = not walls and len(centres) == 1 and len(at.centres) > 1
    if said.asks is not Asks.TOLERANCE or not is_distance(size) or not centres or is_of_one:
        return said
    ties = f"the centre{'s' if len(centres) > 1 else ''} of {_and(centres)}"
    if walls:
        ties = f"a wall of {_and(walls)} and {ties}"
    return replace(
        said,
        asks=Asks.POSITION,
        readings=tuple(
            replace(
                one,
                words=f"{one.words.removesuffix(' of size')} of place",
                data={name: value for name, value in one.data.items() if name not in _OF_WALLS},
                option="",
            )
            for one in said.readings
        ),
        remark=f"a distance that ties {ties}: no zone of a wall; the place is held by the machine, "
        "the set-up and the start of the cuts, not by skims",
    )


def _is_circle(one: PartContour) -> bool:
    x0, y0, x1, y1 = one.contour.bounds_mm
    wide_mm, high_mm, area_mm2 = x1 - x0, y1 - y0, abs(one.contour.area_mm2)
    return (
        abs(wide_mm - high_mm) <= _ROUND * wide_mm
        and abs(area_mm2 - math.pi * wide_mm**2 / 4) <= _ROUND * area_mm2
    )


def _and(names: Sequence[str]) -> str:
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last
