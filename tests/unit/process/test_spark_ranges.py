"""The energy of a spark: its causes by hand, and the smallest spark that has an upper end only."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.process.fine_spark import wire_seeds
from kerfwright.process.spark_ranges import energy_of, length_of, peak_of, told_spread

TABLES = load_tables()
LAW = TABLES.technology.spark


def row(number, wire_mm=0.25):
    wire = replace(TABLES.catalogue.default_wire, diameter_mm=wire_mm)
    return wire_seeds(TABLES.technology, wire)[number - 1]


def test_the_causes_of_a_rough_spark_by_hand():
    found = energy_of(row(1), law=LAW)
    # E = (Ra/K)^3: three times 0.18 and 0.1; the power about 9.8 mJ, 0.28 being one in ten.
    slopes = {
        "roughness of pass 1": 0.54,
        "roughness of 1 mJ": -0.3,
        "power of the energy in the roughness": 3 * math.log(9.8 / 8) * (1 / 3 - 0.28) / 1.2816,
    }
    assert dict(found.loadings) == pytest.approx(slopes, rel=1e-3)
    assert found.value == pytest.approx(8)
    spread = math.hypot(*slopes.values())
    assert found.range.high == pytest.approx(8 * math.exp(1.2816 * spread), rel=1e-3)


def test_the_smallest_spark_has_an_upper_end_only():
    last = row(6, 0.1)
    assert last.is_least
    found = energy_of(last, law=LAW)
    assert found.range.low == found.range.likely == last.energy_mj == pytest.approx(0.001)
    # The wanted energy as drawn, and never below the smallest.
    z = np.random.default_rng(3).standard_normal((4, 100_000))
    wide = 3 * 0.13 * math.log(2.5)
    power = 3 * math.log(9.8 / 0.001) * (1 / 3 - 0.28) / 1.2816
    logs = math.log(last.wanted_mj) + 0.54 * z[0] + 0.3 * z[1] + power * z[2] + wide * z[3]
    drawn = np.maximum(np.exp(logs), 0.001)
    assert found.range.high == pytest.approx(float(np.quantile(drawn, 0.9)), rel=0.04)


def test_what_is_far_below_the_smallest_spark_is_known():
    far = replace(row(6, 0.1), wanted_mj=1e-7)
    found = energy_of(far, law=LAW)
    assert found.range.low == found.range.high
    assert told_spread(found) == {}


def test_the_scale_falls_out_of_the_peak_and_all_of_a_rough_spark_does():
    first, second = (energy_of(row(n), law=LAW).loadings for n in (1, 2))
    rough = peak_of(583.0, energy=first, rough=first, sigma_log=0.2)
    assert rough.loadings == (("peak current of the generator", 0.2),)
    skim = peak_of(206.0, energy=second, rough=first, sigma_log=0.2)
    assert "roughness of 1 mJ" not in dict(skim.loadings)
    assert dict(skim.loadings)["roughness of pass 1"] == pytest.approx(-0.27)
    length = length_of(0.485, energy=second, peak=skim)
    assert dict(length.loadings)["roughness of 1 mJ"] == pytest.approx(-0.3)
    assert dict(length.loadings)["roughness of pass 1"] == pytest.approx(0.27)
