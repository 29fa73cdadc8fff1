"""Findings: what was noticed about a drawing, a plan or a program, as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class Severity(StrEnum):
    """How much a finding matters."""

    NOTE = "note"
    """For information; nothing needs doing."""
    WARNING = "warning"
    """Someone should look before metal is cut."""
    REFUSAL = "refusal"
    """What it names will not be cut as asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a finding applies; every field may be unknown.

    Attributes
    ----------
    contour_id : str or None
        Contour as numbered in the plan.
    x_mm, y_mm : float or None
        Point in drawing coordinates, in millimetres.
    layer, entity : str or None
        Layer of the drawing and kind (with handle) of the entity.
    line, column : int or None
        Place in a text file, counted from 1.
    pass_number : int or None
        Pass of the wire, the rough pass being 1.
    """

    contour_id: str | None = None
    x_mm: float | None = None
    y_mm: float | None = None
    layer: str | None = None
    entity: str | None = None
    line: int | None = None
    column: int | None = None
    pass_number: int | None = None

    def __str__(self) -> str:
        parts: list[str] = []
        if self.contour_id is not None:
            parts.append(f"contour {self.contour_id}")
        if self.pass_number is not None:
            parts.append(f"pass {self.pass_number}")
        if self.layer is not None:
            parts.append(f"layer {self.layer}")
        if self.entity is not None:
            parts.append(self.entity)
        if self.x_mm is not None and self.y_mm is not None:
            # With its unit, as every length in a message: whoever reads inches is told inches.
            parts.append(f"X{_thousandths(self.x_mm)} mm Y{_thousandths(self.y_mm)} mm")
        if self.line is not None:
            parts.append(f"line {self.line}" + (f":{self.column}" if self.column else ""))
        return ", ".join(parts)


def _thousandths(value_mm: float) -> str:
    """Write a coordinate to a micrometre; a zero has no sign.

    >>> _thousandths(-0.0001), _thousandths(12.5)
    ('0.000', '12.500')
    """
    text = f"{value_mm:.3f}"
    return text if text.strip("-0.") else text.lstrip("-")


NOWHERE = Place()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing noticed, with its place, its number and what to do about it.

    Attributes
    ----------
    code : str
        Stable kebab-case name, such as ``"inside-radius-too-small"``.
    severity : Severity
    message : str
        One sentence with the measured number, the limit and both units.
    where : Place
    remedy : str
        What would make it go away; empty for notes.
    data : mapping of str to float, int or str
        The numbers of the message for scripts; names carry their units.
    """

    code: str
    severity: Severity
    message: str
    where: Place = NOWHERE
    remedy: str = ""
    data: Mapping[str, float | int | str] = field(default_factory=lambda: MappingProxyType({}))


UNIT_DOUBTS: Final = frozenset(
    {"unit-contradicted", "unit-overruled", "drawn-at-a-scale", "size-unusual"}
)
"""Codes of what puts every length in doubt: the unit, or the scale."""
_WEIGHTS: Final = (Severity.REFUSAL, Severity.WARNING, Severity.NOTE)


def rank(one: Finding) -> tuple[bool, int]:
    """Return what findings are listed by: doubts of the unit first, then the weightiest.

    Nothing else of a drawing is worth reading while its lengths may be 25.4 times too long.
    """
    return one.code not in UNIT_DOUBTS, _WEIGHTS.index(one.severity)
