"""The heat of one spark against closed limits and against sums of point sources."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process.crater import (
    PARABOLA_DEPTH_PER_RA,
    Pulse,
    axis_rise_k,
    crater,
    full_pulse,
    heat_radius_um,
    ierfc,
    plasma_radius_um,
    pulse_of_energy,
)

TABLES = load_tables()
SPARK = TABLES.technology.spark
D2 = TABLES.catalogue.material("D2")
FLUX = 3e10
K, ALPHA = 21.0, 5.7e-6


def rise(depth_um, *, radius_um=60.0, on_time_us=1.4):
    return axis_rise_k(
        depth_um,
        flux_w_per_m2=FLUX,
        radius_um=radius_um,
        on_time_us=on_time_us,
        conductivity_w_per_mk=K,
        diffusivity_m2_per_s=ALPHA,
    )


def test_the_integral_error_function_is_the_integral_of_erfc():
    for x in (0.0, 0.3, 1.0, 2.0):
        assert float(ierfc(x)) == pytest.approx(quad(math.erfc, x, np.inf)[0], abs=1e-9)


def test_a_disc_without_end_heats_like_a_plane():
    plane = 2 * FLUX * math.sqrt(ALPHA * 1.4e-6 / math.pi) / K
    assert float(rise(0.0, radius_um=1e6)) == pytest.approx(plane, rel=1e-12)


def test_after_a_long_time_the_centre_reaches_the_steady_rise():
    # q R / k: Carslaw and Jaeger, steady disc on a half space (from memory).
    steady = FLUX * 60e-6 / K
    assert float(rise(0.0, on_time_us=1e9)) == pytest.approx(steady, rel=1e-3)


@pytest.mark.parametrize("depth_um", [0.0, 1.0, 3.0, 10.0])
@pytest.mark.parametrize("radius_um", [2.0, 10.0, 60.0])
def test_the_closed_form_is_the_sum_of_instantaneous_point_sources(depth_um, radius_um):
    # Green's function of the half space, integrated over the disc by hand and over time by quad.
    z, radius, heat = depth_um * 1e-6, radius_um * 1e-6, K / ALPHA

    def source(root):
        # Substituted tau = root² to take the singularity at 0 away.
        if root == 0:
            return 0.0 if z else 2 / math.sqrt(math.pi * ALPHA)
        tau = root * root
        flat = math.exp(-(z**2) / (4 * ALPHA * tau)) / math.sqrt(math.pi * ALPHA * tau)
        return 2 * root * flat * -math.expm1(-(radius**2) / (4 * ALPHA * tau))

    summed = FLUX / heat * quad(source, 0.0, math.sqrt(1.4e-6), epsabs=0, limit=200)[0]
    assert float(rise(depth_um, radius_um=radius_um)) == pytest.approx(summed, rel=1e-6)


def test_a_row_of_parabolic_craters_is_as_deep_as_the_factor_says():
    x = np.linspace(-1, 1, 200_001)
    profile = x**2
    ra = np.abs(profile - profile.mean()).mean()
    assert 1 / ra == pytest.approx(PARABOLA_DEPTH_PER_RA, rel=1e-4)


def test_a_pulse_of_an_energy_has_that_energy_and_the_full_pulse_is_one_of_the_family():
    for energy in (0.001, 0.1, 9.8):
        assert pulse_of_energy(energy, through=full_pulse(SPARK.pulse)).energy_mj == pytest.approx(
            energy
        )
    full = full_pulse(SPARK.pulse)
    again = pulse_of_energy(full.energy_mj, through=full_pulse(SPARK.pulse))
    assert again.peak_current_a == pytest.approx(full.peak_current_a)


def test_the_melt_depth_is_where_the_closed_form_meets_the_melting_point():
    found = crater(full_pulse(SPARK.pulse), share=0.183, material=D2, law=SPARK.crater)
    capacity = D2.heat_capacity_j_per_kgk + D2.latent_heat_kj_per_kg * 1000 / (D2.melting_c - 20)
    there = axis_rise_k(
        found.melt_depth_um,
        flux_w_per_m2=0.183 * 7000 / (math.pi * (found.radius_um * 1e-6) ** 2),
        radius_um=found.radius_um,
        on_time_us=1.4,
        conductivity_w_per_mk=D2.conductivity_w_per_mk,
        diffusivity_m2_per_s=D2.conductivity_w_per_mk / (D2.density_kg_per_m3 * capacity),
    )
    assert float(there) == pytest.approx(D2.melting_c - 20, rel=1e-9)


def test_the_melt_depth_is_of_the_order_of_the_craters_that_the_roughness_asks_for():
    # Stated in docs/process/surface.md: within a factor of 5 from 1 uJ to the full pulse.
    for energy in (0.001, 0.01, 0.1, 1.0, 9.8):
        pulse = pulse_of_energy(energy, through=full_pulse(SPARK.pulse))
        deep = SPARK.surface.ra_scale_um * energy ** (1 / 3) * PARABOLA_DEPTH_PER_RA
        for share in (SPARK.crater.work_share_low, SPARK.crater.work_share_high):
            melt = crater(pulse, share=share, material=D2, law=SPARK.crater).melt_depth_um
            assert deep / 5 < melt < deep * 5


def test_a_faint_spark_on_copper_melts_nothing():
    copper = TABLES.catalogue.material("C110")
    faint = Pulse(peak_current_a=700, on_time_us=1.4, voltage_v=20)
    assert crater(faint, share=0.001, material=copper, law=SPARK.crater).melt_depth_um == 0


@pytest.mark.parametrize(
    "call",
    [
        lambda: Pulse(peak_current_a=0, on_time_us=1, voltage_v=20),
        lambda: pulse_of_energy(float("nan"), through=full_pulse(SPARK.pulse)),
        lambda: plasma_radius_um(0, law=SPARK.crater),
        lambda: heat_radius_um(10, on_time_us=-1, law=SPARK.crater),
        lambda: crater(full_pulse(SPARK.pulse), share=1.2, material=D2, law=SPARK.crater),
    ],
)
def test_values_out_of_range_are_refused(call):
    with pytest.raises(RangeError) as caught:
        call()
    assert caught.value.code == "crater-out-of-range"
