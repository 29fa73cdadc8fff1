"""How often a demand is missed that the likely value meets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from tests.unit.process.samples import requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.findings import Severity
from kerfwright.process.choice import choose_passes
from kerfwright.process.misses import chance_above, chance_outside, odds

TABLES = load_tables()


def notes(**asked):
    choice = choose_passes(
        requirement(TABLES, **asked), technology=TABLES.technology, catalogue=TABLES.catalogue
    )
    return [f for f in choice.findings if f.code == "demand-may-be-missed"], choice


@pytest.mark.parametrize("limit", [0.5, 0.8, 1.0, 1.3])
def test_the_chance_is_that_of_the_lognormal_distribution_of_scipy(limit):
    chance = chance_above(limit, median=0.8, sigma_log=0.2)
    assert chance == pytest.approx(stats.lognorm.sf(limit, 0.2, scale=0.8), rel=1e-9)


def test_the_chance_of_leaving_a_zone_is_that_of_the_normal_distribution_of_scipy():
    error = stats.norm(1.0, 2.5)
    assert chance_outside(5.0, bias=1.0, sigma=2.5) == pytest.approx(
        error.cdf(-5) + error.sf(5), rel=1e-9
    )


def test_what_is_known_is_missed_always_or_never():
    assert chance_above(0.8, median=0.8, sigma_log=0) == 0
    assert chance_above(0.7, median=0.8, sigma_log=0) == 1
    assert (chance_outside(5, bias=5, sigma=0), chance_outside(5, bias=6, sigma=0)) == (0, 1)


def test_a_finish_met_only_by_the_likely_value_is_said_with_range_chance_and_remedy():
    (note,), choice = notes(ra_um=0.8)
    assert len(choice.passes) == 3
    assert note.severity is Severity.NOTE
    assert "about one piece in 2 would miss" in note.message
    assert "0.62–1 µm (10–90 %)" in note.message
    assert note.data["chance"] == pytest.approx(0.5)


def test_the_remedy_plans_passes_that_miss_one_time_in_ten_at_most():
    (note,), _ = notes(ra_um=0.8)
    # 0.8 x 0.8 / 1.036, the digits that nobody orders left out.
    assert "Ra 0.61 µm" in note.remedy
    safe_um = 0.61
    again, choice = notes(ra_um=safe_um)
    last = choice.passes[-1]
    assert not [n for n in again if n.data["chance"] > 0.5]
    # Against the demand of the drawing, by draws of the distribution.
    drawn = last.ra_um * np.exp(
        last.ra_sigma_log * np.random.default_rng(1).standard_normal(100_000)
    )
    assert (drawn > 0.8).mean() < 0.1


def test_a_demand_met_with_room_is_not_spoken_of():
    # Pass 3 leaves 0.8 um: 1.1 is 1.6 standard deviations above.
    assert notes(ra_um=1.1)[0] == []
    assert notes(ra_um=1.0)[0] != []


def test_a_tolerance_that_two_deviations_hold_is_not_spoken_of():
    assert notes(tolerance_um=5.0)[0] == []


def test_a_demand_beyond_the_process_is_refused_and_not_spoken_of_twice():
    found, choice = notes(ra_um=0.1)
    assert found == []
    assert [f.code for f in choice.findings] == ["finish-beyond-process"]


def test_a_recast_limit_is_watched_with_what_older_layers_may_leave():
    # Three passes in D2: by hand, pass 2 hurts 6.5 + 3 x 1.4 = 10.7 µm and skim 3 takes 12 +- 2.2,
    # so that in a good part of the pieces some of it stands; the last pass leaves 3.5 alone.
    (note,), choice = notes(max_recast_um=4.0)
    assert len(choice.passes) == 3
    last = choice.passes[-1]
    alone = stats.norm.sf(math.log(4.0 / last.recast_um) / last.recast_sigma_log)
    assert note.data["chance"] > alone
    assert note.data["low_um"] < 3.5 < note.data["high_um"]
    assert "older layers" in note.message


def test_the_chance_of_recast_agrees_with_a_simulation_of_its_own():
    # The layers drawn anew piece by piece, another generator and another order of the sum.
    (note,), choice = notes(max_recast_um=1.0)
    law, random = TABLES.technology.spark.surface, np.random.RandomState(7)
    missed = 0
    for _ in range(20_000):
        made = [
            (
                p.recast_um * math.exp(p.recast_sigma_log * random.normal()),
                law.peak_per_ra * p.ra_um * math.exp(p.ra_sigma_log * random.normal()),
                max(0.0, p.stock_um + p.stock_sigma_um * random.normal()),
            )
            for p in choice.passes
        ]
        left = made[-1][0]
        for k, (recast, peaks, _) in enumerate(made[:-1]):
            rest = recast + peaks - sum(stock for *_, stock in made[k + 1 :])
            left = max(left, min(recast, rest))
        missed += left > 1.0
    assert note.data["chance"] == pytest.approx(missed / 20_000, abs=0.015)


def test_odds_are_whole_pieces():
    assert odds(0.11) == "about one piece in 9"


def test_a_demand_of_some_contours_names_them():
    choice = choose_passes(
        requirement(TABLES, ra_um=0.8),
        technology=TABLES.technology,
        catalogue=TABLES.catalogue,
        contour_ids=("H7", "H8"),
    )
    (note,) = (f for f in choice.findings if f.code == "demand-may-be-missed")
    assert note.message.startswith("H7, H8: The finish asked")
    assert note.where.contour_id == "H7"
