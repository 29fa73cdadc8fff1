"""Shapes of DXF entities in the plane, still in drawing units.

Everything a drawing can hold maps linearly into the plane: a line to a line, a circle to an
ellipse (:class:`Conic`), a spline to a spline with moved control points.  So nested, scaled,
mirrored and tilted insertions need one matrix and no case of their own, and a scale of 0 along
Z, which real files hold, does no harm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.foundation.tolerances import Tolerances
from kerfwright.geometry.curves import Curve
from kerfwright.geometry.segments import Floats
from kerfwright.trade.part import LayerUse

_UNIT_X = (1.0, 0.0, 0.0)
_UNIT_Z = (0.0, 0.0, 1.0)
_ARBITRARY_AXIS = 1.0 / 64.0
"""Bound of the arbitrary axis rule (DXF reference, "Arbitrary Axis Algorithm")."""


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Affine map from an entity's coordinates to the drawing: ``matrix @ p + shift``."""

    matrix: Floats
    shift: Floats

    def points(self, points: Floats) -> Floats:
        """Map points, (n, 3)."""
        return np.asarray(points @ self.matrix.T + self.shift, dtype=np.float64)

    def inside(self, outer: Frame) -> Frame:
        """Return this frame seen from `outer`."""
        return Frame(outer.matrix @ self.matrix, outer.matrix @ self.shift + outer.shift)


IDENTITY = Frame(np.eye(3), np.zeros(3))


