"""What a drawing gives: contours with roles, start points and what was left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from kerfwright.foundation.findings import Finding
from kerfwright.geometry.contour import Contour
from kerfwright.trade.annotation import Annotation

if TYPE_CHECKING:
    from kerfwright.trade.solids import Solid


class Role(StrEnum):
    """What a closed contour bounds."""

    OPENING = "opening"
    """The material inside leaves: die, hole, slot."""
    OUTLINE = "outline"
    """The material outside leaves: punch, part."""


class LengthUnit(StrEnum):
    """Unit of a drawing or a program."""

    MILLIMETRE = "mm"
    INCH = "in"


class Face(StrEnum):
    """Which face of the work is read from a drawing that holds both, one above the other."""

    BOTTOM = "bottom"
    TOP = "top"


class LayerUse(StrEnum):
    """What the geometry on a layer of a drawing is for, where a person says so."""

    OPENING = "opening"
    """Every contour is an opening, however deep it lies."""
    OUTLINE = "outline"
    """Every contour is an outline."""
    IGNORE = "ignore"
    """Kept for the picture only."""
    START = "start"
    """Circles and points are start holes that exist."""
    STOCK = "stock"
    """The outline of the stock."""
    CLAMP = "clamp"
    """Every closed contour is the place of a clamp, which the nozzles keep away from."""


class ContourUse(StrEnum):
    """What one contour is, where a person says so."""

    OPENING = "opening"
    OUTLINE = "outline"
    NOT_CUT = "not-cut"
    """A wall that is there, or that another process makes: kept clear of, but not cut."""
    REFERENCE = "reference"
    """A line for the eye only: no wall."""
    START = "start"
    """A circle that is a start hole."""
    STOCK = "stock"
    """The edge of the stock."""


class RoleFrom(StrEnum):
    """Who gave a contour its role."""

    DRAWING = "drawing"
    """Read from how the contours lie in each other."""
    LAYER = "layer"
    """A person, for the whole layer."""
    PERSON = "person"
    """A person, for this contour."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartContour:
    """One closed contour of the part.

    Attributes
    ----------
    id : str
        Outlines are ``P1``, ``P2`` …, openings ``H1``, ``H2`` …, in drawing order.  A name stays
        as it was read where a person gives another role.
    role : Role
    contour : Contour
        Closed, in mm, travelled with the part's material on the left: outlines
        counter-clockwise, openings clockwise.
    layer : str
        Layer of the first entity.
    entities : tuple of str
        Kinds and handles of the entities it was made from, ``"LINE 2A"``.
    parent_id : str or None
        The contour directly around this one.
    role_from : RoleFrom
    is_cut : bool
        False where a person said that it is not to be cut.
    use : ContourUse or None
        The person's word on this contour.
    """

    id: str
    role: Role
    contour: Contour
    layer: str
    entities: tuple[str, ...]
    parent_id: str | None = None
    role_from: RoleFrom = RoleFrom.DRAWING
    is_cut: bool = True
    use: ContourUse | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenStart:
    """A start hole that the drawing gives on a layer of its own.

    Attributes
    ----------
    x_mm, y_mm : float
    diameter_mm : float
        0 where the drawing gives a point only.
    """

    x_mm: float
    y_mm: float
    diameter_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """A drawing as read, in millimetres.

    Attributes
    ----------
    name : str
        File name without folder.
    sha256 : str
        Digest of the file's bytes.
    drawing_unit : LengthUnit
        Unit the drawing was read in.
    contours : tuple of PartContour
        Usable closed contours.
    given_starts : tuple of GivenStart
    stock : Contour or None
        Outline of the stock, if the drawing gives it on a layer.
    clamps : tuple of Contour
        Places of clamps that the drawing gives on a layer, counter-clockwise.
    construction : tuple of Contour
        Open or ignored chains kept for the picture only.
    left_out : mapping of str to int
        Entities not used, counted by kind.
    findings : tuple of Finding
        Repairs, refusals and remarks.
    annotations : tuple of Annotation
        What the drawing says, word for word; nothing of it is applied.
    set_aside : tuple of PartContour
        Contours that a person said are no walls: reference lines, start holes, the stock.
    solid : Solid or None
        Where the part was read from a solid: what it gives beside its contours.
    """

    name: str
    sha256: str
    drawing_unit: LengthUnit
    contours: tuple[PartContour, ...]
    given_starts: tuple[GivenStart, ...]
    stock: Contour | None
    construction: tuple[Contour, ...]
    left_out: Mapping[str, int]
    findings: tuple[Finding, ...]
    annotations: tuple[Annotation, ...] = ()
    set_aside: tuple[PartContour, ...] = ()
    clamps: tuple[Contour, ...] = ()
    solid: Solid | None = None

    @property
    def to_cut(self) -> tuple[PartContour, ...]:
        """Contours that the wire is to cut; the others are kept clear of."""
        return tuple(c for c in self.contours if c.is_cut)

    @property
    def ids(self) -> tuple[str, ...]:
        """Name of every closed contour that was read, whatever it is for."""
        return tuple(c.id for c in (*self.contours, *self.set_aside))
