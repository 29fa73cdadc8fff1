"""Ranges of push, lag and barrel."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.unit.process.test_passes import TABLES, some

from kerfwright.adapters.wire_physics import load_wire_physics
from kerfwright.process.shape_ranges import PUSH, shape_ranges
from kerfwright.process.wire import static_bow_um, tension_n

PHYSICS = load_wire_physics()
WIRE = TABLES.catalogue.wire("0.25")
HEIGHT_MM = 40.0


def found(count=4, **changes):
    return shape_ranges(some(count, **changes), wire=WIRE, height_mm=HEIGHT_MM, physics=PHYSICS)


def test_the_lag_of_the_rough_pass_is_known_to_a_factor_of_two_either_way():
    rough = found()[0]
    assert rough.lag_um.high / rough.lag_um.likely == pytest.approx(2, rel=0.01)
    assert rough.lag_um.likely / rough.lag_um.low == pytest.approx(2, rel=0.01)
    assert rough.along.shares == ((PUSH, pytest.approx(1.0)),)


def test_lag_and_barrel_have_the_ratios_of_their_parts_of_the_push():
    for one in found():
        for span, value, part in (
            (one.lag_um, one.shape.lag_um, one.along),
            (one.face_lag_um, one.shape.face_lag_um, one.along),
            (one.barrel_um, one.shape.barrel_um, one.side),
        ):
            assert span.likely == pytest.approx(value)
            assert span.high / span.likely == pytest.approx(part.range.high / part.range.likely)


def test_a_skim_also_depends_on_roughness_and_stock_and_the_push_weighs_most():
    skim = found()[2]
    shares = dict(skim.along.shares)
    assert set(shares) == {PUSH, "roughness of pass 3", "roughness of pass 1", "stock of pass 3"}
    assert max(shares, key=lambda name: shares[name]) == PUSH
    assert math.fsum(shares.values()) == pytest.approx(1)


@pytest.mark.parametrize("number", [2, 3, 4])
def test_the_lag_of_a_skim_agrees_with_a_simulation_of_its_formula(number):
    passes = some(4)
    this, rough = passes[number - 1], passes[0]
    z = np.random.default_rng(number).standard_normal((4, 200_000))
    law = PHYSICS.push
    ra = this.ra_um * np.exp(this.ra_sigma_log * z[1])
    rough_ra = rough.ra_um * np.exp(rough.ra_sigma_log * z[2])
    stock = this.stock_um * np.exp(this.stock_sigma_um / this.stock_um * z[3])
    # Written out again: q = q0 / (1 + y0/w), q0 = p d (Ra/Ra_1)^(3 m), y0 the bow off the wall
    # under q0; q acts along the bisector of the arc that sparks.
    half = np.arccos(1 - stock / (WIRE.diameter_mm * 500 + this.gap_um)) / 2
    free = law.pressure_kpa * np.exp(law.pressure_sigma_log * z[0]) * WIRE.diameter_mm
    free = free * (ra / rough_ra) ** (3 * law.energy_exponent)
    bow = static_bow_um(
        1.0,
        height_mm=HEIGHT_MM,
        span_mm=PHYSICS.tension.span_mm(HEIGHT_MM),
        tension_n=tension_n(WIRE, share=PHYSICS.tension.share),
    )
    whole = free / (1 + np.cos(half) * bow * free / stock)
    for span, drawn in (
        (found()[number - 1].lag_um, bow * whole * np.sin(half)),
        (found()[number - 1].push_n_per_m, whole),
    ):
        low, high = np.percentile(drawn, [10, 90])
        assert (span.low, span.high) == pytest.approx((low, high), rel=0.03)


@pytest.mark.parametrize("number", [2, 3, 4])
def test_the_share_of_the_stock_is_that_of_its_slope_and_its_whole_spread(number):
    one, this = found()[number - 1], some(4)[number - 1]
    shares = dict(one.push.shares)
    # By hand, q = q0 / (1 + y0/w): a percent more stock is x percent more push, a percent more
    # pressure 1 - x, x = (y0/w)/(1 + y0/w) = 1 - q/q0.
    law = PHYSICS.push
    free = law.pressure_kpa * WIRE.diameter_mm
    free = free * (this.ra_um / some(1)[0].ra_um) ** (3 * law.energy_exponent)
    x = 1 - one.push_n_per_m.likely / free
    # The cosine of the arc moves with the stock too, by less than the closeness asked.
    stock = x * this.stock_sigma_um / this.stock_um
    pressure = (1 - x) * law.pressure_sigma_log
    ratio = shares[f"stock of pass {number}"] / shares[PUSH]
    assert ratio == pytest.approx((stock / pressure) ** 2, rel=0.25)


def test_the_reasons_carry_range_and_shares():
    for one in found():
        names = [r.quantity for r in one.reasons]
        assert names == ["push_n_per_m", "lag_um", "barrel_um"]
        causes = (one.push.shares, one.along.shares, one.side.shares)
        for reason, shares in zip(one.reasons, causes, strict=True):
            assert reason.range.low < reason.value < reason.range.high
            assert reason.shares == shares
