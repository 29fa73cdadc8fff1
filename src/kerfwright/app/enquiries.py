"""An enquiry: a drawing that came in, and what is asked of it line by line, as texts.

An enquiry may be incomplete: it becomes a :class:`~kerfwright.app.records.JobRequest` once it has
a material and a height, see :mod:`kerfwright.app.enquiry_lines`.  This module loads nothing heavy:
a list of enquiries is shown before anything that computes is loaded.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.errors import InputError
from kerfwright.trade.drawing_files import is_solid_name

Asked = Mapping[str, str]
"""Text of each line that says something, by the name of the line."""

NEEDED: Final = ("material", "height")
"""Without these nothing can be planned; a solid has a height of its own."""

OF_SOLIDS: Final = ("solid", "wire-along")
"""Lines that only a solid has."""
NOT_OF_SOLIDS: Final = ("stack", "holding", "covers")
"""Lines that a solid has not: it is planned alone, at its own heights."""

DUTY_FREE: Final = ("customer", "reference", "revision", "due")
"""Lines that change nothing in plan or price."""

LINES: Final = (
    *DUTY_FREE,
    *NEEDED,
    "quantity",
    "stack",
    "holding",
    "covers",
    "tolerance",
    "finish",
    "recast",
    "wire",
    "machine",
    "units",
    *OF_SOLIDS,
    "nozzles",
    "corners",
    "coreless",
    "strings",
    "stock-margin",
    "clamps",
)
"""Every line, in the order in which a note block is read."""

LAYER: Final = "layer "
"""Begins the name of a line that says what a layer of the drawing is for."""
CONTOUR: Final = "contour "
"""Begins the name of a line that demands something of single contours."""
ROLE: Final = "role "
"""Begins the name of a line that says what a contour is."""
START: Final = "start "
LEAD_IN: Final = "lead-in "
TAB: Final = "tab "
"""Begin the names of lines that say where start hole, lead-in and tab of a contour are."""
TAB_WIDTH: Final = "tab-width "
"""Begins the name of a line that says how wide the tab of a contour is."""
CORELESS: Final = "coreless "
"""Begins the name of a line that says what becomes of the inside of an opening."""
TAPER: Final = "taper "
"""Begins the name of a line that says how the wall of a contour leans."""
PLACES: Final = (START, LEAD_IN, TAB)
OF_CONTOURS: Final = (CONTOUR, ROLE, *PLACES, TAB_WIDTH, CORELESS, TAPER)
"""Beginnings of the lines about single contours: one line a contour is kept, though several may
be written at once with commas between them."""

_MOST_STEPS = 100
"""Steps that can be undone; more would make the file of an enquiry grow without end."""


class Stage(StrEnum):
    """How far an enquiry has come."""

    OPEN = "open"
    QUOTED = "quoted"
    ORDERED = "ordered"
    DONE = "done"
    DECLINED = "declined"


@dataclass(frozen=True, slots=True, kw_only=True)
class Enquiry:
    """One drawing and what is asked of it.

    Attributes
    ----------
    id : str
        Name of its folder.
    title : str
        Name of the drawing as it came.
    drawing : str
        File name inside the folder.
    drawing_sha256 : str
    added : str
        When it came in, ISO 8601 with the time zone.
    stage : Stage
    asked : mapping of str to str
    revision : int
        Goes up by one with every change.
    past, future : tuple of mappings
        Earlier and undone states of ``asked``, the nearest last.
    proved_revision : int
        Revision whose program passed its proof and lies in the folder; 0 for none.
    figures : str
        Name of the shop's figures by which that program was proved.
    outcome : mapping of str to str
        The last price and what needs attention, for the list.
    """

    id: str
    title: str
    drawing: str
    drawing_sha256: str
    added: str
    stage: Stage = Stage.OPEN
    asked: Asked = field(default_factory=lambda: MappingProxyType({}))
    revision: int = 1
    past: tuple[Asked, ...] = ()
    future: tuple[Asked, ...] = ()
    proved_revision: int = 0
    figures: str = ""
    outcome: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def is_solid(self) -> bool:
        """Whether a solid came in, and no drawing."""
        return is_solid_name(self.drawing)

    @property
    def missing(self) -> tuple[str, ...]:
        """Lines that must be filled before anything can be planned."""
        needed = needed_lines(is_solid=self.is_solid)
        return tuple(name for name in needed if not self.asked.get(name))

    def with_lines(self, lines: Asked) -> Enquiry:
        """Return the enquiry with lines set; an empty text takes a line away."""
        each = {one: text for name, text in lines.items() for one in single_lines(name)}
        after = {name: text.strip() for name, text in (dict(self.asked) | each).items()}
        own = sorted(
            (name for name in after if name.startswith((LAYER, *OF_CONTOURS))), key=_counted
        )
        after = {name: after[name] for name in (*LINES, *own) if after.get(name)}
        if after == dict(self.asked):
            return self
        return self._moved(after, past=(*self.past, self.asked)[-_MOST_STEPS:], future=())

    def asking(self, asked: Asked) -> Enquiry:
        """Return the enquiry asking what it asked once; that can be undone as any other change."""
        if dict(asked) == dict(self.asked):
            return self
        return self._moved(asked, past=(*self.past, self.asked)[-_MOST_STEPS:], future=())

    def undone(self) -> Enquiry:
        """Return the enquiry before its last change.

        Raises
        ------
        InputError
            Code ``nothing-to-undo``.
        """
        if not self.past:
            raise InputError("there is nothing to undo", code="nothing-to-undo")
        return self._moved(self.past[-1], past=self.past[:-1], future=(*self.future, self.asked))

    def redone(self) -> Enquiry:
        """Return the enquiry with the change that was undone last.

        Raises
        ------
        InputError
            Code ``nothing-to-redo``.
        """
        if not self.future:
            raise InputError("there is nothing to do again", code="nothing-to-redo")
        return self._moved(self.future[-1], past=(*self.past, self.asked), future=self.future[:-1])

    def at_stage(self, stage: Stage) -> Enquiry:
        """Return the enquiry at another stage."""
        if stage is self.stage:
            return self
        return replace(self, stage=stage, revision=self.revision + 1)

    def _moved(
        self, asked: Asked, *, past: tuple[Asked, ...], future: tuple[Asked, ...]
    ) -> Enquiry:
        return replace(
            self,
            asked=MappingProxyType(dict(asked)),
            past=past,
            future=future,
            revision=self.revision + 1,
        )


def needed_lines(*, is_solid: bool) -> tuple[str, ...]:
    """Return the lines without which nothing of a drawing, or of a solid, can be planned."""
    return tuple(name for name in NEEDED if not (is_solid and name == "height"))


def placed_contours(lines: Mapping[str, str]) -> frozenset[str]:
    """Return the contours of which some lines place a start, a lead-in or a tab, or size a tab.

    Parameters
    ----------
    lines : mapping of str to str
        Lines that are written, by name; an empty one places nothing.
    """
    return frozenset(
        one.removeprefix(begin)
        for name, text in lines.items()
        for begin in (*PLACES, TAB_WIDTH)
        if name.startswith(begin) and text.strip()
        for one in single_lines(name)
    )


def single_lines(name: str) -> tuple[str, ...]:
    """Return the line of each contour that a line names; any other line as it is.

    >>> single_lines("contour h1, H2"), single_lines("tolerance")
    (('contour H1', 'contour H2'), ('tolerance',))
    """
    begin = next((b for b in OF_CONTOURS if name.startswith(b)), None)
    if begin is None:
        return (name,)
    ids = re.split(r"[,;\s]+", name.removeprefix(begin).strip().upper())
    return tuple(begin + one for one in dict.fromkeys(ids) if one)


def _counted(name: str) -> list[tuple[int, str]]:
    """Return a key that puts H2 before H10."""
    return [(int(p), "") if p.isdigit() else (-1, p) for p in re.split(r"(\d+)", name)]


def changes_the_job(before: Asked, after: Asked) -> bool:
    """Return whether two states differ in more than what stands on papers only."""
    names = (set(before) | set(after)) - set(DUTY_FREE)
    return any(before.get(name) != after.get(name) for name in names)


def leaves_stacks(before: Asked, after: Asked) -> bool:
    """Return whether two states differ in nothing that the cost of stacks follows from.

    That of each number is known, whichever of them is asked for.
    """
    names = (set(before) | set(after)) - {*DUTY_FREE, "stack"}
    return all(before.get(name) == after.get(name) for name in names)
