"""Inside the child process: what of a solid no straight wire makes, named and placed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from OCP.BRep import BRep_Tool
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location

from kerfwright.adapters.step.faces import WireFace
from kerfwright.adapters.step.walls import SolidWall, lies_on
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.geometry.segments import Floats

_MESH_MM: Final = 0.02
_LEVEL_MM: Final = 5e-4
"""Corners of a mesh this near in height are looked at together: levels are rounded so."""
_FLAT: Final = 1e-6
_THIN_MM: Final = 0.02
_MOST_LEVELS: Final = 40
_MOST_NAMED: Final = 4
_MOST_REGIONS: Final = 40
_MOST_CORNERS: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """Faces side by side that no wire makes.

    Attributes
    ----------
    finding : Finding
    outline : list of (float, float)
        What they cover seen along the wire, mm.
    """

    finding: Finding
    outline: list[tuple[float, float]]


def regions(
    faces: Sequence[WireFace], walls: Sequence[SolidWall], why_not: Mapping[int, str]
) -> list[Region]:
    """Return the regions of a solid that are left for other work.

    Parameters
    ----------
    faces : sequence of WireFace
    walls : sequence of SolidWall
    why_not : mapping of int to str
        Of faces in which a wire lies, why it cannot make them.
    """
    made = {k: wall for wall in walls for k in wall.faces}
    every = [k for k, face in enumerate(faces) if not face.is_end]
    meshes = {k: _mesh(faces[k]) for k in every}
    left = []
    for k in every:
        if k in made:
            if k in made[k].partly:
                left.append(k)
        elif not (faces[k].is_steep and any(_lies_on(meshes[k][0], w) for w in walls)):
            left.append(k)
    groups = _side_by_side(faces, left)
    found = [_region(faces, group, why_not, walls, meshes) for group in groups[:_MOST_REGIONS]]
    if len(groups) > _MOST_REGIONS:
        more = len(groups) - _MOST_REGIONS
        found.append(
            Region(
                finding=Finding(
                    code="faces-not-for-wire",
                    severity=Severity.REFUSAL,
                    message=f"There are {more} more such places, smaller than these.",
                    remedy="Is this a part for the wire?",
                    data={"places": more},
                ),
                outline=[],
            )
        )
    return found


def _mesh(face: WireFace) -> tuple[Floats, Floats]:
    """Return corners (n, 3) mm and triangles of a face."""
    BRepMesh_IncrementalMesh(face.face, _MESH_MM)
    mesh = BRep_Tool.Triangulation_s(face.face, TopLoc_Location())
    if mesh is None:
        middle = np.add(face.low, face.high) / 2
        return np.array([face.low, face.high, middle]), np.array([[0, 1, 2]])
    nodes = [mesh.Node(k) for k in range(1, mesh.NbNodes() + 1)]
    place = TopLoc_Location()
    BRep_Tool.Triangulation_s(face.face, place)
    moved = [node.Transformed(place.Transformation()) for node in nodes]
    triangles = [
        [mesh.Triangle(k).Value(i) - 1 for i in (1, 2, 3)] for k in range(1, mesh.NbTriangles() + 1)
    ]
    return np.array([(p.X(), p.Y(), p.Z()) for p in moved]), np.array(triangles)


def mark_partly(faces: Sequence[WireFace], walls: Sequence[SolidWall]) -> None:
    """Note in each wall those of its faces that go on beside it: above a step, say."""
    for wall in walls:
        wall.partly |= {k for k in wall.faces if not _lies_on(_mesh(faces[k])[0], wall)}


def _lies_on(nodes: Floats, wall: SolidWall) -> bool:
    """Return whether all of a face lies in a wall: one surface, several faces."""
    levels = np.unique(np.round(nodes[:, 2], 3))
    if len(levels) > _MOST_LEVELS:
        levels = levels[:: len(levels) // _MOST_LEVELS]
    for z in levels:
        here = nodes[np.abs(nodes[:, 2] - z) <= _LEVEL_MM]
        if not lies_on(here[:, :2], wall, float(z)).all():
            return False
    return True


def _side_by_side(faces: Sequence[WireFace], left: Sequence[int]) -> list[list[int]]:
    """Group faces that share an edge, the largest group first."""
    owners: dict[int, list[int]] = defaultdict(list)
    for k in left:
        explorer = TopExp_Explorer(faces[k].face, TopAbs_EDGE)
        while explorer.More():
            # The same edge has the same hash in both faces, whichever way it runs.
            owners[hash(explorer.Current())].append(k)
            explorer.Next()
    group = {k: k for k in left}

    def root(k: int) -> int:
        while group[k] != k:
            k = group[k]
        return k

    for shared in owners.values():
        for other in shared[1:]:
            group[root(other)] = root(shared[0])
    found: dict[int, list[int]] = defaultdict(list)
    for k in left:
        found[root(k)].append(k)
    return sorted(found.values(), key=lambda g: -sum(faces[k].area_mm2 for k in g))


def _region(
    faces: Sequence[WireFace],
    group: Sequence[int],
    why_not: Mapping[int, str],
    walls: Sequence[SolidWall],
    meshes: Mapping[int, tuple[Floats, Floats]],
) -> Region:
    low = np.min([faces[k].low for k in group], axis=0)
    high = np.max([faces[k].high for k in group], axis=0)
    told = sorted({_named(faces[k]) for k in group})
    more = f" and {len(told) - _MOST_NAMED} more" if len(told) > _MOST_NAMED else ""
    reasons = sorted({why_not[k] for k in group if k in why_not})
    why = f": {reasons[0]}" if reasons else ""
    if not why and any(k in w.partly for w in walls for k in group):
        why = ": a wall that a wire makes goes on there beside its way"
    size = " × ".join(f"{v:.4g}" for v in (high - low)[:2])
    count = len(group)
    return Region(
        finding=Finding(
            code="faces-not-for-wire",
            severity=Severity.REFUSAL,
            message=f"No straight wire makes {count} {'face' if count == 1 else 'faces'} "
            f"({'; '.join(told[:_MOST_NAMED])}{more}), {size} mm, {round(low[2], 6) + 0.0:.4g} to "
            f"{high[2]:.4g} mm up{why}.",
            where=Place(x_mm=float(low[0] + high[0]) / 2, y_mm=float(low[1] + high[1]) / 2),
            remedy="Make it otherwise, before or after the wire; or let the wire run another way "
            "with --wire-along.",
            data={
                "faces": count,
                "low_mm": float(low[2]),
                "high_mm": float(high[2]),
                "wide_mm": float(high[0] - low[0]),
                "deep_mm": float(high[1] - low[1]),
            },
        ),
        outline=_outline([meshes[k] for k in group]),
    )


def _named(face: WireFace) -> str:
    """Return what a face is, in words."""
    normal = face.plane_normal
    if normal is not None:
        if abs(normal[2]) >= 1 - _FLAT:
            return f"a floor {face.low[2]:.4g} mm up"
        if abs(normal[2]) <= _FLAT:
            return "an upright wall"
        return f"a slope of {math.degrees(math.acos(min(1.0, abs(normal[2])))):.4g}° to the faces"
    found = face.round
    if found is not None:
        radii = sorted(2 * found.radius_at(z) for z in (face.low[2], face.high[2]))
        if abs(found.rise) <= _FLAT:
            return f"a cylinder ⌀{radii[1]:.4g} mm"
        return f"a cone ⌀{radii[0]:.4g} to ⌀{radii[1]:.4g} mm"
    if face.kind == "cylinder":
        return f"a cylinder ⌀{2 * face.surface.Cylinder().Radius():.4g} mm across the wire"
    if face.kind == "torus":
        return f"a rounding of {face.surface.Torus().MinorRadius():.4g} mm"
    return f"a {face.kind}"


def _outline(meshes: Sequence[tuple[Floats, Floats]]) -> list[tuple[float, float]]:
    """Return what faces cover seen along the wire; steep ones as thin strips."""
    shapes = []
    for nodes, triangles in meshes:
        flat = shapely.polygons(nodes[triangles][:, :, :2])
        shapes.append(shapely.union_all(shapely.buffer(flat, _THIN_MM, quad_segs=1)))
    whole = shapely.union_all(shapes)
    parts = getattr(whole, "geoms", [whole])
    largest = max(parts, key=lambda p: p.area)
    ring = largest.simplify(_THIN_MM).exterior.coords
    points = [(float(x), float(y)) for x, y in list(ring)[:-1]]
    return points if len(points) <= _MOST_CORNERS else points[:: len(points) // _MOST_CORNERS + 1]
