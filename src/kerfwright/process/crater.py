"""The heat of one spark: pulse energy, size of the source, temperature and melt depth."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import erfc

from kerfwright.foundation.errors import RangeError
from kerfwright.process.spark_law import CraterLaw, PulseLaw
from kerfwright.trade.material import Material

Floats = npt.NDArray[np.float64]

_ROOM_C: Final = 20.0
PARABOLA_DEPTH_PER_RA: Final = 9 * math.sqrt(3) / 4
"""Depth over Ra of a row of parabolic craters.

Of y = h x² on -1 < x < 1 the mean is h/3 and the mean deviation from it 4 h / (9 sqrt 3).
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulse:
    """One discharge, its current a triangle over time.

    Attributes
    ----------
    peak_current_a, on_time_us, voltage_v : float

    Raises
    ------
    RangeError
        If one of them is not above 0.
    """

    peak_current_a: float
    on_time_us: float
    voltage_v: float

    def __post_init__(self) -> None:
        _above_zero(
            peak_current_a=self.peak_current_a,
            on_time_us=self.on_time_us,
            voltage_v=self.voltage_v,
        )

    @property
    def energy_mj(self) -> float:
        """Energy ``E = I t u / 2``, mJ.

        >>> round(Pulse(peak_current_a=700, on_time_us=1.4, voltage_v=20).energy_mj, 1)
        9.8
        """
        return self.peak_current_a * self.on_time_us * self.voltage_v / 2 / 1000

    @property
    def mean_power_w(self) -> float:
        """Mean power while it burns, ``I u / 2``, W."""
        return self.peak_current_a * self.voltage_v / 2


def full_pulse(law: PulseLaw) -> Pulse:
    """Return the full roughing pulse of the table."""
    return Pulse(
        peak_current_a=law.peak_current_a, on_time_us=law.on_time_us, voltage_v=law.voltage_v
    )


def pulse_of_energy(energy_mj: float, *, through: Pulse) -> Pulse:
    """Return the pulse of an energy in the family ``I ~ t ~ sqrt(E)`` through a known pulse.

    Parameters
    ----------
    energy_mj : float
    through : Pulse

    Raises
    ------
    RangeError
        If the energy is not above 0.

    Notes
    -----
    That current and time fall together is an assumption (common practice, no source): a
    generator with a fixed supply voltage and inductance ramps the current with the time.
    """
    _above_zero(energy_mj=energy_mj)
    share = math.sqrt(energy_mj / through.energy_mj)
    return replace(
        through,
        peak_current_a=through.peak_current_a * share,
        on_time_us=through.on_time_us * share,
    )


def plasma_radius_um(on_time_us: float, *, law: CraterLaw) -> float:
    """Return the radius of the plasma on the anode: ``a = 0.788 t^0.75`` (µs, µm).

    Parameters
    ----------
    on_time_us : float
    law : CraterLaw

    Raises
    ------
    RangeError
        If the time is not above 0.

    Notes
    -----
    Validity: found for sinking, about 5 to 500 µs (from memory); wire pulses are far shorter.
    Kept for a published check: the other size of the source beside :func:`heat_radius_um`, which is
    the one used; no plan calls it.

    References
    ----------
    Patel, Barrufet, Eubank and DiBitonto, J. Appl. Phys. 66 (1989) 4104-4111 (from memory).
    """
    _above_zero(on_time_us=on_time_us)
    return law.plasma_radius_scale_um * float(on_time_us**law.plasma_radius_exponent)


def heat_radius_um(current_a: float, *, on_time_us: float, law: CraterLaw) -> float:
    """Return the radius of the equivalent heat source: ``R = 2.04e-3 I^0.43 t^0.44`` (A, s, m).

    Parameters
    ----------
    current_a, on_time_us : float
    law : CraterLaw

    Raises
    ------
    RangeError
        If one of them is not above 0.

    Notes
    -----
    Validity: not stated by the source; currents of sinking, a few to some tens of ampere.

    References
    ----------
    Ikai and Hashiguchi, ISEM XI (1995) (from memory).
    """
    _above_zero(current_a=current_a, on_time_us=on_time_us)
    radius_m = (
        law.heat_radius_scale_m
        * current_a**law.heat_radius_current_exponent
        * (on_time_us * 1e-6) ** law.heat_radius_time_exponent
    )
    return float(radius_m * 1_000_000)


def ierfc(x: Floats | float) -> Floats:
    """Return the integral of the complementary error function from x to infinity.

    ``ierfc x = exp(-x²)/sqrt(pi) - x erfc x``.

    >>> round(float(ierfc(0.0)), 6)
    0.56419
    """
    x = np.asarray(x, dtype=np.float64)
    result: Floats = np.exp(-(x**2)) / math.sqrt(math.pi) - x * erfc(x)
    return result


