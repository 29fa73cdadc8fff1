"""The same wire by a boundary-value solver and by finite elements."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.integrate import solve_bvp
from scipy.sparse import diags_array
from scipy.sparse.linalg import spsolve

from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.process.wire_heat import WireProfile, solve_profile, wire_profile

PHYSICS = load_wire_physics()
WIRES = load_tables().catalogue
CASES = [("0.25", 40.0, 16.0), ("0.10", 20.0, 2.0), ("0.30", 100.0, 25.0)]


def made(name: str, height_mm: float, mean_a: float) -> WireProfile:
    return wire_profile(
        WIRES.wire(name), height_mm=height_mm, mean_a=mean_a, peak_a=500, physics=PHYSICS
    )


@cache
def heat_of_sparks(name: str, height_mm: float, mean_a: float) -> tuple[np.ndarray, np.ndarray]:
    """Heat of single sparks, each at a random place: edges of 500 slices, and W/m of current.

    Nothing of the balance's own formula is in it: each spark is a circuit of two pieces of wire
    with their leads in parallel, solved for its currents, squared, and only then averaged.  One
    place is drawn in each of 20 000 strips of the work, so that chance leaves less than 1 in 1000.
    """
    wire, heat = WIRES.wire(name), PHYSICS.heat
    top, height = heat.contact_gap_mm / 1000, height_mm / 1000
    length, lead = height + 2 * top, heat.lead_mm / 1000
    per_m = PHYSICS.resistivity_ohm_m(wire) / (np.pi * (wire.diameter_mm / 1000) ** 2 / 4)
    edges = np.concatenate(
        [
            np.linspace(0, top, 51)[:-1],
            np.linspace(top, top + height, 401)[:-1],
            np.linspace(top + height, length, 51),
        ]
    )
    middles = (edges[:-1] + edges[1:]) / 2
    # Triangles of 500 A and 1 us that come often enough for the mean current, at their moments.
    moments_a = 500 * np.interp(np.linspace(0, 1, 2001), [0, 0.5, 1], [0, 1, 0])
    per_second = mean_a / (np.trapezoid(moments_a, dx=1 / 2000) * 1e-6)
    square_a2 = np.trapezoid(moments_a**2, dx=1 / 2000) * 1e-6 * per_second
    total = np.zeros(len(middles))
    strips = np.arange(20_000) + np.random.default_rng(7).random(20_000)
    for z in (top + strips / 20_000 * height).reshape(40, 500, 1):
        upper, lower = per_m * (z + lead), per_m * (length - z + lead)
        # Same voltage over both ways: the smaller resistance takes the larger current.
        conductance = 1 / upper + 1 / lower
        through = np.where(middles < z, 1 / upper, 1 / lower) / conductance
        total += (through**2).sum(axis=0)
    return middles, total / 20_000 * square_a2 * per_m


def source(name: str, height_mm: float, mean_a: float, x_m: np.ndarray) -> np.ndarray:
    """Heat per length at a place, from single sparks: W/m."""
    middles, joule = heat_of_sparks(name, height_mm, mean_a)
    heat = PHYSICS.heat
    top, height = heat.contact_gap_mm / 1000, height_mm / 1000
    burnt = heat.spark_share_to_wire * heat.spark_voltage_v * mean_a / height
    inside = (x_m >= top) & (x_m <= top + height)
    return np.where(inside, burnt, 0.0) + np.interp(x_m, middles, joule)


@pytest.mark.parametrize(("name", "height_mm", "mean_a"), CASES)
def test_the_heat_of_single_sparks_is_that_of_the_balance_at_every_place(name, height_mm, mean_a):
    ours = made(name, height_mm, mean_a)
    theirs = source(name, height_mm, mean_a, ours.middles_m)
    top = PHYSICS.heat.contact_gap_mm / 1000
    # But for the cell in which the work begins or ends.
    faces = np.array([top, ours.length_m - top])
    clear = (np.abs(ours.middles_m[:, None] - faces) > 2e-4).all(axis=1)
    assert ours.source_w_per_m[clear] == pytest.approx(theirs[clear], rel=3e-3)
    assert ours.source_w_per_m.mean() == pytest.approx(theirs.mean(), rel=3e-3)


@pytest.mark.parametrize(("name", "height_mm", "mean_a"), CASES)
def test_a_boundary_value_solver_finds_the_same_temperatures(name, height_mm, mean_a):
    ours = made(name, height_mm, mean_a)
    k, c, p = ours.conduction_w_m, ours.transport_w_per_k, ours.film_w_per_mk

    # Three wires end to end (free, in the work, free), each on 0..1: the heat steps at the faces.
    top = PHYSICS.heat.contact_gap_mm / 1000
    begin = np.array([0.0, top, ours.length_m - top])
    long = np.array([top, ours.length_m - 2 * top, top])

    def slope(share, y):
        x = begin[:, None] + long[:, None] * np.clip(share, 1e-9, 1 - 1e-9)[None, :]
        heat = source(name, height_mm, mean_a, x)
        second = (c * y[3:] + p * y[:3] - heat) / k
        return np.vstack([y[3:], second]) * np.tile(long, 2)[:, None]

    def ends(a, b):
        joints = np.concatenate([a[1:3] - b[0:2], a[4:6] - b[3:5]])
        return np.concatenate([[a[0], b[5]], joints])

    share = np.linspace(0, 1, 501)
    found = solve_bvp(slope, ends, share, np.zeros((6, 501)), tol=1e-4, max_nodes=50_000)
    assert found.status == 0, found.message
    at = ours.middles_m
    part = np.searchsorted(begin, at, side="right") - 1
    parts = found.sol((at - begin[part]) / long[part])
    theirs = ours.water_c + parts[part, np.arange(len(at))]
    # Cells blur the step of heat at the faces and the rise at the entry by half a cell.
    assert solve_profile(ours) == pytest.approx(theirs, rel=0.01, abs=2.0)
    assert solve_profile(ours).max() == pytest.approx(theirs.max(), rel=2e-3)


@pytest.mark.parametrize(("name", "height_mm", "mean_a"), CASES)
def test_finite_elements_find_the_same_temperatures(name, height_mm, mean_a):
    """Linear elements with Galerkin weights, assembled here; 8000 of them need no upwinding."""
    ours = made(name, height_mm, mean_a)
    k, c, p = ours.conduction_w_m, ours.transport_w_per_k, ours.film_w_per_mk
    n = 8000
    h = ours.length_m / n
    assert c * h / k < 10
    nodes = np.linspace(0, ours.length_m, n + 1)
    low = -k / h - c / 2 + p * h / 6
    high = -k / h + c / 2 + p * h / 6
    # Each element adds [[k/h - c/2, -k/h + c/2], [-k/h - c/2, k/h + c/2]] + p h/6 [[2,1],[1,2]].
    middle = np.full(n + 1, 2 * k / h + 4 * p * h / 6)
    middle[-1] = k / h + c / 2 + 2 * p * h / 6
    load = np.zeros(n + 1)
    at_middle = source(name, height_mm, mean_a, (nodes[:-1] + nodes[1:]) / 2)
    load[:-1] += at_middle * h / 2
    load[1:] += at_middle * h / 2
    matrix = diags_array(
        [np.full(n, low), middle, np.full(n, high)], offsets=[-1, 0, 1], format="csr"
    )[1:, 1:]
    warm = np.append(0.0, spsolve(matrix.tocsc(), load[1:]))
    theirs = ours.water_c + np.interp(ours.middles_m, nodes, warm)
    assert solve_profile(ours) == pytest.approx(theirs, rel=0.01, abs=2.0)
    assert solve_profile(ours).max() == pytest.approx(theirs.max(), rel=2e-3)
