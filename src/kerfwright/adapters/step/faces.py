"""Inside the child process: what each face of a solid is to a wire that runs along Z."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepGProp import BRepGProp
from OCP.BRepTools import BRepTools
from OCP.GeomAbs import (
    GeomAbs_BezierSurface,
    GeomAbs_BSplineSurface,
    GeomAbs_Cone,
    GeomAbs_Cylinder,
    GeomAbs_Plane,
    GeomAbs_Sphere,
    GeomAbs_SurfaceOfExtrusion,
    GeomAbs_Torus,
)
from OCP.gp import gp_Cone, gp_Cylinder, gp_Dir, gp_Pln
from OCP.GProp import GProp_GProps
from OCP.ShapeAnalysis import ShapeAnalysis_CanonicalRecognition

from kerfwright.adapters.step.opened import box_of, faces_of
from kerfwright.foundation.tolerances import TINY
from kerfwright.geometry.segments import Floats

STRAIGHT_MM: Final = 0.025
"""A line along a face that bends by more is no wire; below it, by how much is told."""
STEEPEST_DEG: Final = 45.0
"""A face that leans more is none that a wire makes."""
_SAME_MM: Final = 1e-4
_CANONICAL_MM: Final = 1e-4
"""A spline face this near to a plane, cylinder or cone is one."""
_PARALLEL: Final = 1e-9
"""Sine of the angle up to which a direction is another."""
_LINES, _POINTS = 7, 9
_COS: Final = math.cos(math.radians(STEEPEST_DEG))
_NAMES: Final = {
    GeomAbs_Plane: "plane", GeomAbs_Cylinder: "cylinder", GeomAbs_Cone: "cone",
    GeomAbs_Sphere: "sphere", GeomAbs_Torus: "torus", GeomAbs_BSplineSurface: "spline face",
    GeomAbs_BezierSurface: "spline face", GeomAbs_SurfaceOfExtrusion: "extruded face",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """A cylinder or cone around the wire's direction.

    Attributes
    ----------
    x_mm, y_mm : float
        Its axis.
    radius_mm : float
        At height 0.
    rise : float
        Radius gained per mm upwards.
    """

    x_mm: float
    y_mm: float
    radius_mm: float
    rise: float

    def radius_at(self, height_mm: float) -> float:
        """Return the radius at a height; below 0 beyond the tip of a cone."""
        return self.radius_mm + self.rise * height_mm


class WireFace:
    """One face, the wire along Z.

    Parameters
    ----------
    face : TopoDS_Face
    height_mm : float
        Of the solid, whose underside lies at 0.
    """

    def __init__(self, face: Any, *, height_mm: float) -> None:
        self.face = face
        self.height_mm = height_mm
        self.surface = BRepAdaptor_Surface(face, True)
        self.kind = _NAMES.get(self.surface.GetType(), "curved face")
        self.bounds: tuple[float, float, float, float] = BRepTools.UVBounds_s(face)

    @cached_property
    def _box(self) -> tuple[tuple[float, ...], tuple[float, ...]]:
        return box_of(self.face)

    @property
    def low(self) -> tuple[float, ...]:
        """Least corner of what bounds it, mm."""
        return self._box[0]

    @property
    def high(self) -> tuple[float, ...]:
        """Greatest corner of what bounds it, mm."""
        return self._box[1]

    @cached_property
    def area_mm2(self) -> float:
        """Return its area."""
        measured = GProp_GProps()
        BRepGProp.SurfaceProperties_s(self.face, measured)
        return abs(float(measured.Mass()))

    @cached_property
    def plane_normal(self) -> Floats | None:
        """Normal of a plane, whichever surface it is written as."""
        if self.kind == "plane":
            return _three(self.surface.Plane().Axis().Direction())
        plane = gp_Pln()
        if self._canonical is not None and self._canonical.IsPlane(_CANONICAL_MM, plane):
            return _three(plane.Axis().Direction())
        return None

    @cached_property
    def _canonical(self) -> Any:
        """Return what knows spline faces that are planes, cylinders or cones."""
        if self.kind not in {"spline face", "extruded face", "curved face"}:
            return None
        return ShapeAnalysis_CanonicalRecognition(self.face)

    @cached_property
    def round(self) -> Round | None:
        """The cylinder or cone it is, if its axis is the wire's direction."""
        found: Any = None
        if self.kind == "cylinder":
            found = self.surface.Cylinder()
        elif self.kind == "cone":
            found = self.surface.Cone()
        elif self._canonical is not None and self.plane_normal is None:
            for kind, ask in (
                (gp_Cylinder(), self._canonical.IsCylinder),
                (gp_Cone(), self._canonical.IsCone),
            ):
                if ask(_CANONICAL_MM, kind):
                    found = kind
                    break
        if found is None:
            return None
        axis = _three(found.Axis().Direction())
        if math.hypot(axis[0], axis[1]) > _PARALLEL:
            return None
        place = found.Location()
        if isinstance(found, gp_Cylinder):
            radius, rise = float(found.Radius()), 0.0
        else:
            rise = math.tan(float(found.SemiAngle())) * math.copysign(1.0, axis[2])
            radius = float(found.RefRadius()) - rise * place.Z()
        return Round(x_mm=place.X(), y_mm=place.Y(), radius_mm=radius, rise=rise)

    @property
    def is_end(self) -> bool:
        """Whether it lies in the underside or the top of the work."""
        normal = self.plane_normal
        if normal is None or math.hypot(normal[0], normal[1]) > _PARALLEL * 1e3:
            return False
        flat = self.high[2] - self.low[2] <= _SAME_MM
        return flat and (self.low[2] <= _SAME_MM or self.high[2] >= self.height_mm - _SAME_MM)

    def points(self, u: Floats, v: Floats) -> Floats:
        """Return points of its surface, (n, 3) mm."""
        return np.array([_three(self.surface.Value(a, b)) for a, b in zip(u, v, strict=True)])

    @cached_property
    def rulings(self) -> tuple[str, float]:
        """Return along which parameter a wire lies in it, and by how much that bends, mm.

        ``plane`` for a plane steep enough, ``u`` or ``v``, or ``none`` with infinity.
        """
        normal = self.plane_normal
        if normal is not None:
            return (
                ("plane", 0.0) if abs(normal[2]) <= math.sqrt(1 - _COS**2) else ("none", math.inf)
            )
        if self.kind in {"sphere", "torus"}:
            return "none", math.inf
        best = ("none", math.inf)
        u0, u1, v0, v1 = self.bounds
        if not all(map(math.isfinite, self.bounds)):
            return best
        for name in ("v", "u"):
            across = np.linspace(0.0, 1.0, _LINES)
            along = np.linspace(0.0, 1.0, _POINTS)
            a, b = (x.ravel() for x in np.meshgrid(across, along, indexing="ij"))
            u, v = (a, b) if name == "v" else (b, a)
            lines = self.points(u0 + (u1 - u0) * u, v0 + (v1 - v0) * v)
            lines = lines.reshape(_LINES, _POINTS, 3)
            chord = lines[:, -1] - lines[:, 0]
            length = np.sqrt((chord**2).sum(axis=1))
            if (np.abs(chord[:, 2]) < _COS * length).any() or (length <= _SAME_MM).any():
                continue
            way = chord / np.maximum(length, TINY)[:, None]
            off = lines - lines[:, :1]
            off = off - (off * way[:, None]).sum(axis=2)[:, :, None] * way[:, None]
            bend = float(np.sqrt((off**2).sum(axis=2)).max())
            if bend < best[1] - _SAME_MM and bend <= STRAIGHT_MM:
                best = (name, bend)
        return best

    @property
    def is_steep(self) -> bool:
        """Whether a straight wire can lie in it from edge to edge."""
        return self.rulings[0] != "none"


