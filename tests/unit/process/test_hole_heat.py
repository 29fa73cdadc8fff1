"""The heat left by holes against conservation of energy and a numeric solution."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.sparse import csc_matrix

from kerfwright.adapters.tables import load_tables
from kerfwright.process.hole_heat import rise_k

STEEL = load_tables().catalogue.material("D2")


def rise_at(distance_mm: float, since_s: float) -> float:
    """Rise at a second hole that begins so long after the middle of a first of 2 s, 5 W, 10 mm."""
    places = np.array([[0.0, 0.0, 0.0], [distance_mm, 0.0, 0.0]])
    begin = np.array([-1.0, since_s])
    end = np.array([1.0, since_s + 2.0])
    found = rise_k(
        places, begin_s=begin, end_s=end, depth_mm=np.array([10.0, 10.0]), heat_w=5.0,
        material=STEEL,
    )  # fmt: skip
    assert found[0] == 0
    return float(found[1])


@pytest.mark.parametrize("since_s", [3.0, 20.0])
def test_the_heat_in_the_work_stays_what_was_put_in(since_s: float) -> None:
    volumetric = STEEL.density_kg_per_m3 * STEEL.heat_capacity_j_per_kgk
    inside, _ = quad(
        lambda r: rise_at(r * 1000, since_s) * volumetric * 2 * np.pi * r, 0.0, 0.2, limit=200
    )
    assert inside == pytest.approx(5.0 * 2.0 / 0.010, rel=1e-6)


def test_the_rise_is_that_of_a_numeric_solution_of_the_heat_equation() -> None:
    # Method of lines in radius; the source is a narrow ring, let go at once.
    diffusivity = STEEL.conductivity_w_per_mk / (
        STEEL.density_kg_per_m3 * STEEL.heat_capacity_j_per_kgk
    )
    r = np.linspace(0.0, 0.06, 601)
    half = (r[1:] + r[:-1]) / 2
    area = np.concatenate(
        [[half[0] ** 2], half[1:] ** 2 - half[:-1] ** 2, [r[-1] ** 2 - half[-1] ** 2]]
    )
    volume = np.pi * area
    start = np.zeros_like(r)
    volumetric = STEEL.density_kg_per_m3 * STEEL.heat_capacity_j_per_kgk
    start[0] = 1000.0 / (volumetric * volume[0])

    def change(_t: float, temperature: np.ndarray) -> np.ndarray:
        flow = 2 * np.pi * half * diffusivity * np.diff(temperature) / np.diff(r)
        return (np.concatenate([flow, [0.0]]) - np.concatenate([[0.0], flow])) / volume

    # Linear, and each ring touches its neighbours only: told so, the solver need not find it out.
    rates = csc_matrix(np.array([change(0.0, one) for one in np.eye(len(r))]).T)
    solved = solve_ivp(
        change, (0.0, 10.0), start, method="BDF", rtol=1e-6, t_eval=[10.0], jac=rates
    )
    for distance_mm in (0.0, 5.0, 15.0):
        numeric = np.interp(distance_mm / 1000, r, solved.y[:, -1])
        assert rise_at(distance_mm, 10.0) == pytest.approx(numeric, rel=0.02)


def test_heat_of_several_holes_adds_up_and_fades() -> None:
    assert rise_at(2.0, 5.0) > rise_at(2.0, 10.0) > 0
    assert rise_at(2.0, 5.0) > rise_at(6.0, 5.0)
    places = np.zeros((3, 3))
    places[:, 0] = (0.0, 4.0, 2.0)
    begin = np.array([0.0, 10.0, 20.0])
    both = rise_k(
        places, begin_s=begin, end_s=begin + 2, depth_mm=np.full(3, 10.0), heat_w=5.0,
        material=STEEL,
    )[2]  # fmt: skip
    assert both == pytest.approx(rise_at(2.0, 19.0) + rise_at(2.0, 9.0))
