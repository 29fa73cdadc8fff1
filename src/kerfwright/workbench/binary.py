"""Geometry and wire positions as bytes: little-endian arrays that a browser reads in place.

Geometry (``KWG1``): magic, number of chains n, origin x and y as two float64, then n kinds and
n + 1 first points as uint32, then the points as float32 pairs relative to the origin.  Chains are
the contours of the part in order, those that a person set aside, then the outline of the stock,
then construction, then the edges of leaning walls at the two faces where they are not as drawn.

The pieces that come free are sent the same way, edges and what was cut out of them before as
chains of construction.

Wire (``KWW1``): magic, number of points n, origin x and y as two float64, then n minutes, n x and
n y as float32.

Path of a program (``KWP1``): magic, number of points n, origin, then n minutes as float64, n x and
n y as float32, n lines of the program and n numbers of cuts as uint32.

Deviations (``KWD1``): magic, number of contours n, origin, then n + 1 first points as uint32, then
for all points x, y, x and y of the normal into the free side, and the deviation in micrometres
(nan where nothing is cut) as float32, and as bytes whether no wire gets there.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from enum import IntEnum
from typing import Final

import numpy as np
import shapely

from kerfwright.app.program_path import ProgramPath
from kerfwright.app.strip import points_of
from kerfwright.foundation.units import MM_PER_INCH
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Floats, Segments
from kerfwright.planning.leaning import LeaningWalls
from kerfwright.proof.deviation_map import DeviationMap
from kerfwright.proof.picture import FreedPiece
from kerfwright.trade.part import Part, Role

_GEOMETRY: Final = b"KWG1"
_WIRE: Final = b"KWW1"
_PATH: Final = b"KWP1"
_DEVIATIONS: Final = b"KWD1"
_SEEN_MM: Final = 0.004
"""Two chords of 2 µm each."""


class ChainKind(IntEnum):
    """What a chain of the drawing is, as the page knows it."""

    OUTLINE = 0
    OPENING = 1
    STOCK = 2
    CONSTRUCTION = 3
    ASIDE = 4
    """A contour that a person said is no wall: it can still be pointed at."""
    SKETCH = 5
    """A line of a drawing of which no part can be made yet."""
    LEAN = 6
    """An edge of a leaning wall that is not the contour as drawn."""


def geometry_bytes(part: Part, lean: LeaningWalls | None = None) -> bytes:
    """Return the chains of a drawing, arcs as chords within 2 µm.

    Parameters
    ----------
    part : Part
        As drawn.
    lean : LeaningWalls or None
        Its walls that lean, whose edges at the faces follow all other chains.
    """
    chains = [
        (ChainKind.OUTLINE if c.role is Role.OUTLINE else ChainKind.OPENING, c.contour)
        for c in part.contours
    ]
    chains += [(ChainKind.ASIDE, c.contour) for c in part.set_aside]
    if part.stock is not None:
        chains.append((ChainKind.STOCK, part.stock))
    shown = [c.contour for c in part.set_aside]
    chains += [
        (ChainKind.CONSTRUCTION, c) for c in part.construction if not any(c is s for s in shown)
    ]
    kinds, arrays = [kind for kind, _ in chains], [_points(contour) for _, contour in chains]
    edges = _edges(part, lean)
    return _chain_bytes([*kinds, *[ChainKind.LEAN] * len(edges)], [*arrays, *edges])


def _edges(part: Part, lean: LeaningWalls | None) -> list[Floats]:
    """Return the edges of leaning walls at the underside and at the top, but for those drawn."""
    drawn = {c.id: c.contour.segments for c in part.contours}
    found: list[Floats] = []
    for wall in {} if lean is None else lean.walls.values():
        own = drawn.get(wall.contour_id)
        for side in (wall.ruled.lower, wall.ruled.upper):
            # A side of no length is the tip of a cone.
            points = np.vstack([side.start[:1], points_of(side)])
            if own is None or not _is_along(points, own):
                found.append(points)
    return found


def _is_along(points: Floats, own: Segments) -> bool:
    """Return whether an edge lies on the contour as drawn, to below what a page shows."""
    line = shapely.LinearRing(np.vstack([own.start[:1], points_of(own)]))
    return bool(shapely.distance(line, shapely.points(points)).max() < _SEEN_MM)


def sketch_bytes(lines: Sequence[Contour]) -> bytes:
    """Return the lines of a drawing of which no part can be made yet."""
    # Their unit may be in doubt: read as inches, a circle of half an inch shall be a circle too.
    arrays = [_points(line, largest_unit=MM_PER_INCH) for line in lines]
    return _chain_bytes([ChainKind.SKETCH] * len(lines), arrays)


def piece_bytes(pieces: Sequence[FreedPiece]) -> bytes:
    """Return edges and holes of the pieces that come free, piece by piece."""
    arrays = [ring for one in pieces for ring in (one.outline_mm, *one.holes_mm)]
    return _chain_bytes([ChainKind.CONSTRUCTION] * len(arrays), arrays)


def path_bytes(path: ProgramPath) -> bytes:
    """Return the path of a program with its minutes, lines and cuts."""
    points = path.points
    origin = points[0, 1:] if len(points) else np.zeros(2)
    return b"".join(
        (
            _PATH,
            struct.pack("<Idd", len(points), *origin),
            points[:, 0].astype("<f8").tobytes(),
            (points[:, 1] - origin[0]).astype("<f4").tobytes(),
            (points[:, 2] - origin[1]).astype("<f4").tobytes(),
            path.line.astype("<u4").tobytes(),
            path.cut.astype("<u4").tobytes(),
        )
    )


def deviation_bytes(found: DeviationMap) -> bytes:
    """Return the deviations along every contour."""
    points = found.points_mm
    origin = points[0] if len(points) else np.zeros(2)
    columns = np.column_stack([points - origin, found.normals, found.deviation_um])
    return b"".join(
        (
            _DEVIATIONS,
            struct.pack("<Idd", len(found.contour_ids), *origin),
            found.first.astype("<u4").tobytes(),
            np.ascontiguousarray(columns.T).astype("<f4").tobytes(),
            found.is_out_of_reach.astype("u1").tobytes(),
        )
    )


def _chain_bytes(kinds: Sequence[ChainKind], arrays: Sequence[Floats]) -> bytes:
    points = np.concatenate(arrays) if arrays else np.zeros((0, 2))
    # Relative to a point of the drawing, float32 keeps parts that lie far from zero exact.
    origin = points[0] if len(points) else np.zeros(2)
    starts = np.concatenate([[0], np.cumsum([len(a) for a in arrays])])
    return b"".join(
        (
            _GEOMETRY,
            struct.pack("<Idd", len(arrays), *origin),
            np.array(kinds, dtype="<u4").tobytes(),
            starts.astype("<u4").tobytes(),
            (points - origin).astype("<f4").tobytes(),
        )
    )


def _points(contour: Contour, *, largest_unit: float = 1.0) -> Floats:
    after = points_of(contour.segments, largest_unit=largest_unit)
    return np.vstack([contour.vertices[:1, :2], after])


def wire_bytes(wire: Floats) -> bytes:
    """Return minutes and positions of the wire."""
    origin = wire[0, 1:] if len(wire) else np.zeros(2)
    columns = np.column_stack([wire[:, 0], wire[:, 1:] - origin]) if len(wire) else wire
    return b"".join(
        (
            _WIRE,
            struct.pack("<Idd", len(wire), *origin),
            np.ascontiguousarray(columns.T).astype("<f4").tobytes(),
        )
    )