def object_frame(extrusion: Sequence[float]) -> Frame:
    """Return the frame of an entity with an extrusion direction.

    References
    ----------
    DXF reference, "Object Coordinate Systems (OCS)", arbitrary axis algorithm.
    """
    if tuple(extrusion) == _UNIT_Z:
        return IDENTITY
    normal = np.array(extrusion, dtype=np.float64)
    length = float(np.linalg.norm(normal))
    if length == 0.0:
        return IDENTITY
    normal /= length
    near_z = abs(normal[0]) < _ARBITRARY_AXIS and abs(normal[1]) < _ARBITRARY_AXIS
    x = np.cross((0.0, 1.0, 0.0) if near_z else _UNIT_Z, normal)
    x /= np.linalg.norm(x)
    return Frame(np.column_stack([x, np.cross(normal, x), normal]), np.zeros(3))


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Vertices x, y, bulge."""

    rows: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Conic:
    """centre + u cos t + v sin t for t from `start` over `sweep`, rad."""

    centre: Floats
    u: Floats
    v: Floats
    start: float
    sweep: float


@dataclass(frozen=True, slots=True, eq=False)
class Spline:
    """A B-spline as the file gives it."""

    points: Floats
    knots: Floats
    degree: int
    weights: Floats | None


Shape = Rows | Conic | Spline


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """One entity in the plane.

    Attributes
    ----------
    shapes : tuple of Shape
        One after the other along the entity, in drawing units.
    is_closed : bool
    name, layer : str
    use : LayerUse or None
    low, high : float
        Range of Z, drawing units.
    """

    shapes: tuple[Shape, ...]
    is_closed: bool
    name: str
    layer: str
    use: LayerUse | None
    low: float
    high: float


def line(frame: Frame, start: Sequence[float], end: Sequence[float]) -> tuple[Rows, float, float]:
    """Return a line with its range of Z."""
    points = np.array([start, end], dtype=np.float64)
    if frame is not IDENTITY:
        points = frame.points(points)
    low, high = sorted((float(points[0, 2]), float(points[1, 2])))
    points[:, 2] = 0.0
    return Rows(points), low, high


def conic(
    frame: Frame,
    centre: Sequence[float],
    axes: tuple[Sequence[float], Sequence[float]],
    start: float,
    sweep: float,
) -> tuple[Conic, float, float]:
    """Return a circle, an arc or an ellipse with its range of Z."""
    middle = frame.points(np.array([centre], dtype=np.float64))[0]
    u, v = (frame.matrix @ np.array(axis, dtype=np.float64) for axis in axes)
    swing = math.hypot(u[2], v[2])
    return (
        Conic(middle[:2], u[:2], v[:2], start, sweep),
        float(middle[2]) - swing,
        float(middle[2]) + swing,
    )


def polyline(
    frame: Frame, points: Floats, bulge: Floats, *, is_closed: bool
) -> tuple[tuple[Shape, ...], float, float]:
    """Return a polyline with bulges; where the frame distorts, its arcs become conics.

    Parameters
    ----------
    frame : Frame
    points : (n, 3) float
    bulge : (n,) float
    is_closed : bool
    """
    mapped = points if frame is IDENTITY else frame.points(points)
    low, high = float(mapped[:, 2].min()), float(mapped[:, 2].max())
    a, b = frame.matrix[:2, 0], frame.matrix[:2, 1]
    turn = a[0] * b[1] - a[1] * b[0]
    size = max(float(a @ a), float(b @ b))
    even = abs(float(a @ a) - float(b @ b)) + abs(float(a @ b)) <= _EVEN * size
    if even or not bulge.any():
        rows = np.column_stack([mapped[:, :2], bulge if turn >= 0 else -bulge])
        return (Rows(rows),), low, high
    shapes: list[Shape] = []
    count = len(points)
    for i in range(count if is_closed else count - 1):
        j = (i + 1) % count
        if bulge[i]:
            centre, radius, start = _arc_of(points[i], points[j], float(bulge[i]))
            axes = ((radius, 0.0, 0.0), (0.0, radius, 0.0))
            arc, arc_low, arc_high = conic(frame, centre, axes, start, 4 * math.atan(bulge[i]))
            shapes.append(arc)
            low, high = min(low, arc_low), max(high, arc_high)
        else:
            ends = np.array([[*mapped[i, :2], 0.0], [*mapped[j, :2], 0.0]])
            shapes.append(Rows(ends))
    return tuple(shapes), low, high


_EVEN = 1e-12
"""Relative difference of squared scales up to which arcs stay arcs: rounding of rotations."""


def _arc_of(p: Floats, q: Floats, bulge: float) -> tuple[tuple[float, float, float], float, float]:
    rise = (1 - bulge * bulge) / (4 * bulge)
    dx, dy = float(q[0] - p[0]), float(q[1] - p[1])
    centre = ((p[0] + q[0]) / 2 - dy * rise, (p[1] + q[1]) / 2 + dx * rise, float(p[2]))
    return (
        (float(centre[0]), float(centre[1]), float(centre[2])),
        math.hypot(p[0] - centre[0], p[1] - centre[1]),
        math.atan2(p[1] - centre[1], p[0] - centre[0]),
    )


def anchor(entity: Drawn) -> tuple[float, float]:
    """Return a point that finds an entity in the drawing, drawing units."""
    match entity.shapes[0]:
        case Rows(rows=rows):
            point = rows[0]
        case Conic(centre=centre):
            point = centre
        case Spline(points=points):
            point = points[0]
    return float(point[0]), float(point[1])


def _box(shape: Shape) -> tuple[Floats, Floats]:
    match shape:
        case Rows():
            points = shape.rows[:, :2]
        case Conic():
            angle = shape.start + shape.sweep * np.linspace(0.0, 1.0, 17)[:, None]
            points = shape.centre + shape.u * np.cos(angle) + shape.v * np.sin(angle)
        case Spline():
            points = shape.points
    return points.min(axis=0), points.max(axis=0)


def extent_of(shape: Shape) -> tuple[float, float]:
    """Return width and height of a shape; control points stand for splines."""
    low, high = _box(shape)
    return float(high[0] - low[0]), float(high[1] - low[1])


def extent(drawn: Iterable[Drawn]) -> tuple[float, float] | None:
    """Return width and height of all entities in drawing units; None without any."""
    boxes = [_box(shape) for entity in drawn for shape in entity.shapes]
    if not boxes:
        return None
    low = np.min([box[0] for box in boxes], axis=0)
    high = np.max([box[1] for box in boxes], axis=0)
    return float(high[0] - low[0]), float(high[1] - low[1])


def arc_rows(shape: Conic, *, scale: float, tolerances: Tolerances) -> Floats | None:
    """Return a conic that is a true circle or arc as vertices, mm; None if it is none.

    Arcs beyond half a turn come as two.
    """
    u, v = shape.u * scale, shape.v * scale
    a, b = float(np.hypot(*u)), float(np.hypot(*v))
    radius = max(a, b)
    askew = abs(float(u @ v)) / radius if radius > 0 else 0.0
    if radius <= 0 or abs(a - b) > tolerances.merge_mm or askew > tolerances.merge_mm:
        return None
    sign = 1.0 if u[0] * v[1] - u[1] * v[0] > 0 else -1.0
    count = 2 if abs(shape.sweep) > math.pi else 1
    angle = shape.start + shape.sweep / count * np.arange(count + 1)
    points = shape.centre * scale + u * np.cos(angle)[:, None] + v * np.sin(angle)[:, None]
    bulge = np.full(count + 1, sign * math.tan(shape.sweep / count / 4))
    rows = np.column_stack([points, bulge])
    rows[-1, 2] = 0.0
    return rows


def curve_of(shape: Conic | Spline, *, scale: float) -> Curve:
    """Return the curve of an ellipse or a spline, mm.

    Raises
    ------
    InputError
        If the numbers of a spline make no curve.
    """
    match shape:
        case Conic():
            centre, u, v = shape.centre * scale, shape.u * scale, shape.v * scale
            return Curve.from_ellipse_arc(
                (float(centre[0]), float(centre[1])),
                major=(float(u[0]), float(u[1])),
                minor=(float(v[0]), float(v[1])),
                start_rad=shape.start,
                sweep_rad=shape.sweep,
            )
        case Spline():
            return Curve.from_bspline(
                shape.points * scale,
                knots=shape.knots,
                degree=shape.degree,
                weights=shape.weights,
            )
