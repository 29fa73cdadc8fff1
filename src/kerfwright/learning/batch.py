"""Batches of measured cuts: as read, as added to those kept, as kept."""

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
    notes : tuple of Finding
        How rows were understood.
    """

    cuts: tuple[MeasuredCut, ...]
    refused: tuple[RefusedRow, ...] = ()
    name: str = ""
    notes: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What of a batch was new.

    Attributes
    ----------
    name : str
        Under which the new cuts are kept; empty if there was none.
    cuts : tuple of MeasuredCut
        The new ones.
    alike : tuple of MeasuredCut
        Those of them with job, pass, length and time of a cut kept before, but another finish,
        size, wire, breaks or note: perhaps the same cut, recorded when more was known.
    """

    name: str
    cuts: tuple[MeasuredCut, ...]
    alike: tuple[MeasuredCut, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptCuts:
    """Every cut of a shop that counts, and apart from them those that cannot.

    Attributes
    ----------
    cuts : tuple of MeasuredCut
    aside : tuple of RefusedRow
        Kept rows whose material or wire the tables have no more.
    too_late : int
        Cuts left out because the tables have no such pass any more.
    """

    cuts: tuple[MeasuredCut, ...]
    aside: tuple[RefusedRow, ...] = ()
    too_late: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptBatch:
    """One batch of a shop.

    Attributes
    ----------
    name : str
        Hash of its content.
    cuts : int
    jobs : tuple of str
    source : str
        Name of the table it was read from.
    withdrawn : str
        Why it was taken back; empty for a batch that counts.
    is_edited : bool
        Whether its file is not as it was recorded: then nothing is learned from the shop until it
        is put right.
    """

    name: str
    cuts: int
    jobs: tuple[str, ...]
    source: str
    withdrawn: str = ""
    is_edited: bool = False


SizeKey = tuple[str, str, str, int, float | None]
"""Batch, place in it, job, pass and size error, µm, as it was recorded: which size it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetSaid:
    """That a shop set an offset, and which sizes were measured before.

    Attributes
    ----------
    of : str
        Machine, material, wire and pass.
    smaller_um : float
        By how much, µm; below 0 for larger.
    reason : str
    sizes : tuple of SizeKey
        Those from before.
    name : str
        Hash by which it is taken back; empty before it is kept.
    withdrawn : str
        Why it was taken back; empty where it counts.
    """

    of: str
    smaller_um: float
    reason: str = ""
    sizes: tuple[SizeKey, ...] = ()
    name: str = ""
    withdrawn: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOfJob:
    """One measured cut of a job and the batch that it was recorded with.

    Attributes
    ----------
    cut : MeasuredCut
    batch : KeptBatch
    """

    cut: MeasuredCut
    batch: KeptBatch
