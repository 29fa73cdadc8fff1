"""Ruled walls and the wire along them against Open CASCADE, which nobody here wrote.

It builds the ruled face from the two edges by itself (``BRepFill::Face_s``) and measures the
distance of the wire's axis to it (``BRepExtrema_DistShapeShape``).  Needs the extra ``solids``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.geometry.contour import Contour
from kerfwright.geometry.leaning import warp_depth_mm, wire_loop
from kerfwright.geometry.matching import match_contours
from kerfwright.geometry.ruled import RuledWall, most_warped
from kerfwright.geometry.tapered import CornerForm, tapered_wall

pytest.importorskip("OCP", reason="no Open CASCADE here: pip install 'kerfwright[solids]'")

from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.BRepExtrema import BRepExtrema_DistShapeShape
from OCP.BRepFill import BRepFill
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Pnt

pytestmark = pytest.mark.outside

HEIGHT = 20.0
WIRE = 0.15
EXACT_MM = 3e-5
"""Open CASCADE's own distances are good to about 1e-7; the clearance is let off by 2e-5."""
PUNCH = Contour.from_rows(
    [(0, 0), (12, 0), (12, 6, math.tan(math.pi / 8)), (9, 9), (4, 9, -math.tan(math.pi / 8)),
     (1, 6), (0, 6)]
)  # fmt: skip


def _edge(side, k, z):
    points = side.points_at(np.full(3, k), np.array([0.0, 0.5, 1.0]))
    a, m, b = (gp_Pnt(float(x), float(y), z) for x, y in points)
    if side.is_arc[k]:
        return BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(a, m, b).Value()).Edge()
    return BRepBuilderAPI_MakeEdge(a, b).Edge()


def _faces(wall: RuledWall):
    points = wall.is_point
    return {
        k: BRepFill.Face_s(_edge(wall.lower, k, wall.lower_mm), _edge(wall.upper, k, wall.upper_mm))
        for k in range(len(wall))
        if not points[0][k] and not points[1][k]
    }


def _distances(wall: RuledWall, loop, *, every: int):
    faces = _faces(wall)
    for k in range(0, len(loop), every):
        (x, y), (u, v) = loop.lower[k], loop.upper[k]
        axis = BRepBuilderAPI_MakeEdge(
            gp_Pnt(float(x), float(y), wall.lower_mm), gp_Pnt(float(u), float(v), wall.upper_mm)
        ).Edge()
        yield (
            int(loop.source[k]),
            {n: BRepExtrema_DistShapeShape(axis, face).Value() for n, face in faces.items()},
        )


@pytest.mark.parametrize("form", list(CornerForm))
@pytest.mark.parametrize("rise", [-0.08, 0.05])
def test_the_wire_touches_every_face_at_its_radius_and_comes_nowhere_nearer(rise, form):
    contour = Contour.from_rows([*PUNCH.vertices[:4].tolist(), [0.0, 9.0, 0.0]])
    wall = tapered_wall(
        contour, rise=rise, reference_mm=0.0, lower_mm=0.0, upper_mm=HEIGHT, corners=form
    )
    loop = wire_loop(wall, distance_mm=WIRE, chord_mm=5e-4)
    touched = set()
    for source, distance in _distances(wall, loop, every=3):
        assert min(distance.values()) >= WIRE - EXACT_MM
        if source in distance:
            touched.add(source)
            assert distance[source] == pytest.approx(WIRE, abs=EXACT_MM)
    assert touched


# An L with one rounded bend each way, both tangent: a sharp corner beside an arc is refused.
BENDS = Contour.from_rows(
    [(0, 0), (12, 0), (12, 4), (8, 4, -math.tan(math.pi / 8)), (6, 6),
     (6, 8, math.tan(math.pi / 8)), (5, 9), (0, 9)]
)  # fmt: skip


def test_inside_and_outside_bends_of_one_hole_hold_too():
    wall = tapered_wall(
        BENDS.reversed(), rise=-0.02, reference_mm=HEIGHT, lower_mm=0.0, upper_mm=HEIGHT,
        corners=CornerForm.CONSTANT,
    )  # fmt: skip
    loop = wire_loop(wall, distance_mm=WIRE, chord_mm=5e-4)
    for source, distance in _distances(wall, loop, every=4):
        assert min(distance.values()) >= WIRE - EXACT_MM
        if source in distance:
            assert distance[source] == pytest.approx(WIRE, abs=EXACT_MM)


def test_on_a_warped_wall_the_wire_comes_nearer_by_no_more_than_is_told():
    square = Contour.from_rows([(-5, -5), (5, -5), (5, 5), (-5, 5)])
    wall = match_contours(
        square, square.transformed(turn_rad=0.2), lower_mm=0.0, upper_mm=HEIGHT
    ).wall
    loop = wire_loop(wall, distance_mm=WIRE, chord_mm=1e-5)
    told = warp_depth_mm(most_warped(wall).value, distance_mm=WIRE)
    nearest = min(min(d.values()) for _, d in _distances(wall, loop, every=5))
    assert WIRE - 1.05 * told - EXACT_MM <= nearest < WIRE
