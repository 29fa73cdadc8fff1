"""Passes are chosen so that a limit is met as surely as the shop wants, checked by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests.unit.process.samples import by_likely, requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.process.choice import choose_passes
from kerfwright.process.held import held_by, ra_held_um, recast_held_um
from kerfwright.process.hurt_layer import ra_left_um, recast_left_um

TABLES = load_tables()
LAW = TABLES.technology.spark.surface
ALLOWED = TABLES.technology.limits.allowed_miss


def choose(tables=TABLES, **asked):
    return choose_passes(
        requirement(tables, **asked), technology=tables.technology, catalogue=tables.catalogue
    )


def walls(passes, *, draws=20_000):
    """Draw finish and recast of finished walls piece by piece, old peaks and layers with them."""
    random = np.random.RandomState(11)
    finishes, layers = [], []
    for _ in range(draws):
        made = [
            (
                p.recast_um * math.exp(p.recast_sigma_log * random.normal()),
                p.ra_um * math.exp(p.ra_sigma_log * random.normal()),
                max(0.0, p.stock_um + p.stock_sigma_um * random.normal()),
            )
            for p in passes
        ]
        layer, finish, _ = made[-1]
        for k, (recast, ra, _) in enumerate(made[:-1]):
            taken = sum(stock for *_, stock in made[k + 1 :])
            layer = max(layer, min(recast, recast + LAW.peak_per_ra * ra - taken))
            finish = max(finish, ra - taken / LAW.peak_per_ra)
        finishes.append(finish)
        layers.append(layer)
    return np.array(finishes), np.array(layers)


@pytest.mark.parametrize("material", ["D2", "carbide", "IN718"])
@pytest.mark.parametrize("count", [1, 3, 5])
def test_the_share_of_simulated_walls_beyond_what_is_held_is_the_allowed_one(material, count):
    limit_um = {1: 20.0, 3: 5.2, 5: 1.4}[count]
    passes = choose(material=material, max_recast_um=limit_um).passes
    finishes, layers = walls(passes)
    # Three standard deviations of a share of 0.1 in 20 000 draws are 0.006.
    held = recast_held_um(passes, technology=TABLES.technology)
    assert (layers > held).mean() == pytest.approx(ALLOWED, abs=0.01)
    ra_held = ra_held_um(passes, technology=TABLES.technology)
    assert (finishes > ra_held).mean() == pytest.approx(ALLOWED, abs=0.01)


@pytest.mark.parametrize("asked", [{"ra_um": 0.8}, {"ra_um": 1.6}, {"max_recast_um": 4.0}])
def test_a_limit_is_met_by_nine_walls_in_ten_and_one_pass_less_would_not_do(asked):
    chosen, fewer = choose(**asked).passes, choose(by_likely(TABLES), **asked).passes
    ((name, limit_um),) = asked.items()
    which = 0 if name == "ra_um" else 1
    assert (walls(chosen)[which] > limit_um).mean() <= ALLOWED + 0.006
    assert len(fewer) < len(chosen)
    assert (walls(fewer)[which] > limit_um).mean() > ALLOWED


def test_a_pass_more_than_the_likely_value_needs_is_explained():
    found = {f.code: f for f in choose(ra_um=0.8).findings}
    assert found["pass-more-to-be-sure"].message == (
        "4 passes for the finish asked: 3 would meet it by the likely value, but about one piece "
        "in 2 would miss."
    )
    assert "pass-more-to-be-sure" not in {f.code for f in choose(ra_um=1.1).findings}
    assert "pass-more-to-be-sure" not in {f.code for f in choose(tolerance_um=5).findings}


def test_a_shop_that_counts_the_likely_value_gets_the_likely_value():
    tables = by_likely(TABLES)
    passes = choose(tables, ra_um=0.8).passes
    held = held_by(passes, technology=tables.technology)
    assert held.ra_um == pytest.approx(ra_left_um(passes, law=LAW))
    assert held.max_recast_um == recast_left_um(passes, law=LAW)
