"""The printed formulas, evaluated with quantities that carry their units, against our functions.

``pint`` keeps the books: a factor of a thousand or sixty that crept into one of our functions, or a
formula printed with the wrong power, gives another value or another dimension.  Formulas as in the
docstrings and ``docs/process``.
"""

from __future__ import annotations

import math

import numpy as np
import pint
import pytest
from tests.unit.process.samples import machine

from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.costing.uncertainty import Amount, total
from kerfwright.planning.holding import GRAVITY_M_PER_S2, flushing_force_n
from kerfwright.process import consumption, crater, kerf_flow
from kerfwright.process.corner_error import circle_error_um, corner_error_um
from kerfwright.process.passes import passes_for
from kerfwright.process.rough import rough_feed
from kerfwright.process.small_hole import drill
from kerfwright.process.spark_surface import surface_of
from kerfwright.process.wire import barrel_um, static_bow_um, tension_n
from kerfwright.process.wire_break import stress_n_per_mm2
from kerfwright.process.wire_heat import section_m2, solve_profile, wire_profile
from kerfwright.process.wire_physics import (
    effective_current_a,
    mean_current_a,
    spark_frequency_khz,
)
from kerfwright.process.wire_shape import push_on_wire

U = pint.UnitRegistry(cache_folder=None)
TABLES, PHYSICS = load_tables(), load_wire_physics()
STEEL, WIRE = TABLES.catalogue.material("D2"), TABLES.catalogue.wire("0.25")
HEIGHT = 40 * U.mm
DIAMETER = WIRE.diameter_mm * U.mm


def agree(ours: float, unit: str, theirs: pint.Quantity, *, rel: float = 1e-9) -> None:
    """Compare value and dimension; a formula of another dimension cannot be converted."""
    assert ours == pytest.approx(theirs.to(unit).magnitude, rel=rel)


def test_the_check_fails_on_a_wrong_dimension_and_on_a_wrong_factor():
    with pytest.raises(pint.DimensionalityError):
        agree(1.0, "micrometer", 1 * U.mm**2)
    with pytest.raises(AssertionError):
        agree(1.0, "micrometer", 1 * U.mm)


def test_area_rate_and_rough_feed():
    # A = K / (1/(v0 H) + 1/(A_inf f_d)) / (1 + (H/H_f)^2),  v = A/H.
    law = TABLES.technology.rough
    v0 = law.thin_plate_feed_mm_per_min * U.mm / U.min
    plateau = law.plateau_area_rate_mm2_per_min * U.mm**2 / U.min
    of_plateau, usual = (
        min(1.0, ((d / (law.plateau_diameter_mm * U.mm)) ** 0.5).m_as(""))
        for d in (DIAMETER, law.usual_diameter_mm * U.mm)
    )
    share = of_plateau / usual
    rate = 1 / (1 / (v0 * HEIGHT) + 1 / (plateau * share))
    rate /= 1 + (HEIGHT / (law.height_scale_mm * U.mm)) ** 2
    ours = rough_feed(
        material=STEEL, height_mm=40, wire=WIRE, machine=machine(), law=law
    ).feed_mm_per_min
    factor = STEEL.rate_factor * law.shop_derate * WIRE.rate_factor
    agree(ours, "mm/min", rate * factor / HEIGHT)


def test_offset():
    # o_n = d/2 + g_n + sum of the stock of later passes.
    passes = passes_for(
        4, material=STEEL, height_mm=40, wire=WIRE, machine=machine(),
        technology=TABLES.technology,
    )  # fmt: skip
    for n, one in enumerate(passes):
        later = sum((p.stock_um for p in passes[n + 1 :]), start=0.0) * U.um
        agree(one.offset_mm, "mm", DIAMETER / 2 + one.gap_um * U.um + later)


def test_tension_and_stress():
    # T = s sigma pi d^2/4;  stress = 4 T/(pi d^2).
    strength = WIRE.tensile_n_per_mm2 * U.N / U.mm**2
    tension = 0.35 * strength * math.pi * DIAMETER**2 / 4
    agree(tension_n(WIRE), "N", tension)
    agree(
        stress_n_per_mm2(WIRE, tension_n=tension_n(WIRE)),
        "N/mm^2",
        4 * tension / (math.pi * DIAMETER**2),
    )


def test_bow_barrel_and_push():
    # delta = q h (2L - h)/(8 T);  barrel q h^2/(8 T);  q = p d (H_0/H)^k.
    push, span, tension = 1.3 * U.N / U.m, 60 * U.mm, 15 * U.N
    agree(
        static_bow_um(1.3, height_mm=40, span_mm=60, tension_n=15),
        "um",
        push * HEIGHT * (2 * span - HEIGHT) / (8 * tension),
    )
    agree(barrel_um(1.3, height_mm=40, tension_n=15), "um", push * HEIGHT**2 / (8 * tension))
    law = PHYSICS.push
    (rough,) = passes_for(
        1, material=STEEL, height_mm=60, wire=WIRE, machine=machine(),
        technology=TABLES.technology,
    )  # fmt: skip
    fall = (law.height_mm / 60) ** law.height_exponent
    agree(
        push_on_wire(rough, rough=rough, wire=WIRE, height_mm=60, physics=PHYSICS).whole_n_per_m,
        "N/m",
        law.pressure_kpa * U.kPa * DIAMETER * fall,
    )


