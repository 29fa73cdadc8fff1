"""From DXF entities to plane shapes, through nested insertions; nothing is lost uncounted."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from ezdxf.lldxf.const import DXFError

from kerfwright.adapters.dxf.annotations import Notes
from kerfwright.adapters.dxf.copies import DEEPEST
from kerfwright.adapters.dxf.layers import Inherited, Layers, Reason, attribute, printable
from kerfwright.adapters.dxf.shapes import (
    IDENTITY,
    Conic,
    Drawn,
    Frame,
    Rows,
    Shape,
    Spline,
    anchor,
    conic,
    line,
    object_frame,
    polyline,
)
from kerfwright.geometry.segments import TWO_PI
from kerfwright.trade.part import LayerUse

if TYPE_CHECKING:
    from ezdxf.document import Drawing

_ANNOTATION = frozenset(
    {"ACAD_TABLE", "ARC_DIMENSION", "ATTDEF", "ATTRIB", "DGNUNDERLAY", "DIMENSION"}
    | {"DWFUNDERLAY", "GEODATA", "HATCH", "IMAGE", "LARGE_RADIAL_DIMENSION", "LEADER", "LIGHT"}
    | {"MPOLYGON", "MTEXT", "MULTILEADER", "OLE2FRAME", "OLEFRAME", "PDFUNDERLAY", "POINT"}
    | {"RTEXT", "SECTION", "SHAPE", "SUN", "TEXT", "TOLERANCE", "VIEWPORT", "WIPEOUT"}
)
"""Kinds that never bound material."""
_FOREIGN = 4 | 8
"""Bits of a block that lies in another file (DXF reference, BLOCK group code 70)."""

Found = tuple[tuple[Shape, ...], bool, float, float]
"""Shapes, whether closed, lowest and highest Z."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """An entity that was not used; its place is in drawing units where it has one."""

    kind: str
    name: str
    layer: str
    reason: Reason
    x: float | None = None
    y: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleDrawn:
    """A start hole as drawn, in drawing units."""

    x: float
    y: float
    diameter_drawn: float


@dataclass(slots=True, kw_only=True, eq=False)
class Harvest:
    """Everything a drawing holds, sorted by what it is for.

    Attributes
    ----------
    drawn : list of Drawn
        Contour lines, stock and layers to be ignored.
    pictured : list of Drawn
        Axes and hidden edges, for the picture.
    holes : list of HoleDrawn
    left_out : list of LeftOut
    remarks : Counter of str
        ``"fit-points"``, ``"wide"``, ``"zero-scale"``, ``"lost-block"`` and how often.
    on_paper : int
        Entities in paper space.
    notes : Notes
        What the drawing says.
    """

    notes: Notes

    drawn: list[Drawn] = field(default_factory=list)
    pictured: list[Drawn] = field(default_factory=list)
    holes: list[HoleDrawn] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    remarks: Counter[str] = field(default_factory=Counter)
    on_paper: int = 0


def harvest(document: Drawing, layers: Layers) -> Harvest:
    """Walk the model space; insertions in it are known to be in proportion."""
    walk = _Walk(document=document, layers=layers, result=Harvest(notes=Notes(document=document)))
    # Numbers out of all proportion overflow here and are refused by the test of each entity.
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        walk.entities(document.modelspace(), IDENTITY, Inherited(), ())
        walk.result.notes.take_sheets(layers)
    walk.result.on_paper = sum(
        1
        for layout in document.layouts
        if layout.name.lower() != "model"
        for entity in layout
        if entity.dxftype() != "VIEWPORT"
    )
    return walk.result


@dataclass(slots=True, kw_only=True, eq=False)
class _Walk:
    document: Drawing
    layers: Layers
    result: Harvest

    def entities(
        self, entities: Iterable[Any], frame: Frame, inherited: Inherited, path: tuple[str, ...]
    ) -> None:
        for entity in entities:
            kind = entity.dxftype()
            if kind == "INSERT":
                self._insert(entity, frame, inherited, path)
            else:
                self._one(entity, kind, frame, inherited)

    def _one(self, entity: Any, kind: str, frame: Frame, inherited: Inherited) -> None:
        name = f"{kind} {attribute(entity, 'handle', '')}".rstrip()
        at = self.layers.place(entity, inherited)
        use = self.layers.use(at.layer)

        def leave(reason: Reason, place: tuple[float | None, float | None] = (None, None)) -> None:
            self.result.left_out.append(
                LeftOut(kind=kind, name=name, layer=at.layer, reason=reason, x=place[0], y=place[1])
            )

        reason = self.layers.why_left_out(entity, at)
        if reason in (Reason.INVISIBLE, Reason.LAYER):
            leave(reason)
            return
        if use is LayerUse.START:
            hole = self._start_hole(entity, kind, frame)
            if hole is None:
                leave(Reason.NOT_A_HOLE)
            else:
                self.result.holes.append(hole)
            return
        convert = _CONVERT.get(kind)
        if convert is None:
            if use is not LayerUse.IGNORE:
                self.result.notes.take(entity, kind, frame, at.layer)
            leave(Reason.ANNOTATION if kind in _ANNOTATION else Reason.UNREAD)
            return
        found = _converted(convert, entity, frame, self.result.remarks)
        if found is None:
            leave(Reason.UNREAD if kind == "POLYLINE" and _is_mesh(entity) else Reason.INVALID)
            return
        shapes, closed, low, high = found
        drawn = Drawn(shapes, closed, name, at.layer, use, low, high)
        if reason is None and use is not LayerUse.IGNORE:
            self.result.drawn.append(drawn)
            return
        leave(reason or Reason.IGNORED, anchor(drawn))
        self.result.pictured.append(drawn)

    def _start_hole(self, entity: Any, kind: str, frame: Frame) -> HoleDrawn | None:
        """Take a circle or a point as a start hole."""
        convert = {"POINT": _point, "CIRCLE": _circle}.get(kind)
        found = convert and _converted(convert, entity, frame, self.result.remarks)
        match found[0][0] if found else None:
            case Rows(rows=rows):
                return HoleDrawn(x=float(rows[0, 0]), y=float(rows[0, 1]), diameter_drawn=0.0)
            case Conic(centre=centre, u=u, v=v):
                a, b = float(np.hypot(*u)), float(np.hypot(*v))
                if abs(a - b) <= _ROUND_SHARE * max(a, b):
                    return HoleDrawn(x=float(centre[0]), y=float(centre[1]), diameter_drawn=2 * a)
        return None

    def _insert(
        self, entity: Any, frame: Frame, inherited: Inherited, path: tuple[str, ...]
    ) -> None:
        block_name = entity.dxf.get("name", "")
        handle = entity.dxf.get("handle", "")
        at = self.layers.place(entity, inherited)
        block: Any = self.document.blocks.get(block_name)
        reason: Reason | None = None
        if entity.dxf.get("invisible", 0):
            reason = Reason.INVISIBLE
        elif at.layer.lower() in self.layers.frozen and self.layers.use(at.layer) is None:
            reason = Reason.LAYER
        elif (
            block is None
            or int(attribute(block.block, "flags", 0)) & _FOREIGN
            or block_name.lower() in path
            or len(path) >= DEEPEST
        ):
            reason = Reason.UNREAD
        if reason is not None:
            self.result.left_out.append(
                LeftOut(
                    kind="INSERT",
                    name=f"INSERT {handle} of {printable(block_name)}",
                    layer=at.layer,
                    reason=reason,
                )
            )
            return
        if self.layers.use(at.layer) is not LayerUse.IGNORE:
            self.result.notes.take_fields(entity, at.layer, frame=frame)
        for text in entity.attribs:
            self.result.left_out.append(
                LeftOut(
                    kind="ATTRIB",
                    name=f"ATTRIB {text.dxf.get('handle', '')}",
                    layer=at.layer,
                    reason=Reason.ANNOTATION,
                )
            )
        for placed in self._placements(entity, block):
            self.entities(block, placed.inside(frame), at, (*path, block_name.lower()))

    def _placements(self, entity: Any, block: Any) -> list[Frame]:
        """Return the frames of an insertion and of its rows and columns."""
        dxf = entity.dxf
        scales = [float(dxf.get(k, 1.0)) for k in ("xscale", "yscale", "zscale")]
        if 0.0 in scales[:2]:
            self.result.remarks["zero-scale"] += 1
        # A scale of 0 is no scale; programs write it for "not set" (seen in real files).
        scale = np.array([s if s != 0.0 else 1.0 for s in scales])
        turn = math.radians(dxf.get("rotation", 0.0))
        cos, sin = math.cos(turn), math.sin(turn)
        rotate = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
        base = np.array(tuple(block.block.dxf.get("base_point", (0.0, 0.0, 0.0))))
        at = np.array(tuple(dxf.get("insert", (0.0, 0.0, 0.0))))
        frame = object_frame(tuple(dxf.get("extrusion", (0.0, 0.0, 1.0))))
        local = rotate * scale
        placements = []
        for column in range(max(1, dxf.get("column_count", 1))):
            for row in range(max(1, dxf.get("row_count", 1))):
                step = np.array(
                    [
                        column * dxf.get("column_spacing", 0.0),
                        row * dxf.get("row_spacing", 0.0),
                        0.0,
                    ]
                )
                shift = at + rotate @ step - local @ base
                placements.append(Frame(local, shift).inside(frame))
        return placements


_ROUND_SHARE = 0.001
"""Axes of a start hole may differ by this share: it is drilled round."""
Convert = Callable[[Any, Frame, Counter[str]], Found | None]


def _converted(convert: Convert, entity: Any, frame: Frame, remarks: Counter[str]) -> Found | None:
    """Return the shapes of an entity, None where its data make no curve."""
    try:
        found = convert(entity, frame, remarks)
    except (DXFError, ValueError, ArithmeticError, LookupError, TypeError, AttributeError):
        # ezdxf's accessors and the matrices refuse unusable numbers in these ways.
        return None
    return found if found is not None and _is_usable(found) else None


def _is_usable(found: Found) -> bool:
    """Return whether all numbers are finite and small enough to keep their digits."""
    shapes, _, low, high = found
    values: list[Any] = [np.array([low, high])]
    for shape in shapes:
        if isinstance(shape, Rows):
            values.append(shape.rows)
        elif isinstance(shape, Spline):
            values.append(shape.points)
        else:
            values.extend((shape.centre, shape.u, shape.v, np.array([shape.start, shape.sweep])))
    # A comparison with a number that is none is false.
    return all(bool((np.abs(v) <= _LARGEST_UNITS).all()) for v in values)


_LARGEST_UNITS = 1e8
"""Largest coordinate read: beyond it doubles keep less than 0.001 µm in inches."""


def _own(entity: Any, frame: Frame) -> Frame:
    """Return the frame of an entity that is drawn in object coordinates."""
    own = object_frame(tuple(entity.dxf.get("extrusion", (0.0, 0.0, 1.0))))
    if own is IDENTITY:
        return frame
    return own if frame is IDENTITY else own.inside(frame)


def _line(entity: Any, frame: Frame, _remarks: Counter[str]) -> Found:
    rows, low, high = line(frame, tuple(entity.dxf.start), tuple(entity.dxf.end))
    return (rows,), False, low, high


def _point(entity: Any, frame: Frame, _remarks: Counter[str]) -> Found:
    place = tuple(entity.dxf.location)
    rows, low, high = line(frame, place, place)
    return (rows,), False, low, high


def _circle(entity: Any, frame: Frame, _remarks: Counter[str]) -> Found | None:
    radius = float(entity.dxf.radius)
    if radius <= 0:
        return None
    axes = ((radius, 0.0, 0.0), (0.0, radius, 0.0))
    shape, low, high = conic(_own(entity, frame), tuple(entity.dxf.center), axes, 0.0, TWO_PI)
    return (shape,), True, low, high


def _sweep(start: float, end: float) -> float:
    """Return the counter-clockwise range from start to end, rad; equal ends are a full turn."""
    sweep = (end - start) % TWO_PI
    return TWO_PI if sweep <= _NO_SWEEP or TWO_PI - sweep <= _NO_SWEEP else sweep


_NO_SWEEP = 1e-9
"""Angles nearer than this are equal: files carry about 12 digits."""


def _arc(entity: Any, frame: Frame, _remarks: Counter[str]) -> Found | None:
    radius = float(entity.dxf.radius)
    if radius <= 0:
        return None
    start = math.radians(entity.dxf.start_angle)
    sweep = _sweep(start, math.radians(entity.dxf.end_angle))
    axes = ((radius, 0.0, 0.0), (0.0, radius, 0.0))
    shape, low, high = conic(_own(entity, frame), tuple(entity.dxf.center), axes, start, sweep)
    return (shape,), sweep == TWO_PI, low, high


def _ellipse(entity: Any, frame: Frame, _remarks: Counter[str]) -> Found | None:
    major = np.array(tuple(entity.dxf.major_axis))
    normal = np.array(tuple(entity.dxf.get("extrusion", (0.0, 0.0, 1.0))))
    size, length = float(np.linalg.norm(major)), float(np.linalg.norm(normal))
    if size == 0 or length == 0:
        return None
    minor = np.cross(normal / length, major) * float(entity.dxf.ratio)
    start = float(entity.dxf.start_param)
    sweep = _sweep(start, float(entity.dxf.end_param))
    axes = (tuple(major), tuple(minor))
    shape, low, high = conic(frame, tuple(entity.dxf.center), axes, start, sweep)
    return (shape,), sweep == TWO_PI, low, high


def _lwpolyline(entity: Any, frame: Frame, remarks: Counter[str]) -> Found | None:
    values = np.array(entity.get_points("xyseb"), dtype=np.float64).reshape(-1, 5)
    if len(values) < 2:
        return None
    if values[:, 2:4].any() or entity.dxf.get("const_width", 0.0):
        remarks["wide"] += 1
    elevation = np.full(len(values), float(entity.dxf.get("elevation", 0.0)))
    points = np.column_stack([values[:, :2], elevation])
    closed = bool(entity.closed)
    shapes, low, high = polyline(_own(entity, frame), points, values[:, 4], is_closed=closed)
    return shapes, closed, low, high


def _is_mesh(entity: Any) -> bool:
    return not (entity.is_2d_polyline or entity.is_3d_polyline)


def _polyline(entity: Any, frame: Frame, remarks: Counter[str]) -> Found | None:
    if _is_mesh(entity):
        return None
    flat = entity.is_2d_polyline
    # Control points of a curve-fit frame (flag 16) are not on the curve; the vertices that
    # the CAD program put along it are (DXF reference, VERTEX group code 70).
    vertices = [v for v in entity.vertices if not int(v.dxf.get("flags", 0)) & 16]
    if len(vertices) < 2:
        return None
    points = np.array([tuple(v.dxf.location) for v in vertices], dtype=np.float64)
    bulge = np.zeros(len(vertices))
    if flat:
        bulge = np.array([float(v.dxf.get("bulge", 0.0)) for v in vertices])
        points[:, 2] = float(entity.dxf.get("elevation", (0.0, 0.0, 0.0))[2])
        if any(v.dxf.get("start_width", 0.0) or v.dxf.get("end_width", 0.0) for v in vertices):
            remarks["wide"] += 1
    closed = bool(entity.is_closed)
    own = _own(entity, frame) if flat else frame
    shapes, low, high = polyline(own, points, bulge, is_closed=closed)
    return shapes, closed, low, high


def _spline(entity: Any, frame: Frame, remarks: Counter[str]) -> Found | None:
    degree = int(entity.dxf.degree)
    weights: np.ndarray[Any, Any] | None = None
    if entity.control_point_count():
        control = np.array([tuple(p) for p in entity.control_points], dtype=np.float64)
        knots = np.array(entity.knots, dtype=np.float64)
        if len(entity.weights):
            weights = np.array(entity.weights, dtype=np.float64)
    elif entity.fit_point_count() >= 2:
        remarks["fit-points"] += 1
        tool = entity.construction_tool()
        degree = tool.degree
        control = np.array([tuple(p) for p in tool.control_points], dtype=np.float64)
        knots = np.array(tool.knots(), dtype=np.float64)
    else:
        return None
    mapped = frame.points(control)
    closed = bool(entity.closed)
    shape = Spline(mapped[:, :2], knots, degree, weights)
    return (shape,), closed, float(mapped[:, 2].min()), float(mapped[:, 2].max())


_CONVERT: dict[str, Convert] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
}
