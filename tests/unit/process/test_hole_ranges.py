"""Ranges of small holes, by hand and against the intervals of the trade (common practice)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kerfwright.adapters.tables import load_tables
from kerfwright.process.small_hole import predict_hole

TABLES = load_tables()
LAW = TABLES.technology.small_hole
Z = 1.2815515655


def hole(material="D2", depth=40.0, diameter=1.0):
    return predict_hole(
        depth, diameter_mm=diameter, material=TABLES.catalogue.material(material), law=LAW
    )


def reasons(**changes):
    return {r.quantity: r for r in hole(**changes).reasons}


def test_every_figure_has_a_range_around_it_and_shares_that_add_up():
    found = reasons()
    assert set(found) == {
        "drilling_min", "tube_used_mm", "overcut_mm", "diameter_mm", "entry_diameter_mm",
        "exit_diameter_mm", "wander_mm", "recast_um",
    }  # fmt: skip
    for reason in found.values():
        assert reason.range.low < reason.value < reason.range.high
        assert math.fsum(share for _, share in reason.shares) == pytest.approx(1)


def test_the_overcut_is_as_wide_as_practice_and_the_recast_is_practice():
    found = reasons()
    # PROCESS section 7: overcut 0.03-0.06 mm a side, recast 10-40 um.
    span = found["overcut_mm"].range
    assert span.high / span.low == pytest.approx(2, rel=0.01)
    span = found["recast_um"].range
    assert (span.low, span.high) == pytest.approx((10, 40))


def test_the_mouth_scatters_by_its_widening_and_by_the_size_of_the_hole():
    # 1 + 2 x 0.05; 0.025 mm of size and 2 x 0.05 x 0.27 of widening, added as squares.
    found = reasons()["entry_diameter_mm"]
    assert found.value == pytest.approx(1.1)
    sigma = math.hypot(0.025, 0.1 * math.sinh(0.27))
    assert found.range.high - found.range.low == pytest.approx(2 * Z * sigma, rel=0.01)
    assert dict(found.shares)["size of the hole"] == pytest.approx((0.025 / sigma) ** 2, rel=1e-6)


def test_the_exit_and_the_wander_agree_with_a_simulation():
    z = np.random.default_rng(8).standard_normal((3, 200_000))
    exit_mm = 1 + 0.025 * z[0] - 0.0014 * np.exp(0.36 * z[1]) * 40
    wander = 0.001 * 40 * np.exp(0.54 * z[2])
    found = reasons()
    for name, drawn in (("exit_diameter_mm", exit_mm), ("wander_mm", wander)):
        span = found[name].range
        assert (span.low, span.high) == pytest.approx(np.percentile(drawn, [10, 90]), rel=0.01)


def test_only_the_wear_moves_the_tube():
    span = reasons()["tube_used_mm"].range
    # 0.8 x 40 of wear by a factor exp(1.2816 x 0.25), and 1.5 x 0.91 mm through the face.
    assert span.high == pytest.approx(32 * math.exp(Z * 0.25) + 1.365, rel=1e-6)
    assert span.low == pytest.approx(32 / math.exp(Z * 0.25) + 1.365, rel=1e-6)
    assert hole().tube_used_mm == span


def test_time_and_feed_have_the_same_spread():
    one = hole()
    assert reasons()["drilling_min"].range == one.drilled.minutes
    ratio = one.feed_mm_per_min.high / one.feed_mm_per_min.low
    assert ratio == pytest.approx(one.drilled.minutes.high / one.drilled.minutes.low)
