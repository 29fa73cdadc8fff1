"""Openings of one shape drawn several times: what follows from the shape is worked out once.

Offsets, start, tab and cuts of an opening with nothing inside follow from its own wall alone: the
wire and its hole stay in its waste, where no other wall can be nearer than its own.  The first of
several openings alike is worked out, and the others are that one at their places.  Which one is
first follows from the drawing alone, so that a plan is the same to the last digit whatever was
planned before it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from kerfwright.geometry.segments import Floats
from kerfwright.planning.memory import Memory
from kerfwright.trade.part import PartContour, Role

SAME_MM = 1e-9
"""Openings that differ by no more are alike: copies of one shape differ by the rounding of their
coordinates, a hundredth of this a metre from the origin, and programs have their last digit far
above."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alike:
    """Which opening has the shape of another.

    Attributes
    ----------
    first : PartContour
        The first of the drawing with that shape; it may be the opening itself.
    by_mm : (float, float)
        From there to the opening.
    """

    first: PartContour
    by_mm: tuple[float, float]


def alike_of(contours: Sequence[PartContour], memory: Memory) -> Mapping[str, Alike]:
    """Return the openings that have the shape of an earlier one, by id; found once for a drawing.

    Parameters
    ----------
    contours : sequence of PartContour
        All of the drawing.
    memory : Memory
    """
    every = tuple(contours)
    return memory.shapes.once(partial(found_alike, every), "alike", every)


def found_alike(contours: Sequence[PartContour]) -> dict[str, Alike]:
    """Return the openings that are an earlier one moved, by id.

    Both begin at the same vertex, as copies do.  An opening with something inside is like none.

    Parameters
    ----------
    contours : sequence of PartContour
        All of a drawing.
    """
    around = {c.parent_id for c in contours}
    groups: dict[int, list[PartContour]] = {}
    for c in contours:
        if c.role is Role.OPENING and c.is_cut and c.id not in around:
            groups.setdefault(len(c.contour), []).append(c)
    found: dict[str, Alike] = {}
    for group in groups.values():
        found |= _among(group)
    return found


def _among(group: list[PartContour]) -> dict[str, Alike]:
    """Return which contours of one count of segments are an earlier one moved."""
    vertices = np.array([c.contour.vertices for c in group])
    shapes = vertices.copy()
    shapes[:, :, :2] -= vertices[:, :1, :2]
    # Bulges as the heights of their arcs above the chord, mm.
    chord = np.roll(shapes[:, :, :2], -1, axis=1) - shapes[:, :, :2]
    shapes[:, :, 2] *= np.hypot(chord[:, :, 0], chord[:, :, 1]) / 2
    found: dict[str, Alike] = {}
    left = np.arange(len(group))
    while len(left) > 1:
        first, others = left[0], left[1:]
        differs: Floats = np.abs(shapes[others] - shapes[first]).max(axis=(1, 2))
        same = differs <= SAME_MM
        for k in others[same].tolist():
            x, y = (vertices[k, 0, :2] - vertices[first, 0, :2]).tolist()
            found[group[k].id] = Alike(first=group[first], by_mm=(x, y))
        left = others[~same]
    return found
