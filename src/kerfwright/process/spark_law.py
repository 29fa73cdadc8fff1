"""Constants of the spark: pulse, crater, surface and erodibility."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from kerfwright.foundation.sources import Source


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseLaw:
    """A full roughing pulse and the smallest steady one.

    Attributes
    ----------
    peak_current_a, on_time_us, voltage_v : float
        Of the full pulse, a triangle of current.
    smallest_energy_mj : float
    sources : mapping of str to Source
    """

    peak_current_a: float
    on_time_us: float
    voltage_v: float
    smallest_energy_mj: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class CraterLaw:
    """Published sizes of the heat source and shares of the power that reach the work.

    Attributes
    ----------
    plasma_radius_scale_um, plasma_radius_exponent : float
        Radius in µm of a time in µs.
    heat_radius_scale_m, heat_radius_current_exponent, heat_radius_time_exponent : float
        Radius in m of a current in A and a time in s.
    work_share_low, work_share_high : float
    sources : mapping of str to Source
    """

    plasma_radius_scale_um: float
    plasma_radius_exponent: float
    heat_radius_scale_m: float
    heat_radius_current_exponent: float
    heat_radius_time_exponent: float
    work_share_low: float
    work_share_high: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceLaw:
    """The cube-root family: gap, roughness and recast of an energy in mJ.

    Attributes
    ----------
    ra_scale_um, ra_exponent, ra_exponent_low : float
        Ra at 1 mJ, its exponent and the lowest exponent that a published table supports.
    gap_scale_um : float
        Gap at 1 mJ.
    recast_per_ra, recast_per_ra_low, recast_per_ra_high : float
    peak_per_ra : float
        Highest peaks above the mean line.
    crater_layers_per_skim : float
        Depths of its own craters that one skim takes.
    feed_over_stock_sigma : float
        Standard deviation of the power, -1, by which the feed of a skim follows its stock.
    straightening_um : float
        Taken by the first skim beyond the hurt layer.
    sources : mapping of str to Source
    ra_scale_sigma_log : float
        Standard deviation of the logarithm of Ra at 1 mJ; 0 in figures kept before there was one.
    """

    ra_scale_um: float
    ra_exponent: float
    ra_exponent_low: float
    gap_scale_um: float
    recast_per_ra: float
    recast_per_ra_low: float
    recast_per_ra_high: float
    peak_per_ra: float
    crater_layers_per_skim: float
    feed_over_stock_sigma: float
    straightening_um: float
    sources: Mapping[str, Source]
    # Figures kept without it must keep the name that what was learned from them knows.
    ra_scale_sigma_log: float = field(default=0.0, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoughnessFit:
    """A published response surface, ``Ra = c Ton^p Toff^-q I^r`` in µs, µs, A and µm.

    Attributes
    ----------
    ra_scale, ra_on_exponent, ra_off_exponent, ra_current_exponent : float
    sources : mapping of str to Source
    """

    ra_scale: float
    ra_on_exponent: float
    ra_off_exponent: float
    ra_current_exponent: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class ErodibilityLaw:
    """Constants of the indices of erodibility.

    Attributes
    ----------
    kalpakjian_exponent : float
    unlike_factor : float
        How far outside all indices a rate factor is remarked on.
    sources : mapping of str to Source
    least_known_rate_factor, most_known_rate_factor : float
        Of the slowest and the quickest material that is shipped.
    unknown_factor : float
        How far outside these a rate factor is warned of.
    least_possible_rate_factor, most_possible_rate_factor : float
        Beyond these it is refused.  None of the five binds in figures kept before they were there.
    """

    kalpakjian_exponent: float
    unlike_factor: float
    sources: Mapping[str, Source]
    # Figures kept without them must keep the name that what was learned from them knows.
    least_known_rate_factor: float = field(default=0.0, repr=False)
    most_known_rate_factor: float = field(default=math.inf, repr=False)
    unknown_factor: float = field(default=1.0, repr=False)
    least_possible_rate_factor: float = field(default=0.0, repr=False)
    most_possible_rate_factor: float = field(default=math.inf, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class SparkLaw:
    """Everything from the energy of a spark to the wall.

    Attributes
    ----------
    pulse : PulseLaw
    crater : CraterLaw
    surface : SurfaceLaw
    fit : RoughnessFit
    erodibility : ErodibilityLaw
    """

    pulse: PulseLaw
    crater: CraterLaw
    surface: SurfaceLaw
    fit: RoughnessFit
    erodibility: ErodibilityLaw
