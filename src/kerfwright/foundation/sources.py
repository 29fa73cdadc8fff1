"""Where a number comes from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from kerfwright.foundation.ranges import Range

Shares = tuple[tuple[str, float], ...]
"""Fraction of a variance by the input that brings it, adding up to 1."""


class SourceTag(StrEnum):
    """How well a value is known, as printed beside every table value."""

    READ = "a"
    """Read in the source named."""
    FROM_MEMORY = "b"
    """From memory of the named published source, not read again."""
    COMMON_PRACTICE = "c"
    """Common practice, no source."""
    COMPUTED = "d"
    """Computed here from tagged inputs."""
    SHOP = "s"
    """Measured or set by the shop itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A tag and, where there is one, the citation.

    Attributes
    ----------
    tag : SourceTag
    citation : str
        Title, clause, table or page; for common practice the words ``no source``.
    """

    tag: SourceTag
    citation: str = ""

    def __str__(self) -> str:
        words = {
            SourceTag.READ: "read",
            SourceTag.FROM_MEMORY: "from memory",
            SourceTag.COMMON_PRACTICE: "common practice, no source",
            SourceTag.COMPUTED: "computed",
            SourceTag.SHOP: "shop's own",
        }
        return words[self.tag] + (f": {self.citation}" if self.citation else "")


COMMON_PRACTICE = Source(tag=SourceTag.COMMON_PRACTICE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a result has its value: formula, inputs and source, for ``--explain``.

    Attributes
    ----------
    quantity : str
        What the number is, with its unit in the name (``rough_feed_mm_per_min``).
    value : float
    formula : str
        The formula in plain text.
    inputs : tuple of (str, float or str)
        Named inputs of the formula.
    source : Source
    range : Range or None
        How sure we are of the value; None where the formula is exact for its inputs and these
        are known (an offset identity, a sum of lengths).
    shares : Shares
        Share of the variance of the value that each input brings, adding up to 1; empty where no
        range is given.
    """

    quantity: str
    value: float
    formula: str
    inputs: tuple[tuple[str, float | str], ...]
    source: Source
    range: Range | None = None
    shares: Shares = ()
