"""Inside the child process: the solid stood on its underside, the wire along Z."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain
from OCP.TopAbs import TopAbs_VERTEX
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from kerfwright.adapters.step.faces import WireFace, directions, wire_faces
from kerfwright.adapters.step.opened import box_of
from kerfwright.geometry.segments import Floats

_MOST_DIRECTIONS: Final = 12
_AXES: Final = "XYZ"
_ALIKE: Final = 1e-6
"""Shares of the surface that differ by less are equal."""
_ALONG: Final = 1e-9
_CORNER_MM: Final = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """A solid stood up.

    Attributes
    ----------
    solid : TopoDS_Shape
        As the file has it, turned and lifted only.
    faces : list of WireFace
        Of the same solid, faces of one surface side by side taken as one.
    merged : TopoDS_Shape
        The solid of these faces.
    merged_of : callable
        For a face of `solid`, the face of `merged` that it is part of.
    height_mm : float
    way : (3,) float
        Direction of the wire in the file's own axes, upwards.
    frame : str
        Which axes of the file the program's are.
    share : float
        Share of the surface in which a wire lies, or that is underside or top.
    """

    solid: Any
    faces: list[WireFace]
    merged: Any
    merged_of: Callable[[Any], Any]
    height_mm: float
    way: Floats
    frame: str
    share: float


def stood(solid: Any, way: Floats) -> Standing:
    """Turn a solid so that a direction points up, and lift its underside to 0."""
    x = _aside(way)
    turn = gp_Trsf()
    # From the first frame to the second: coordinates in the axes of the wire.
    turn.SetTransformation(
        gp_Ax3(gp_Pnt(0, 0, 0), gp_Dir(0, 0, 1), gp_Dir(1, 0, 0)),
        gp_Ax3(gp_Pnt(0, 0, 0), gp_Dir(*way), gp_Dir(*x)),
    )
    turned = BRepBuilderAPI_Transform(solid, turn, True).Shape()
    low, high = _ends(turned)
    lift = gp_Trsf()
    lift.SetTranslation(gp_Vec(0, 0, -low))
    lifted = BRepBuilderAPI_Transform(turned, lift, True).Shape()
    one = ShapeUpgrade_UnifySameDomain(lifted, True, True, False)
    one.Build()
    height = high - low
    faces = wire_faces(one.Shape(), height_mm=height)
    total = sum(face.area_mm2 for face in faces)
    useful = sum(face.area_mm2 for face in faces if face.is_end or face.is_steep)
    return Standing(
        solid=lifted,
        faces=faces,
        merged=one.Shape(),
        merged_of=partial(_merged, one.History()),
        height_mm=height,
        way=way,
        frame=_frame(x, np.cross(way, x), way),
        share=useful / total,
    )


def _ends(solid: Any) -> tuple[float, float]:
    """Return the lowest and highest point, to the digits of a corner where one lies there."""
    low, high = box_of(solid)
    explorer = TopExp_Explorer(solid, TopAbs_VERTEX)
    corners = []
    while explorer.More():
        corners.append(BRep_Tool.Pnt_s(TopoDS.Vertex(explorer.Current())).Z())
        explorer.Next()
    ends = []
    for bound, corner in (
        (low[2], min(corners, default=low[2])),
        (high[2], max(corners, default=high[2])),
    ):
        ends.append(corner if abs(corner - bound) <= _CORNER_MM else bound)
    return ends[0], ends[1]


def _merged(history: Any, face: Any) -> Any:
    after = list(history.Modified(face))
    return after[0] if after else face


def candidates(solid: Any) -> list[Standing]:
    """Return ways to stand a solid, the best first.

    Best is the way in which a straight wire lies in most of the surface; of those alike, that of
    least height, and then Z before Y before X.
    """
    found = [stood(solid, way) for way in directions(solid)[:_MOST_DIRECTIONS]]
    return sorted(found, key=lambda s: (-round(s.share / _ALIKE) * _ALIKE, round(s.height_mm, 6)))


def _aside(way: Floats) -> Floats:
    """Return which direction of the file becomes X: its X where the wire does not run along it."""
    start = np.array([1.0, 0, 0]) if abs(way[0]) < 0.9 else np.array([0, 1.0, 0])
    across = start - way * float(start @ way)
    result: Floats = across / np.sqrt((across**2).sum())
    return result


def _frame(*axes: Floats) -> str:
    told = []
    for name, way in zip(_AXES, axes, strict=True):
        k = int(np.argmax(np.abs(way)))
        if abs(abs(way[k]) - 1.0) < _ALONG:
            said = f"{'-' if way[k] < 0 else ''}{_AXES[k]}"
        else:
            said = "(" + " ".join(f"{v:.4g}" for v in way) + ")"
        told.append(f"{name} is its {said}")
    return ", ".join(told)
