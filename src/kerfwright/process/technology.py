"""The passes that a wire can make in a material at a height, and those chosen for a job."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import pairwise
from types import MappingProxyType
from typing import Final

from kerfwright.foundation.findings import Finding
from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import Reason, Shares, Source
from kerfwright.foundation.spread import normal
from kerfwright.process.experience import Experience, Learned
from kerfwright.process.feed_spread import FeedSpread
from kerfwright.process.flushing_law import FlushingLaw
from kerfwright.process.guide_distance import GuidesOff
from kerfwright.process.spark_law import SparkLaw
from kerfwright.trade.material import Wire


def stock_range_um(stock_um: float, *, sigma_um: float) -> Range:
    """Return the 10–50–90 % range of a stock; a pass takes nothing at worst."""
    found = normal(stock_um, sigma=sigma_um)
    return replace(found, low=max(found.low, 0.0))


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
    gap_um, stock_um : float
        Spark gap, and stock that this pass removes, on one side; no stock for the rough pass.
    feed_mm_per_min, feed_sigma_log : float
        Median feed along the wall and standard deviation of its logarithm.
    stock_feed_factor : float
        Factor in the feed for stock beyond the pass table's; 1 where it is the table's.
    ra_um, recast_um : float
        Median roughness and recast layer this pass leaves.
    tolerance_um : float
        Half zone it holds if it is the last pass.
    gap_sigma_log, ra_sigma_log, recast_sigma_log : float
        Standard deviations of their logarithms; the gap's before anybody measured it.
    stock_sigma_um : float
        Of the stock, which follows from the gaps of this pass and the one before.
    fine_spark_sigma_log : float
        Part of the spreads of gap, roughness and recast that is for the wire being thin; one cause.
    size_bias_um, size_sigma_um : float
        Wall off nominal if this is the last pass, + for metal left; its deviation, offset set.
    guides_factor, undercut_factor : float
        In what is held: for guides far off, and for earlier passes that scatter beyond the stock.
    spark_loadings : Shares
        Slope of the logarithm of the energy per spark along each of its causes.
    reasons : tuple of Reason
    learned : Learned or None
        What the shop's own cuts made of it; the figures above have it in already.
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
    stock_feed_factor: float = 1.0
    gap_sigma_log: float = 0.0
    stock_sigma_um: float = 0.0
    ra_sigma_log: float = 0.0
    recast_sigma_log: float = 0.0
    fine_spark_sigma_log: float = 0.0
    size_bias_um: float = 0.0
    size_sigma_um: float = 0.0
    guides_factor: float = 1.0
    undercut_factor: float = 1.0
    spark_loadings: Shares = ()
    reasons: tuple[Reason, ...] = ()
    learned: Learned | None = None

    @property
    def tables_ra_um(self) -> float:
        """Roughness of the tables, which pulse energies go by whatever the shop has measured."""
        return self.ra_um if self.learned is None else self.ra_um / self.learned.ra_factor

    @property
    def feed_range_mm_per_min(self) -> Range:
        """10–50–90 % range of the feed."""
        return Range.lognormal(self.feed_mm_per_min, sigma_log=self.feed_sigma_log)

    @property
    def gap_range_um(self) -> Range:
        """10–50–90 % range of the gap."""
        return Range.lognormal(self.gap_um, sigma_log=self.gap_sigma_log)

    @property
    def stock_range_um(self) -> Range:
        """10–50–90 % range of the stock; a pass takes nothing at worst."""
        return stock_range_um(self.stock_um, sigma_um=self.stock_sigma_um)

    @property
    def ra_range_um(self) -> Range:
        """10–50–90 % range of the roughness."""
        return Range.lognormal(self.ra_um, sigma_log=self.ra_sigma_log)

    @property
    def recast_range_um(self) -> Range:
        """10–50–90 % range of the recast layer."""
        return Range.lognormal(self.recast_um, sigma_log=self.recast_sigma_log)

    @property
    def tolerance_range_um(self) -> Range:
        """10–50–90 % range of half the zone that is held; of no width where nothing says it."""
        return self._told("tolerance_um") or Range.exact(self.tolerance_um)

    @property
    def size_error_um(self) -> Range:
        """10–50–90 % range of the wall against nominal, positive for metal left."""
        told = self._told("size_error_um") if self.undercut_factor != 1 else None
        return told or normal(self.size_bias_um, sigma=self.size_sigma_um)

    def _told(self, quantity: str) -> Range | None:
        return next((r.range for r in self.reasons[::-1] if r.quantity == quantity), None)


class StockBy(StrEnum):
    """What sets the stock of the skims."""

    TABLE = "pass table"
    """As the table of passes has it."""
    HURT_LAYER = "hurt layer"
    """At least what the passes before hurt, as far as the energy of the skim goes."""


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
    stock_by : StockBy
    is_beyond : bool
        Whether more is asked than the passes hold: they are those that come nearest.
    recast_left_um : Range or None
        Recast on the finished wall, old layers counted in; None where none is limited.
    """

    wire: Wire
    passes: tuple[Pass, ...]
    limiting: str
    further: tuple[str, ...]
    findings: tuple[Finding, ...]
    stock_by: StockBy = StockBy.TABLE
    is_beyond: bool = False
    recast_left_um: Range | None = None


