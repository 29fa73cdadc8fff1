"""Water through the kerf against exact solutions."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from tests.closed_forms_of_flow import front_flow_mm3_per_s, kerf_pressure

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.errors import RangeError
from kerfwright.process.kerf_flow import (
    debris_along,
    inflow_shape,
    plate_speed_m_per_s,
    reynolds_number,
)

LAW = load_tables().technology.flushing
UNMIXED = replace(LAW, debris=replace(LAW.debris, mixing_mm=1e-6))
A = LAW.nozzle.mouth_radius_mm


def debris(height_mm=40.0, *, top=1.0, bottom=1.0, law=LAW):
    return debris_along(
        height_mm, wire_mm=0.25, gap_um=40, top_share=top, bottom_share=bottom, law=law
    )


def test_water_between_plates_flows_as_fast_as_its_own_parabola():
    # u(y) = p/(2 mu L) y (w - y), the exact profile, averaged by quadrature.
    gap, pressure, length, mu = 330e-6, 1e4, 0.05, 1.0016e-3
    mean = quad(lambda y: pressure / (2 * mu * length) * y * (gap - y), 0, gap)[0] / gap
    found = plate_speed_m_per_s(330, pressure_mpa=0.01, length_mm=50, viscosity_mpa_s=1.0016)
    assert found == pytest.approx(mean)


def test_the_reynolds_number_is_formed_with_twice_the_gap():
    # By hand: 2 * 0.33e-3 m * 10 m/s * 998.2 / 1.0016e-3 = 6578.
    found = reynolds_number(330, speed_m_per_s=10, density_kg_per_m3=998.2, viscosity_mpa_s=1.0016)
    assert found == pytest.approx(6578, rel=1e-3)


@pytest.mark.parametrize("gap_um", [5.0, 40.0, 200.0])
def test_the_flow_before_the_wire_is_half_the_integral_of_the_ring_profile(gap_um):
    a, b = 0.125e-3, 0.125e-3 + gap_um * 1e-6
    slope, mu = 1e4 / 0.05, 1.0016e-3

    def speed(r):
        return slope / (4 * mu) * (b**2 - r**2 - (b**2 - a**2) * math.log(b / r) / math.log(b / a))

    half_ring = quad(lambda r: speed(r) * math.pi * r, a, b)[0] * 1e9
    found = front_flow_mm3_per_s(
        wire_mm=0.25, gap_um=gap_um, pressure_mpa=0.01, length_mm=50, viscosity_mpa_s=1.0016
    )
    assert found == pytest.approx(half_ring, rel=1e-6)


def test_a_thin_ring_is_a_pair_of_plates():
    given = {"pressure_mpa": 0.01, "length_mm": 50, "viscosity_mpa_s": 1.0016}
    ring = front_flow_mm3_per_s(wire_mm=0.25, gap_um=2.0, **given)
    breadth_mm = math.pi / 2 * (0.25 + 0.002)
    plates = plate_speed_m_per_s(2.0, **given) * 1000 * breadth_mm * 0.002
    assert ring == pytest.approx(plates, rel=1e-4)


def test_under_a_mouth_without_end_the_pressure_falls_in_a_straight_line():
    z = np.linspace(0.1, 39.9, 7)
    found = kerf_pressure(0.0, z, height_mm=40, mouth_mm=1e4, top_mpa=0.2, bottom_mpa=1.0)
    assert found == pytest.approx(1.0 + (0.2 - 1.0) * z / 40)
    assert inflow_shape(z, height_mm=40, mouth_mm=1e4) == pytest.approx(1 / 40)


def test_in_work_without_end_a_nozzle_presses_as_on_a_half_plane():
    # Step of pressure on the edge of a half plane: (P/pi)(atan((a+x)/z) + atan((a-x)/z)).
    x, z = np.meshgrid([0.0, 1.0, 2.9, 5.0], [0.2, 1.0, 4.0])
    found = kerf_pressure(x, z, height_mm=1e5, mouth_mm=3, top_mpa=0, bottom_mpa=1)
    exact = (np.arctan((3 + x) / z) + np.arctan((3 - x) / z)) / math.pi
    assert found == pytest.approx(exact, abs=1e-6)


def test_the_faces_have_the_nozzles_pressure_under_the_mouth_and_none_beyond():
    x = np.array([0.0, 2.9, 3.1, 20.0])
    given = {"height_mm": 40, "mouth_mm": 3, "top_mpa": 0.3, "bottom_mpa": 1.0}
    assert kerf_pressure(x, 0.0, **given) == pytest.approx([1, 1, 0, 0], abs=1e-12)
    assert kerf_pressure(x, 40.0, **given) == pytest.approx([0.3, 0.3, 0, 0], abs=1e-12)


def test_the_inflow_is_the_slope_of_the_pressure_at_the_wire():
    z = np.linspace(1, 39, 9)
    step = 1e-4
    ends = [
        kerf_pressure(0.0, z + s, height_mm=40, mouth_mm=3, top_mpa=0, bottom_mpa=1)
        for s in (-step, step)
    ]
    slope = (ends[0] - ends[1]) / (2 * step)
    assert inflow_shape(z, height_mm=40, mouth_mm=3) == pytest.approx(slope, rel=1e-6)


@pytest.mark.parametrize("height_mm", [5.0, 20.0, 80.0])
def test_without_mixing_the_dirt_from_one_nozzle_is_the_integral_of_the_time_to_pass(height_mm):
    # c = integral dz / Q with 1/h = (H/T)(sin² + T² cos²), integrated by hand.
    found = debris(height_mm, top=0.0, law=UNMIXED)
    t = math.tanh(math.pi * A / (2 * height_mm))
    z, wave = found.up_mm, height_mm / (2 * math.pi)
    ripple = wave * np.sin(math.pi * z / height_mm)
    exact = height_mm / t * ((z / 2 - ripple) + t**2 * (z / 2 + ripple))
    assert found.still_up_mm is None
    # Scaled by the last value: the speed of the water is no part of this check.
    assert found.dirt / found.dirt[-1] == pytest.approx(exact / exact[-1], abs=0.01)


def test_two_equal_nozzles_stand_still_and_are_dirtiest_half_way():
    found = debris(40.0)
    assert found.still_up_mm == pytest.approx(20, abs=0.1)
    assert found.worst_up_mm == pytest.approx(20, abs=0.2)
    assert found.dirt == pytest.approx(found.dirt[::-1], rel=1e-9)


def test_turning_the_work_over_turns_the_dirt_over():
    up, down = debris(top=0.3), debris(bottom=0.3)
    assert up.dirt == pytest.approx(down.dirt[::-1], rel=1e-9)
    # The weak nozzle's water is pushed back towards its own face.
    assert up.still_up_mm > 20
    assert up.worst_up_mm > 20


def test_dirt_goes_inversely_with_the_pressure_and_rises_with_the_height():
    assert debris(top=0.5, bottom=0.5).dirt == pytest.approx(2 * debris().dirt)
    worst = [debris(h).worst for h in (10, 20, 40, 80, 160)]
    assert worst == sorted(worst)


@pytest.mark.parametrize("pressure_mpa", [1e-4, 1.2])
def test_water_that_runs_straight_through_carries_all_the_metal_cut(pressure_mpa):
    # Under a mouth without end nothing is lost behind the wire, so what leaves at the top holds
    # the metal of the whole height: feed * kerf * H = c * speed * breadth * kerf.  The speed is
    # that between plates, or of a free jet where that is slower.
    law = replace(
        UNMIXED,
        nozzle=replace(LAW.nozzle, mouth_radius_mm=1e5),
        water=replace(LAW.water, rough_pressure_mpa=pressure_mpa),
    )
    slow = plate_speed_m_per_s(330, pressure_mpa=pressure_mpa, length_mm=40, viscosity_mpa_s=1.0016)
    jet = math.sqrt(2 * pressure_mpa * 1e6 / 998.2)
    per_feed = (1 / 60) * 40 / (1000 * min(slow, jet) * 0.25)
    assert debris(top=0.0, law=law).dirt[-1] == pytest.approx(per_feed, rel=0.01)


def test_at_the_usual_feed_debris_is_a_small_share_of_the_water():
    # 3 mm/min at 40 mm: between a millionth and a hundredth; more would be sludge.
    assert 1e-6 < 3 * debris().worst < 1e-2


@pytest.mark.parametrize(
    "call",
    [
        lambda: plate_speed_m_per_s(0, pressure_mpa=1, length_mm=1, viscosity_mpa_s=1),
        lambda: debris(height_mm=-1),
        lambda: inflow_shape(1.0, height_mm=40, mouth_mm=0),
        lambda: debris(top=0.0, bottom=0.0),
        lambda: debris(top=1.5),
        lambda: kerf_pressure(0, 0, height_mm=0, mouth_mm=3, top_mpa=1, bottom_mpa=1),
    ],
)
def test_values_out_of_range_are_refused(call):
    with pytest.raises(RangeError) as caught:
        call()
    assert caught.value.code == "flow-out-of-range"
