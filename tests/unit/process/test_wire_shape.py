from __future__ import annotations

import pytest

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.process.passes import passes_for
from kerfwright.process.wire import barrel_um, bow_profile_um, static_bow_um
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


def test_the_bow_over_the_height_is_a_parabola_on_straight_ends():
    # By hand for 1 N/m, h 80, L 100 mm, T 22 N: 54.5 at the middle, q h (L-h)/(4T) at the faces.
    profile = bow_profile_um(1.0, height_mm=80, span_mm=100, tension_n=22, places=5)
    assert profile[2] == pytest.approx(54.5, abs=0.05)
    assert profile[0] == pytest.approx(1.0 * 0.08 * 0.02 / (4 * 22) * 1e6)
    assert profile[1] == pytest.approx(profile[2] - (profile[2] - profile[0]) / 4)
    assert profile.tolist() == profile[::-1].tolist()


def test_the_barrel_is_middle_less_face_whatever_the_span():
    for span in (80, 100, 300):
        middle = static_bow_um(1.0, height_mm=80, span_mm=span, tension_n=22)
        face = bow_profile_um(1.0, height_mm=80, span_mm=span, tension_n=22)[0]
        assert middle - face == pytest.approx(barrel_um(1.0, height_mm=80, tension_n=22))


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
