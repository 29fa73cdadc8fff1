from __future__ import annotations

import numpy as np
import pytest
from scipy.linalg import solve_banded

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.process.passes import passes_for
from kerfwright.process.wire import barrel_um, static_bow_um
from kerfwright.process.wire_shape import pass_shapes

PHYSICS = load_wire_physics()
TABLES = load_tables()


def shapes(height_mm: float, *, wire: str = "0.25", count: int = 5):
    chosen = TABLES.catalogue.wire(wire)
    passes = passes_for(
        count,
        material=TABLES.catalogue.material("D2"),
        height_mm=height_mm,
        wire=chosen,
        machine=load_machine(),
        technology=TABLES.technology,
    )
    return passes, pass_shapes(passes, wire=chosen, height_mm=height_mm, physics=PHYSICS)


def solved_bow_um(load_n_per_m: float, *, height_mm: float, span_mm: float, tension_n: float):
    """Middle and face of a string by finite differences: T y'' = -q in the work, 0 outside."""
    count = 2001
    place = np.linspace(-span_mm / 2, span_mm / 2, count)
    step_m = (place[1] - place[0]) / 1000
    load = np.where(np.abs(place) < height_mm / 2, load_n_per_m, 0.0)[1:-1]
    bands = np.vstack([np.full(count - 2, -1.0), np.full(count - 2, 2.0), np.full(count - 2, -1.0)])
    bow = solve_banded((1, 1), bands, load * step_m**2 / tension_n) * 1e6
    inner = place[1:-1]
    return np.interp([0.0, height_mm / 2], inner, bow)


def test_bow_and_barrel_are_those_of_a_string_solved_numerically():
    for span in (90, 100, 300):
        middle, face = solved_bow_um(1.0, height_mm=80, span_mm=span, tension_n=22)
        said = static_bow_um(1.0, height_mm=80, span_mm=span, tension_n=22)
        assert said == pytest.approx(middle, rel=2e-3)
        # The barrel is the middle less the face, whatever the span.
        assert barrel_um(1.0, height_mm=80, tension_n=22) == pytest.approx(middle - face, rel=5e-3)


def test_push_lag_and_barrel_of_skims_fall_with_their_energy():
    _, found = shapes(40)
    assert [s.push_n_per_m for s in found] == sorted((s.push_n_per_m for s in found), reverse=True)
    skims = [s.barrel_um for s in found[1:]]
    assert skims == sorted(skims, reverse=True)


def test_tall_work_lags_and_bulges_more():
    _, low = shapes(20)
    _, tall = shapes(100)
    for a, b in zip(low, tall, strict=True):
        assert b.lag_um > a.lag_um
        assert b.barrel_um > a.barrel_um


@pytest.mark.parametrize("height_mm", [10, 40, 150, 250])
@pytest.mark.parametrize("wire", ["0.25", "0.10"])
def test_a_skim_is_never_pushed_off_by_more_than_its_stock(height_mm, wire):
    passes, found = shapes(height_mm, wire=wire)
    for this, shape in zip(passes[1:], found[1:], strict=True):
        assert shape.lag_um < this.stock_um
        assert shape.barrel_um < this.stock_um


def test_the_barrel_of_the_last_pass_is_within_its_tolerance_to_100_mm():
    for height_mm in (20, 40, 80, 100):
        passes, found = shapes(height_mm)
        assert found[-1].barrel_um < passes[-1].tolerance_um


def test_every_figure_comes_with_its_reason():
    _, found = shapes(40)
    for shape in found:
        assert [r.quantity for r in shape.reasons] == ["push_n_per_m", "lag_um"]
        assert [r.value for r in shape.reasons] == [shape.push_n_per_m, shape.lag_um]
