"""Small holes that a customer wants: where, which way, how large, how deep.

Coordinates are those of the drawing in mm, +Z up.  The *mouth* is the point where the axis of the
hole meets the face.  The *entry vector* points from the mouth into the work.  A *lean* is the
angle of the entry vector from straight down; its *heading* is the direction in which the hole moves
sideways on its way down, counter-clockwise from +X as seen from above.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.foundation.findings import Finding
from kerfwright.trade.drill import DrillMachine
from kerfwright.trade.material import Material
from kerfwright.trade.part import LengthUnit

Vector = tuple[float, float, float]

DOWN: Final[Vector] = (0.0, 0.0, -1.0)
UP: Final[Vector] = (0.0, 0.0, 1.0)
_UNIT_SLACK: Final = 1e-9


def unit_vector(vector: Vector) -> Vector:
    """Return a vector of length 1.

    Raises
    ------
    InputError
        Code ``vector-zero`` if it has no direction.

    Examples
    --------
    >>> unit_vector((0.0, 3.0, -4.0))
    (0.0, 0.6, -0.8)
    """
    length = math.hypot(*vector)
    if not 0 < length < math.inf:
        raise InputError(
            f"the vector {vector} has no direction",
            code="vector-zero",
            remedy="Give three numbers, such as 0, 0, -1 for straight down.",
        )
    return vector[0] / length, vector[1] / length, vector[2] / length


def leaning(lean_deg: float, *, heading_deg: float) -> Vector:
    """Return the entry vector of a lean and its heading.

    ``(sin l cos h, sin l sin h, -cos l)``

    Parameters
    ----------
    lean_deg : float
        From straight down.
    heading_deg : float
        Counter-clockwise from +X, seen from above.

    Examples
    --------
    >>> [round(part, 6) for part in leaning(30.0, heading_deg=90.0)]
    [0.0, 0.5, -0.866025]
    """
    lean, heading = math.radians(lean_deg), math.radians(heading_deg)
    return (
        math.sin(lean) * math.cos(heading),
        math.sin(lean) * math.sin(heading),
        -math.cos(lean),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """One hole as it is wanted.

    Attributes
    ----------
    id : str
    mouth_mm : (x, y, z)
    into : (i, j, k)
        Entry vector, of length 1.
    outward : (i, j, k)
        Of the face at the mouth, out of the work, of length 1.
    diameter_mm : float
    depth_mm : float
        Along the axis, from the mouth to the exit or the bottom.
    is_through : bool
    room_mm : float or None
        Clear way beyond the exit; None where nobody says.
    tolerance_um, position_um, max_recast_um : float or None
        Half zones of the diameter and of the place of the mouth, and the deepest recast layer;
        None where nothing is asked.
    group : str
    line : int or None
        Of the table it comes from.

    Raises
    ------
    InputError
        Code ``hole-value``.
    """

    id: str
    mouth_mm: Vector
    into: Vector = DOWN
    outward: Vector = UP
    diameter_mm: float
    depth_mm: float
    is_through: bool = True
    room_mm: float | None = None
    tolerance_um: float | None = None
    position_um: float | None = None
    max_recast_um: float | None = None
    group: str = ""
    line: int | None = None

    def __post_init__(self) -> None:
        """Refuse what is no hole."""
        for name, value in (("diameter", self.diameter_mm), ("depth", self.depth_mm)):
            if not 0 < value < math.inf:
                self._refuse(f"the {name} is {value:g} mm, and must be above 0")
        if not all(math.isfinite(v) for v in self.mouth_mm):
            self._refuse("the place is no point")
        for vector in (self.into, self.outward):
            if not abs(math.hypot(*vector) - 1) < _UNIT_SLACK:
                self._refuse(f"the vector {vector} is not of length 1")
        if not self.entry_cos > 0:
            self._refuse("the entry vector does not lead into the work: it leaves the face")

    def _refuse(self, message: str) -> None:
        raise InputError(f"hole {self.id}: {message}", code="hole-value")

    @property
    def entry_cos(self) -> float:
        """Cosine of the angle between the axis and the inward normal of the face."""
        return -math.fsum(a * b for a, b in zip(self.into, self.outward, strict=True))

    @property
    def slope_deg(self) -> float:
        """Angle between the axis and the normal of the face, 0 for a square entry."""
        return math.degrees(math.acos(min(1.0, self.entry_cos)))

    @property
    def lean_deg(self) -> float:
        """Angle of the axis from straight down."""
        return math.degrees(math.acos(max(-1.0, min(1.0, -self.into[2]))))


@dataclass(frozen=True, slots=True, kw_only=True)
class UnusedRow:
    """A row of a table that is no hole, kept as it was written.

    Attributes
    ----------
    line : int
        Counted from 1.
    text : str
    finding : Finding
    """

    line: int
    text: str
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleList:
    """Holes as read from one source.

    Attributes
    ----------
    name : str
        Of the file.
    sha256 : str
        Of its bytes.
    unit : LengthUnit
        That it is written in.
    holes : tuple of Hole
    unused : tuple of UnusedRow
        With the holes, every row of the source.
    findings : tuple of Finding
    """

    name: str
    sha256: str
    unit: LengthUnit
    holes: tuple[Hole, ...]
    unused: tuple[UnusedRow, ...] = ()
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleWork:
    """What is to be drilled, in what, on what.

    Attributes
    ----------
    source : HoleList
    material : Material
    machine : DrillMachine
    centre_mm : (x, y, z)
        Where the axes of turning cross, in coordinates of the drawing.
    clearance_mm : float or None
        Of the tube above the work on its way between holes; None for the table's.
    quantities : tuple of int
    """

    source: HoleList
    material: Material
    machine: DrillMachine
    centre_mm: Vector = (0.0, 0.0, 0.0)
    clearance_mm: float | None = None
    quantities: tuple[int, ...] = (1,)
