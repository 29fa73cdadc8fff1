"""How often a demand is missed that the likely value meets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from tests.unit.process.samples import by_likely, requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.findings import Severity
from kerfwright.process.choice import choose_passes
from kerfwright.process.misses import MISSED, chance_outside, odds

TABLES = load_tables()


LIKELY = by_likely(TABLES)


def warnings(tables, **asked):
    choice = choose_passes(
        requirement(tables, **asked), technology=tables.technology, catalogue=tables.catalogue
    )
    return [f for f in choice.findings if f.code in MISSED], choice


def test_the_chance_of_leaving_a_zone_is_that_of_the_normal_distribution_of_scipy():
    error = stats.norm(1.0, 2.5)
    assert chance_outside(5.0, bias=1.0, sigma=2.5) == pytest.approx(
        error.cdf(-5) + error.sf(5), rel=1e-9
    )


def test_what_is_known_is_missed_always_or_never():
    assert (chance_outside(5, bias=5, sigma=0), chance_outside(5, bias=6, sigma=0)) == (0, 1)


def test_a_finish_met_only_by_the_likely_value_is_warned_of_with_range_chance_and_remedy():
    (warning,), choice = warnings(LIKELY, ra_um=0.8)
    assert len(choice.passes) == 3
    assert warning.severity is Severity.WARNING
    assert warning.code == "finish-may-be-missed"
    assert "about one piece in 2 would miss" in warning.message
    assert "0.62–1 µm (10–90 %)" in warning.message
    assert warning.data["chance"] == pytest.approx(0.5)
    # 0.8 x 1.293, rounded up to what somebody would order.
    assert "Ra 1.1 µm" in warning.remedy


def test_a_chance_a_little_above_one_in_ten_is_said():
    # Pass 3: 0.8 exp(1.2265 x 0.2) = 1.022 is missed by 11 %, 1.04 by just under 10 %.
    (warning,), choice = warnings(LIKELY, ra_um=1.022)
    assert len(choice.passes) == 3
    assert 0.105 < warning.data["chance"] < 0.118
    assert "about one piece in 9 would miss" in warning.message
    assert warnings(LIKELY, ra_um=1.04)[0] == []


def test_a_finish_that_nine_in_ten_meet_is_chosen_and_not_spoken_of():
    # Pass 3 leaves 0.8 µm, nine in ten up to 0.8 exp(1.2816 x 0.2) = 1.04.
    for limit_um, count in ((1.04, 3), (1.03, 4), (0.8, 4)):
        found, choice = warnings(TABLES, ra_um=limit_um)
        assert (len(choice.passes), found) == (count, [])


def test_the_last_pass_is_warned_of_where_no_pass_is_surer():
    # Pass 6 leaves 0.15 µm in steel and nine in ten up to 0.194, peaks of pass 5 not counted.
    (warning,), choice = warnings(TABLES, ra_um=0.17)
    assert len(choice.passes) == 6
    alone = stats.lognorm.sf(0.17, choice.passes[-1].ra_sigma_log, scale=0.15)
    assert alone < warning.data["chance"] < 0.4
    assert "Do not promise it" in warning.remedy


def test_a_tolerance_that_two_deviations_hold_is_not_spoken_of():
    assert warnings(TABLES, tolerance_um=5.0)[0] == []


def test_a_demand_beyond_the_process_is_refused_and_not_spoken_of_twice():
    found, choice = warnings(TABLES, ra_um=0.1)
    assert found == []
    assert [f.code for f in choice.findings] == ["finish-beyond-process"]


def test_a_recast_limit_is_watched_with_what_older_layers_may_leave():
    # Three passes in D2: by hand, pass 2 hurts 6.5 + 3 x 1.4 = 10.7 µm and skim 3 takes 12 +- 2.2,
    # so that in a good part of the pieces some of it stands; the last pass leaves 3.5 alone.
    (note,), choice = warnings(LIKELY, max_recast_um=4.0)
    assert len(choice.passes) == 3
    last = choice.passes[-1]
    alone = stats.norm.sf(math.log(4.0 / last.recast_um) / last.recast_sigma_log)
    assert note.data["chance"] > alone
    assert note.data["low_um"] < 3.5 < note.data["high_um"]
    assert "older layers" in note.message


def test_the_chance_of_recast_agrees_with_a_simulation_of_its_own():
    # The layers drawn anew piece by piece, another generator and another order of the sum.
    (note,), choice = warnings(LIKELY, max_recast_um=1.0)
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
        requirement(LIKELY, ra_um=0.8),
        technology=LIKELY.technology,
        catalogue=LIKELY.catalogue,
        contour_ids=("H7", "H8"),
    )
    (note,) = (f for f in choice.findings if f.code in MISSED)
    assert note.message.startswith("H7, H8: The finish asked")
    assert note.where.contour_id == "H7"
