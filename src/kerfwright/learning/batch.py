"""A batch of measured cuts as it was read."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.findings import Finding
from kerfwright.learning.records import MeasuredCut


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedRow:
    """A row that cannot be used, kept as it was written.

    Attributes
    ----------
    line : int
        Counted from 1.
    text : str
    finding : Finding
        The reason.
    """

    line: int
    text: str
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class CutBatch:
    """The rows of one table: those taken and those refused.

    Attributes
    ----------
    cuts : tuple of MeasuredCut
    refused : tuple of RefusedRow
    name : str
        Name of the file.
    """

    cuts: tuple[MeasuredCut, ...]
    refused: tuple[RefusedRow, ...] = ()
    name: str = ""