def axis_rise_k(
    depth_um: Floats | float,
    *,
    flux_w_per_m2: float,
    radius_um: float,
    on_time_us: float,
    conductivity_w_per_mk: float,
    diffusivity_m2_per_s: float,
) -> Floats:
    """Return the temperature rise on the axis of a disc that heats a half space evenly.

    ``T = (2 q s/k) (ierfc(z/(2 s)) - ierfc(sqrt(z² + R²)/(2 s)))`` with ``s = sqrt(alpha t)``;
    for a wide disc it becomes ``2 q s / (k sqrt(pi))`` at the surface, for a long time
    ``q R / k``.

    Parameters
    ----------
    depth_um : float or array
        Depth z below the surface, not negative.
    flux_w_per_m2 : float
    radius_um, on_time_us : float
    conductivity_w_per_mk, diffusivity_m2_per_s : float

    Returns
    -------
    array
        Rise in K, shape of ``depth_um``.

    Raises
    ------
    RangeError
        If a parameter is not above 0.

    Notes
    -----
    Constant properties, no loss at the surface, no latent heat, nothing thrown out while it
    melts.

    References
    ----------
    Carslaw and Jaeger, Conduction of Heat in Solids, disc source on a half space; for sparks
    after Snoeys and Van Dijck, 1971-74 (both from memory).
    """
    _above_zero(
        flux_w_per_m2=flux_w_per_m2,
        radius_um=radius_um,
        on_time_us=on_time_us,
        conductivity_w_per_mk=conductivity_w_per_mk,
        diffusivity_m2_per_s=diffusivity_m2_per_s,
    )
    depth = np.asarray(depth_um, dtype=np.float64) * 1e-6
    radius = radius_um * 1e-6
    reach = math.sqrt(diffusivity_m2_per_s * on_time_us * 1e-6)
    near = ierfc(depth / (2 * reach))
    far = ierfc(np.hypot(depth, radius) / (2 * reach))
    rise: Floats = 2 * flux_w_per_m2 * reach / conductivity_w_per_mk * (near - far)
    return rise


@dataclass(frozen=True, slots=True, kw_only=True)
class Crater:
    """What the disc model says of one spark.

    Attributes
    ----------
    radius_um : float
        Of the heat source.
    share : float
        Of the power that goes into the work.
    centre_c : float
        Temperature at the centre at the end of the pulse; above boiling it says only that the
        metal there is gone.
    melt_depth_um : float
        0 where the centre does not melt.
    """

    radius_um: float
    share: float
    centre_c: float
    melt_depth_um: float


def crater(pulse: Pulse, *, share: float, material: Material, law: CraterLaw) -> Crater:
    """Compute how deep one spark melts, with the equivalent heat radius.

    Latent heat enters as an increase of the heat capacity, ``c + L / (Tm - 20)``.

    Parameters
    ----------
    pulse : Pulse
    share : float
        Share of the power that goes into the work, above 0 and not above 1; the published ones
        are in the law.
    material : Material
    law : CraterLaw

    Raises
    ------
    RangeError
        If the share is out of range.

    Notes
    -----
    The radius is taken for the mean current.  An estimate of order of magnitude: at the end of
    the pulse only part of the melt is thrown out, and the two published source radii differ by
    a factor of some 70 at 1.4 µs, so that no roughness is derived from this.

    References
    ----------
    See :func:`axis_rise_k` and :func:`heat_radius_um`.
    """
    if not 0 < share <= 1:
        raise RangeError(
            f"a share of {share:g} of the power; it must be above 0 and at most 1",
            code="crater-out-of-range",
        )
    radius = heat_radius_um(pulse.peak_current_a / 2, on_time_us=pulse.on_time_us, law=law)
    flux = share * pulse.mean_power_w / (math.pi * (radius * 1e-6) ** 2)
    melting_rise = material.melting_c - _ROOM_C
    latent = (material.latent_heat_kj_per_kg or 0.0) * 1000
    capacity = material.heat_capacity_j_per_kgk + latent / melting_rise
    diffusivity = material.conductivity_w_per_mk / (material.density_kg_per_m3 * capacity)

    def rise(depth_um: float) -> float:
        return float(
            axis_rise_k(
                depth_um,
                flux_w_per_m2=flux,
                radius_um=radius,
                on_time_us=pulse.on_time_us,
                conductivity_w_per_mk=material.conductivity_w_per_mk,
                diffusivity_m2_per_s=diffusivity,
            )
        )

    at_centre = rise(0.0)
    depth = 0.0
    if at_centre > melting_rise:
        # At ten diffusion lengths the rise is far below any melting point.
        deep = 20 * math.sqrt(diffusivity * pulse.on_time_us * 1e-6) * 1e6
        depth = float(brentq(lambda z: rise(z) - melting_rise, 0.0, deep))
    return Crater(radius_um=radius, share=share, centre_c=at_centre + _ROOM_C, melt_depth_um=depth)


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise RangeError(f"{name} is {value:g}; it must be above 0", code="crater-out-of-range")
