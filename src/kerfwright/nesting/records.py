"""What is to be nested, what was found, and how a packing engine is asked."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from kerfwright.foundation.errors import InputError
from kerfwright.geometry.contour import Contour
from kerfwright.geometry.segments import Floats


class Turns(StrEnum):
    """How a part may be turned in the sheet."""

    NONE = "none"
    """As drawn."""
    ALONG = "along"
    """As drawn or by half a turn: the rolling direction stays along the same line."""
    QUARTER = "quarter"
    """By quarter turns."""
    FREE = "free"
    """By any angle."""

    @property
    def angles_deg(self) -> tuple[float, ...]:
        """The angles that are allowed; empty for any."""
        return {
            Turns.NONE: (0.0,),
            Turns.ALONG: (0.0, 180.0),
            Turns.QUARTER: (0.0, 90.0, 180.0, 270.0),
            Turns.FREE: (),
        }[self]

    def within(self, parent: Turns) -> Turns | None:
        """Return how a part may be turned inside one that is turned itself; None for not at all.

        >>> Turns.ALONG.within(Turns.ALONG), Turns.NONE.within(Turns.QUARTER)
        (<Turns.ALONG: 'along'>, None)
        """
        if self is Turns.FREE:
            return Turns.FREE
        mine, theirs = self.angles_deg, parent.angles_deg
        return self if theirs and set(theirs) <= set(mine) else None


class Want(StrEnum):
    """What counts first among nests that need as much material, nearly."""

    MATERIAL = "material"
    WAY = "way"
    """The shortest way of the wire between the parts."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kind:
    """Parts of one shape.

    Attributes
    ----------
    id : str
        Unique in the instance.
    outline : Contour
        Closed, counter-clockwise, mm.
    openings : tuple of Contour
        Inside the outline.
    quantity : int
    turns : Turns
    islands : tuple of Contour
        Outlines inside the openings that come with the drawing: nothing is put beside them.
    """

    id: str
    outline: Contour
    openings: tuple[Contour, ...] = ()
    quantity: int = 1
    turns: Turns = Turns.QUARTER
    islands: tuple[Contour, ...] = ()

    def __post_init__(self) -> None:
        if self.quantity < 1:
            raise InputError(f"{self.id}: a quantity is 1 or more, got {self.quantity}",
                             code="nest-quantity")  # fmt: skip

    @property
    def area_mm2(self) -> float:
        """Area of the metal, mm²."""
        holes = sum(abs(c.area_mm2) for c in self.openings)
        return abs(self.outline.area_mm2) - holes + sum(abs(c.area_mm2) for c in self.islands)

    def placed(self, place: Placement) -> Kind:
        """Return the same part where a placement puts it."""

        def put(contour: Contour) -> Contour:
            return contour.transformed(
                turn_rad=math.radians(place.turn_deg), shift_mm=(place.x_mm, place.y_mm)
            )

        return Kind(
            id=self.id,
            outline=put(self.outline),
            openings=tuple(map(put, self.openings)),
            islands=tuple(map(put, self.islands)),
            turns=self.turns,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """Material to cut from.

    Attributes
    ----------
    id : str
        Unique in the instance.
    outline : Contour
        Closed, mm.
    holes : tuple of Contour
        Where metal is gone already.
    clamps : tuple of Contour
        Zones that the wire and the nozzles stay out of.
    count : int or None
        Sheets of this kind at hand; None for as many as it takes.
    remnant : str
        Name of the remnant this is; empty for a new sheet.
    """

    id: str
    outline: Contour
    holes: tuple[Contour, ...] = ()
    clamps: tuple[Contour, ...] = ()
    count: int | None = 1
    remnant: str = ""

    @property
    def area_mm2(self) -> float:
        """Area of the metal, mm²."""
        return abs(self.outline.area_mm2) - sum(abs(c.area_mm2) for c in self.holes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What stays free around each part.

    Attributes
    ----------
    between_mm : float
        From outline to outline: two rough kerfs and the web between them.
    edge_mm : float
        From an outline to the edge of the sheet.
    clamp_mm : float
        From an outline to a clamp: the nozzle passes there.
    """

    between_mm: float
    edge_mm: float
    clamp_mm: float

    def __post_init__(self) -> None:
        for name in ("between_mm", "edge_mm", "clamp_mm"):
            value = getattr(self, name)
            if not (value >= 0 and math.isfinite(value)):
                raise InputError(
                    f"{name} must be 0 or more, got {value}", code="nest-room"
                )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Instance:
    """What is to be nested.

    Attributes
    ----------
    kinds : tuple of Kind
    sheets : tuple of Sheet
        In the order in which they are used.
    room : Room
    want : Want
    """

    kinds: tuple[Kind, ...]
    sheets: tuple[Sheet, ...]
    room: Room
    want: Want = Want.MATERIAL

    def __post_init__(self) -> None:
        for what, ids in (("kinds", self.kinds), ("sheets", self.sheets)):
            names = [one.id for one in ids]
            if not names or len(set(names)) < len(names):
                raise InputError(
                    f"a nest needs {what} with names of their own, got {names}", code="nest-empty"
                )

    def kind(self, name: str) -> Kind:
        """Return the kind of that id."""
        return next(k for k in self.kinds if k.id == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where one part lies: turned about the zero point of its drawing, then shifted.

    Attributes
    ----------
    kind : str
    copy : int
        From 1.
    sheet : int
        Index among the sheets used.
    turn_deg : float
    x_mm, y_mm : float
    inside : (str, int) or None
        Kind and copy of the part in whose opening it lies.
    """

    kind: str
    copy: int
    sheet: int
    turn_deg: float
    x_mm: float
    y_mm: float
    inside: tuple[str, int] | None = None

    @property
    def name(self) -> str:
        """Kind and copy in one word."""
        return f"{self.kind} {self.copy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """A nest.

    Attributes
    ----------
    sheets : tuple of str
        Ids of the sheets used, one entry for each.
    placements : tuple of Placement
    unplaced : mapping of str to int
        Parts that found no room, by kind.
    method : str
        Who placed them, in words.
    stopped : bool
        Whether a person or the end of the time cut the search short of its budget.
    """

    sheets: tuple[str, ...]
    placements: tuple[Placement, ...]
    unplaced: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    method: str = ""
    stopped: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Item:
    """A shape as a packing engine gets it: a polygon that covers the part.

    Attributes
    ----------
    id : str
    points : (n, 2) float
        Counter-clockwise, mm, not closed.
    demand : int
    angles_deg : tuple of float
        Empty for any.
    """

    id: str
    points: Floats
    demand: int
    angles_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Problem:
    """A band of given width that is to be as short as possible.

    Attributes
    ----------
    items : tuple of Item
    width_mm : float
        Across the band; parts keep ``between_mm`` from its edges too.
    between_mm : float
    budget_s : float
    seed : int
    steps : int or None
        After how many steps of its own the engine ends; None for the end of its time.
    """

    items: tuple[Item, ...]
    width_mm: float
    between_mm: float
    budget_s: float
    seed: int
    steps: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where an engine put one copy of an item."""

    item: str
    turn_deg: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """A band with all items in it.

    Attributes
    ----------
    length_mm : float
        Of the band, with ``between_mm`` at both ends.
    spots : tuple of Spot
    """

    length_mm: float
    spots: tuple[Spot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """What an engine found: every band that bettered the one before, the shortest last.

    Attributes
    ----------
    bands : tuple of Packed
    stopped : bool
        Whether it was ended before its budget was used up.
    """

    bands: tuple[Packed, ...]
    stopped: bool = False


Tell = Callable[[str, float], None]
"""Told what is going on and the share done."""
Stop = Callable[[], bool]
"""Asked now and then whether to end with what there is."""
Packer = Callable[[Problem, Tell, Stop], Packing]
"""A packing engine."""
