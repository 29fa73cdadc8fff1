"""Stock of the skims by what was hurt before them, worked out by hand from the pass table."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from tests.unit.process.samples import by_likely, requirement
from tests.unit.process.test_wire_state import TABLES as SHIPPED
from tests.unit.process.test_wire_state import passes

from kerfwright.foundation.ranges import Range
from kerfwright.foundation.sources import SourceTag
from kerfwright.process.choice import choose_by_contour, choose_passes, passes_of
from kerfwright.process.experience import Learned
from kerfwright.process.hurt_layer import hurt_layers
from kerfwright.process.set_stock import most_stock_um, with_set_stock
from kerfwright.process.technology import StockBy
from kerfwright.trade.requirement import Demand

# By the likely values, which the pass table prints; what is asked surely is in test_held.py.
TABLES = by_likely(SHIPPED)
LAW = TABLES.technology.spark.surface
WIRE = TABLES.catalogue.wire("0.25")


def choose(technology=TABLES.technology, **asked):
    return choose_passes(
        requirement(TABLES, **asked), technology=technology, catalogue=TABLES.catalogue
    )


def with_stock(number: int, stock_um: float):
    """Return the shipped technology with another stock in one row of the pass table."""
    rows = tuple(
        replace(p, stock_um=stock_um) if p.number == number else p for p in TABLES.technology.passes
    )
    return replace(TABLES.technology, passes=rows)


def test_each_skim_takes_at_least_the_layer_hurt_before_it():
    made = with_set_stock(passes(6), wire=WIRE, law=LAW)
    # Recast + 3 Ra of the pass before: 20.4, 10.7, 5.9, 2.85, 1.55; the table has 35, 12, 5, 2, 1.
    assert [p.stock_um for p in made] == pytest.approx([0, 35, 12, 5.9, 2.85, 1.55])
    assert [one.left_by_next_um for one in hurt_layers(made, law=LAW)[:-1]] == [0] * 5


def test_offsets_leave_the_stock_that_is_taken():
    made = with_set_stock(passes(6), wire=WIRE, law=LAW)
    for k, one in enumerate(made):
        later_um = sum(p.stock_um for p in made[k + 1 :])
        assert one.offset_mm == pytest.approx(0.125 + (one.gap_um + later_um) / 1000, abs=1e-12)
        assert {r.quantity: r.value for r in one.reasons}["offset_mm"] == one.offset_mm


def test_a_skim_that_takes_more_runs_slower_so_that_it_removes_as_much_in_a_minute():
    for old, new in zip(
        passes(6)[1:], with_set_stock(passes(6), wire=WIRE, law=LAW)[1:], strict=True
    ):
        assert new.feed_mm_per_min * new.stock_um == pytest.approx(
            old.feed_mm_per_min * old.stock_um
        )


def reasons(one):
    """The last reason of each quantity: what set stock left of the pass."""
    return {r.quantity: r for r in one.reasons}


def set_stock(rows=None, *, law=LAW):
    return with_set_stock(rows or passes(6), wire=WIRE, law=law)


def test_the_rest_of_an_older_layer_is_taken_where_the_pass_between_left_it():
    # By hand: pass 3 hurts 5.9 µm, a fine pass 4 (Ra 0.1, recast 0.1: 0.4 of its own) takes 1.5 at
    # most (3.6 x 3.9 x 0.1 = 1.40), so that 4.5 stand before pass 5, whose craters allow 3.51.
    rows = passes(5)
    fine = replace(rows[3], ra_um=0.1, recast_um=0.1, stock_um=1.4)
    made = set_stock((*rows[:3], fine, rows[4]))
    assert made[3].stock_um == pytest.approx(1.404, abs=2e-3)
    assert made[4].stock_um == pytest.approx(3.6 * 3.90 * 0.25, rel=2e-3)


def test_the_reason_of_the_stock_has_the_layer_the_bound_and_its_range():
    old, new = passes(6)[4], set_stock()[4]
    why = reasons(new)["stock_um"]
    assert why.value == new.stock_um
    inputs = dict(why.inputs)
    assert inputs["stock_of_the_table_um"] == old.stock_um == 2
    # Recast 1.5 and three Ra of 0.45 of pass 4.
    assert inputs["layer_um"] == pytest.approx(2.85)
    assert inputs["N D Ra_um"] == pytest.approx(3.6 * 3.90 * 0.25, rel=2e-3)
    assert why.range.likely == new.stock_um
    assert why.range.high == pytest.approx(new.stock_um + 1.2816 * old.stock_sigma_um, rel=1e-4)


def test_what_decides_the_stock_is_what_its_reason_cites():
    # In steel the layer that was hurt; where the craters stop short of it, their depths.
    assert reasons(set_stock()[4])["stock_um"].source == LAW.sources["peak_per_ra"]
    weak = replace(LAW, crater_layers_per_skim=2.5)
    made = set_stock(law=weak)[4]
    assert 2 < made.stock_um < 2.85
    assert dict(reasons(made)["stock_um"].inputs)["layer_um"] == pytest.approx(2.85)
    assert reasons(made)["stock_um"].source == LAW.sources["crater_layers_per_skim"]


def test_the_feed_at_another_stock_is_an_assumption_and_less_sure_than_the_tables():
    new = set_stock()[4]
    why = reasons(new)["feed_mm_per_min"]
    assert why.source.tag is SourceTag.COMMON_PRACTICE
    # A power of -1, sure to 0.4: ln(2.85/2) = 0.354 of it on top of the table's 0.25.
    assert new.feed_sigma_log == pytest.approx(math.hypot(0.25, 0.4 * 0.3542), rel=1e-3)
    assert (why.range.low, why.range.high) == (
        new.feed_range_mm_per_min.low,
        new.feed_range_mm_per_min.high,
    )
    assert why.range.high == pytest.approx(
        why.value * math.exp(1.2816 * new.feed_sigma_log), rel=1e-4
    )
    assert math.fsum(share for _, share in why.shares) == pytest.approx(1)
    assert dict(why.shares)["feed over stock, assumed"] == pytest.approx(
        (0.4 * 0.3542 / new.feed_sigma_log) ** 2, rel=1e-3
    )
    # A pass that keeps its stock keeps its feed and its range.
    assert set_stock()[2].feed_sigma_log == passes(6)[2].feed_sigma_log


def test_what_a_shop_learned_of_a_feed_is_less_sure_at_another_stock_too():
    learned = Learned(
        experience="", records=3, feed_factor=1.0, feed_loadings=(("cutting rate 1", 0.1),),
        feed_job_log=0.05, feed_scatter_log=0.05, feed_shares=(), ra_factor=1.0, ra_sigma_log=0.1,
        ra_shares=(("cut", 1.0),),
        size_bias_um=0.0, size_sigma_um=1.0, is_size_proven=False, wire_factor=1.0,
        wire_sigma_log=0.1, breaks_per_h=Range.exact(0.03),
    )  # fmt: skip
    rows = tuple(
        replace(p, learned=learned, feed_sigma_log=learned.feed_sigma_log) for p in passes(6)
    )
    new = set_stock(rows)[4]
    assert new.learned.feed_sigma_log == pytest.approx(new.feed_sigma_log)
    assert new.feed_sigma_log > 1.1 * learned.feed_sigma_log


def test_the_reason_of_an_offset_has_the_stock_that_later_passes_really_take():
    made = set_stock()
    for k, one in enumerate(made):
        inputs = dict(reasons(one)["offset_mm"].inputs)
        later_um = sum(p.stock_um for p in made[k + 1 :])
        assert inputs["stock_of_later_passes_um"] == pytest.approx(later_um)
        assert inputs["gap_um"] == one.gap_um


def test_no_skim_takes_more_than_its_craters_allow():
    # By hand: 3.6 depths of craters of 3.9 Ra, Ra 0.45 in pass 4.
    rows = passes(6)
    assert most_stock_um(rows[3], law=LAW) == pytest.approx(3.6 * 3.90 * 0.45, rel=2e-3)
    # The first skim straightens the rough wall beside.
    assert most_stock_um(rows[1], law=LAW) == pytest.approx(3.6 * 3.90 * 1.4 + 15, rel=2e-3)
    torn = (*rows[:3], replace(rows[3], ra_um=0.1))
    assert with_set_stock(torn, wire=WIRE, law=LAW)[3].stock_um == rows[3].stock_um


def test_passes_that_take_enough_as_tabled_stay_as_they_are():
    assert with_set_stock(passes(3), wire=WIRE, law=LAW) == passes(3)


def test_a_limit_on_recast_sets_the_stock_and_a_finish_that_the_table_meets_does_not():
    assert choose(max_recast_um=1.0).stock_by is StockBy.HURT_LAYER
    assert choose(ra_um=0.25, tolerance_um=2.5).stock_by is StockBy.TABLE
    assert choose(ra_um=0.25).passes == passes(5)


def test_a_pass_less_that_takes_its_layer_is_cheaper_than_a_pass_more():
    chosen = choose(max_recast_um=0.82)
    # 6.5 x 5/5.9 and 4.5 x 2/2.85 mm/min: 0.498 min for a mm of wall in passes 4 and 5; as tabled
    # with a sixth pass at 3.5 mm/min, 0.66.
    feeds = [p.feed_mm_per_min for p in chosen.passes]
    assert feeds[3:] == pytest.approx([6.5 * 5 / 5.9, 4.5 * 2 / 2.85])
    assert len(chosen.passes) == 5


def test_where_the_table_leaves_peaks_a_finish_sets_the_stock_too():
    # Skim 5 of a shop without a sixth row takes 0.5 µm: of the peaks of pass 4, 1.35 µm, 0.85
    # stand, a Ra of 0.45 x 0.85/1.35 = 0.28.
    table = with_stock(5, 0.5)
    table = replace(table, passes=table.passes[:5])
    chosen = choose(table, ra_um=0.25)
    assert chosen.stock_by is StockBy.HURT_LAYER
    assert len(chosen.passes) == 5
    assert chosen.passes[4].stock_um == pytest.approx(2.85)
    # Without a demand that needs it the shop's table stands.
    assert choose(table, tolerance_um=2.5).passes[-1].stock_um == 0.5


def test_what_no_skim_of_the_table_can_take_is_a_warning_with_its_limit():
    weak = replace(LAW, crater_layers_per_skim=1.0)
    technology = replace(TABLES.technology, spark=replace(TABLES.technology.spark, surface=weak))
    (warning,) = [
        f for f in choose(technology, max_recast_um=2.0).findings if f.code.startswith("skim")
    ]
    assert warning.code == "skim-leaves-hurt-layer"
    assert "skim 4 takes 5 µm (0.0002 in) at most and leaves 0.9 µm" in warning.message
    assert "put a pass of an energy between the two" in warning.remedy


def test_contours_with_a_limit_have_their_own_stock_and_others_the_tables():
    wanted = replace(
        requirement(TABLES, tolerance_um=2.5), contours={"H2": Demand(max_recast_um=1.0)}
    )
    job = choose_by_contour(
        wanted, ["H1", "H2"], technology=TABLES.technology, catalogue=TABLES.catalogue
    )
    assert [p.stock_um for p in job.of("H1").passes] == [0, 35, 12, 5, 2]
    assert [p.stock_um for p in job.of("H2").passes] == pytest.approx([0, 35, 12, 5.9, 2.85])


@pytest.mark.parametrize("material", [m.id for m in TABLES.catalogue.materials])
def test_no_row_of_the_shipped_table_may_be_left_out_by_its_energy(material):
    # Why plans take the first rows and choose no others: a skim after the row before the last
    # would meet more than its craters take.
    rows = passes(6)
    factors = TABLES.catalogue.material(material)
    scaled = [
        replace(p, ra_um=p.ra_um * factors.ra_factor, recast_um=p.recast_um * factors.recast_factor)
        for p in rows
    ]
    for before, skim in zip(hurt_layers(scaled, law=LAW), scaled[2:], strict=False):
        assert before.hurt_um > most_stock_um(skim, law=LAW)


@pytest.mark.parametrize("material", [m.id for m in TABLES.catalogue.materials])
def test_every_row_has_sparks_enough_for_the_whole_layer_before_it(material):
    """Why a skim has the energy of its row: none between two rows would take more of a layer."""
    wanted = replace(
        requirement(TABLES), material=TABLES.catalogue.material(material), height_mm=60.0
    )
    for wire in TABLES.catalogue.wires:
        made = passes_of(
            len(TABLES.technology.passes),
            requirement=wanted,
            wire=wire,
            technology=TABLES.technology,
            stock_by=StockBy.HURT_LAYER,
        )
        layers = hurt_layers(made, law=LAW)
        assert [one.left_by_next_um for one in layers[:-1]] == pytest.approx([0.0] * 5, abs=1e-9)


def test_a_limit_that_does_not_bind_leaves_a_layer_that_stock_would_take():
    """Titanium at 3 µm and at 0.9 µm: the same passes, the second with more stock."""
    titanium = TABLES.catalogue.material("titanium-6al-4v")

    def chosen(limit_um):
        return choose_passes(
            replace(requirement(SHIPPED, max_recast_um=limit_um), material=titanium),
            technology=SHIPPED.technology,
            catalogue=SHIPPED.catalogue,
        )

    loose, close = chosen(3.0), chosen(0.9)
    assert loose.stock_by is StockBy.TABLE
    assert close.stock_by is StockBy.HURT_LAYER
    assert hurt_layers(loose.passes, law=LAW)[3].left_at_end_um == pytest.approx(0.85)
    assert hurt_layers(close.passes, law=LAW)[3].left_at_end_um == 0
    slow = close.passes[4].feed_mm_per_min / loose.passes[4].feed_mm_per_min
    assert slow == pytest.approx(2 / 2.85)
