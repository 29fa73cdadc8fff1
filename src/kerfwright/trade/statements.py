"""What words of a drawing ask, as readings that a person may take or leave."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class Asks(StrEnum):
    """What a statement is about."""

    TOLERANCE = "tolerance"
    GENERAL_TOLERANCE = "general tolerance"
    """Holds wherever a dimension gives none of its own."""
    ANGLE_TOLERANCE = "angle tolerance"
    FRAME = "geometrical tolerance"
    POSITION = "position"
    """A distance with limits that runs to a centre: it asks where a contour lies."""
    FIT = "fit"
    FINISH = "finish"
    RECAST = "recast layer"
    MATERIAL = "material"
    HARDNESS = "hardness"
    QUANTITY = "quantity"
    HEIGHT = "height"
    UNIT = "unit"
    SCALE = "scale"
    SIZE = "size"
    ANGLE = "angle"
    RADIUS = "radius"
    HOLE = "hole"
    THREAD = "thread"
    DATE = "date"
    DUE = "wanted by"
    CUSTOMER = "customer"
    REVISION = "revision"
    PART_NAME = "part name"
    PART_NUMBER = "part number"
    DEFAULTS = "defaults"
    """Says that what stands beside it holds where nothing else is written."""
    OTHER_WORK = "other work"
    """Work besides the cut: grinding, hardening, deburring, marking, inspection."""
    TITLE_BLOCK = "title block"
    NOT_UNDERSTOOD = "not understood"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One way to understand a statement.

    Attributes
    ----------
    words : str
        The value in plain words and our units.
    data : mapping of str to float, int or str
        The same for scripts; names carry their units.
    option : str
        What to add to ``kerfwright plan`` to apply it, quoted for a shell; empty where there is
        nothing to apply.
    of_picked : str
        What to ask of contours that a person picks, as ``tolerance=±0.005mm``, where the drawing
        leaves open which; there is no option then.
    """

    words: str
    data: Mapping[str, float | int | str] = field(default_factory=lambda: MappingProxyType({}))
    option: str = ""
    of_picked: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One thing asked, in the words of the drawing.

    Attributes
    ----------
    asks : Asks
    text : str
        The words themselves.
    readings : tuple of Reading
        One where the words are clear; several where they may mean several things, the likeliest
        first; none where they are recognised but give no value.
    remark : str
        What a person should know before taking it; else empty.
    """

    asks: Asks
    text: str
    readings: tuple[Reading, ...] = ()
    remark: str = ""

    @property
    def is_ambiguous(self) -> bool:
        """Whether the words may mean several things."""
        return len(self.readings) > 1


def option(name: str, value: str) -> str:
    """Return an option as a person can paste it into a shell.

    Words of a stranger's drawing pass through here: they are quoted, whatever they hold.

    >>> option("material", "AISI D2 tool steel")
    "--material 'AISI D2 tool steel'"
    """
    return f"--{name} {value if _PLAIN.issuperset(value) else shlex.quote(value)}"


_PLAIN: Final = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.,+-±/µ_%")
"""Letters that no shell takes for anything but themselves."""