Curve = tuple[tuple[float, float], ...]
"""Points (x, y) with x ascending, read by straight lines between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PassSeed:
    """What one pass does in steel with the reference wire at 20 to 50 mm.

    Attributes
    ----------
    number : int
        1 for the rough pass.
    gap_um, stock_um : float
    feed_mm_per_min : float or None
        None for the rough pass, whose feed follows the rate law.
    ra_um, recast_um, tolerance_um : float
    gap_sigma_log, ra_sigma_log, recast_sigma_log : float
        Standard deviations of their logarithms, in steel.
    sources : mapping of str to Source
    """

    number: int
    gap_um: float
    stock_um: float
    feed_mm_per_min: float | None
    ra_um: float
    recast_um: float
    tolerance_um: float
    gap_sigma_log: float
    ra_sigma_log: float
    recast_sigma_log: float
    sources: Mapping[str, Source]


class Flushing(StrEnum):
    """How well the nozzles close on the work."""

    SEALED = "sealed"
    """Both within 0.2 mm of the faces."""
    ONE_OPEN = "one-open"
    """One face stepped, tapered or clamped away."""
    BOTH_OPEN = "both-open"
    """Neither closes: submerged work, edge start, interrupted section."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughLaw:
    """Constants of the area rate, see :func:`kerfwright.process.rough.area_rate_mm2_per_min`.

    Attributes
    ----------
    thin_plate_feed_mm_per_min : float
    plateau_area_rate_mm2_per_min : float
        What the usual wire carries.
    plateau_diameter_mm : float
        From which on a thicker wire brings nothing.
    usual_diameter_mm : float
    height_scale_mm : float
    shop_derate : float
    feed_sigma_log : float
    lean_deg, lean_factor : float
        In figures kept from before: no plan used them, but the name of the figures rests on them.
    fine_wire : Curve
        Factor against wire diameter in mm.
    flushing : mapping of Flushing to float
        Factor on the rate.
    sources : mapping of str to Source
    flushing_sigma_log : mapping of Flushing to float
        Standard deviation of the logarithm of the factor of nozzles that do not close, on top of
        that of the feed; closed ones have 1 by definition.  Empty in figures kept before there
        was one.
    """

    thin_plate_feed_mm_per_min: float
    plateau_area_rate_mm2_per_min: float
    plateau_diameter_mm: float
    usual_diameter_mm: float
    height_scale_mm: float
    shop_derate: float
    feed_sigma_log: float
    lean_deg: float = 0.0
    lean_factor: float = 0.0
    fine_wire: Curve
    flushing: Mapping[Flushing, float]
    sources: Mapping[str, Source]
    flushing_sigma_log: Mapping[Flushing, float] = field(
        default_factory=lambda: MappingProxyType({}),
        # Figures kept without it must keep the name that what was learned from them knows.
        repr=False,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SkimLaw:
    """How skim feeds follow height, material and wire.

    Attributes
    ----------
    feed_sigma_log : float
    full_feed_height_mm : float
    height_exponent : float
    rate_exponent : float
        Power of the material's and the fine wire's rate factor.
    sources : mapping of str to Source
    """

    feed_sigma_log: float
    full_feed_height_mm: float
    height_exponent: float
    rate_exponent: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scaling:
    """How tolerance follows height, sparks the wire, and what other materials leave open.

    Attributes
    ----------
    tolerance_height_mm, tolerance_height_exponent : float
    reference_diameter_mm, gap_diameter_exponent : float
        The power of the diameter by which gap, stock, roughness and recast of thinner wires go; by
        their cube root it stands for an energy per spark.
    gap_material_sigma_log, recast_factor_sigma_log : float
        Further spread of the logarithm of gap and recast in materials other than steel.
    ra_factor_sigma_log : float
        Spread of the material's factor on the roughness, in any material.
    sources : mapping of str to Source
    gap_diameter_exponent_sigma : float
        Standard deviation of that power; 0 in figures kept before there was one.
    tolerance_sigma_log : float
        Of the logarithm of the half zone that is really held; 0 in figures kept before there was
        one.
    """

    tolerance_height_mm: float
    tolerance_height_exponent: float
    reference_diameter_mm: float
    gap_diameter_exponent: float
    gap_material_sigma_log: float
    recast_factor_sigma_log: float
    ra_factor_sigma_log: float
    sources: Mapping[str, Source]
    # Figures kept without it must keep the name that what was learned from them knows.
    gap_diameter_exponent_sigma: float = field(default=0.0, repr=False)
    tolerance_sigma_log: float = field(default=0.0, repr=False)


BY_LIKELY_VALUE: Final = 0.5
"""The chance that a likely value is exceeded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What is poor or no conduction, how often a demand may miss, and which heights are known.

    Attributes
    ----------
    poor_resistivity_ohm_cm, highest_resistivity_ohm_cm : float
    allowed_miss : float
        Largest chance that a finish or a recast layer asked is missed by the passes chosen, where
        there are passes that meet it so surely; ``BY_LIKELY_VALUE`` counts the likely value.
    least_known_height_mm, most_known_height_mm : float
        Beyond these common practice does not trust the rate law either.
    sources : mapping of str to Source
    """

    poor_resistivity_ohm_cm: float
    highest_resistivity_ohm_cm: float
    allowed_miss: float
    least_known_height_mm: float
    most_known_height_mm: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallHoleLaw:
    """Constants of drilling by tube electrode.

    Attributes
    ----------
    feed_mm_per_min, depth_to_diameter : Curve
        Against hole diameter in mm, for steel.
    published_depth_to_diameter : float
        Above it a published review knows no effective routine method.
    deepest_depth_to_diameter : float
        Above it the same review quotes none.
    depth_scale : float
        Depth over diameter at which the feed has halved.
    breakthrough_diameters : float
        How far the tube is fed beyond the work, in diameters.
    overcut_mm : float
        On one side.
    feed_sigma_log, wear_sigma_log, overcut_sigma_log, entry_sigma_log, taper_sigma_log,
    wander_sigma_log : float
        Standard deviations of the logarithms of feed, wear and so on.
    feed_factor, wear_ratio : mapping of str to float
        By family of material.
    entry_growth_mm : float
        How far the mouth of the hole lies outside its nominal wall, on one side.
    taper_mm_per_mm : float
        Fall of the diameter per depth.
    wander_mm_per_mm : Curve
        Sideways drift per depth against hole diameter in mm.
    tolerance_um, best_tolerance_um : float
        Half zone of the diameter, usual and with care.
    position_um : float
        Half zone of the place at the entry.
    recast_low_um, recast_um, recast_high_um : float
    allowed_miss : float
        That of :class:`Limits`: holes are judged as walls are.
    sources : mapping of str to Source
    half_zone_sigma_log : float
        Of the logarithm of half zones really held.
    """

    feed_mm_per_min: Curve
    depth_to_diameter: Curve
    published_depth_to_diameter: float
    deepest_depth_to_diameter: float
    depth_scale: float
    breakthrough_diameters: float
    overcut_mm: float
    feed_sigma_log: float
    wear_sigma_log: float
    overcut_sigma_log: float
    entry_sigma_log: float
    taper_sigma_log: float
    wander_sigma_log: float
    feed_factor: Mapping[str, float]
    wear_ratio: Mapping[str, float]
    entry_growth_mm: float
    taper_mm_per_mm: float
    wander_mm_per_mm: Curve
    tolerance_um: float
    best_tolerance_um: float
    position_um: float
    recast_low_um: float
    recast_um: float
    recast_high_um: float
    allowed_miss: float
    sources: Mapping[str, Source]
    # Figures kept without it must keep the name that what was learned from them knows.
    half_zone_sigma_log: float = field(default=0.0, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Technology:
    """All figures of the process, shipped, overridden by the shop or learned from its cuts.

    Attributes
    ----------
    rough : RoughLaw
    skim : SkimLaw
    feed_spread : FeedSpread
    scaling : Scaling
    limits : Limits
    passes : tuple of PassSeed
        In order of cutting; the rough pass first.
    small_hole, spark, flushing
    experience : Experience or None
        What the shop's measured cuts say beyond the tables.
    guides : GuidesOff or None
        Of the set-up, where it keeps them off the work: no figure, and no part of their name.
    """

    rough: RoughLaw
    skim: SkimLaw
    feed_spread: FeedSpread
    scaling: Scaling
    limits: Limits
    passes: tuple[PassSeed, ...]
    small_hole: SmallHoleLaw
    spark: SparkLaw
    flushing: FlushingLaw
    experience: Experience | None = None
    guides: GuidesOff | None = field(default=None, repr=False)


def read_curve(curve: Curve, x: float) -> float:
    """Read a curve by straight lines; flat beyond its ends.

    >>> read_curve(((1.0, 10.0), (2.0, 20.0)), 1.5)
    15.0
    """
    if x <= curve[0][0]:
        return curve[0][1]
    for (x0, y0), (x1, y1) in pairwise(curve):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return curve[-1][1]
