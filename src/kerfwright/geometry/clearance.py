"""How near a leaning wire comes to a ruled wall, looked at in sections.

In the plane of a section the axis passes at c and leans by m (mm aside per mm up).  The distance
in space of a point q of that plane from the axis is

    d² = w · w − (w · m)² / (1 + m · m),   w = q − c,

so the nearest point of a straight piece of the section is found in closed form.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely

from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.rings import rolled
from kerfwright.geometry.ruled import RuledWall
from kerfwright.geometry.segments import Floats

_LEVELS = 5
"""Sections at equal heights, both chains included.  Between two of them a straight wire beside a
straight ruling comes nearer than at both only where the wall is warped."""
_BLOCK = 1 << 15
"""Positions answered at a time: bounds the memory of a search."""


class WallSections:
    """Sections of a wall as polylines, searched for the nearest to a wire.

    Parameters
    ----------
    wall : RuledWall
    chord_mm : float
        Largest distance between polyline and wall.
    """

    def __init__(self, wall: RuledWall, *, chord_mm: float) -> None:
        self.wall = wall
        self.chord_mm = chord_mm

    @cached_property
    def _sections(self) -> list[tuple[float, Floats, Floats, shapely.STRtree]]:
        made = []
        for v in np.linspace(0.0, 1.0, _LEVELS):
            z = self.wall.lower_mm + v * self.wall.height_mm
            points = self.wall.section(float(z), chord_mm=self.chord_mm)
            after = rolled(points, -1)
            lines = shapely.linestrings(np.stack([points, after], axis=1))
            made.append((float(v), points, after - points, shapely.STRtree(lines)))
        return made

    def clearance(self, low: Floats, up: Floats, *, within_mm: float) -> Floats:
        """Return the distance in space from each axis to the wall, (m,) mm.

        Parameters
        ----------
        low, up : (m, 2) float
            Where the axes pass the heights of the wall's chains.
        within_mm : float
            Distances above this are returned as this.
        """
        result = np.full(len(low), within_mm)
        for begin in range(0, len(low), _BLOCK):
            part = slice(begin, begin + _BLOCK)
            for v, start, along, tree in self._sections:
                aside = (up[part] - low[part]) / self.wall.height_mm
                centre = low[part] + (up[part] - low[part]) * v
                near = _nearest(centre, aside, start, along, tree, within_mm)
                result[part] = np.minimum(result[part], near)
        return result


def _nearest(
    centre: Floats,
    aside: Floats,
    start: Floats,
    along: Floats,
    tree: shapely.STRtree,
    within: float,
) -> Floats:
    steep = np.sqrt(1.0 + (aside * aside).sum(axis=1))
    who, which = tree.query(
        shapely.points(centre), predicate="dwithin", distance=float(within * steep.max())
    )
    found = np.full(len(centre), within)
    distance = axis_to_line(start[which] - centre[who], along[which], aside[who])
    np.minimum.at(found, who, distance)
    return found


def axis_to_line(to_start: Floats, along: Floats, aside: Floats) -> Floats:
    """Return the distance in space from axes to straight pieces of a section, (m,) mm.

    Parameters
    ----------
    to_start : (m, 2) float
        From where the axis passes the section to the start of the piece, mm.
    along : (m, 2) float
        From its start to its end, mm.
    aside : (m, 2) float
        Lean of the axis, mm aside per mm up.
    """
    scale = 1.0 / (1.0 + (aside * aside).sum(axis=1))
    along_m, start_m = (along * aside).sum(axis=1), (to_start * aside).sum(axis=1)
    square = (along * along).sum(axis=1) - along_m**2 * scale
    mixed = (along * to_start).sum(axis=1) - along_m * start_m * scale
    at = np.clip(-mixed / np.maximum(square, TINY), 0.0, 1.0)
    w = to_start + along * at[:, None]
    left = (w * w).sum(axis=1) - (w * aside).sum(axis=1) ** 2 * scale
    result: Floats = np.sqrt(np.maximum(left, 0.0))
    return result
