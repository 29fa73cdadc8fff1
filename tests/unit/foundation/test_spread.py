"""Propagation of spreads: by hand, against a simulation and against the package uncertainties."""

from __future__ import annotations

import math

import numpy as np
import pytest
import uncertainties
from uncertainties import umath

from kerfwright.foundation.errors import RangeError
from kerfwright.foundation.spread import Law, Uncertain, of_ratio, of_sum
from kerfwright.process.wire import static_bow_um

PUSH = Uncertain(name="push", value=1.0, sigma=0.54)
HEIGHT = Uncertain(name="height", value=80.0)
TENSION = Uncertain(name="tension", value=22.0, sigma=0.1)


def bow(push, height, tension):
    return static_bow_um(push, height_mm=height, span_mm=100, tension_n=tension)


def test_a_product_of_powers_is_exact():
    found = of_ratio(lambda a, b: 3 * a**2 / b**0.5, [PUSH, TENSION])
    # 2 x 0.54 and 0.5 x 0.1, added as squares.
    assert found.sigma == pytest.approx(math.hypot(1.08, 0.05), rel=1e-12)
    assert dict(found.shares)["push"] == pytest.approx(1.08**2 / (1.08**2 + 0.05**2), rel=1e-12)
    assert math.fsum(share for _, share in found.shares) == pytest.approx(1)


def test_the_range_of_the_bow_is_that_of_a_simulation():
    found = of_ratio(bow, [PUSH, HEIGHT, TENSION])
    generator = np.random.default_rng(3)
    z = generator.standard_normal((2, 400_000))
    drawn = bow(np.exp(0.54 * z[0]), 80.0, 1.0) * 1.0 / (22.0 * np.exp(0.1 * z[1]))
    low, middle, high = np.percentile(drawn, [10, 50, 90])
    # Test vector of the static bow: 1 N/m, 80 of 100 mm, 22 N give 54.5 um (computed).
    assert found.value == pytest.approx(54.5, abs=0.05)
    assert (found.range.low, found.value, found.range.high) == pytest.approx(
        (low, middle, high), rel=0.01
    )


def test_a_bent_formula_is_within_two_hundredths_of_a_simulation():
    # The push of a skim: q / (1 + c q / w), see process/wire_shape.py.
    inputs = [
        Uncertain(name="push", value=0.5, sigma=0.54),
        Uncertain(name="stock", value=12.0, sigma=0.2),
    ]
    found = of_ratio(lambda q, w: q / (1 + 8 * q / w), inputs)
    z = np.random.default_rng(4).standard_normal((2, 400_000))
    q, w = 0.5 * np.exp(0.54 * z[0]), 12 * np.exp(0.2 * z[1])
    low, high = np.percentile(q / (1 + 8 * q / w), [10, 90])
    assert (found.range.low, found.range.high) == pytest.approx((low, high), rel=0.02)


@pytest.mark.parametrize("sigma", [0.001, 0.01])
def test_small_spreads_agree_with_the_package_uncertainties(sigma):
    # It propagates by tangents, which chords become for small spreads.
    def formula(u, exp):
        return exp(-u[0]) * u[1] ** 0.3 / (1 + u[2] ** 2)

    values = (0.7, 3.0, 1.5)
    ours = of_ratio(
        lambda *v: formula(v, math.exp),
        [Uncertain(name=f"x{n}", value=v, sigma=sigma) for n, v in enumerate(values)],
    )
    theirs = formula([uncertainties.ufloat(v, v * sigma) for v in values], umath.exp)
    assert ours.sigma == pytest.approx(theirs.std_dev / theirs.nominal_value, rel=1e-4)
    squares = sorted(e**2 for e in theirs.error_components().values())
    shares = sorted(share for _, share in ours.shares)
    assert shares == pytest.approx([s / sum(squares) for s in squares], rel=1e-3)


def test_a_weighted_sum_of_normal_inputs_is_exact_and_may_be_negative():
    found = of_sum(
        lambda a, b: 2 * a - b,
        [
            Uncertain(name="a", value=1.0, sigma=0.3, law=Law.NORMAL),
            Uncertain(name="b", value=3.0, sigma=0.8, law=Law.NORMAL),
        ],
    )
    assert found.value == -1
    assert found.sigma == pytest.approx(1.0)
    assert dict(found.shares) == pytest.approx({"b": 0.64, "a": 0.36})
    theirs = 2 * uncertainties.ufloat(1, 0.3) - uncertainties.ufloat(3, 0.8)
    assert found.sigma == pytest.approx(theirs.std_dev)


def test_one_cause_that_enters_twice_moves_as_one():
    twice = [Uncertain(name="rate", value=1.0, sigma=0.2)] * 2
    # a b with b = a is a^2: 0.4, not 0.2 sqrt(2).
    assert of_ratio(lambda a, b: a * b, twice).sigma == pytest.approx(0.4)
    assert of_sum(lambda a, b: a - b, twice).sigma == 0


def test_what_is_known_has_no_range_and_no_shares():
    found = of_ratio(lambda h: h * 2, [HEIGHT])
    assert (found.range.low, found.range.high, found.shares) == (160, 160, ())


@pytest.mark.parametrize(
    "bad", [{"value": 1.0, "sigma": -0.1}, {"value": 0.0, "sigma": 0.1}, {"value": -1, "sigma": 1}]
)
def test_a_spread_that_cannot_be_is_refused(bad):
    with pytest.raises(RangeError, match="deviation"):
        Uncertain(name="gap", **bad)


def test_a_ratio_that_changes_its_sign_is_refused():
    with pytest.raises(RangeError, match="ratio"):
        of_ratio(lambda a: a - 0.9, [Uncertain(name="a", value=1.0, sigma=0.5)])
