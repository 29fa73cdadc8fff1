"""Closed forms against solutions on a grid that share nothing with them.

The grids are solved with scipy: sparse direct, implicit Euler and a collocation solver for
boundary values.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import sparse
from scipy.integrate import solve_bvp
from scipy.sparse.linalg import splu, spsolve
from tests.closed_forms_of_flow import front_flow_mm3_per_s, kerf_pressure

from kerfwright.adapters.tables import load_tables
from kerfwright.process.crater import axis_rise_k
from kerfwright.process.kerf_flow import debris_along

LAW = load_tables().technology.flushing


def second_difference(n: int, step: float) -> sparse.csr_array:
    ones = np.ones(n)
    return sparse.diags_array([ones[1:], -2 * ones, ones[1:]], offsets=[-1, 0, 1]) / step**2


@pytest.mark.parametrize(("top", "bottom"), [(1.0, 1.0), (0.1, 1.0)])
def test_the_pressure_in_the_kerf_is_that_of_a_grid(top, bottom):
    height, mouth, step = 20.0, 3.0, 0.25
    # Nodes inside the faces; far behind the wire the pressure has died out.
    up = np.arange(step, height, step)
    behind = np.arange(0.0, 60.0, step)
    across = second_difference(len(behind), step).tolil()
    across[0, 1] = 2 / step**2  # mirror: nothing flows through the front
    nodes = sparse.kron(across.tocsr(), sparse.eye_array(len(up))) + sparse.kron(
        sparse.eye_array(len(behind)), second_difference(len(up), step)
    )
    # The rim of the mouth lies on a node, which has the mean of both sides.
    face = np.where(behind < mouth - step / 4, 1.0, 0.0) + 0.5 * (abs(behind - mouth) < step / 4)
    load = np.zeros((len(behind), len(up)))
    load[:, 0] -= bottom * face / step**2
    load[:, -1] -= top * face / step**2
    grid = spsolve(nodes.tocsc(), load.ravel()).reshape(load.shape)
    x, z = np.meshgrid(behind, up, indexing="ij")
    exact = kerf_pressure(x, z, height_mm=height, mouth_mm=mouth, top_mpa=top, bottom_mpa=bottom)
    away = np.hypot(x - mouth, np.minimum(z, height - z)) > 1.0
    assert np.abs(grid - exact)[away].max() < 0.01


@pytest.mark.parametrize("gap_um", [20.0, 100.0])
def test_the_flow_before_the_wire_is_that_of_a_grid(gap_um):
    # (1/r)(r u')' = -G/mu on a fine grid across the ring, u = 0 at both walls.
    a, b = 0.125e-3, 0.125e-3 + gap_um * 1e-6
    r = np.linspace(a, b, 401)
    step = r[1] - r[0]
    inner, outer = r[1:-1] - step / 2, r[1:-1] + step / 2
    matrix = (
        sparse.diags_array([inner[1:], -(inner + outer), outer[:-1]], offsets=[-1, 0, 1]) / step**2
    )
    speed = spsolve(matrix.tocsc(), -r[1:-1] * (1e4 / 0.05) / 1.0016e-3)
    flow = float((math.pi * r[1:-1] * speed).sum() * step) * 1e9
    found = front_flow_mm3_per_s(
        wire_mm=0.25, gap_um=gap_um, pressure_mpa=0.01, length_mm=50, viscosity_mpa_s=1.0016
    )
    assert found == pytest.approx(flow, rel=1e-4)


@pytest.mark.parametrize(("height", "top"), [(20.0, 1.0), (40.0, 0.3), (80.0, 0.6)])
def test_the_dirt_along_the_wire_solves_its_boundary_value_problem(height, top):
    # Q c' - (eps c')' = 1, c = 0 where water comes in, written for a collocation solver with its
    # own form of the stream: slopes of the pressure on a fine table.
    z = np.linspace(0, height, 4001)
    pressure = {"height_mm": height, "mouth_mm": 3.0}
    tiny = 1e-5
    inside = np.clip(z, tiny, height - tiny)
    above = kerf_pressure(0.0, inside + tiny, top_mpa=top, bottom_mpa=1.0, **pressure)
    below = kerf_pressure(0.0, inside - tiny, top_mpa=top, bottom_mpa=1.0, **pressure)
    stream = (below - above) / (2 * tiny)
    lost = -np.gradient(stream, z)
    mixing = LAW.debris.mixing_mm * (np.abs(stream) + 0.25 * lost)

    def slope(at, state):
        dirt_flux = state[1]  # eps c'
        spread = np.interp(at, z, mixing)
        return np.vstack([dirt_flux / spread, np.interp(at, z, stream) * dirt_flux / spread - 1.0])

    solved = solve_bvp(
        slope,
        lambda begin, end: np.array([begin[0], end[0]]),
        np.linspace(0, height, 400),
        np.zeros((2, 400)),
        tol=1e-4,
        max_nodes=50_000,
    )
    assert solved.success
    found = debris_along(height, wire_mm=0.25, gap_um=40, top_share=top, bottom_share=1.0, law=LAW)
    shape = solved.sol(found.up_mm)[0]
    ratio = found.dirt / shape
    middle = shape > 0.2 * shape.max()
    # The scale is the speed of the water, the same at every height; upwinding blunts by some %.
    assert ratio[middle].max() / ratio[middle].min() < 1.08
    assert found.up_mm[shape.argmax()] == pytest.approx(found.worst_up_mm, abs=height / 100)


def test_the_heat_of_a_disc_is_that_of_a_grid():
    # Implicit Euler in r and z, finite volumes; lengths in um, time in us.
    alpha, radius, on_time = 5.7, 5.0, 1.4  # um²/us
    step, n, m = 0.25, 80, 72
    r_edge, z_edge = np.arange(n + 1) * step, np.arange(m + 1) * step
    area = math.pi * np.diff(r_edge**2)
    radial = 2 * math.pi * r_edge[1:-1]  # area between rings per height, over the step
    flow_r = sparse.diags_array(
        [radial, -(np.r_[0, radial] + np.r_[radial, 0]), radial], offsets=[-1, 0, 1]
    )
    ones = np.ones(m - 1)
    flow_z = sparse.diags_array(
        [ones, -(np.r_[0, ones] + np.r_[ones, 0]), ones], offsets=[-1, 0, 1]
    )
    operator = sparse.kron(sparse.eye_array(m), flow_r) + sparse.kron(
        flow_z, sparse.diags_array(area / step)
    )
    volume = np.tile(area * step, m)
    dt = on_time / 400
    system = splu((sparse.diags_array(volume / dt) - alpha * operator).tocsc())
    # Unit flux over conductivity: enters the top cells under the disc.
    source = np.zeros((m, n))
    source[0] = np.where(r_edge[1:] <= radius + 1e-9, area * alpha, 0.0)
    rise = np.zeros(m * n)
    for _ in range(400):
        rise = system.solve(volume / dt * rise + source.ravel())
    middles = (z_edge[1:] + z_edge[:-1]) / 2
    on_axis = rise.reshape(m, n)[:, 0]
    exact = axis_rise_k(
        middles[:24],
        flux_w_per_m2=1e6,
        radius_um=radius,
        on_time_us=on_time,
        conductivity_w_per_mk=1.0,
        diffusivity_m2_per_s=alpha * 1e-6,
    )
    # q/k is 1 K/um on both sides.
    assert on_axis[:24] == pytest.approx(exact, rel=0.02, abs=0.01)
