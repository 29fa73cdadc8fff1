"""Inside the child process: from a STEP file to one solid in millimetres.

Everything that imports Open CASCADE runs in the process of :mod:`kerfwright.adapters.step.worker`.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Tool
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.gp import gp_Pnt, gp_Trsf
from OCP.GProp import GProp_GProps
from OCP.IFSelect import IFSelect_RetDone
from OCP.OCP.collections import Sequence_TCollection_AsciiString
from OCP.STEPControl import STEPControl_Reader
from OCP.TopAbs import TopAbs_FACE, TopAbs_ShapeEnum, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS

from kerfwright.foundation.errors import DrawingError
from kerfwright.foundation.findings import Finding, Severity

MOST_FACES: Final = 4000
_LEAST_MM, _MOST_MM = 0.01, 3000.0
"""Of any size of a solid: below no wire works, above no machine reaches."""
_VOLUME_SHARE: Final = 1e-6
_MM: Final = {
    "micrometre": 1e-3, "millimetre": 1.0, "centimetre": 10.0, "metre": 1000.0, "inch": 25.4,
    "foot": 304.8,
}  # fmt: skip
_ASKED_MM: Final = {"mm": 1.0, "in": 25.4}
_SAID: Final = (
    ("dimension", rb"DIMENSIONAL_(?:SIZE|LOCATION)\w*"),
    ("tolerance of form or place", rb"(?:\w+_TOLERANCE(?:_WITH_\w+)?)"),
    ("note or symbol", rb"(?:ANNOTATION|DRAUGHTING_CALLOUT|TESSELLATED_ANNOTATION)\w*"),
)
_ENTITY: Final = rb"=\s*\(?\s*%s\s*\("


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opened:
    """One solid.

    Attributes
    ----------
    solid : TopoDS_Solid
        In millimetres, as the file places it.
    unit : str
        ``mm`` or ``in``.
    volume_mm3 : float
    left_out : dict of str to int
        What the file says beside the solid, counted.
    findings : list of Finding
    """

    solid: Any
    unit: str
    volume_mm3: float
    left_out: dict[str, int] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)


def open_solid(path: Path, *, unit: str | None, number: int | None) -> Opened:
    """Read the one solid of a STEP file, or that of a number.

    Parameters
    ----------
    path : Path
    unit : str or None
        ``mm`` or ``in``: what a person says that the numbers of the file are.
    number : int or None
        Which solid, counted from 1 in the order of the file.

    Raises
    ------
    DrawingError
        If there is no such solid, or it cannot be used.
    """
    reader = STEPControl_Reader()
    if reader.ReadFile(str(path)) != IFSelect_RetDone:
        raise _damaged("Open CASCADE finds no whole STEP file in it")
    scale, known, findings = _unit(reader, asked=unit)
    reader.TransferRoots()
    shape = reader.OneShape()
    solids = [] if shape is None or shape.IsNull() else _of_kind(shape, TopAbs_SOLID)
    exact = [s for s in map(TopoDS.Solid, solids) if _is_exact(s)]
    if len(solids) > len(exact) and exact:
        findings.append(_facets_left_out(len(solids) - len(exact)))
    if not exact:
        raise _no_solid(meshed=bool(solids))
    if scale != 1.0:
        exact = [_scaled(s, scale) for s in exact]
    solid = _chosen(exact, number)
    volume = _usable(solid)
    if not BRepCheck_Analyzer(solid).IsValid():
        findings.append(
            Finding(
                code="solid-flawed",
                severity=Severity.WARNING,
                message="Open CASCADE finds faults in the solid: faces and edges that do not quite "
                "meet. It is used as it is, nothing was mended.",
                remedy="Look at the contours, or let the sender check and export it again.",
            )
        )
    left_out = _said(path.read_bytes())
    if left_out:
        findings.append(_annotations_ignored(left_out))
    return Opened(solid=solid, unit=known, volume_mm3=volume, left_out=left_out, findings=findings)


def _damaged(why: str) -> DrawingError:
    return DrawingError(
        f"{why}.",
        code="drawing-damaged",
        remedy="Export it again, as STEP AP 203, AP 214 or AP 242.",
    )


def _of_kind(shape: Any, kind: TopAbs_ShapeEnum) -> list[Any]:
    found: list[Any] = []
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


def faces_of(shape: Any) -> list[Any]:
    """Return the faces of a shape, in its own order."""
    return [TopoDS.Face(face) for face in _of_kind(shape, TopAbs_FACE)]


def _is_exact(solid: Any) -> bool:
    """Return whether every face has a surface; to ask a facet for one ends the process."""
    return all(BRep_Tool.Surface_s(face) is not None for face in faces_of(solid))


def _unit(reader: Any, *, asked: str | None) -> tuple[float, str, list[Finding]]:
    """Return what to scale by, the unit of the file, and what is said of it."""
    lengths, angles, solid_angles = (Sequence_TCollection_AsciiString() for _ in range(3))
    reader.FileUnits(lengths, angles, solid_angles)
    names = sorted({one.ToCString().strip().lower() for one in lengths})
    declared = {_MM[name] for name in names if name in _MM}
    told = ", ".join(names) or "none"
    if len(declared) == 1 and len(names) == 1:
        here = declared.pop()
        known = "in" if here in {25.4, 304.8} else "mm"
        if asked is None or _ASKED_MM[asked] == here:
            return 1.0, known, []
        warning = Finding(
            code="units-overridden",
            severity=Severity.WARNING,
            message=f"The file says {told}; its numbers are read as {asked}, as asked.",
            remedy="Leave --units out, and the file's own unit holds.",
        )
        return _ASKED_MM[asked] / here, asked, [warning]
    if asked is None:
        raise DrawingError(
            f"its unit of length is not clear: it names {told}",
            code="units-unknown",
            remedy="Say it: --units mm or --units in.",
        )
    # Open CASCADE takes what names no unit for millimetres.
    return (_ASKED_MM[asked] if not names else 1.0), asked, []


def _scaled(solid: Any, scale: float) -> Any:
    change = gp_Trsf()
    change.SetScale(gp_Pnt(0, 0, 0), scale)
    return TopoDS.Solid(BRepBuilderAPI_Transform(solid, change, True).Shape())


def _no_solid(*, meshed: bool) -> DrawingError:
    if meshed:
        return DrawingError(
            "its solid is made of flat facets only, which say nothing of the true wall",
            code="solid-tessellated",
            remedy="Ask for the exact solid (a boundary representation), not a mesh.",
        )
    return DrawingError(
        "it holds no solid: surfaces, lines or nothing",
        code="no-solid",
        remedy="Ask for one closed solid; faces that do not close have no inside.",
    )


def _facets_left_out(count: int) -> Finding:
    return Finding(
        code="facets-left-out",
        severity=Severity.WARNING,
        message=f"Solids made of flat facets only are left out: {count}.",
        remedy="Look whether the exact solid is the part.",
        data={"count": count},
    )


def _chosen(solids: list[Any], number: int | None) -> Any:
    if number is not None:
        if not 1 <= number <= len(solids):
            raise DrawingError(
                f"there is no solid {number}: the file holds {len(solids)}",
                code="solid-unknown",
                remedy="Count from 1, in the order in which the file is refused without --solid.",
            )
        return solids[number - 1]
    if len(solids) > 1:
        sizes = []
        for k, solid in enumerate(solids[:8], start=1):
            low, high = box_of(solid)
            size = " × ".join(f"{b - a:.4g}" for a, b in zip(low, high, strict=True))
            sizes.append(f"{k}: {size} mm")
        more = ", …" if len(solids) > len(sizes) else ""
        raise DrawingError(
            f"it holds {len(solids)} solids ({'; '.join(sizes)}{more}); a job cuts one",
            code="several-solids",
            remedy="Say which: --solid 1; or ask for the part alone.",
        )
    return solids[0]


def box_of(shape: Any) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the least and greatest corner of what bounds a shape, mm."""
    box = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, box, False, False)
    if box.IsVoid():
        return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    low, high = box.CornerMin(), box.CornerMax()
    return (low.X(), low.Y(), low.Z()), (high.X(), high.Y(), high.Z())


