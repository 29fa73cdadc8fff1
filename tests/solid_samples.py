"""Solids made with Open CASCADE, as STEP files, for tests; needs ``cadquery-ocp-novtk``."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("OCP", reason="no Open CASCADE here: pip install 'kerfwright[solids]'")

from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeSolid,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_NurbsConvert,
    BRepBuilderAPI_Sewing,
    BRepBuilderAPI_Transform,
)
from OCP.BRepFill import BRepFill
from OCP.BRepPrimAPI import (
    BRepPrimAPI_MakeBox,
    BRepPrimAPI_MakeCone,
    BRepPrimAPI_MakeCylinder,
    BRepPrimAPI_MakeRevol,
)
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer
from OCP.TopAbs import TopAbs_SHELL
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

UP = gp_Dir(0, 0, 1)


def read_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let solids be read in this process, by the function that the one of its own runs.

    A process loads Open CASCADE anew, which takes longer than to read a solid of a few faces.
    Damaged files want the process.
    """
    from kerfwright.adapters.step import reader, worker

    def answered(_: Path, request: Mapping[str, Any]) -> dict[str, Any]:
        answer: dict[str, Any] = json.loads(json.dumps(worker._answer(dict(request))))
        return answer

    monkeypatch.setattr(reader, "_asked", answered)


def written(path: Path, *shapes: Any, unit: str = "MM") -> Path:
    """Write shapes to a STEP file; the library prints while it does."""
    # The first writer brings the setting along; before it none is heard.
    writer = STEPControl_Writer()
    Interface_Static.SetCVal_s("write.step.unit", unit)
    for shape in shapes:
        writer.Transfer(shape, STEPControl_AsIs)
    writer.Write(str(path))
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    return path


def box(x: float, y: float, z: float, at: tuple[float, float, float] = (0, 0, 0)) -> Any:
    """Return a box from a corner."""
    return BRepPrimAPI_MakeBox(gp_Pnt(*at), x, y, z).Shape()


def cylinder(
    radius: float,
    height: float,
    at: tuple[float, float, float] = (0, 0, 0),
    way: tuple[float, float, float] = (0, 0, 1),
) -> Any:
    """Return a cylinder on a place."""
    return BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(*at), gp_Dir(*way)), radius, height).Shape()


def frustum(
    lower: float, upper: float, height: float, at: tuple[float, float, float] = (0, 0, 0)
) -> Any:
    """Return a cone without its tip."""
    return BRepPrimAPI_MakeCone(gp_Ax2(gp_Pnt(*at), UP), lower, upper, height).Shape()


def cut(body: Any, *tools: Any) -> Any:
    """Return a body less others."""
    for tool in tools:
        body = BRepAlgoAPI_Cut(body, tool).Shape()
    return body


def joined(body: Any, *others: Any) -> Any:
    """Return bodies as one."""
    for other in others:
        body = BRepAlgoAPI_Fuse(body, other).Shape()
    return body


def turned(body: Any, degrees: float, axis: tuple[float, float, float]) -> Any:
    """Return a body turned about an axis through the origin."""
    turn = gp_Trsf()
    turn.SetRotation(gp_Ax1(gp_Pnt(0, 0, 0), gp_Dir(*axis)), math.radians(degrees))
    return BRepBuilderAPI_Transform(body, turn, True).Shape()


def as_splines(body: Any) -> Any:
    """Return a body every face of which is a spline surface."""
    return BRepBuilderAPI_NurbsConvert(body, True).Shape()


def line(a: tuple[float, float, float], b: tuple[float, float, float]) -> Any:
    """Return a straight edge."""
    return BRepBuilderAPI_MakeEdge(gp_Pnt(*a), gp_Pnt(*b)).Edge()


def arc(*places: tuple[float, float, float]) -> Any:
    """Return an arc through three places."""
    return BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(*(gp_Pnt(*p) for p in places)).Value()).Edge()


def ruled(lower: list[Any], upper: list[Any]) -> Any:
    """Return the solid between two closed rings of edges, edge to edge by straight lines."""
    sewing = BRepBuilderAPI_Sewing(1e-6)
    for a, b in zip(lower, upper, strict=True):
        sewing.Add(BRepFill.Face_s(a, b))
    for ring in (lower, upper):
        wire = BRepBuilderAPI_MakeWire()
        for edge in ring:
            wire.Add(edge)
        sewing.Add(BRepBuilderAPI_MakeFace(wire.Wire()).Face())
    sewing.Perform()
    shell = TopoDS.Shell(TopExp_Explorer(sewing.SewedShape(), TopAbs_SHELL).Current())
    solid = BRepBuilderAPI_MakeSolid(shell).Solid()
    from OCP.BRepLib import BRepLib

    BRepLib.OrientClosedSolid_s(solid)
    return solid


def corners(half: float, z: float, turn_deg: float = 0.0) -> list[tuple[float, float, float]]:
    """Return the corners of a square about the Z axis."""
    out = []
    for k in range(4):
        angle = math.radians(45 + 90 * k + turn_deg)
        out.append(
            (half * math.sqrt(2) * math.cos(angle), half * math.sqrt(2) * math.sin(angle), z)
        )
    return out


def twisted_prism(half: float, height: float, turn_deg: float) -> Any:
    """Return a square prism whose top is turned: each wall a hyperbolic paraboloid."""
    rings = []
    for z, turn in ((0.0, 0.0), (height, turn_deg)):
        c = corners(half, z, turn)
        rings.append([line(c[k], c[(k + 1) % 4]) for k in range(4)])
    return ruled(*rings)


def square_to_round(half: float, radius: float, height: float) -> Any:
    """Return a solid with a square underside and a round top."""
    c = corners(half, 0.0)
    lower = [line(c[k], c[(k + 1) % 4]) for k in range(4)]
    at = [
        tuple(radius * f(math.radians(45 + 45 * k)) for f in (math.cos, math.sin)) for k in range(9)
    ]
    upper = [arc(*((*at[2 * k + i], height) for i in range(3))) for k in range(4)]
    return ruled(lower, upper)


def hyperboloid(radius: float, height: float, turn_deg: float) -> Any:
    """Return a solid of revolution of a skew line: a hyperboloid of one sheet."""
    angle = math.radians(turn_deg)
    skew = line((radius, 0, 0), (radius * math.cos(angle), radius * math.sin(angle), height))
    wall = BRepPrimAPI_MakeRevol(skew, gp_Ax1(gp_Pnt(0, 0, 0), UP)).Shape()
    sewing = BRepBuilderAPI_Sewing(1e-6)
    sewing.Add(wall)
    from OCP.gp import gp_Circ

    for z in (0.0, height):
        ring = BRepBuilderAPI_MakeEdge(gp_Circ(gp_Ax2(gp_Pnt(0, 0, z), UP), radius)).Edge()
        sewing.Add(BRepBuilderAPI_MakeFace(BRepBuilderAPI_MakeWire(ring).Wire()).Face())
    sewing.Perform()
    shell = TopoDS.Shell(TopExp_Explorer(sewing.SewedShape(), TopAbs_SHELL).Current())
    solid = BRepBuilderAPI_MakeSolid(shell).Solid()
    from OCP.BRepLib import BRepLib

    BRepLib.OrientClosedSolid_s(solid)
    return solid


def moved(body: Any, by: tuple[float, float, float]) -> Any:
    """Return a body moved."""
    shift = gp_Trsf()
    shift.SetTranslation(gp_Vec(*by))
    return BRepBuilderAPI_Transform(body, shift, True).Shape()
