"""Of passes that are not sure the surest are taken, and a tighter limit is never the cheaper."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from tests.unit.process.samples import requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.foundation.findings import Severity
from kerfwright.process.choice import choose_passes, passes_of
from kerfwright.process.hurt_layer import recast_left_um
from kerfwright.process.left_draws import ra_left_draws_um, recast_left_draws_um
from kerfwright.process.technology import StockBy

TABLES = load_tables()
MATERIALS = ["D2", "IN718", "Ti-6Al-4V", "304", "carbide"]
FINISHES_UM = (3.6, 1.8, 1.0, 0.7, 0.54, 0.4, 0.36, 0.33, 0.3, 0.25, 0.22, 0.2, 0.18, 0.16, 0.12)
RECASTS_UM = (30.0, 15.0, 8.0, 5.4, 4.1, 2.9, 2.1, 1.7, 1.4, 1.2, 1.0, 0.9, 0.8, 0.6)


def choose(technology=TABLES.technology, **asked):
    return choose_passes(
        requirement(TABLES, **asked), technology=technology, catalogue=TABLES.catalogue
    )


def minutes(choice) -> float:
    """Minutes for 1 mm of wall, all passes."""
    return sum(1 / p.feed_mm_per_min for p in choice.passes)


def codes(choice):
    return {f.code for f in choice.findings}


@pytest.mark.parametrize("material", MATERIALS)
@pytest.mark.parametrize(
    ("name", "limits_um"), [("ra_um", FINISHES_UM), ("max_recast_um", RECASTS_UM)]
)
def test_minutes_never_fall_as_a_limit_tightens(material, name, limits_um):
    spent = [minutes(choose(material=material, **{name: um})) for um in limits_um]
    assert spent == sorted(spent)
    assert spent[-1] > 1.5 * spent[0]


def test_passes_that_are_sure_are_taken_before_quicker_ones_that_are_not():
    # With the table's stock six passes are quicker and too often leave old peaks.
    chosen = choose(ra_um=0.2)
    assert chosen.stock_by is StockBy.HURT_LAYER
    assert "finish-may-be-missed" not in codes(chosen)


@pytest.mark.parametrize("material", ["D2", "IN718"])
def test_where_no_passes_are_sure_those_that_miss_least_often_are_taken(material):
    chosen = choose(material=material, ra_um=0.18)
    (warning,) = [f for f in chosen.findings if f.code == "finish-may-be-missed"]
    assert chosen.stock_by is StockBy.HURT_LAYER
    tabled = passes_of(
        6,
        requirement=requirement(TABLES, material=material),
        wire=chosen.wire,
        technology=TABLES.technology,
    )
    draws = ra_left_draws_um(tabled, law=TABLES.technology.spark.surface)
    assert warning.data["chance"] < (draws > 0.18).mean()


def test_of_passes_that_are_sure_the_minutes_decide_and_not_the_count():
    asked = {"material": "IN718", "ra_um": 0.37}
    five = choose(**asked)
    assert (len(five.passes), five.stock_by) == (5, StockBy.HURT_LAYER)
    # With a sixth pass that hardly costs time six are quicker than five that take more.
    *rows, last = TABLES.technology.passes
    quick = replace(TABLES.technology, passes=(*rows, replace(last, feed_mm_per_min=60.0)))
    six = choose(quick, **asked)
    assert (len(six.passes), six.stock_by) == (6, StockBy.TABLE)
    assert minutes(six) < minutes(choose(**asked))
    assert "finish-may-be-missed" not in codes(six)


def test_a_limit_on_recast_that_does_not_bind_costs_no_time():
    asked = {"material": "304", "height_mm": 120.0, "tolerance_um": 3.0}
    bare, limited = choose(**asked), choose(**asked, max_recast_um=30.0)
    assert limited.passes == bare.passes
    (told,) = [f for f in limited.findings if f.code == "skim-leaves-hurt-layer"]
    assert told.severity is Severity.NOTE
    assert "within the 30 µm" in told.message
    assert recast_left_um(limited.passes, law=TABLES.technology.spark.surface) == pytest.approx(
        told.data["recast_left_um"]
    )
    assert told.data["recast_left_um"] <= 30
    # One that binds does: old layers of the table's way count.
    binding = choose(**asked, max_recast_um=1.5)
    assert binding.stock_by is StockBy.HURT_LAYER
    assert minutes(binding) > minutes(bare)


@pytest.mark.parametrize("material", MATERIALS)
def test_the_stock_of_the_table_stays_only_where_it_meets_the_recast_limit_surely(material):
    ways = set()
    for limit_um in RECASTS_UM:
        chosen = choose(material=material, max_recast_um=limit_um)
        ways.add(chosen.stock_by)
        if chosen.stock_by is StockBy.TABLE:
            draws = recast_left_draws_um(chosen.passes, law=TABLES.technology.spark.surface)
            assert (draws > limit_um).mean() <= TABLES.technology.limits.allowed_miss
    assert ways == set(StockBy)


LOOSER_TO_TIGHTER = {
    "tolerance_um": (None, 25.0, 8.0, 5.0, 3.0, 2.0),
    "ra_um": (None, 3.6, 1.0, 0.5, 0.3, 0.2),
    "max_recast_um": (None, 30.0, 8.0, 3.5, 1.9, 1.2),
}


@pytest.mark.parametrize("name", LOOSER_TO_TIGHTER)
@pytest.mark.parametrize(("material", "height_mm"), [("D2", 12.0), ("304", 120.0)])
def test_a_looser_demand_never_costs_more_time_whatever_else_is_asked(material, height_mm, name):
    others = [other for other in LOOSER_TO_TIGHTER if other != name]
    compared = 0
    for beside in product(*((None, *LOOSER_TO_TIGHTER[other][2:5:2]) for other in others)):
        spent = []
        for um in LOOSER_TO_TIGHTER[name]:
            asked = dict(zip((name, *others), (um, *beside), strict=True))
            chosen = choose(material=material, height_mm=height_mm, **asked)
            if chosen.is_beyond:
                break
            spent.append(minutes(chosen))
        assert spent == sorted(spent), (beside, spent)
        compared += len(spent)
    assert compared > 20