def _usable(solid: Any) -> float:
    """Return the volume of a solid that can be a part."""
    count = len(faces_of(solid))
    if count > MOST_FACES:
        raise DrawingError(
            f"the solid has {count} faces; {MOST_FACES} are taken",
            code="solid-too-large",
            remedy="Ask for the part without engraving, threads and logos.",
        )
    low, high = box_of(solid)
    sizes = [b - a for a, b in zip(low, high, strict=True)]
    if not all(math.isfinite(s) and _LEAST_MM <= s <= _MOST_MM for s in sizes):
        told = " × ".join(f"{s:.4g}" for s in sizes)
        raise DrawingError(
            f"the solid measures {told} mm; each from {_LEAST_MM:g} to {_MOST_MM:g} mm is work "
            "for a wire",
            code="solid-size",
            remedy="Look at the unit; --units mm or in sets another.",
        )
    measured = GProp_GProps()
    # By adaptive integration: on spline faces the plain one errs by parts in a thousand.
    BRepGProp.VolumeProperties_s(solid, measured, _VOLUME_SHARE, False, False)
    volume = float(measured.Mass())
    if not (math.isfinite(volume) and volume > 0):
        raise DrawingError(
            f"the solid encloses {volume:.4g} mm³: it is not closed, or turned inside out",
            code="solid-open",
            remedy="Let the sender check the solid and export it again.",
        )
    return volume


def _said(data: bytes) -> dict[str, int]:
    """Count dimensions, tolerances and notes by the names of their entities."""
    found: Counter[str] = Counter()
    for name, pattern in _SAID:
        found[name] += len(re.findall(_ENTITY % pattern, data))
    return {name: count for name, count in found.items() if count}


def _annotations_ignored(left_out: dict[str, int]) -> Finding:
    told = ", ".join(f"{name}: {count}" for name, count in left_out.items())
    return Finding(
        code="annotations-ignored",
        severity=Severity.WARNING,
        message=f"The file holds more than the solid ({told}); none of that is read.",
        remedy="Read it in the sender's drawing, and ask for what it says: --tolerance, --finish, "
        "--contour.",
        data=dict(left_out),
    )
