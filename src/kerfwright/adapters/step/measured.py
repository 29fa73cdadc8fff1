"""Inside the child process: points of the solid's own walls, for the proof.

A section of the solid as the file has it, its lines told apart by the face in which they lie, and
at every point the normal of that face.  Nothing of the contours enters, but for faces that go on
beside their wall: of those, which are refused as a place that no wire makes, points off the wall
are told apart from points on it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.gp import gp_Pnt, gp_Vec
from OCP.ShapeAnalysis import ShapeAnalysis_Surface
from OCP.TopAbs import TopAbs_REVERSED

from kerfwright.adapters.step.rulings import FIT_MM
from kerfwright.adapters.step.sections import Cutter, Stretch, unit
from kerfwright.adapters.step.standing import Standing
from kerfwright.adapters.step.walls import SolidWall
from kerfwright.geometry.segments import Flags, Floats

HEIGHTS: Final = 9
OTHER: Final = -1
"""Number under which points stand that lie in no wall."""
_INSET_MM: Final = 0.002
"""From the underside and the top: there a section runs along the faces themselves."""
_SPACING_MM: Final = 0.5
_NEAR_MM: Final = (0.003, 0.01, 0.03, 0.08, 0.15)
_FEWEST: Final = 8
_CHORD_MM: Final = 2e-5
_KNOWN_MM: Final = 1e-4
_FOOT_MM: Final = 1e-7
_FLAT: Final = 1e-6
"""A face that lies flatter has no section to follow."""
_MOST_POINTS: Final = 3000
"""At one height; beyond, points stand further apart."""


def measured_sections(standing: Standing, walls: Sequence[SolidWall]) -> list[dict[str, Any]]:
    """Return points and normals of each wall at equal heights, with its number.

    Parameters
    ----------
    standing : Standing
    walls : sequence of SolidWall

    Returns
    -------
    list of dict
        ``wall``, ``height_mm``, ``points`` (n, 2) mm, ``normals`` (n, 3) out of the metal; wall
        :data:`OTHER` for what lies in none.
    """
    merged = Cutter(standing.merged)
    owner = {face: number for number, wall in enumerate(walls) for face in wall.faces}
    cutter = Cutter(standing.solid)
    known: dict[int, int] = {}
    surfaces = [_Surface(face) for face in cutter.faces]
    found = []
    inset = min(_INSET_MM, standing.height_mm / 100)
    for height in np.linspace(inset, standing.height_mm - inset, HEIGHTS):
        section = cutter.at(float(height))
        stretches = [s for loop in section.loops for s in loop.stretches]
        spacing = max(_SPACING_MM, sum(s.length_mm for s in stretches) / _MOST_POINTS)
        rows: dict[int, list[Floats]] = defaultdict(list)
        for stretch in stretches:
            face = stretch.face
            if face not in known:
                known[face] = merged.number_of(standing.merged_of(cutter.faces[face]))
            number = owner.get(known[face], OTHER)
            spots = surfaces[face].spots(stretch, float(height), spacing)
            if number != OTHER and known[face] in walls[number].partly:
                # The one place where a contour is asked: this face goes on beside its wall.
                mine = _on_wall(spots[:, :2], walls[number], float(height))
                rows[OTHER].append(spots[~mine])
                spots = spots[mine]
            rows[number].append(spots)
        for number, blocks in rows.items():
            every = np.vstack(blocks)
            if not len(every):
                continue
            found.append(
                {
                    "wall": number,
                    "height_mm": float(height),
                    "points": every[:, :2].round(8).tolist(),
                    "normals": every[:, 2:].round(8).tolist(),
                }
            )
    return found


def _on_wall(points: Floats, wall: SolidWall, height_mm: float) -> Flags:
    """Return which points lie in a wall to the digits to which it is known, (n,) bool."""
    ring = shapely.LinearRing(wall.ruled().section(height_mm, chord_mm=_CHORD_MM))
    slack = _KNOWN_MM + wall.bend_mm + (2 * FIT_MM if wall.is_fitted else 0.0)
    result: Flags = shapely.distance(ring, shapely.points(points)) <= slack
    return result


class _Surface:
    """The surface of a face, and its normal out of the metal."""

    def __init__(self, face: Any) -> None:
        self._asked = ShapeAnalysis_Surface(BRep_Tool.Surface_s(face))
        self._surface = BRepAdaptor_Surface(face, False)
        self._sign = -1.0 if face.Orientation() == TopAbs_REVERSED else 1.0

    def spots(self, stretch: Stretch, height_mm: float, spacing_mm: float) -> Floats:
        """Return points of a stretch and normals there, (n, 5): x, y, nx, ny, nz."""
        length = stretch.length_mm
        even = np.linspace(0.0, 1.0, max(_FEWEST, math.ceil(length / spacing_mm)) + 1)
        near = np.array([d / length for d in _NEAR_MM if 2 * d < length])
        shares = np.unique(np.concatenate([even, near, 1.0 - near]))
        points, normals = [], []
        for x, y in stretch.at(shares):
            uv = self._asked.ValueOfUV(gp_Pnt(x, y, height_mm), _FOOT_MM)
            place, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
            self._surface.D1(uv.X(), uv.Y(), place, du, dv)
            normal = du.Crossed(dv)
            points.append((place.X(), place.Y(), place.Z()))
            normals.append((normal.X(), normal.Y(), normal.Z()))
        at, n = np.array(points), self._sign * unit(np.array(normals))
        # Section lines on splines are approximations: back to the face, and along it to the height.
        flat = np.maximum(1.0 - n[:, 2] ** 2, _FLAT)
        step = (height_mm - at[:, 2]) / flat
        at[:, :2] -= (n[:, :2] * n[:, 2:]) * step[:, None]
        return np.column_stack([at[:, :2], n])