def _three(point: Any) -> Floats:
    return np.array([point.X(), point.Y(), point.Z()])


def wire_faces(solid: Any, *, height_mm: float) -> list[WireFace]:
    """Return the faces of a solid that stands on height 0."""
    return [WireFace(face, height_mm=height_mm) for face in faces_of(solid)]


def directions(solid: Any) -> list[Floats]:
    """Return directions that the wire may run in: normals and axes of faces, and X, Y, Z."""
    found = [np.eye(3)[k] for k in (2, 1, 0)]
    for face in faces_of(solid):
        surface = BRepAdaptor_Surface(face, True)
        kind = surface.GetType()
        axis: gp_Dir | None = None
        if kind == GeomAbs_Plane:
            axis = surface.Plane().Axis().Direction()
        elif kind == GeomAbs_Cylinder:
            axis = surface.Cylinder().Axis().Direction()
        elif kind == GeomAbs_Cone:
            axis = surface.Cone().Axis().Direction()
        elif kind == GeomAbs_SurfaceOfExtrusion:
            axis = surface.Direction()
        if axis is None:
            continue
        way = _three(axis)
        if all(np.hypot(*_across(way, known)) > _SAME_MM for known in found):
            found.append(way if way[np.argmax(np.abs(way))] > 0 else -way)
    return found


def _across(a: Floats, b: Floats) -> tuple[float, float]:
    c = np.cross(a, b)
    return float(np.hypot(c[0], c[1])), float(c[2])