def test_lag_at_corners_and_circles():
    # e = delta sin(phi), tan(phi/2) = tan(alpha/2) exp(-s/delta);  R - sqrt(R^2 - delta^2).
    lag, run, radius = 26 * U.um, 0.02 * U.mm, 0.5 * U.mm
    phi = 2 * math.atan(math.tan(0.6) * math.exp(-(run / lag).m_as("")))
    agree(float(corner_error_um(1.2, lag_um=26, run_um=20)), "um", lag * math.sin(phi))
    ours = float(circle_error_um(500, lag_um=26))
    agree(ours, "um", radius - (radius**2 - lag**2) ** 0.5)


def test_spark_frequency_and_currents():
    # f = (1 - U_s/U_0)/(t_on + t_off);  I = I_p t_on f/2;  I_eff = sqrt(2 I I_p/3).
    pulse = PHYSICS.pulse
    busy = (pulse.on_us + pulse.off_us) * U.us
    frequency = (1 - (pulse.servo_v * U.V) / (pulse.open_v * U.V)) / busy
    agree(spark_frequency_khz(pulse), "kHz", frequency)
    peak = pulse.peak_a * U.A
    mean = peak * pulse.on_us * U.us * frequency / 2
    agree(mean_current_a(pulse), "A", mean)
    agree(effective_current_a(20, peak_a=700), "A", (2 * 20 * U.A * 700 * U.A / 3) ** 0.5)


def test_the_terms_of_the_heat_balance_are_power_per_length():
    # k A T'' - rho c A v T' - h pi d (T - T0) + eta u I/H + rho_el I^2/A = 0
    profile = wire_profile(WIRE, height_mm=40, mean_a=10, peak_a=500, physics=PHYSICS)
    metal, heat = PHYSICS.metal(WIRE), PHYSICS.heat
    area = math.pi * DIAMETER**2 / 4
    agree(section_m2(WIRE), "m^2", area)
    conduction = metal.conductivity_w_per_mk * U.W / U.m / U.K * area
    agree(profile.conduction_w_m, "W*m/K", conduction)
    speed = WIRE.run_speed_m_per_min * U.m / U.min
    transport = (
        WIRE.density_kg_per_m3 * U.kg / U.m**3
        * metal.heat_capacity_j_per_kgk * U.J / U.kg / U.K * area * speed
    )  # fmt: skip
    agree(profile.transport_w_per_k, "W/K", transport)
    film = heat.film_w_per_m2k * U.W / U.m**2 / U.K * math.pi * DIAMETER
    agree(profile.film_w_per_mk, "W/m/K", film)
    # All the heat that sparks and current bring: eta u I, and the integral of rho I^2/A.
    copper = heat.copper_resistivity_uohm_cm * U.uohm * U.cm
    resistivity = copper / (metal.conductivity_pct_iacs / 100)
    effective = (2 * 10 * U.A * 500 * U.A / 3) ** 0.5
    # A spark at z: the share u over z, 1 - u over the rest; a cubic, Simpson's rule is exact.
    lead, gap = heat.lead_mm * U.mm, heat.contact_gap_mm * U.mm
    wire = 2 * gap + HEIGHT
    run = 0 * U.mm
    for z, weight in ((gap, 1 / 6), (gap + HEIGHT / 2, 4 / 6), (gap + HEIGHT, 1 / 6)):
        u = (lead + wire - z) / (2 * lead + wire)
        run += weight * (u**2 * z + (1 - u) ** 2 * (wire - z))
    joule = resistivity / area * effective**2 * run
    sparks = heat.spark_share_to_wire * heat.spark_voltage_v * U.V * 10 * U.A
    length = profile.length_m * U.m / len(profile.source_w_per_m)
    ours = float(profile.source_w_per_m.sum()) * (length / U.m).m_as("")
    agree(ours, "W", sparks + joule, rel=1e-6)
    # Heat in is heat out: what the water takes and what the wire carries away, in watts.
    over = (solve_profile(profile) - profile.water_c) * U.delta_degC
    taken = (film * over.sum() * length).to("W") + (transport * over[-1]).to("W")
    agree(ours, "W", taken, rel=0.01)


