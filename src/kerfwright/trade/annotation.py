"""Words and dimensions of a drawing as drawn, before anybody asks what they mean."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kerfwright.foundation.findings import NOWHERE, Place


class AnnotationKind(StrEnum):
    """What a drawing writes its words with."""

    TEXT = "text"
    DIMENSION = "dimension"
    LEADER = "leader"
    """Words at the end of a line that points at something."""
    TITLE_BLOCK = "title block"
    """A filled-in field of an inserted block; its tag says what for."""
    FRAME = "tolerance frame"
    """A geometrical tolerance, ISO 1101 or ASME Y14.5; shown, not interpreted."""
    UNREAD = "not read"
    """A kind whose words are not read: a table, a picture, a linked object."""


MEASURED: Final = "<>"
"""Stands for the measured value in the words of a dimension."""


class Measures(StrEnum):
    """What a dimension measures."""

    LENGTH = "length"
    DIAMETER = "diameter"
    RADIUS = "radius"
    ANGLE = "angle"
    ORDINATE = "ordinate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimensioned:
    """The numbers of a dimension.

    Attributes
    ----------
    measures : Measures
    drawn_mm : float or None
        Distance between its points as drawn; None for an angle.
    factor : float
        What the drawing multiplies drawn lengths by before it writes them; 1 where the part is
        drawn at its size.
    upper_um, lower_um : float or None
        Deviations that the dimension's style or its overrides give, µm; None where they give none.
    shown_unit_mm : float
        Length of the unit that the dimension writes in, mm.
    override : str
        Words in place of the measured value; ``<>`` in them stands for it.
    picture : str
        Words of the picture that the drawing program left of it; older than the measure, maybe.
    """

    measures: Measures
    drawn_mm: float | None
    factor: float = 1.0
    upper_um: float | None = None
    lower_um: float | None = None
    shown_unit_mm: float = 1.0
    override: str = ""
    picture: str = ""

    @property
    def has_own_words(self) -> bool:
        """Whether words stand in place of the measured value, which no factor changes."""
        return bool(self.override.strip()) and MEASURED not in self.override


@dataclass(frozen=True, slots=True, kw_only=True)
class Annotation:
    """One thing that the drawing says, word for word.

    Attributes
    ----------
    kind : AnnotationKind
    text : str
        Without formatting codes; lines are separated by a line feed.
    label : str
        Tag of a title block's field, else empty.
    where : Place
        Entity with its handle, layer, and point in the drawing's coordinates; words on a paper
        sheet have no point there.
    sheet : str
        Name of the paper sheet, empty for the model itself.
    points_mm : tuple of (float, float)
        What a dimension measures between, or a leader points at.
    size : Dimensioned or None
        Of a dimension.
    """

    kind: AnnotationKind
    text: str
    label: str = ""
    where: Place = NOWHERE
    sheet: str = ""
    points_mm: tuple[tuple[float, float], ...] = ()
    size: Dimensioned | None = None
