"""Constants of the running wire, and how its current follows from the settings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from kerfwright.foundation.errors import RangeError, UnknownNameError
from kerfwright.foundation.sources import Source
from kerfwright.process.technology import Curve, Flushing
from kerfwright.trade.material import Material, Wire

_MM: Final = 1e-3
_US: Final = 1e-6
_KHZ: Final = 1e3
_PERCENT: Final = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WireMetal:
    """What one kind of wire conducts, stores and still holds when hot.

    Attributes
    ----------
    conductivity_pct_iacs : float
        Electrical conductivity in percent of the copper standard.
    conductivity_w_per_mk, heat_capacity_j_per_kgk : float
    hot_strength : Curve
        Share of the cold strength against temperature in °C.
    sources : mapping of str to Source
    """

    conductivity_pct_iacs: float
    conductivity_w_per_mk: float
    heat_capacity_j_per_kgk: float
    hot_strength: Curve
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class TensionLaw:
    """How taut the wire runs, and between which guides.

    Attributes
    ----------
    share : float
        Of the cold strength.
    wear_mm3_per_c : float
        Volume that craters take of the wire for a charge.
    kept_section_left : float or None
        Share of the section left at the end of any cut, in figures kept before wear went with the
        current and the run speed.
    guide_gap_mm : float
        From a face of the work to its guide, the nozzles closed.
    sources : mapping of str to Source
    nozzles_off_mm : float
        By which the set-up keeps both nozzles off their faces, in all: the guides sit in the same
        heads and stand off as far.
    """

    share: float
    wear_mm3_per_c: float
    guide_gap_mm: float
    sources: Mapping[str, Source]
    nozzles_off_mm: float = 0.0
    kept_section_left: float | None = None

    def worn_share(self, wire: Wire, *, mean_a: float) -> float:
        """Return the share of its section that a wire loses on its way through the work.

        ``k I / (A v)``: what runs through in a second loses what a second's charge takes.

        Parameters
        ----------
        wire : Wire
            Its run speed is taken.
        mean_a : float
            Mean current of the sparks.
        """
        if self.kept_section_left is not None:
            return 1 - self.kept_section_left
        run_m3_per_s = section_m2(wire) * wire.run_speed_m_per_min / 60
        return self.wear_mm3_per_c * _MM**3 * mean_a / run_m3_per_s

    def span_mm(self, height_mm: float) -> float:
        """Return the distance between the guides for a height of work, mm."""
        return height_mm + 2 * self.guide_gap_mm + self.nozzles_off_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatLaw:
    """What warms and cools the wire.

    Attributes
    ----------
    copper_resistivity_uohm_cm, water_c : float
    film_w_per_m2k : float
        Film coefficient of the wire in flushed water, both nozzles closed.
    film_flow_exponent : float
        Power of the flow relative to the usual.
    film_height_mm : float
        Height of work at which an open nozzle leaves the share of ``film``.
    film : mapping of Flushing to float
    spark_share_to_wire, spark_voltage_v : float
    free_film_share : float
        Of the film coefficient, on wire that runs free between a face and a nozzle kept off it.
    contact_gap_mm : float
        From a face of the work to the contact that brings the current, the nozzles closed.
    lead_mm : float
        Length of wire that withstands a pulse as much as the lead to one contact does.
    sources : mapping of str to Source
    upper_off_mm, lower_off_mm : float
        By which the set-up keeps each nozzle off its face: the contacts sit in the same heads.
    """

    copper_resistivity_uohm_cm: float
    water_c: float
    film_w_per_m2k: float
    film_flow_exponent: float
    film_height_mm: float
    film: Mapping[Flushing, float]
    spark_share_to_wire: float
    spark_voltage_v: float
    free_film_share: float
    contact_gap_mm: float
    lead_mm: float
    sources: Mapping[str, Source]
    upper_off_mm: float = 0.0
    lower_off_mm: float = 0.0

    @property
    def top_mm(self) -> float:
        """From the upper contact to the upper face, mm."""
        return self.contact_gap_mm + self.upper_off_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """Settings of the pulses.

    Attributes
    ----------
    peak_a, on_us, off_us : float
        Peak and length of a triangular discharge, and the pause after it.
    servo_v : float
        Mean gap voltage that the feed is controlled to.
    diameter_mm : float
        Wire of these settings; the peak for other wires goes with the diameter.
    open_v : float
        Gap voltage before the spark.
    sources : mapping of str to Source
    peak_sigma_log : float
        Standard deviation of the logarithm of the peak from generator to generator; 0 in figures
        kept before there was one.
    """

    peak_a: float
    on_us: float
    off_us: float
    servo_v: float
    diameter_mm: float
    open_v: float
    sources: Mapping[str, Source]
    peak_sigma_log: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakLaw:
    """When the wire parts.

    Attributes
    ----------
    charge_c_per_mm3 : float
        Charge that takes away a volume of steel, by the sparks of a rough pass.
    charge_sigma_log : float
        Standard deviation of its logarithm; the same in every pass.
    skim_current_exponent : float
        A skim draws at most the current of the rough pass times this power of its pulse energy
        relative to it.
    sigma_log : float
        Spread of the logarithm of the current at which a wire parts.
    raised_share, most_share : float
        Shares of that current from which a break is more likely, and at which the feed of a rough
        pass is held.
    relative_rate : Curve
        Breaks an hour relative to a usual cut, against the share of the current.
    sources : mapping of str to Source
    slow_current_exponent : float
        Under nozzles that do not close the mean current falls with this power of the feed.
    charge_elsewhere_sigma_log : mapping of str to float
        By family of material, where that is not steel: how much less sure the charge is, of its
        logarithm.  Empty in figures kept before there was one.
    """

    charge_c_per_mm3: float
    charge_sigma_log: float
    skim_current_exponent: float
    sigma_log: float
    raised_share: float
    most_share: float
    relative_rate: Curve
    sources: Mapping[str, Source]
    slow_current_exponent: float = 1.0
    charge_elsewhere_sigma_log: Mapping[str, float] = field(default_factory=dict)

    def charge_more_log(self, material: Material) -> float:
        """Return how much less sure the charge for a volume is than in steel, of its logarithm."""
        return self.charge_elsewhere_sigma_log.get(material.family, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PushLaw:
    """How hard sparks and water push the wire away.

    Attributes
    ----------
    pressure_kpa : float
        On the front of the wire in a rough pass at its usual feed through ``height_mm``.
    pressure_sigma_log : float
        Standard deviation of its logarithm.
    height_mm, height_exponent : float
        In other heights the pressure of a rough pass goes with this power of ``height_mm / H``.
    energy_exponent, feed_exponent : float
        Powers of the pulse energy relative to the rough pass, and of the feed relative to the
        pass's own.
    side_share_rough : float
        Part of a rough pass's push that acts off the wall; a skim's follows from its arc.
    sources : mapping of str to Source
    """

    pressure_kpa: float
    pressure_sigma_log: float
    height_mm: float
    height_exponent: float
    energy_exponent: float
    feed_exponent: float
    side_share_rough: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedRules:
    """How far and how long the feed is taken back.

    Attributes
    ----------
    tolerance_share : float
        Part of a pass's tolerance that lag may use up.
    least_factor, factor_step : float
        Smallest factor on the feed, and the step it is rounded down to.
    lags_before : float
        Length of a slow zone before its corner, in lags at full feed.
    shortest_zone_mm : float
    sources : mapping of str to Source
    """

    tolerance_share: float
    least_factor: float
    factor_step: float
    lags_before: float
    shortest_zone_mm: float
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True, kw_only=True)
class WirePhysics:
    """All constants of the running wire.

    Attributes
    ----------
    metals : mapping of str to WireMetal
        By kind of wire.
    tension : TensionLaw
    heat : HeatLaw
    pulse : Pulse
        Of the reference tests.
    breaking : BreakLaw
    push : PushLaw
    feeds : FeedRules
    """

    metals: Mapping[str, WireMetal]
    tension: TensionLaw
    heat: HeatLaw
    pulse: Pulse
    breaking: BreakLaw
    push: PushLaw
    feeds: FeedRules

    def with_nozzles_off(self, gaps_mm: tuple[float, float]) -> WirePhysics:
        """Return the constants where the upper and the lower nozzle stand off by gaps."""
        upper_mm, lower_mm = gaps_mm
        if (upper_mm, lower_mm) == (self.heat.upper_off_mm, self.heat.lower_off_mm):
            # The very same record, so that what is kept for it is found.
            return self
        return replace(
            self,
            tension=replace(self.tension, nozzles_off_mm=upper_mm + lower_mm),
            heat=replace(self.heat, upper_off_mm=upper_mm, lower_off_mm=lower_mm),
        )

    def metal(self, wire: Wire) -> WireMetal:
        """Return the metal of a wire.

        Raises
        ------
        UnknownNameError
            If the table has no such kind.
        """
        if wire.kind not in self.metals:
            raise UnknownNameError(
                f"no physics for the wire {wire.kind!r}; known are {', '.join(self.metals)}",
                code="wire-physics-unknown",
                remedy="Add its table to wire_physics.toml.",
            )
        return self.metals[wire.kind]

    def resistivity_ohm_m(self, wire: Wire) -> float:
        """Return the resistivity of a wire at 20 °C, ohm m."""
        share = self.metal(wire).conductivity_pct_iacs / _PERCENT
        return self.heat.copper_resistivity_uohm_cm * 1e-8 / share


def section_m2(wire: Wire) -> float:
    """Return the cross section of a wire, m²."""
    return math.pi * (wire.diameter_mm * _MM) ** 2 / 4


def spark_frequency_khz(pulse: Pulse) -> float:
    """Return how often it sparks: ``1 / (t_on + t_off + t_wait)``.

    The servo keeps the mean gap voltage ``U_s``; before a spark the gap stands at ``U_0``, else
    near nothing, so that ``t_wait / (t_on + t_off + t_wait) = U_s / U_0``.

    Raises
    ------
    RangeError
        If the servo voltage is not between 0 and the open voltage.

    Notes
    -----
    Leaves out the voltage of the discharge itself and pulses without spark.

    References
    ----------
    Mean voltage of a square wave (computed); ``U_0`` from the 60 kHz of Sato et al.
    """
    if not 0 < pulse.servo_v < pulse.open_v:
        raise RangeError(
            f"a servo voltage of {pulse.servo_v:g} V; it must lie between 0 and the "
            f"{pulse.open_v:g} V of the open gap",
            code="servo-voltage-out-of-range",
        )
    busy_us = pulse.on_us + pulse.off_us
    period_us = busy_us / (1 - pulse.servo_v / pulse.open_v)
    return 1 / (period_us * _US) / _KHZ


def mean_current_a(pulse: Pulse) -> float:
    """Return the mean current: ``I_p t_on f / 2`` with :func:`spark_frequency_khz`, A.

    References
    ----------
    700 A, 1.4 µs at 60 kHz give 29.4 A, an upper bound (computed from Sato et al.).
    """
    return pulse.peak_a * pulse.on_us * _US / 2 * spark_frequency_khz(pulse) * _KHZ


def effective_current_a(mean_a: float, *, peak_a: float) -> float:
    """Return the root mean square of triangular pulses: ``sqrt(2 I_mean I_p / 3)``, A.

    References
    ----------
    Integral of a triangle and of its square (computed).
    """
    return math.sqrt(2 * mean_a * peak_a / 3)


def rough_current_a(area_rate_mm2_per_min: float, *, kerf_mm: float, physics: WirePhysics) -> float:
    """Return the mean current of a rough pass in steel: ``I = psi A (d + 2 g)``, A.

    Parameters
    ----------
    area_rate_mm2_per_min : float
    kerf_mm : float
        Wire and both gaps.
    physics : WirePhysics
        Charge per volume ``psi``.

    References
    ----------
    That the charge per volume is constant for one kind of pulse: Schacht, PhD KU Leuven, ch. III
    (text read, author from memory); its figure is common practice, no source.
    """
    return physics.breaking.charge_c_per_mm3 * area_rate_mm2_per_min * kerf_mm / 60