def test_spark_energy_crater_and_gap():
    # E = I t u/2;  T = 2 q sqrt(alpha t/pi)/k under a wide disc;  gap = G E^(1/3), E in mJ.
    law = TABLES.technology.spark
    pulse = crater.full_pulse(law.pulse)
    energy = pulse.peak_current_a * U.A * pulse.on_time_us * U.us * pulse.voltage_v * U.V / 2
    agree(pulse.energy_mj, "mJ", energy)
    k, rho = STEEL.conductivity_w_per_mk, STEEL.density_kg_per_m3
    alpha = (
        k * U.W / U.m / U.K
        / (rho * U.kg / U.m**3 * STEEL.heat_capacity_j_per_kgk * U.J / U.kg / U.K)
    )  # fmt: skip
    flux = 1e9 * U.W / U.m**2
    rise = 2 * flux * (alpha * U.us / math.pi) ** 0.5 / (k * U.W / U.m / U.K)
    ours = crater.axis_rise_k(
        0.0,
        flux_w_per_m2=1e9,
        radius_um=1e5,
        on_time_us=1.0,
        conductivity_w_per_mk=k,
        diffusivity_m2_per_s=alpha.m_as("m^2/s"),
    )
    agree(float(ours), "K", rise, rel=1e-6)
    surface = surface_of(pulse.energy_mj, material=STEEL, law=law)
    relative = (energy / (1 * U.mJ)).m_as("")
    agree(surface.gap_um, "um", law.surface.gap_scale_um * U.um * relative ** (1 / 3), rel=1e-6)


def test_flow_between_plates_and_its_reynolds_number():
    # v = w^2 p/(12 mu L);  Re = 2 w v rho/mu.
    slot, viscosity = 330 * U.um, 1 * U.mPa * U.s
    speed = slot**2 * 0.02 * U.MPa / (12 * viscosity * 20 * U.mm)
    ours = kerf_flow.plate_speed_m_per_s(330, pressure_mpa=0.02, length_mm=20, viscosity_mpa_s=1)
    agree(ours, "m/s", speed)
    density = 998 * U.kg / U.m**3
    reynolds = kerf_flow.reynolds_number(
        330, speed_m_per_s=ours, density_kg_per_m3=998, viscosity_mpa_s=1
    )
    agree(reynolds, "", 2 * slot * speed * density / viscosity)


def test_wire_electricity_filters_and_resin():
    # rho pi d^2/4 v t;  P t;  t/life;  litres an hour x t.
    time = 95 * U.min
    area = math.pi * DIAMETER**2 / 4
    mass = WIRE.density_kg_per_m3 * U.kg / U.m**3 * area
    mass = mass * WIRE.run_speed_m_per_min * U.m / U.min * time
    agree(consumption.wire_kg(95, wire=WIRE), "kg", mass)
    agree(consumption.spools(consumption.wire_kg(95, wire=WIRE), wire=WIRE), "",
          mass / (WIRE.spool_kg * U.kg))  # fmt: skip
    agree(consumption.energy_kwh(95, power_kw=6), "kWh", 6 * U.kW * time)
    agree(consumption.filter_sets(95, life_h=150), "", time / (150 * U.hour))
    agree(consumption.resin_l(95, litres_per_h=0.02), "liter", 0.02 * U.liter / U.hour * time)


def test_the_time_of_a_small_hole():
    # t = (L + b d)(1 + (L/D)/s)/(v K);  tube k L + b d.
    law = TABLES.technology.small_hole
    hole = drill(40, diameter_mm=1.0, material=STEEL, law=law)
    depth, bore = 40 * U.mm, 1 * U.mm
    tube = bore - 2 * law.overcut_mm * U.mm
    feed = dict(law.feed_mm_per_min)[1.0] * U.mm / U.min * law.feed_factor["steel"]
    travel = depth + law.breakthrough_diameters * tube
    slow = 1 + (depth / bore).m_as("") / law.depth_scale
    agree(hole.minutes.likely, "min", travel * slow / feed)
    agree(
        hole.tube_used_mm,
        "mm",
        law.wear_ratio["steel"] * depth + law.breakthrough_diameters * tube,
    )


def test_weight_and_flushing_force():
    rules = TABLES.rules
    face = math.pi / 4 * (rules.nozzle_diameter_mm * U.mm) ** 2
    agree(flushing_force_n(1e4, rules=rules), "N", rules.flushing_pressure_mpa * U.MPa * face)
    agree(2.5 * GRAVITY_M_PER_S2, "N", 2.5 * U.kg * U.standard_gravity)


def test_minutes_times_a_rate_is_money():
    with_money = pint.UnitRegistry(cache_folder=None)
    with_money.define("euro = [money]")
    price = 95 * with_money.min * 35 * with_money.euro / with_money.hour
    span = total([Amount(likely=95 / 60 * 35, sigma_log=0.0, cause="time")])
    assert span.likely == pytest.approx(price.to("euro").magnitude)
    assert np.isclose(span.low, span.high)
