"""Geometry and wire positions as bytes: little-endian arrays that a browser reads in place.

Geometry (``KWG1``): magic, number of chains n, origin x and y as two float64, then n kinds and
n + 1 first points as uint32, then the points as float32 pairs relative to the origin.  Chains are
the contours of the part in order, then the outline of the stock, then construction.

Wire (``KWW1``): magic, number of points n, origin x and y as two float64, then n minutes, n x and
n y as float32.
"""

from __future__ import annotations

import struct
from enum import IntEnum
from typing import Final

import numpy as np

from kerfwright.app.strip import points_of
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Floats
from kerfwright.trade.part import Part, Role

_GEOMETRY: Final = b"KWG1"
_WIRE: Final = b"KWW1"


class ChainKind(IntEnum):
    """What a chain of the drawing is, as the page knows it."""

    OUTLINE = 0
    OPENING = 1
    STOCK = 2
    CONSTRUCTION = 3


def geometry_bytes(part: Part) -> bytes:
    """Return the chains of a drawing, arcs as chords within 2 µm."""
    chains = [
        (ChainKind.OUTLINE if c.role is Role.OUTLINE else ChainKind.OPENING, c.contour)
        for c in part.contours
    ]
    if part.stock is not None:
        chains.append((ChainKind.STOCK, part.stock))
    chains += [(ChainKind.CONSTRUCTION, c) for c in part.construction]
    arrays = [_points(contour) for _, contour in chains]
    points = np.concatenate(arrays) if arrays else np.zeros((0, 2))
    # Relative to a point of the drawing, float32 keeps parts that lie far from zero exact.
    origin = points[0] if len(points) else np.zeros(2)
    starts = np.concatenate([[0], np.cumsum([len(a) for a in arrays])])
    return b"".join(
        (
            _GEOMETRY,
            struct.pack("<Idd", len(chains), *origin),
            np.array([kind for kind, _ in chains], dtype="<u4").tobytes(),
            starts.astype("<u4").tobytes(),
            (points - origin).astype("<f4").tobytes(),
        )
    )


def _points(contour: Contour) -> Floats:
    return np.vstack([contour.vertices[:1, :2], points_of(contour.segments)])


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
