"""Holes from a pattern on cylinders, as a TOML file: rows of holes give places and entry vectors.

The rows of a cylinder lie on its outside.  Angles count by the right-hand rule about its axis,
from the next axis in the order X, Y, Z, X: about X from +Y towards +Z.  A hole points to the axis;
a lean tilts it towards the growing axis, a swirl towards growing angles.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from kerfwright.adapters.hole_csv import Usual, read_source
from kerfwright.adapters.owned_files import digest
from kerfwright.foundation.errors import InputError
from kerfwright.trade.hole_work import Hole, HoleList, Vector, unit_vector
from kerfwright.trade.part import LengthUnit

FORMAT: Final = ("kerfwright-hole-pattern", 1)
_AXES: Final = {"x": 0, "y": 1, "z": 2}
_SCALE: Final = {"mm": 1.0, "in": 25.4}
_CYLINDER: Final = {"id", "axis", "at", "radius", "bore_radius", "row"}
_ROW: Final = {
    "count", "along", "advance", "first_deg", "step_deg", "diameter", "lean_deg", "swirl_deg",
    "depth", "tolerance", "position", "group",
}  # fmt: skip
_UM_PER_MM: Final = 1000.0
_MOST: Final = 100_000
"""Holes of a row; more is a slip of the pen."""


def read_hole_pattern(path: Path, usual: Usual) -> HoleList:
    """Read a pattern.

    Raises
    ------
    FileError
        Code ``holes-unreadable``.
    InputError
        Code ``pattern-broken`` with the key.
    """
    content = read_source(path)
    try:
        document = tomllib.loads(content.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise InputError(
            f"is not valid TOML: {fault}", code="pattern-broken", where=str(path)
        ) from fault
    head = (document.get("format"), document.get("version"))
    if head != FORMAT:
        raise InputError(
            f"is no pattern of holes of version {FORMAT[1]}",
            code="pattern-broken",
            where=str(path),
            remedy=f'Begin it with format = "{FORMAT[0]}" and version = {FORMAT[1]}.',
        )
    unit = document.get("unit")
    if unit not in _SCALE:
        raise InputError(
            f"unit is {unit!r}, expected mm or in", code="pattern-broken", where=str(path)
        )
    keys = _Keys(place=str(path), scale=_SCALE[unit])
    keys.only(document, {"format", "version", "unit", "cylinder"}, "")
    holes = tuple(
        hole
        for number, cylinder in enumerate(keys.tables(document, "cylinder", ""), start=1)
        for hole in _on_cylinder(cylinder, f"cylinder {number}", keys, usual)
    )
    ids = [hole.id for hole in holes]
    twice = sorted({i for i in ids if ids.count(i) > 1}) if len(set(ids)) < len(ids) else []
    if twice:
        keys.fail("id", twice[0], "a name of its own for each cylinder")
    return HoleList(name=path.name, sha256=digest(content), unit=LengthUnit(unit), holes=holes)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Keys:
    """Reads keys of tables; lengths come out in mm."""

    place: str
    scale: float

    def fail(self, key: str, value: object, expected: str) -> None:
        raise InputError(
            f"{key} is {value!r}, expected {expected}", code="pattern-broken", where=self.place
        )

    def only(self, table: Mapping[str, Any], known: set[str], where: str) -> None:
        for key in sorted(set(table) - known):
            self.fail(f"{where} {key}".strip(), table[key], f"one of {', '.join(sorted(known))}")

    def tables(self, table: Mapping[str, Any], key: str, where: str) -> list[dict[str, Any]]:
        value = table.get(key)
        if not isinstance(value, list) or not value or not all(isinstance(v, dict) for v in value):
            self.fail(f"{where} {key}".strip(), value, f"one or more tables [[{key}]]")
        return list(value or [])

    def number(
        self, table: Mapping[str, Any], key: str, where: str, usual: float | None = None
    ) -> float:
        value = table.get(key, usual)
        good = isinstance(value, int | float) and not isinstance(value, bool)
        if not good or not math.isfinite(float(value or 0.0)):
            self.fail(f"{where} {key}", value, "a number")
        return float(value or 0.0)

    def length(
        self, table: Mapping[str, Any], key: str, where: str, usual: float | None = None
    ) -> float:
        return self.number(table, key, where, usual) * self.scale

    def above(self, table: Mapping[str, Any], key: str, where: str) -> float:
        value = self.length(table, key, where)
        if not value > 0:
            self.fail(f"{where} {key}", value, "a number above 0")
        return value


def _on_cylinder(table: Mapping[str, Any], where: str, keys: _Keys, usual: Usual) -> Iterator[Hole]:
    keys.only(table, _CYLINDER, where)
    axis = table.get("axis")
    if axis not in _AXES:
        keys.fail(f"{where} axis", axis, "x, y or z")
    at = table.get("at", [0, 0, 0])
    if not isinstance(at, list) or len(at) != 3:
        keys.fail(f"{where} at", at, "a point of its axis, three numbers")
    place = tuple(keys.length({"at": v}, "at", where) for v in at)
    shape = _Cylinder(
        axis=_AXES[str(axis)],
        at_mm=(place[0], place[1], place[2]),
        radius_mm=keys.above(table, "radius", where),
        bore_mm=keys.above(table, "bore_radius", where) if "bore_radius" in table else None,
    )
    name = table.get("id", where.replace("cylinder ", "C"))
    for number, row in enumerate(keys.tables(table, "row", where), start=1):
        yield from _row(row, f"{where} row {number}", f"{name}{number}", shape, keys, usual)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cylinder:
    axis: int
    at_mm: Vector
    radius_mm: float
    bore_mm: float | None

    def frame(self, angle_rad: float) -> tuple[Vector, Vector, Vector]:
        """Return the axis, the outward radius and the direction of growing angles."""
        along, first, second = ([0.0] * 3 for _ in range(3))
        along[self.axis] = 1.0
        first[(self.axis + 1) % 3] = 1.0
        second[(self.axis + 2) % 3] = 1.0
        cosine, sine = math.cos(angle_rad), math.sin(angle_rad)
        outward = [cosine * a + sine * b for a, b in zip(first, second, strict=True)]
        tangent = [cosine * b - sine * a for a, b in zip(first, second, strict=True)]
        return (
            (along[0], along[1], along[2]),
            (outward[0], outward[1], outward[2]),
            (tangent[0], tangent[1], tangent[2]),
        )

    def through(self, inward: float, sideways: float) -> tuple[float, float] | None:
        """Return depth to the bore and the clear way across it.

        With the parts of the entry vector towards the axis and along the tangent, the hole meets
        the bore where ``(R - s inward)^2 + (s sideways)^2 = r^2``.
        """
        if self.bore_mm is None:
            return None
        a = inward**2 + sideways**2
        half = self.radius_mm * inward
        left = half**2 - a * (self.radius_mm**2 - self.bore_mm**2)
        if left <= 0:
            return None
        root = math.sqrt(left)
        return (half - root) / a, 2 * root / a


def _row(
    row: Mapping[str, Any], where: str, name: str, shape: _Cylinder, keys: _Keys, usual: Usual
) -> Iterator[Hole]:
    keys.only(row, _ROW, where)
    count = row.get("count")
    if not isinstance(count, int) or isinstance(count, bool) or not 1 <= count <= _MOST:
        keys.fail(f"{where} count", count, f"a whole number from 1 to {_MOST}")
    lean, swirl, first = (
        math.radians(keys.number(row, key, where, 0.0))
        for key in ("lean_deg", "swirl_deg", "first_deg")
    )
    step = math.radians(keys.number(row, "step_deg", where, 360.0 / int(count or 1)))
    along, advance = (keys.length(row, key, where, 0.0) for key in ("along", "advance"))
    inward, axial = math.cos(lean) * math.cos(swirl), math.sin(lean) * math.cos(swirl)
    sideways = math.sin(swirl)
    met = shape.through(inward, sideways)
    if "depth" not in row and met is None:
        keys.fail(f"{where} depth", None, "a depth, as its holes meet no bore")
    depth = keys.above(row, "depth", where) if "depth" in row else (met or (0.0, 0.0))[0]
    reaches = met is not None and depth >= met[0] - _MEETS_MM
    for index in range(int(count or 0)):
        a, out, tangent = shape.frame(first + index * step)
        way = along + index * advance
        mouth = [c + way * p + shape.radius_mm * q for c, p, q in zip(shape.at_mm, a, out,
                                                                     strict=True)]  # fmt: skip
        into = [axial * p - inward * q + sideways * t for p, q, t in zip(a, out, tangent,
                                                                        strict=True)]  # fmt: skip
        yield Hole(
            id=f"{name}-{index + 1}",
            mouth_mm=(mouth[0], mouth[1], mouth[2]),
            into=unit_vector((into[0], into[1], into[2])),
            outward=unit_vector(out),
            diameter_mm=keys.above(row, "diameter", where),
            depth_mm=depth,
            is_through=reaches,
            room_mm=met[1] if met is not None and reaches else None,
            tolerance_um=_um(row, "tolerance", where, keys) or usual.tolerance_um,
            position_um=_um(row, "position", where, keys) or usual.position_um,
            max_recast_um=usual.max_recast_um,
            group=str(row.get("group", name)),
        )


_MEETS_MM: Final = 1e-6
"""A depth that is short of the bore by less is rounding."""


def _um(row: Mapping[str, Any], key: str, where: str, keys: _Keys) -> float | None:
    return keys.above(row, key, where) * _UM_PER_MM if key in row else None
