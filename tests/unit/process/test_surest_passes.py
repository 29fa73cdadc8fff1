"""Of passes that are not sure the surest are taken, and a tighter limit is never the cheaper."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.unit.process.samples import requirement

from kerfwright.adapters.tables import load_tables
from kerfwright.process.choice import choose_passes, passes_of
from kerfwright.process.hurt_layer import ra_left_draws_um
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
