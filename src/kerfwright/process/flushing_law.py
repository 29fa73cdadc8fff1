"""Constants of the water through the kerf."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kerfwright.foundation.sources import Source


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterLaw:
    """Water and the pressures it is used at.

    Attributes
    ----------
    viscosity_mpa_s, density_kg_per_m3 : float
        The viscosity in mPa·s.
    rough_pressure_mpa, rough_pressure_low_mpa, rough_pressure_high_mpa : float
        Usual, lowest and highest pressure in MPa at the nozzle in roughing.
    skim_pressure_low_mpa, skim_pressure_high_mpa : float
    sources : mapping of str to Source
    full_pressure_wire_mm, full_pressure_height_mm : float
        Thinnest wire and lowest work that are roughed at full pressure; 0 for any.
    """

    viscosity_mpa_s: float
    density_kg_per_m3: float
    rough_pressure_mpa: float
    rough_pressure_low_mpa: float
    rough_pressure_high_mpa: float
    skim_pressure_low_mpa: float
    skim_pressure_high_mpa: float
    sources: Mapping[str, Source]
    full_pressure_wire_mm: float = 0.0
    full_pressure_height_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NozzleLaw:
    """The nozzle and how it closes on the work.

    Attributes
    ----------
    mouth_radius_mm, supply_area_mm2 : float
    sealed_gap_mm, usual_gap_mm, open_gap_mm : float
        Largest gap that still counts as closed, the gap to set, and one that stands for open.
    jet_share : float
        Share of the pressure that a free jet still presses into the kerf.
    sources : mapping of str to Source
    """

    mouth_radius_mm: float
    supply_area_mm2: float
    sealed_gap_mm: float
    usual_gap_mm: float
    open_gap_mm: float
    jet_share: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class DebrisLaw:
    """What debris does to the rate and to the wire.

    Attributes
    ----------
    mixing_mm : float
    model_from_mm, state_binds_below_mm : float
        Height from which the flow model holds, and below which the table's factor of the named
        state is the most that a rate has; 0 for laws of before there were such heights.
    rate_exponent : float
        The rate falls as this power of the mean dirt.
    dry_factor : float
        On the dirt of a cut that is not submerged while a nozzle is open.
    raised_risk, high_risk : float
        Dirtiest height against closed nozzles from which a break is more likely, and likely.
    sources : mapping of str to Source
    """

    mixing_mm: float
    model_from_mm: float
    state_binds_below_mm: float
    rate_exponent: float
    dry_factor: float
    raised_risk: float
    high_risk: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlushingLaw:
    """Everything about the water.

    Attributes
    ----------
    water : WaterLaw
    nozzle : NozzleLaw
    debris : DebrisLaw
    """

    water: WaterLaw
    nozzle: NozzleLaw
    debris: DebrisLaw
