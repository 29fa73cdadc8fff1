"""The passes that a wire can make in a material at a height, and those chosen for a job."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.findings import Finding
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason
from kerfwright.trade.material import Wire


@dataclass(frozen=True, slots=True, kw_only=True)
class Pass:
    """One pass of the wire.

    Attributes
    ----------
    number : int
        1 for the rough pass.
    is_rough : bool
    offset_mm : float
        Wire centre to wanted wall: d/2 + gap + the stock that later passes take.
    gap_um : float
        Spark gap on one side.
    stock_um : float
        Stock this pass removes from one side; 0 for the rough pass.
    feed_mm_per_min : float
        Median feed along the wall.
    feed_sigma_log : float
        Standard deviation of the logarithm of the feed.
    ra_um, recast_um : float
        Roughness and recast layer this pass leaves.
    tolerance_um : float
        Half zone it holds if it is the last pass.
    reasons : tuple of Reason
    """

    number: int
    is_rough: bool
    offset_mm: float
    gap_um: float
    stock_um: float
    feed_mm_per_min: float
    feed_sigma_log: float
    ra_um: float
    recast_um: float
    tolerance_um: float
    reasons: tuple[Reason, ...] = ()

    @property
    def feed_range_mm_per_min(self) -> Range:
        """10–50–90 % range of the feed."""
        return Range.lognormal(self.feed_mm_per_min, sigma_log=self.feed_sigma_log)


@dataclass(frozen=True, slots=True, kw_only=True)
class PassChoice:
    """The fewest passes that meet a requirement, and what another would buy.

    Attributes
    ----------
    wire : Wire
    passes : tuple of Pass
        In order of cutting, the rough pass first.
    limiting : str
        Which demand decided the count: ``"tolerance"``, ``"finish"``, ``"recast"`` or ``"none"``.
    further : tuple of str
        One sentence for each further pass: what it would buy.
    findings : tuple of Finding
        Demands beyond the process.
    """

    wire: Wire
    passes: tuple[Pass, ...]
    limiting: str
    further: tuple[str, ...]
    findings: tuple[Finding, ...]
