"""Holes from a table of text (CSV), units in the header.

A row that is no hole is refused with its line and the reason, and kept whole; the others are taken.
Conventions of place and direction: :mod:`kerfwright.trade.hole_work`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from kerfwright.adapters.measured_cuts import Row, decoded, split_table
from kerfwright.adapters.owned_files import digest
from kerfwright.adapters.table_columns import expect_column
from kerfwright.foundation.errors import FileError, InputError, KerfwrightError, sentence
from kerfwright.foundation.findings import Finding, Place, Severity
from kerfwright.foundation.units import MM_PER_INCH, UM_PER_MM, number
from kerfwright.trade.hole_work import (
    DOWN,
    UP,
    Hole,
    HoleList,
    UnusedRow,
    Vector,
    leaning,
    unit_vector,
)
from kerfwright.trade.part import LengthUnit

_LENGTH: Final = {"mm": 1.0, "in": MM_PER_INCH}
_SMALL: Final = {"um": 1.0, "mm": UM_PER_MM, "in": MM_PER_INCH * UM_PER_MM}
_LENGTHS: Final = ("x", "y", "z", "diameter", "depth", "room")
_SMALLS: Final = ("tolerance", "position", "recast")
_ANGLES: Final = ("lean_deg", "heading_deg", "face_lean_deg", "face_heading_deg")
_VECTORS: Final = ("i", "j", "k", "ni", "nj", "nk")
_WORDS: Final = ("id", "group", "kind")
COLUMNS: Final = (
    *_WORDS,
    *(f"{name}_{unit}" for name in _LENGTHS for unit in _LENGTH),
    *(f"{name}_{unit}" for name in _SMALLS for unit in _SMALL),
    *_ANGLES,
    *_VECTORS,
)
_KINDS: Final = {"through": True, "blind": False}
_NEEDED: Final = ("x", "y", "diameter")
_FACTORS: Final[Mapping[str, float]] = {
    **{f"{name}_{unit}": f for name in _LENGTHS for unit, f in _LENGTH.items()},
    **{f"{name}_{unit}": f for name in _SMALLS for unit, f in _SMALL.items()},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """What holds for every hole that does not say otherwise.

    Attributes
    ----------
    thickness_mm : float or None
        Of a plate with level faces: depth of a through hole that gives none.
    tolerance_um, position_um, max_recast_um : float or None
    """

    thickness_mm: float | None = None
    tolerance_um: float | None = None
    position_um: float | None = None
    max_recast_um: float | None = None


def read_hole_table(path: Path, usual: Usual) -> HoleList:
    """Read a table of holes.

    Parameters
    ----------
    path : Path
    usual : Usual

    Returns
    -------
    HoleList
        Holes and unused rows; together they are every row of the table.

    Raises
    ------
    FileError
        Code ``holes-unreadable``.
    InputError
        Code ``columns-unknown``, ``columns-missing``, ``columns-twice`` or ``table-not-utf8``:
        then no row could be trusted.
    """
    content = read_source(path)
    return holes_of_text(
        decoded(content, name=str(path)), name=path.name, sha256=digest(content), usual=usual
    )


def read_source(path: Path) -> bytes:
    """Return the bytes of a file of holes.

    Raises
    ------
    FileError
        Code ``holes-unreadable``.
    """
    try:
        return path.read_bytes()
    except OSError as fault:
        raise FileError(
            f"cannot be read: {fault.strerror}", code="holes-unreadable", where=str(path)
        ) from fault


def holes_of_text(text: str, *, name: str, sha256: str, usual: Usual) -> HoleList:
    """Read a table of holes from its text; see :func:`read_hole_table`."""
    columns, rows = split_table(text, name=name)
    _check(columns, name)
    reader = _Reader(usual=usual)
    holes: list[Hole] = []
    unused: list[UnusedRow] = []
    for line, said, cells in rows:
        try:
            if cells is None:
                raise InputError(
                    "the row has not as many cells as the header has columns", code="row-length"
                )
            holes.append(reader.hole(cells, line))
        except KerfwrightError as fault:
            unused.append(UnusedRow(line=line, text=said, finding=_refused(line, fault)))
    unit = LengthUnit.INCH if "x_in" in columns else LengthUnit.MILLIMETRE
    return HoleList(name=name, sha256=sha256, unit=unit, holes=tuple(holes), unused=tuple(unused))


def _refused(line: int, fault: KerfwrightError) -> Finding:
    return Finding(
        code=fault.code,
        severity=Severity.REFUSAL,
        message=sentence(f"Line {line} is no hole: {fault.message}"),
        where=Place(line=line),
        remedy=fault.remedy or "Correct the row and plan again; nothing of it is drilled.",
    )


def _check(columns: list[str], name: str) -> None:
    """Refuse a header that leaves a meaning or a unit open."""
    for column in columns:
        if column in (*_LENGTHS, *_SMALLS):
            units = " or ".join(
                f"{column}_{unit}" for unit in (_LENGTH if column in _LENGTHS else _SMALL)
            )
            raise InputError(
                f"the column {column!r} has no unit",
                code="columns-unknown",
                where=name,
                remedy=f"Write {units}.",
            )
        expect_column(column, COLUMNS, where=name)
    stems = [_stem(column) for column in columns]
    twice = sorted({stem for stem in stems if stems.count(stem) > 1})
    clash = {"lean_deg", "i"} <= set(columns) or {"face_lean_deg", "ni"} <= set(columns)
    if twice or clash:
        what = ", ".join(twice) or "a direction, as vector and as angles"
        raise InputError(f"given in two columns: {what}", code="columns-twice", where=name)
    groups: tuple[tuple[str, ...], ...] = (
        ("i", "j", "k"),
        ("ni", "nj", "nk"),
        ("lean_deg", "heading_deg"),
        ("face_lean_deg", "face_heading_deg"),
    )
    missing = [need for need in _NEEDED if need not in stems]
    missing += [
        part
        for group in groups
        if set(group) & set(columns)
        for part in group
        if part not in columns
    ]
    if missing:
        raise InputError(
            f"the table has no column for {', '.join(missing)}", code="columns-missing", where=name
        )


def _stem(column: str) -> str:
    return column.rpartition("_")[0] if column in _FACTORS else column


@dataclass(slots=True, kw_only=True)
class _Reader:
    """Turns cells into holes."""

    usual: Usual
    ids: dict[str, int] = field(default_factory=dict)

    def hole(self, cells: Row, line: int) -> Hole:
        """Return the hole of a row."""
        said = {column: text.strip() for column, text in cells.items() if text.strip()}
        values = {
            _stem(column): _signed(text, column) * _FACTORS.get(column, 1.0)
            for column, text in said.items()
            if column not in _WORDS
        }
        missing = [need for need in _NEEDED if need not in values]
        if missing:
            raise InputError(f"there is no {' and no '.join(missing)}", code="cell-missing")
        into = _direction(values, ("i", "j", "k"), ("lean_deg", "heading_deg")) or DOWN
        outward = _outward(values) or UP
        is_through = _through(said.get("kind", "through"))
        hole = Hole(
            id=self._id(said.get("id", f"L{line}"), line),
            mouth_mm=(values["x"], values["y"], values.get("z", 0.0)),
            into=into,
            outward=outward,
            diameter_mm=values["diameter"],
            depth_mm=values.get("depth") or self._thickness(into, outward, is_through=is_through),
            is_through=is_through,
            room_mm=_positive(values, "room"),
            tolerance_um=_positive(values, "tolerance") or self.usual.tolerance_um,
            position_um=_positive(values, "position") or self.usual.position_um,
            max_recast_um=_positive(values, "recast") or self.usual.max_recast_um,
            group=said.get("group", ""),
            line=line,
        )
        self.ids[hole.id] = line
        return hole

    def _id(self, text: str, line: int) -> str:
        if text in self.ids:
            raise InputError(
                f"hole {text} stands in line {self.ids[text]} already",
                code="hole-id-twice",
                remedy="Give each hole a name of its own.",
            )
        if not all(c.isascii() and (c.isalnum() or c in "_.-") for c in text):
            raise InputError(
                f"the name {text!r} does not fit in a program header",
                code="hole-id",
                remedy="Use letters, digits, dot, hyphen and underscore.",
            )
        del line
        return text

    def _thickness(self, into: Vector, outward: Vector, *, is_through: bool) -> float:
        """Return the depth through a plate with level faces."""
        if not is_through:
            raise InputError("a blind hole has no depth", code="cell-missing")
        if self.usual.thickness_mm is None or outward != UP or into[2] >= 0:
            raise InputError(
                "it has no depth, and lies in no plate of known height",
                code="cell-missing",
                remedy="Give its depth along the axis, or --height for a plate with level faces.",
            )
        return self.usual.thickness_mm / -into[2]


def _through(text: str) -> bool:
    if text.casefold() not in _KINDS:
        raise InputError(f"the kind {text!r} is not through or blind", code="kind-unknown")
    return _KINDS[text.casefold()]


def _signed(text: str, what: str) -> float:
    plain = text.replace("\N{MINUS SIGN}", "-")
    sign = -1.0 if plain.startswith("-") else 1.0
    value = number(plain.lstrip("+-") if plain[:1] in "+-" else plain, what=what)
    return sign * value


def _positive(values: Mapping[str, float], name: str) -> float | None:
    value = values.get(name)
    if value is not None and not value > 0:
        raise InputError(f"the {name} is {value:g}, and must be above 0", code="hole-value")
    return value


def _direction(
    values: Mapping[str, float], vector: tuple[str, str, str], angles: tuple[str, str]
) -> Vector | None:
    if any(name in values for name in vector):
        if not all(name in values for name in vector):
            raise InputError(f"the vector lacks one of {', '.join(vector)}", code="cell-missing")
        return unit_vector((values[vector[0]], values[vector[1]], values[vector[2]]))
    if angles[0] in values:
        lean = values[angles[0]]
        if not 0 <= lean <= 180:
            raise InputError(
                f"a lean is from 0 to 180°, got {lean:g}",
                code="hole-value",
                remedy="The heading says to which side it leans.",
            )
        if lean and angles[1] not in values:
            raise InputError(f"it leans {lean:g}° and has no {angles[1]}", code="cell-missing")
        return leaning(lean, heading_deg=values.get(angles[1], 0.0))
    return None


def _outward(values: Mapping[str, float]) -> Vector | None:
    """Return the normal of the face; a face that leans has its normal leaning from straight up."""
    found = _direction(values, ("ni", "nj", "nk"), ("face_lean_deg", "face_heading_deg"))
    if found is None or "ni" in values:
        return found
    return (found[0], found[1], math.copysign(abs(found[2]), -found[2]))
