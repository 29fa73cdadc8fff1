"""How the water reaches the rough cut of one contour, and what that does to feed and wire."""

from __future__ import annotations

from dataclasses import dataclass

from kerfwright.foundation.sources import Reason
from kerfwright.planning.beside_edge import Stretch
from kerfwright.process.experience import Loadings
from kerfwright.process.flushing import BreakRisk
from kerfwright.process.loadings import together
from kerfwright.process.technology import Flushing


@dataclass(frozen=True, slots=True, kw_only=True)
class FlushingState:
    """How the water reaches the rough cut of one contour.

    Attributes
    ----------
    nozzles : Flushing
        How the nozzles close along most of the cut.
    edge_share : float
        Share of the rough path in stretches beside the edge of the stock.
    enters_from_edge : bool
    along_factor : float
        On the rough feed away from the edge; the feed of ``plan.passes`` stays the nominal one.
    risk : BreakRisk
        Of the wire at the worst place of the cut.
    advice : str
        How to set nozzles, pressure and power, in plain words.
    slow_entry_mm : float
        From the start point of a cut that enters from the edge, how far its feed is that of the
        lead-in: until the nozzles are wholly over the work.
    beside_factor : float
        On the rough feed beside the edge of the stock; where a cut enters from there, the most on
        that of its lead-in and slow entry.
    beside : tuple of Stretch
        Of the rough path, nearer to the edge of the stock than ``edge_reach_mm``: neither nozzle
        closes there.
    edge_reach_mm : float
        How far the mouth of a nozzle reaches from the wire.
    margin_factor, beside_margin_factor : float
        Parts of the two factors by which the feed is taken back to keep the wire from breaking.
    breaks_by_heat, breaks_by_dirt, breaks_by_taper : float
        Factors on the breaks an hour of this rough cut against a usual one, mean over its time.
    breaks_beside : float
        Factor on the breaks an hour beside the edge, heat and dirt together.
    breaks_unslowed : float
        The same away from the edge at the feed of closed nozzles.
    breaks_closed : float
        By heat, with closed nozzles at their feed.
    counted_sigma_log : float
        Spread of the logarithm of the breaks an hour where the shop's counts at such feeds say it
        together with the model; 0 where they do not.
    counted_ends : (float, float)
        Ends of the range of that, over its likely value.
    has_wire : bool
        Whether heat, dirt and margin of the wire were worked out.
    along_loadings, beside_loadings : Loadings
        Spread of the logarithm of the two factors by cause; empty under closed nozzles.
    tables_factor, learned_factor : float
        Parts of ``along_factor``: of the shop's table for nozzles that stand so, and of its cuts.
    reasons : tuple of Reason
    """

    nozzles: Flushing
    edge_share: float
    enters_from_edge: bool
    along_factor: float
    risk: BreakRisk
    advice: str
    slow_entry_mm: float = 0.0
    beside_factor: float = 1.0
    beside: tuple[Stretch, ...] = ()
    edge_reach_mm: float = 0.0
    margin_factor: float = 1.0
    beside_margin_factor: float = 1.0
    breaks_by_heat: float = 1.0
    breaks_by_dirt: float = 1.0
    breaks_beside: float = 1.0
    breaks_unslowed: float = 1.0
    breaks_closed: float = 1.0
    counted_sigma_log: float = 0.0
    counted_ends: tuple[float, float] = (1.0, 1.0)
    breaks_by_taper: float = 1.0
    has_wire: bool = False
    along_loadings: Loadings = ()
    beside_loadings: Loadings = ()
    tables_factor: float = 1.0
    learned_factor: float = 1.0
    reasons: tuple[Reason, ...] = ()

    @property
    def loadings(self) -> Loadings:
        """Spread of the logarithm of the mean feed by cause, each place by its share of time."""
        edge = self.edge_time_share
        return together((1 - edge, self.along_loadings), (edge, self.beside_loadings))

    @property
    def meets_edge(self) -> bool:
        """Whether the wire anywhere cuts where the edge of the stock lets the water out."""
        return bool(self.beside) or self.enters_from_edge

    @property
    def breaks(self) -> float:
        """Factor on the breaks an hour against a usual rough cut: that of the estimate."""
        return self.breaks_by_heat * self.breaks_by_dirt * self.breaks_by_taper

    @property
    def rate_factor(self) -> float:
        """Factor on the mean rough feed: its time over the whole path is right."""
        edge = self.edge_share
        return 1 / ((1 - edge) / self.along_factor + edge / self.beside_factor)

    @property
    def edge_time_share(self) -> float:
        """Share of the time of the rough cut that it runs beside the edge."""
        return self.edge_share / self.beside_factor * self.rate_factor

    @property
    def least_margin_factor(self) -> float:
        """The lesser of the two factors that keep the wire from breaking, where they hold."""
        along = 1.0 if self.edge_share == 1 else self.margin_factor
        return min(along, self.beside_margin_factor if self.meets_edge else 1.0)


CLOSED_NOZZLES = FlushingState(
    nozzles=Flushing.SEALED,
    edge_share=0.0,
    enters_from_edge=False,
    along_factor=1.0,
    risk=BreakRisk.USUAL,
    advice="",
)
