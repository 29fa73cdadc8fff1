"""Cells of a title block: a label in one text, its value in another, to the right or below.

Where each stands is all that says they belong together.  What is found is only offered, under the
label, as a filled-in field of a block is.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from kerfwright.adapters.dxf.layers import attribute
from kerfwright.trade.callout_lines import is_label, may_be_value

_LETTER_WIDE: Final = 0.9
"""Width of a letter in heights of the text; common practice, no source: fonts are not read."""
_SAME_LINE: Final = 0.6
"""Heights by which the feet of two texts in a line may differ."""
_FARTHEST_RIGHT: Final = 15.0
_FARTHEST_BELOW: Final = 4.0
"""Heights from a label to its value; common practice, no source: cells are that large."""
_LEFT_OF_LABEL: Final = 2.0
_MOST_LETTERS: Final = 60
_MOST_LABELS: Final = 200
"""Labels of a drawing that are looked at; a title block has a dozen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """Where a text stands upright, in drawing units.

    Attributes
    ----------
    room : hashable
        Texts of one room share coordinates: a paper sheet, a block on it, or the model.
    x, y : float
        Left end of the foot of its letters.
    height_drawn : float
    """

    room: Hashable
    x: float
    y: float
    height_drawn: float


def foot_of(entity: Any, text: str) -> tuple[float, float, float] | None:
    """Return left end, foot and height of a text of one line; None where it is turned.

    Parameters
    ----------
    entity : DXF entity
        TEXT or MTEXT.
    text : str
        Its words without codes.
    """
    is_paragraph = entity.dxftype() == "MTEXT"
    height = float(attribute(entity, "char_height" if is_paragraph else "height", 0) or 0)
    is_turned = bool(float(attribute(entity, "rotation", 0) or 0))
    if not height > 0 or is_turned or "\n" in text.strip():
        return None
    at = attribute(entity, "insert", None)
    if is_paragraph:
        row, column = divmod(int(attribute(entity, "attachment_point", 1)) - 1, 3)
        share, down = (0.0, 0.5, 1.0)[column], (1.0, 0.5, 0.0)[min(row, 2)]
    else:
        across, over = (int(attribute(entity, name, 0)) for name in ("halign", "valign"))
        if across or over:
            at = attribute(entity, "align_point", at)
        share = {1: 0.5, 4: 0.5, 2: 1.0}.get(across, 0.0)
        down = 0.5 if across == 4 else {2: 0.5, 3: 1.0}.get(over, 0.0)
    if at is None:
        return None
    return float(at[0]) - share * _wide(text, height), float(at[1]) - down * height, height


def labels_of_values(texts: Sequence[tuple[str, Cell | None]]) -> dict[int, int]:
    """Return for each text that is a value the text that is its label, by their places.

    Parameters
    ----------
    texts : sequence of (str, Cell or None)
        Words, and where they stand; None for what stands in no cell.
    """
    rooms: dict[Hashable, list[tuple[int, str, Cell]]] = {}
    for number, (text, cell) in enumerate(texts):
        if cell is not None and len(text) <= _MOST_LETTERS:
            rooms.setdefault(cell.room, []).append((number, text, cell))
    found: dict[int, int] = {}
    for room in rooms.values():
        _pair(room, found)
    return found


def _pair(room: Sequence[tuple[int, str, Cell]], found: dict[int, int]) -> None:
    labels = [one for one in room if is_label(one[1])][:_MOST_LABELS]
    options: list[tuple[int, list[int | None]]] = []
    for number, text, cell in labels:
        sides = [_right(text, cell, room), _below(text, cell, room)]
        options.append((number, [_as_value(text, one) for one in sides]))
    # A block is laid out one way: labels of which only one side holds a value tell which.
    only = [[s is not None for s in sides] for _, sides in options]
    right, below = only.count([True, False]), only.count([False, True])
    first = 0 if right > below else 1
    for number, values in options:
        value = values[first] if values[first] is not None else values[1 - first]
        if value is not None:
            found.setdefault(value, number)


def _as_value(label: str, other: tuple[int, str, Cell] | None) -> int | None:
    return other[0] if other is not None and may_be_value(label, other[1]) else None


def _right(
    text: str, cell: Cell, room: Sequence[tuple[int, str, Cell]]
) -> tuple[int, str, Cell] | None:
    """Return the next text in the line of a label, whatever it says."""
    near = []
    end = cell.x + _wide(text, cell.height_drawn)
    for one in room:
        high = max(cell.height_drawn, one[2].height_drawn)
        gap = one[2].x - end
        is_near = one[2].x > cell.x + cell.height_drawn and gap <= _FARTHEST_RIGHT * high
        if is_near and abs(one[2].y - cell.y) <= _SAME_LINE * high:
            near.append(one)
    return min(near, key=lambda one: one[2].x, default=None)


def _below(
    text: str, cell: Cell, room: Sequence[tuple[int, str, Cell]]
) -> tuple[int, str, Cell] | None:
    """Return the next text under a label, whatever it says."""
    near = []
    end = cell.x + _wide(text, cell.height_drawn)
    for one in room:
        high = max(cell.height_drawn, one[2].height_drawn)
        drop = cell.y - one[2].y
        begins = cell.x - _LEFT_OF_LABEL * high <= one[2].x
        is_under = begins and one[2].x <= end
        if is_under and _SAME_LINE * high < drop <= _FARTHEST_BELOW * high:
            near.append(one)
    return max(near, key=lambda one: one[2].y, default=None)


def _wide(text: str, height: float) -> float:
    return _LETTER_WIDE * height * len(re.sub(r"\s+", " ", text.strip()))
