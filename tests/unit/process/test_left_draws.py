"""What all passes leave together: its range is that of the draws, its causes add up."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.process.test_surest_passes import TABLES, choose

from kerfwright.foundation.ranges import Z_10_90
from kerfwright.process.left_draws import (
    left_shares,
    ra_left_draws_um,
    ra_left_range_um,
    recast_left_draws_um,
    recast_left_range_um,
)

LAW = TABLES.technology.spark.surface


def passes(count, material="D2"):
    found = choose(material=material, height_mm=50.0, ra_um=0.8, max_recast_um=5.0).passes
    assert len(found) >= count
    return found[:count]


def test_the_ends_are_the_tenth_and_the_ninetieth_percentile():
    for count in (1, 3, 4):
        for draws, span in (
            (recast_left_draws_um, recast_left_range_um),
            (ra_left_draws_um, ra_left_range_um),
        ):
            drawn, told = draws(passes(count), law=LAW), span(passes(count), law=LAW)
            assert np.mean(drawn < told.low) == pytest.approx(0.1, abs=0.001)
            assert np.mean(drawn > told.high) == pytest.approx(0.1, abs=0.001)


def test_one_pass_alone_has_its_own_causes():
    one = passes(1)
    layer, finish = (dict(shares) for shares in left_shares(one, law=LAW))
    assert layer == {"recast of pass 1": pytest.approx(1)}
    # 0.18 of the pass and 0.09 of the material, squared.
    assert finish["roughness of pass 1"] == pytest.approx(0.8, abs=0.02)
    assert finish["material factor of the roughness"] == pytest.approx(0.2, abs=0.02)
    span = ra_left_range_um(one, law=LAW)
    assert np.log(span.high / span.likely) / Z_10_90 == pytest.approx(
        np.hypot(0.18, 0.09), rel=1e-3
    )


def test_what_older_layers_bring_hangs_on_the_gaps():
    layer, finish = left_shares(passes(4), law=LAW)
    for shares in (layer, finish):
        assert sum(share for _, share in shares) == pytest.approx(1)
    assert layer[0][0] == "recast of pass 4"
    assert {"gap of pass 3", "gap of pass 4"} <= {name for name, _ in layer}
    # The finish of the last pass is its own: no older peak reaches it.
    assert {name for name, _ in finish} == {
        "roughness of pass 4",
        "material factor of the roughness",
    }


def test_another_material_has_its_factors_among_the_causes():
    layer, _ = left_shares(passes(3, "718"), law=LAW)
    assert "material factor of the recast" in dict(layer)
