"""Walls and wire in space as bytes, in the form of :mod:`kerfwright.workbench.binary`.

Space (``KWS1``): magic, number of walls n, number of points of the wire m, 4 bytes of nothing,
origin x and y as two float64; then of the wire m minutes as float64, x and y where its axis passes
the underside, its lean in x and y (mm aside per mm up), travel U and V of the upper guide (mm) and
angle (degrees) as float32, m cuts and m lines of the program as uint32; then of the walls n + 1
first rulings as uint32, n lower and n upper heights as float32, and of all rulings x and y of the
lower end and x and y of the upper end as float32.  x and y are relative to the origin.

Deviations of walls that lean (``KWL1``): magic, number of bands n, origin x and y as two float64,
then n + 1 first spots as uint32, n walls (their place in the space) as uint32, n heights, n lower
and n upper heights that they stand for as float32, and of all spots x and y at the height, the
ruling in x and y (mm aside per mm up) and the deviation in micrometres as float32, and as bytes
whether no wire gets there.
"""

from __future__ import annotations

import struct
from typing import Final

import numpy as np

from kerfwright.app.shown_space import ShownSpace

_SPACE: Final = b"KWS1"
_WALLS: Final = b"KWL1"


def space_bytes(space: ShownSpace) -> bytes:
    """Return the walls and the wire of a job in space.

    Parameters
    ----------
    space : ShownSpace
    """
    wire, walls = space.wire, space.walls
    origin = walls[0].lower[0]
    first = np.concatenate([[0], np.cumsum([len(wall.lower) for wall in walls])])
    lower = np.concatenate([wall.lower for wall in walls]) - origin
    upper = np.concatenate([wall.upper for wall in walls]) - origin
    course = wire.course
    axis = np.column_stack(
        [wire.foot - origin, wire.lean, course.u_mm, course.v_mm, course.angle_deg]
    )
    heights = np.array([[wall.lower_mm for wall in walls], [wall.upper_mm for wall in walls]])
    return b"".join(
        (
            _SPACE,
            struct.pack("<IIIdd", len(walls), len(wire), 0, *origin),
            wire.minute.astype("<f8").tobytes(),
            np.ascontiguousarray(axis.T).astype("<f4").tobytes(),
            wire.cut.astype("<u4").tobytes(),
            wire.line.astype("<u4").tobytes(),
            first.astype("<u4").tobytes(),
            heights.astype("<f4").tobytes(),
            np.ascontiguousarray(np.column_stack([lower, upper]).T).astype("<f4").tobytes(),
        )
    )


def wall_bytes(space: ShownSpace) -> bytes:
    """Return the deviations of walls that lean.

    Parameters
    ----------
    space : ShownSpace
    """
    bands, walls = space.off.bands, [wall.contour_id for wall in space.walls]
    origin = space.walls[0].lower[0]
    first = np.concatenate([[0], np.cumsum([len(band.points) for band in bands])])
    spots = [
        np.column_stack([band.points - origin, band.aside, band.deviation_um]) for band in bands
    ]
    reach = [band.is_out_of_reach for band in bands]
    heights = np.array([[b.height_mm, b.lower_mm, b.upper_mm] for b in bands]).reshape(-1, 3)
    return b"".join(
        (
            _WALLS,
            struct.pack("<Idd", len(bands), *origin),
            first.astype("<u4").tobytes(),
            np.array([walls.index(b.contour_id) for b in bands], dtype="<u4").tobytes(),
            np.ascontiguousarray(heights.T).astype("<f4").tobytes(),
            np.ascontiguousarray(np.concatenate([np.zeros((0, 5)), *spots]).T)
            .astype("<f4")
            .tobytes(),
            np.concatenate([np.zeros(0, dtype=bool), *reach]).astype("u1").tobytes(),
        )
    )
