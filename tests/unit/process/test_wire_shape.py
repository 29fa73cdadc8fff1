from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.linalg import solve_banded
from scipy.optimize import brentq

from kerfwright.adapters.machines import load_machine
from kerfwright.adapters.tables import load_tables
from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.ranges import Range
from kerfwright.process.experience import Learned
from kerfwright.process.passes import passes_for
from kerfwright.process.shape_ranges import shape_ranges
from kerfwright.process.wire import barrel_um, engaged_arc_rad, static_bow_um
from kerfwright.process.wire_shape import pass_shapes, push_on_wire

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
        assert [r.quantity for r in shape.reasons] == ["push_n_per_m", "lag_um", "barrel_um"]
        values = [shape.push_n_per_m, shape.lag_um, shape.barrel_um]
        assert [r.value for r in shape.reasons] == values


def as_recomputed(reason) -> float:
    """Return lag or barrel from nothing but what its reason says."""
    said = dict(reason.inputs)
    part = said.get("s", 1.0)
    if "w_um" in said:
        theta = math.acos(1 - said["w_um"] / (said["d_mm"] * 500 + said["g_um"]))
        part = math.sin(theta / 2) if reason.quantity == "lag_um" else math.cos(theta / 2)
    height = said["h_mm"]
    lever = height * (2 * said["L_mm"] - height) if reason.quantity == "lag_um" else height**2
    return part * said["q_n_per_m"] * lever / (8 * said["T_n"])


@pytest.mark.parametrize("height_mm", [20, 80])
def test_lag_and_barrel_can_be_recomputed_from_what_their_reasons_say(height_mm):
    for shape in shapes(height_mm)[1]:
        for reason in shape.reasons[1:]:
            assert reason.value == pytest.approx(as_recomputed(reason))
            assert ("L_mm" in dict(reason.inputs)) == (reason.quantity == "lag_um")


@pytest.mark.parametrize("stock_um", [1.0, 5.0, 12.0, 35.0, 100.0, 145.0, 250.0])
def test_the_push_of_a_skim_is_split_as_even_pressure_over_the_engaged_arc(stock_um):
    # Pressure acts towards the wire's centre; the arc runs from the wall to where the stock
    # begins, found here as the first point of the front that lies outside the stock.
    radius_um = 145.0
    end = brentq(lambda a: radius_um * (1 - math.cos(a)) - stock_um, 0, math.pi)
    along, _ = quad(math.sin, 0, end)
    side, _ = quad(math.cos, 0, end)
    theta = engaged_arc_rad(stock_um, radius_um=radius_um)
    assert math.tan(theta / 2) == pytest.approx(along / side)


def test_a_skim_has_one_push_of_which_the_lag_and_the_barrel_take_their_parts():
    passes, found = shapes(40)
    for this, shape in zip(passes[1:], found[1:], strict=True):
        args = {"rough": passes[0], "height_mm": 40, "physics": PHYSICS}
        push = push_on_wire(this, wire=TABLES.catalogue.wire("0.25"), **args)
        assert math.hypot(push.along_n_per_m, push.side_n_per_m) == pytest.approx(
            push.whole_n_per_m
        )
        radius_um = 125 + this.gap_um
        theta = math.acos(1 - this.stock_um / radius_um)
        along, side = quad(math.sin, 0, theta)[0], quad(math.cos, 0, theta)[0]
        assert push.along_n_per_m / push.side_n_per_m == pytest.approx(along / side)
        # At the faces no push differs from the middle's, so that lag and face lag are along it.
        span = PHYSICS.tension.span_mm(40)
        alone = static_bow_um(
            push.along_n_per_m, height_mm=40, span_mm=span, tension_n=shape.tension_n
        )
        assert shape.lag_um == pytest.approx(alone)


def test_more_stock_than_the_wire_is_wide_pushes_straight_back():
    assert engaged_arc_rad(400, radius_um=145) == pytest.approx(math.pi)
    with pytest.raises(RangeError):
        engaged_arc_rad(-1, radius_um=145)


def test_a_roughness_that_the_shop_measures_changes_no_spark_and_so_no_lag():
    passes, found = shapes(40, count=4)
    learned = Learned(
        experience="0" * 64,
        records=8,
        feed_factor=1.0,
        feed_loadings=(),
        feed_job_log=0.0,
        feed_scatter_log=0.1,
        feed_shares=(),
        ra_factor=1.5,
        ra_sigma_log=0.05,
        ra_shares=(("cut", 1.0),),
        size_bias_um=0.0,
        size_sigma_um=1.0,
        is_size_proven=False,
        wire_factor=1.0,
        wire_sigma_log=0.1,
        breaks_per_h=Range.exact(0.03),
    )
    last = replace(passes[-1], ra_um=passes[-1].ra_um * 1.5, ra_sigma_log=0.05, learned=learned)
    moved = (*passes[:-1], last)
    args = {"wire": TABLES.catalogue.wire("0.25"), "height_mm": 40, "physics": PHYSICS}
    assert pass_shapes(moved, **args)[-1].lag_um == pytest.approx(found[-1].lag_um)
    before, after = (shape_ranges(p, **args)[-1].lag_um for p in (passes, moved))
    assert (after.low, after.high) == pytest.approx((before.low, before.high))
